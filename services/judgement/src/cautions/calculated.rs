//! The cautions that the calculations raise.

use galenics::Decimal;
use galenics::emulsion::Remark;
use galenics::limits::Verdict;
use materia::Materia;

use super::found::{At, Candidate, of_reference};
use crate::assessment::Assessment;
use crate::limits::LimitAssessment;

/// Share of a limit from which a caution demands exact weighing. Common practice, no source.
const NEARLY: Decimal = Decimal::from_parts(9, 0, 0, false, 1);
/// Ethanol by volume from which a caution covers a small child's skin. Common practice, no source.
const MATTERS: Decimal = Decimal::from_parts(5, 0, 0, false, 2);
/// Ethanol by volume from which the product counts as flammable. Common practice, no source.
const BURNS: Decimal = Decimal::from_parts(20, 0, 0, false, 2);

/// Adds the cautions that the calculations raise by this route. Their texts come from the reference data and hold no figure of the
/// formula.
pub(super) fn raised<'a>(
    reference: &'a Materia,
    judged: &Assessment,
    route: &str,
    found: &mut Vec<Candidate<'a>>,
) {
    let mut raise = |key: &str, why: String| {
        if let Some(caution) = reference.raised(key).filter(|caution| caution.applies_to_route(route)) {
            let (new, at) = (of_reference(caution), At::default());
            found.push(Candidate { new, origin: format!("calculated: {why}"), at });
        }
    };
    if judged.watery && !judged.preservation.preserved {
        raise("unpreserved-watery", "nothing in the watery phase is shown to preserve it".into());
    }
    let remarks = judged.emulsion.iter().flat_map(|emulsion| &emulsion.report.advice);
    if remarks.map(|advice| advice.remark).any(|remark| remark == Remark::BeeswaxAlone) {
        raise("wax-only-emulsion", "wax without alkali or emulsifier".into());
    }
    if let Some(alcohol) = judged.alcohol.by_volume.value() {
        if alcohol >= MATTERS {
            raise("alcohol-on-childs-skin", "alcohol by volume".into());
        }
        if alcohol >= BURNS {
            raise("flammable", "alcohol by volume".into());
        }
    }
    let nearly =
        |of: Option<&galenics::Figure>| of.and_then(galenics::Figure::value).is_some_and(|of| of >= NEARLY);
    let on = |limit: &LimitAssessment| {
        format!("limit on {} ({}, {})", limit.subject, limit.jurisdiction, limit.force)
    };
    // The lots are not known before the formula is made, so their assays are not either.
    let untested = |limit: &&LimitAssessment| limit.daily && limit.verdict == Verdict::Unknown;
    for limit in judged.limits.iter().filter(untested) {
        raise("untested-daily-limit", on(limit));
    }
    let of_limits = judged
        .limits
        .iter()
        .filter(|limit| !untested(limit))
        // Stronger than a monograph speaks of is shown with the limits; it is no contraindication.
        .filter(|limit| limit.force != materia::Force::Dosage.word() || limit.verdict == Verdict::Unknown)
        .map(|limit| (limit.verdict, nearly(limit.of_limit.as_ref()), on(limit)));
    // Each substance can comply while their sum exceeds the limit on the shared effect.
    let of_groups = judged
        .groups
        .iter()
        .map(|group| (group.verdict, nearly(Some(&group.used)), format!("{} limits together", group.group)));
    for (verdict, nearly, on) in of_limits.chain(of_groups) {
        match verdict {
            Verdict::Prohibited => raise("prohibited-in-regime", on),
            Verdict::Exceeded => raise("limit-exceeded", on),
            Verdict::Unknown => raise("composition-unknown", on),
            Verdict::Within if nearly => raise("limit-nearly", on),
            // No rule is no excess: it is told with the limits, and raises nothing.
            Verdict::Within | Verdict::NotCovered => {}
        }
    }
    for allergen in judged.allergens.iter().filter(|allergen| allergen.declare != Some(false)) {
        raise("allergens-to-declare", allergen.label_name.to_string());
    }
}
