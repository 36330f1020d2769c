//! Use-by date of a formula's product: the rule sets of the reference data, applied to the facts of one batch.
//!
//! Collects the facts, calls `galenics::use_by` and dates nested preparations first. May use the assessment of this
//! crate. Never here: a rule or a period of its own.

use std::collections::HashMap;

use chrono::NaiveDate;
use galenics::use_by::{
    DatedPart, DatingFacts, Expiry, RouteClass, Storage, UseBy, WaterActivity, use_by as work_out,
};
use galenics::{Evaluation, Fraction, Text, interrupt};
use materia::{Exposure, Materia};
use uuid::Uuid;
use wire::calculations::use_by::UseByAnswer;
use wire::policy::DatingSetOff;

use crate::answers::use_by_said;
use crate::assembled::Assembled;
use crate::assessment::{Assessment, judge};
use crate::error::{Error, Result};
use crate::figures::Detail;
use crate::kinds::{is_liquid, may_hold_none, water};
use crate::observed::Observed;
use crate::parts::by_id;
use crate::rule_sets::rule_sets;
use crate::stability;
use crate::written::{Ingredient, Written};

/// The facts of the batch to be dated.
pub struct Dated<'a> {
    /// The day of making.
    pub made_on: NaiveDate,
    /// Evaluation of the formula as written, or of the batch as made.
    pub evaluation: &'a Evaluation,
    /// What was measured, or what the method specifies.
    pub observed: &'a Observed,
    /// The lots used, with their own expiry dates.
    pub lots: Vec<DatedLot>,
    /// Rule sets that the clinic has switched off: key and recorded reason.
    pub switched_off: &'a [(Text, Text)],
}

/// A lot with its expiry date.
#[derive(Clone, Debug)]
pub struct DatedLot {
    /// Its name.
    pub name: Text,
    /// Until when it is good.
    pub expiry: Expiry,
    /// The revision that it was made by, of a nested preparation.
    pub nested: Option<Uuid>,
}

impl DatedLot {
    /// For the calculations; `watery` says whether a nested preparation counts as watery.
    fn dated(self, watery: impl Fn(Uuid) -> bool) -> DatedPart {
        DatedPart { name: self.name, expiry: self.expiry, watery: self.nested.is_some_and(watery) }
    }
}

/// Switched-off rule sets in the form of the calculations: key and trimmed reason.
pub fn switched_off(sets: &[DatingSetOff]) -> Vec<(Text, Text)> {
    sets.iter().map(|off| (off.set.clone().into(), off.reason.trim().to_owned().into())).collect()
}

/// Calculates the use-by date of a product made on `of.made_on`.
///
/// Nested preparations count as made on the same day. Their own dates bind where they keep as they are: that of a watery
/// one ends to matter in what preserves itself or is not watery. Storage is room temperature unless a
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
    detail: Detail,
) -> Result<UseByAnswer> {
    // Nested preparations are used up when the product is stored, so only its own storage counts.
    let kept = !is_not_kept(&written.content.label.storage);
    let mut dates = HashMap::new();
    for (id, inner) in whole.nested.innermost_first() {
        let inside = Dated {
            made_on: of.made_on,
            evaluation: whole.evaluation_of(id)?,
            observed: &Observed::as_written(&inner.content),
            lots: Vec::new(),
            switched_off: of.switched_off,
        };
        let (found, _) = dated(reference, inner, whole, &dates, inside, true)?;
        dates.insert(id, (found.date, found.is_watery));
    }
    let (found, judged) = dated(reference, written, whole, &dates, of, kept)?;
    Ok(use_by_said(found, &judged.preservation, detail))
}

/// Whether one sentence of the storage text says no more than that the product must not be stored. "Do not keep in the
/// sun." does not.
fn is_not_kept(storage: &str) -> bool {
    const SAID: [&str; 12] = [
        "do not keep",
        "do not keep it",
        "not to be kept",
        "not kept",
        "use at once",
        "use it at once",
        "use immediately",
        "use it immediately",
        "to be used at once",
        "for immediate use",
        "use fresh",
        "make fresh for each use",
    ];
    storage.split(['.', ';', '!']).any(|sentence| SAID.contains(&sentence.trim().to_lowercase().as_str()))
}

