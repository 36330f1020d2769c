//! What is known of a revision now: its cautions, and how it comes out with the facts as they are.

use std::collections::HashMap;

use canonical::{Form, Sha};
use judgement::cautions::{Counted, cautions};
use judgement::{Assembled, Observed, Written, evaluation, judge};
use serde_json::Value;
use store::{Result, Tx};
use uuid::Uuid;

use crate::assemble::{self, FactsAsOf};
use crate::clinic_cautions;
use crate::facts::Facts;

/// What is known of a revision now: its cautions, and the digest of how it comes out with the facts as they are.
pub(crate) struct Present {
    pub(crate) cautions: Vec<Counted>,
    pub(crate) evaluation: Sha,
}

/// Works out what is known of a revision now, whatever facts it was written with. One that cannot be worked out with
/// them is warned of as not known; why stays behind the gate.
pub(crate) async fn present(
    tx: &mut Tx<'_>,
    facts: &Facts,
    written: &Written,
    nested: HashMap<Uuid, Written>,
) -> Result<Present> {
    let whole = assemble::with_facts(tx, facts.formula, written, nested, FactsAsOf::Now).await?;
    let observed = Observed::by_method(&written.content.method);
    let judged = judge(tx.reference, written, &whole, &whole.evaluation, &observed)?;
    let own = clinic_cautions::read(tx).await?;
    let cautions = cautions(tx.reference, written, &whole, &judged, &own);
    let evaluation = if whole.worked_out {
        evaluated(tx, written, &whole)?
    } else {
        canonical::digest([&b"cannot be worked out"[..]])
    };
    Ok(Present { cautions, evaluation })
}

/// Names how a revision comes out: values, units and verdicts. Another sentence, rule or source is no change.
pub(crate) fn evaluated(tx: &Tx<'_>, written: &Written, whole: &Assembled) -> Result<Sha> {
    let evaluation = evaluation::of_formula(tx.reference, written, whole)?;
    let mut value = serde_json::to_value(evaluation)?;
    without_words(&mut value);
    Ok(Form::NEW.digest([Form::NEW.text(&value).as_bytes()]))
}

/// Takes away how a figure is explained, and leaves what it is.
fn without_words(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(without_words),
        Value::Object(fields) => {
            for word in ["sentence", "rule", "source", "inputs"] {
                fields.remove(word);
            }
            fields.values_mut().for_each(without_words);
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}
