//! Until when a formula's product may be used: the reference data's rule sets, over what is known of it.

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

/// What is dated.
pub struct Dated<'a> {
    /// The day of making.
    pub made_on: NaiveDate,
    /// What is in it.
    pub evaluation: &'a Evaluation,
    /// What was measured of it.
    pub observed: &'a Observed,
    /// The lots it was made from, with their own dates.
    pub lots: Vec<DatedPart>,
    /// Rule sets that the clinic has switched off, with the recorded reason.
    pub switched_off: &'a [(Text, Text)],
}

/// The rule sets that the clinic has switched off, as the calculations take them.
pub fn switched_off(sets: &[DatingSetOff]) -> Vec<(Text, Text)> {
    sets.iter().map(|off| (off.set.clone().into(), off.reason.trim().to_owned().into())).collect()
}

/// The use-by date of what is made on a day. Nested preparations are taken as made on the same day; their own dates
/// bind. Kept at room temperature unless a rule asks for a refrigerator, which the answer then says.
pub fn use_by(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    of: Dated<'_>,
) -> Result<UseByAnswer> {
    // What is nested has been used up by then, so only the finished product's own storage counts.
    let kept = !is_not_kept(&written.content.label.storage);
    let (found, judged) = dated(reference, written, whole, &whole.formula, of, kept)?;
    Ok(use_by_said(found, &judged.preservation))
}

/// Whether its author says that it is not kept at all, in a sentence of its own: "Do not keep in the sun." says something
/// else.
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
        // A kind that may be either is watery by what is in it, where that is known.
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
        // Read when the formula was written; whoever approved it has seen it.
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

/// The nested preparations with their own dates. Ends: a frozen revision nests only what was frozen before it.
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
        let evaluation = galenics::evaluate(nested)
            .map_err(|_| Error::internal(format!("{title} was frozen and cannot be evaluated")))?;
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
    fn only_a_sentence_that_says_so_means_that_it_is_not_kept() {
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