fn dated(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    dates: &HashMap<Uuid, (Option<NaiveDate>, bool)>,
    of: Dated<'_>,
    kept: bool,
) -> Result<(UseBy, Assessment)> {
    interrupt::visit()?;
    let judged = judge(reference, written, whole, of.evaluation, of.observed)?;
    let holds_water = of.evaluation.water.value().map(|share| !share.is_zero());
    let kind = of.evaluation.preparation;
    let water =
        match (water(reference, &written.preparation, of.observed.water_activity.clone()), holds_water) {
            // The kind does not decide, so the composition does, if its water is known.
            (WaterActivity::NotKnown, Some(watery)) => WaterActivity::ByClass { watery },
            // A cream of oil and wax alone holds none.
            (WaterActivity::ByClass { watery: true }, Some(false)) if may_hold_none(kind) => {
                WaterActivity::ByClass { watery: false }
            }
            // A salve holds no water, unless this one does.
            (WaterActivity::ByClass { watery: false }, Some(true)) => WaterActivity::ByClass { watery: true },
            (known, _) => known,
        };
    let mut parts = parts(written, dates);
    parts.extend(
        of.lots.into_iter().map(|lot| lot.dated(|id| dates.get(&id).is_some_and(|(_, watery)| *watery))),
    );
    let phase = judged.watery_phase.as_ref();
    let evidence = written.content.stability.as_ref();
    let facts = DatingFacts {
        made_on: of.made_on,
        regime: written.content.regime.as_str().replace('_', "-").into(),
        preparation: of.evaluation.preparation,
        route: route(reference, written),
        liquid: is_liquid(of.evaluation.preparation),
        water,
        preserved: judged.preservation.preserved,
        alcohol: judged.alcohol.shown_to_remain.value().and_then(|share| Fraction::new(share).ok()),
        sugar: phase.map(|phase| phase.sugar),
        holds: holds(whole, of.evaluation),
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

/// The keys of the materials in what is made, for rules about one of them.
fn holds(whole: &Assembled, evaluation: &Evaluation) -> Vec<Text> {
    let materials = by_id(whole);
    let leaves = evaluation.composition.iter();
    leaves.filter_map(|leaf| Some(materials.get(leaf.material.id.as_str())?.key.clone().into())).collect()
}

fn route(reference: &Materia, written: &Written) -> RouteClass {
    let route = reference.routes.iter().find(|route| route.key == written.route);
    match route.map(|route| route.exposure) {
        Some(Exposure::ByMouth) => RouteClass::Mouth,
        Some(Exposure::Mucosa | Exposure::Inhaled) => RouteClass::Mucosa,
        _ => RouteClass::Skin,
    }
}

/// The nested preparations of a formula's own lines with their dates, which were worked out before.
fn parts(written: &Written, dates: &HashMap<Uuid, (Option<NaiveDate>, bool)>) -> Vec<DatedPart> {
    let dated = |ingredient: &Ingredient| match ingredient {
        Ingredient::Revision { id, title, .. } => {
            let (date, watery) = *dates.get(id)?;
            Some(DatedPart { name: title.clone().into(), expiry: Expiry::Day(date?), watery })
        }
        Ingredient::Material { .. } => None,
    };
    written.ingredients.iter().flatten().filter_map(dated).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_storage_text_forbids_storage_only_in_a_sentence_of_its_own() {
        for said in [
            "Use at once.",
            "use immediately; discard the rest",
            "Do not keep.",
            "do not keep",
            "Make it fresh; do not keep it.",
            "Use at once. Do not keep!",
        ] {
            assert!(is_not_kept(said), "{said}");
        }
        for said in ["", "Keep cool.", "Do not keep in the sun.", "Do not keep it longer than a day."] {
            assert!(!is_not_kept(said), "{said}");
        }
    }
}
