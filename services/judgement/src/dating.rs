//! Use-by date of a formula's product: the rule sets of the reference data, applied to the facts of one batch.
//!
//! Collects the facts, calls `galenics::use_by` and dates nested preparations first. May use the assessment of this
//! crate. Never here: a rule or a period of its own.

use chrono::NaiveDate;
use galenics::use_by::{
    DatedPart, DatingFacts, Expiry, RouteClass, Storage, UseBy, WaterActivity, use_by as work_out,
};
use galenics::{Evaluation, Formula, Fraction, Ingredient, Text};
use materia::{Exposure, Materia};
use wire::calculations::use_by::UseByAnswer;
use wire::policy::DatingSetOff;

use crate::answers::use_by_said;
use crate::assembled::Assembled;
use crate::assessment::{Assessment, judge};
use crate::error::{Error, Result};
use crate::kinds::{is_liquid, water};
use crate::observed::Observed;
use crate::rule_sets::rule_sets;
use crate::stability;
use crate::written::{Ingredient as Named, Written};

/// The facts of the batch to be dated.
pub struct Dated<'a> {
    /// The day of making.
    pub made_on: NaiveDate,
    /// Evaluation of the formula as written, or of the batch as made.
    pub evaluation: &'a Evaluation,
    /// What was measured, or what the method specifies.
    pub observed: &'a Observed,
    /// The lots used, with their own expiry dates.
    pub lots: Vec<DatedPart>,
    /// Rule sets that the clinic has switched off: key and recorded reason.
    pub switched_off: &'a [(Text, Text)],
}

/// Switched-off rule sets in the form of the calculations: key and trimmed reason.
pub fn switched_off(sets: &[DatingSetOff]) -> Vec<(Text, Text)> {
    sets.iter().map(|off| (off.set.clone().into(), off.reason.trim().to_owned().into())).collect()
}

/// Calculates the use-by date of a product made on `of.made_on`.
///
/// Nested preparations count as made on the same day, and their own dates bind. Storage is room temperature unless a
/// rule demands a refrigerator; the answer then has `refrigerate` set.
///
/// # Errors
/// Returns [`Error::Internal`] if `whole` lacks the facts of a material, if a nested revision cannot be evaluated, or
/// if the calculation refuses these facts.
pub fn use_by(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    of: Dated<'_>,
) -> Result<UseByAnswer> {
    // Nested preparations are used up when the product is stored, so only its own storage counts.
    let kept = !is_not_kept(&written.content.label.storage);
    let (found, judged) = dated(reference, written, whole, &whole.formula, of, kept)?;
    Ok(use_by_said(found, &judged.preservation))
}

/// Whether one sentence of the storage text says no more than that the product must not be stored. "Do not keep in the
/// sun." does not.
fn is_not_kept(storage: &str) -> bool {
    const SAID: [&str; 4] = ["do not keep", "do not keep it", "not to be kept", "not kept"];
    storage.split(['.', ';', '!']).any(|sentence| SAID.contains(&sentence.trim().to_lowercase().as_str()))
}

fn dated(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    formula: &Formula,
    of: Dated<'_>,
    kept: bool,
) -> Result<(UseBy, Assessment)> {
    let judged = judge(reference, written, whole, of.evaluation, of.observed)?;
    let water = match water(reference, &written.preparation, None) {
        // The kind does not decide, so the composition does, if its water is known.
        WaterActivity::NotKnown => match of.evaluation.water.value() {
            Some(share) => WaterActivity::ByClass { watery: !share.is_zero() },
            None => WaterActivity::NotKnown,
        },
        known => known,
    };
    let mut parts = parts(reference, written, whole, formula, &of)?;
    parts.extend(of.lots);
    let evidence = written.content.stability.as_ref();
    let facts = DatingFacts {
        made_on: of.made_on,
        regime: written.content.regime.as_str().replace('_', "-").into(),
        preparation: formula.preparation,
        route: route(reference, written),
        liquid: is_liquid(formula.preparation),
        water,
        preserved: judged.preservation.preserved,
        alcohol: judged.alcohol.of_watery_part.value().and_then(|share| Fraction::new(share).ok()),
        kept,
        storage: Storage::RoomTemperature,
        parts,
        opened: None,
        // Validated when the draft was saved, and reviewed on approval.
        stability_evidence: evidence.and_then(|it| stability::on_file(&it.period, &it.source).ok()),
        switched_off: of.switched_off.to_vec(),
    };
    let found = work_out(&facts, &rule_sets(reference))
        .map_err(|refusal| Error::internal(refusal.says.to_string()))?;
    Ok((found, judged))
}

fn route(reference: &Materia, written: &Written) -> RouteClass {
    let route = reference.routes.iter().find(|route| route.key == written.route);
    match route.map(|route| route.exposure) {
        Some(Exposure::ByMouth) => RouteClass::Mouth,
        Some(Exposure::Mucosa | Exposure::Inhaled) => RouteClass::Mucosa,
        _ => RouteClass::Skin,
    }
}

/// The nested preparations with their own dates. The recursion ends, because a frozen revision can nest only revisions
/// frozen before it.
fn parts(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    formula: &Formula,
    outer: &Dated<'_>,
) -> Result<Vec<DatedPart>> {
    let lines = formula.phases.iter().flat_map(|phase| &phase.lines);
    let names = written.ingredients.iter().flatten();
    let mut out = Vec::new();
    for (line, name) in lines.zip(names) {
        let (Ingredient::Nested(nested), Named::Revision { id, title, .. }) = (&line.ingredient, name) else {
            continue;
        };
        let Some(inner) = whole.nested.get(id) else { continue };
        let evaluation = whole.evaluation_of(*id, nested)?;
        let of = Dated {
            made_on: outer.made_on,
            evaluation: &evaluation,
            observed: &Observed::by_method(&inner.content.method),
            lots: Vec::new(),
            switched_off: outer.switched_off,
        };
        let (found, _) = dated(reference, inner, whole, nested, of, true)?;
        if let Some(date) = found.date {
            out.push(DatedPart { name: title.clone().into(), expiry: Expiry::Day(date) });
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_storage_text_forbids_storage_only_in_a_sentence_of_its_own() {
        for said in
            ["Do not keep.", "do not keep", "Make it fresh; do not keep it.", "Use at once. Do not keep!"]
        {
            assert!(is_not_kept(said), "{said}");
        }
        for said in ["", "Keep cool.", "Do not keep in the sun.", "Do not keep it longer than a day."] {
            assert!(!is_not_kept(said), "{said}");
        }
    }
}
