//! Cautions and evaluation of a revision with the current facts of its materials.

use std::collections::HashMap;
use std::sync::Arc;

use canonical::{Form, Sha};
use judgement::cautions::{Counted, Raised, cautions};
use judgement::figures::Detail;
use judgement::{Assembled, Observed, Written, evaluation, judge};
use materia::Materia;
use serde_json::Value;
use store::{Result, Tx};
use uuid::Uuid;

use crate::assemble::{self, FactsAsOf};
use crate::clinic_cautions;
use crate::facts::Facts;
use wire::recipe::CompositionBasis;
use wire::safety::{LookedAt, NotRaised};

/// The result of computing a revision with the current facts.
pub(crate) struct Present {
    /// Its cautions, the strongest first.
    pub(crate) cautions: Vec<Counted>,
    /// What was looked at and not raised.
    pub(crate) not_raised: Vec<NotRaised>,
    /// The ingredients with and without findings.
    pub(crate) looked_at: LookedAt,
    /// Digest of its evaluation.
    pub(crate) evaluation: Sha,
}

/// Computes the cautions and the evaluation of a revision with the current facts. A revision that these facts do not
/// allow to be evaluated gets the caution `composition-unknown`; the cause stays gated.
///
/// # Errors
/// Returns [`store::Error::Internal`] if stored content or facts cannot be read.
pub(crate) async fn present(
    tx: &mut Tx<'_>,
    facts: &Facts,
    written: &Written,
    nested: HashMap<Uuid, Written>,
) -> Result<Present> {
    let whole = assemble::with_facts(tx, facts.formula, written, nested, FactsAsOf::Now).await?;
    let own = clinic_cautions::read(tx).await?;
    let (reference, written) = (Arc::clone(tx.reference), written.clone());
    tx.calculate(move || {
        let observed = Observed::as_written(&written.content);
        let judged = judge(&reference, &written, &whole, &whole.evaluation, &observed)?;
        let Raised { cautions, not_raised, looked_at } =
            cautions(&reference, &written, &whole, &judged, &own)?;
        let evaluation = if whole.worked_out {
            digest_of(&reference, &written, &whole)?
        } else {
            canonical::digest([&b"cannot be worked out"[..]])
        };
        Ok(Present { cautions, not_raised, looked_at, evaluation })
    })
    .await
}

/// The digest of an evaluation: values, units and verdicts. A changed sentence, rule or source does not change it.
///
/// # Errors
/// Returns [`store::Error::Internal`] if `whole` lacks the facts of a material.
pub(crate) async fn evaluated(tx: &Tx<'_>, written: &Written, whole: Assembled) -> Result<Sha> {
    let (reference, written) = (Arc::clone(tx.reference), written.clone());
    tx.calculate(move || digest_of(&reference, &written, &whole)).await
}

fn digest_of(reference: &Materia, written: &Written, whole: &Assembled) -> Result<Sha> {
    let materials = CompositionBasis::Materials;
    let evaluation = evaluation::of_formula(reference, written, whole, materials, Detail::Digested)?;
    let mut value = serde_json::to_value(evaluation)?;
    without_words(&mut value);
    Ok(Form::NEW.digest([Form::NEW.text(&value).as_bytes()]))
}

/// Removes the explanation of every figure, and what only says again what stands elsewhere in the evaluation.
fn without_words(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(without_words),
        Value::Object(fields) => {
            for word in
                ["sentence", "rule", "source", "inputs", "read_as", "composition_basis", "limits_outcome"]
            {
                fields.remove(word);
            }
            fields.values_mut().for_each(without_words);
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}
