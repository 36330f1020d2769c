//! Until when a formula's product may be used: the reference data's rule sets, over what is known of it.

use chrono::NaiveDate;
use galenics::use_by::{
    DatedPart, DatingFacts, Expiry, RouteClass, Storage, UseBy, WaterActivity, use_by as work_out,
};
use galenics::{Evaluation, Formula, Fraction, Ingredient};
use materia::{Exposure, Materia};
use wire::calculations::use_by::UseByAnswer;

use super::{Judged, judge};
use crate::calculations;
use crate::error::{Error, Result};
use crate::formulary::{Ingredient as Named, Written};
use crate::safety::assemble::Assembled;

/// The use-by date of what is made on a day. Nested preparations are taken as made on the same day; their own dates
/// bind. Kept at room temperature unless a rule asks for a refrigerator, which the answer then says.
pub(in crate::safety) fn use_by(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    made_on: NaiveDate,
) -> Result<UseByAnswer> {
    let (found, judged) = dated(reference, written, whole, &whole.formula, &whole.evaluation, made_on)?;
    Ok(calculations::said(found, &judged.preservation))
}

fn dated(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    formula: &Formula,
    evaluation: &Evaluation,
    made_on: NaiveDate,
) -> Result<(UseBy, Judged)> {
    let judged = judge(reference, written, whole, evaluation)?;
    let water = match calculations::water(reference, &written.preparation, None) {
        // A kind that may be either is watery by what is in it, where that is known.
        WaterActivity::NotKnown => match evaluation.water.value() {
            Some(share) => WaterActivity::ByClass { watery: !share.is_zero() },
            None => WaterActivity::NotKnown,
        },
        known => known,
    };
    let facts = DatingFacts {
        made_on,
        regime: written.content.regime.as_str().replace('_', "-").into(),
        preparation: formula.preparation,
        route: route(reference, written),
        liquid: calculations::is_liquid(formula.preparation),
        water,
        preserved: judged.preservation.preserved,
        alcohol: judged.alcohol.of_watery_part.value().and_then(|share| Fraction::new(share).ok()),
        storage: Storage::RoomTemperature,
        parts: parts(reference, written, whole, formula, made_on)?,
        opened: None,
        stability_evidence: None,
        switched_off: Vec::new(),
    };
    let found = work_out(&facts, &calculations::rule_sets(reference))
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
    made_on: NaiveDate,
) -> Result<Vec<DatedPart>> {
    let lines = formula.phases.iter().flat_map(|phase| &phase.lines);
    let names = written.ingredients.iter().flatten();
    let mut out = Vec::new();
    for (line, name) in lines.zip(names) {
        let (Ingredient::Nested(nested), Named::Revision { id, title, .. }) = (&line.ingredient, name) else {
            continue;
        };
        let Some(of) = whole.nested.get(&id.0) else { continue };
        let evaluation = galenics::evaluate(nested)
            .map_err(|_| Error::internal(format!("{title} was frozen and cannot be evaluated")))?;
        let (found, _) = dated(reference, of, whole, nested, &evaluation, made_on)?;
        if let Some(date) = found.date {
            out.push(DatedPart { name: title.clone().into(), expiry: Expiry::Day(date) });
        }
    }
    Ok(out)
}
