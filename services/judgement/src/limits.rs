//! Limits of the reference data, checked against a composition.
//!
//! Selects the limits that apply to the intended use and passes them to `galenics::limits`. Never here: a limit without
//! its source, or an unknown share counted as a pass.

use std::collections::{BTreeMap, HashSet};

use galenics::limits::{
    Bound, Constituent, Driest, Exposure, Finding, GroupUse, HerbPart, Limit, LimitBasis, Profile, Purpose,
    Subject, Use, Verdict, check_herb, check_limits,
};
use galenics::{Decimal, Evaluation, Figure, Fraction, Sourced, Text};
use materia::{Materia, Material};

use crate::coverage;
use crate::facts;
use crate::parts::{Known, Part};
use crate::written::Written;

/// One limit of the reference data with the outcome of its check.
pub struct LimitAssessment {
    /// The limit's key.
    pub key: String,
    /// Name of the substance, material or species that the limit restricts.
    pub subject: String,
    /// Its bound, in words.
    pub bound: String,
    /// Where the limit applies, such as `EU`.
    pub jurisdiction: String,
    /// Its legal force, such as law or guidance.
    pub force: &'static str,
    /// The outcome of the check.
    pub verdict: Verdict,
    /// Whether it limits an amount in a day instead of a share of the product.
    pub daily: bool,
    /// The share of the product, or the amount in a day in µg. `None` if nothing was compared.
    pub share: Option<Figure>,
    /// `share` as a fraction of the limit.
    pub of_limit: Option<Figure>,
    /// The largest values that would comply.
    pub would_pass: Vec<Figure>,
    /// Citation of the source.
    pub source: String,
    /// Whether the source was verified.
    pub status: &'static str,
}

/// The outcome of all limits for a composition.
pub struct Limits {
    /// Every applicable limit whose subject is in the composition, the worst outcome first.
    pub judgements: Vec<LimitAssessment>,
    /// Sums over limits that restrict the same effect.
    pub groups: Vec<GroupUse>,
}

/// Checks a composition against every limit that applies to its use `of`.
#[must_use]
pub fn judge(
    reference: &Materia,
    of: &Use,
    evaluation: &Evaluation,
    parts: &[Part<'_>],
    known: &Known<'_>,
) -> Limits {
    let of_regime = |limit: &&materia::Limit| limit.regime.replace('-', "_") == of.regime.as_str();
    let bounds: BTreeMap<&str, &materia::Limit> =
        reference.limits.iter().filter(of_regime).map(|limit| (limit.key.as_str(), limit)).collect();
    let limits: Vec<Limit> =
        bounds.values().flat_map(|limit| calculable(reference, limit, of, parts)).collect();
    let report = check_limits(&evaluation.composition, &profiles(reference, parts), &limits, of);
    let mut judgements: Vec<LimitAssessment> = report
        .findings
        .into_iter()
        .filter_map(|finding| {
            bounds.get(finding.limit.as_str()).map(|limit| judged(reference, limit, finding))
        })
        .collect();
    for limit in bounds.values() {
        judgements.extend(by_herb(reference, limit, of, evaluation, known));
        judgements.extend(by_day(reference, limit, of, known));
    }
    let not_covered = not_covered(reference, of, parts, &judgements);
    judgements.extend(not_covered);
    judgements.sort_by_key(|judgement| std::cmp::Reverse(rank(judgement.verdict)));
    Limits { judgements, groups: report.groups }
}

/// The worst verdict of all limits and of their sums. Nothing judged is nothing covered.
#[must_use]
pub fn worst(judgements: &[LimitAssessment], groups: &[GroupUse]) -> Verdict {
    let verdicts = judgements.iter().map(|judgement| judgement.verdict);
    let together = groups.iter().map(|group| group.verdict);
    verdicts.chain(together).max_by_key(|verdict| rank(*verdict)).unwrap_or(Verdict::NotCovered)
}

/// The materials of a kind that is ordinarily limited on which no limit that was judged is.
fn not_covered(
    reference: &Materia,
    of: &Use,
    parts: &[Part<'_>],
    judgements: &[LimitAssessment],
) -> Vec<LimitAssessment> {
    let judged: HashSet<&str> = judgements.iter().map(|judgement| judgement.key.as_str()).collect();
    coverage::uncovered(reference, parts, &judged)
        .map(|part| LimitAssessment {
            key: format!("not-covered-{}", part.material.key),
            subject: part.leaf.material.name.to_string(),
            bound: "no rule is recorded for this".to_owned(),
            jurisdiction: String::new(),
            force: "none",
            verdict: Verdict::NotCovered,
            daily: false,
            share: None,
            of_limit: None,
            would_pass: Vec::new(),
            source: format!(
                "the reference data have no limit for this material as {}",
                of.regime.replace('_', " ")
            ),
            status: materia::Status::CommonPractice.word(),
        })
        .collect()
}

/// Severity of a verdict; the highest is the worst.
const fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Within => 0,
        Verdict::NotCovered => 1,
        Verdict::Unknown => 2,
        Verdict::Exceeded => 3,
        Verdict::Prohibited => 4,
    }
}

/// The intended use of a formula: regime, exposure by its route, site and lowest age.
pub(crate) fn meant_for(reference: &Materia, written: &Written, parts: &[Part<'_>]) -> Use {
    let route = reference.routes.iter().find(|route| route.key == written.route);
    Use {
        regime: written.content.regime.as_str().into(),
        exposure: route.and_then(|route| exposure(route.exposure)).unwrap_or(Exposure::LeaveOn),
        site: written.site().map(|site| site.word().into()),
        youngest_months: written.youngest_months(),
        preservatives: preservatives(parts),
    }
}

/// IDs of the preservatives in the composition.
#[must_use]
pub fn preservatives(parts: &[Part<'_>]) -> Vec<Text> {
    let preserves = |part: &&Part<'_>| part.material.kind == materia::MaterialKind::Preservative;
    parts.iter().filter(preserves).map(|part| part.leaf.material.id.clone()).collect()
}

fn exposure(exposure: materia::Exposure) -> Option<Exposure> {
    match exposure {
        materia::Exposure::Any => None,
        materia::Exposure::LeaveOn => Some(Exposure::LeaveOn),
        materia::Exposure::SunProduct => Some(Exposure::SunProduct),
        materia::Exposure::RinseOff => Some(Exposure::RinseOff),
        materia::Exposure::ByMouth => Some(Exposure::ByMouth),
        materia::Exposure::Inhaled => Some(Exposure::Inhaled),
        materia::Exposure::Mucosa => Some(Exposure::Mucosa),
    }
}

/// The exposure that a limit is compared with. A limit on leave-on products also applies to sun products.
fn binding(limit: &materia::Limit, of: &Use) -> Option<Exposure> {
    match exposure(limit.exposure) {
        Some(Exposure::LeaveOn) if of.exposure == Exposure::SunProduct => Some(Exposure::SunProduct),
        other => other,
    }
}

/// The largest permitted share of the subject as weighed, in per cent, and the basis of the comparison. A limit on one
/// salt or ester that is stated as acid is divided by the mass of acid in each gram of it.
fn as_weighed(reference: &Materia, limit: &materia::Limit, percent: Decimal) -> (Decimal, LimitBasis) {
    if limit.basis != materia::Basis::AsAcid {
        return (percent, LimitBasis::AsIs);
    }
    let of = match &limit.subject {
        materia::Subject::Substance(key) => {
            reference.substance(key).and_then(|it| it.as_acid.as_ref().map(|acid| (key, acid)))
        }
        materia::Subject::Material(_) | materia::Subject::Species(_) | materia::Subject::Genus(_) => None,
    };
    match of {
        Some((key, acid)) if acid.acid != *key => {
            (percent.checked_div(acid.factor).unwrap_or(percent), LimitBasis::AsIs)
        }
        Some(_) | None => (percent, LimitBasis::AsAcid),
    }
}

/// A limit in the form of the calculations. A limit on a species becomes one limit on each of its materials present.
fn calculable(reference: &Materia, limit: &materia::Limit, of: &Use, parts: &[Part<'_>]) -> Vec<Limit> {
    // `by_herb` checks limits on the dried herb; a material carries what is prohibited as such.
    if matches!(limit.basis, materia::Basis::AsDriedHerb | materia::Basis::AsSuch) {
        return Vec::new();
    }
    let mut basis = as_weighed(reference, limit, Decimal::ZERO).1;
    let bound = match &limit.bound {
        materia::Bound::Prohibited => Bound::Prohibited,
        materia::Bound::MaximumPercent { percent } | materia::Bound::BelowPercent { percent } => {
            let (most, counted) = as_weighed(reference, limit, *percent);
            basis = counted;
            match Fraction::percent(most) {
                Ok(most) => Bound::Maximum(most),
                Err(_) => return Vec::new(),
            }
        }
        // `daily` checks these against the assay of a lot.
        materia::Bound::MaximumDaily { .. } | materia::Bound::MaximumDailyPerKilogram { .. } => {
            return Vec::new();
        }
    };
    let under_months = match &limit.audience {
        materia::Audience::Everyone => None,
        materia::Audience::UnderMonths(months) => Some(*months),
        _ => return Vec::new(),
    };
    let subjects: Vec<(Subject, Text)> = match &limit.subject {
        materia::Subject::Substance(key) => {
            vec![(Subject::Substance(key.clone().into()), named(reference, &limit.subject).into())]
        }
        _ => parts
            .iter()
            .filter(|part| limit.is_about(part.material))
            .map(|part| (Subject::Material(part.leaf.material.id.clone()), part.leaf.material.name.clone()))
            .collect(),
    };
    subjects
        .into_iter()
        .map(|(subject, name)| Limit {
            key: limit.key.clone().into(),
            regime: limit.regime.replace('-', "_").into(),
            authority: format!("{} {}", limit.jurisdiction, limit.force).into(),
            subject,
            name,
            exposure: binding(limit, of),
            site: (limit.site != materia::Site::Any).then(|| limit.site.word().into()),
            purpose: match limit.purpose {
                materia::Purpose::Any => Purpose::Any,
                materia::Purpose::Preservative => Purpose::Preservative,
                materia::Purpose::OtherThanPreservative => Purpose::OtherThanPreservative,
            },
            under_months,
            bound,
            basis,
            group: limit.group.clone().map(Into::into),
            source: facts::source(&limit.source.text, limit.status),
            date: limit.source.date.clone().into(),
        })
        .collect()
}

/// The constituents of each material. A salt also counts as the acid that it gives.
#[must_use]
pub fn profiles(reference: &Materia, parts: &[Part<'_>]) -> Vec<Profile> {
    parts
        .iter()
        .map(|part| {
            let mut constituents = Vec::new();
            for held in &part.material.constituents {
                let Some(substance) = reference.substance(&held.substance) else { continue };
                let source = facts::source(&held.source.text, held.status);
                let share = |percent: Decimal| Fraction::percent(percent).unwrap_or(Fraction::ONE);
                constituents.push(Constituent {
                    substance: substance.key.clone().into(),
                    name: substance.name.clone().into(),
                    least: share(held.low_percent),
                    most: share(held.high_percent),
                    as_acid: false,
                    source: source.clone(),
                });
                // An acid that is its own acid form was added above.
                let acid = substance.as_acid.as_ref().filter(|acid| acid.acid != substance.key);
                if let Some((acid, of)) = acid.and_then(|acid| Some((acid, reference.substance(&acid.acid)?)))
                {
                    constituents.push(Constituent {
                        substance: of.key.clone().into(),
                        name: of.name.clone().into(),
                        least: share(held.low_percent * acid.factor),
                        most: share(held.high_percent * acid.factor),
                        as_acid: true,
                        source,
                    });
                }
            }
            Profile {
                material: part.leaf.material.id.clone(),
                constituents,
                untested: coverage::untested(reference, part.material),
            }
        })
        .collect()
}

fn named(reference: &Materia, subject: &materia::Subject) -> String {
    match subject {
        materia::Subject::Substance(key) => {
            reference.substance(key).map_or_else(|| key.clone(), |substance| substance.name.clone())
        }
        materia::Subject::Material(key) => {
            reference.material(key).map_or_else(|| key.clone(), |material| material.name.clone())
        }
        materia::Subject::Species(key) => reference
            .materials
            .iter()
            .filter_map(|material| material.botanical.as_ref())
            .find(|botanical| botanical.species.key == *key)
            .map_or_else(|| key.clone(), |botanical| botanical.species.name.clone()),
        materia::Subject::Genus(genus) => genus.clone(),
    }
}

fn bound_in_words(limit: &materia::Limit) -> String {
    let basis = match limit.basis {
        materia::Basis::AsIs => "",
        materia::Basis::AsAcid => " as acid",
        materia::Basis::AsDriedHerb => " as dried herb",
        materia::Basis::AnyTrace | materia::Basis::AsSuch => "",
    };
    match &limit.bound {
        materia::Bound::Prohibited => "prohibited".into(),
        materia::Bound::MaximumPercent { percent } => format!("at most {} %{basis}", percent.normalize()),
        materia::Bound::BelowPercent { percent } => format!("below {} %{basis}", percent.normalize()),
        materia::Bound::MaximumDaily { micrograms } => {
            format!("at most {} ug a day{basis}", micrograms.normalize())
        }
        materia::Bound::MaximumDailyPerKilogram { micrograms } => {
            format!("at most {} ug a day for each kg of body mass{basis}", micrograms.normalize())
        }
    }
}

fn plain(reference: &Materia, limit: &materia::Limit, verdict: Verdict) -> LimitAssessment {
    LimitAssessment {
        key: limit.key.clone(),
        subject: named(reference, &limit.subject),
        bound: bound_in_words(limit),
        jurisdiction: limit.jurisdiction.clone(),
        force: limit.force.word(),
        verdict,
        daily: is_daily(limit),
        share: None,
        of_limit: None,
        would_pass: Vec::new(),
        source: limit.source.text.clone(),
        status: limit.status.word(),
    }
}

fn judged(reference: &Materia, limit: &materia::Limit, finding: Finding) -> LimitAssessment {
    // The calculations let the limit itself pass.
    let at_limit = finding.of_limit.value() == Some(Decimal::ONE);
    let verdict = match (&limit.bound, finding.verdict) {
        (materia::Bound::BelowPercent { .. }, Verdict::Within) if at_limit => Verdict::Exceeded,
        (_, verdict) => verdict,
    };
    LimitAssessment {
        share: Some(finding.share),
        of_limit: Some(finding.of_limit),
        would_pass: finding.would_pass,
        ..plain(reference, limit, verdict)
    }
}

/// Checks a limit on a herb against the dried herb behind each gram of product.
fn by_herb(
    reference: &Materia,
    limit: &materia::Limit,
    of: &Use,
    evaluation: &Evaluation,
    known: &Known<'_>,
) -> Option<LimitAssessment> {
    if limit.basis != materia::Basis::AsDriedHerb || !meets(limit, of) {
        return None;
    }
    let materia::Bound::MaximumPercent { percent } = &limit.bound else { return None };
    let herbs: Vec<HerbPart<'_>> = evaluation
        .herbs
        .iter()
        .filter_map(|herb| {
            let material = known.get(herb.material.id.as_str())?;
            is_of(reference, limit, material).then(|| HerbPart { herb, driest: driest(material) })
        })
        .collect();
    let source = facts::source(&limit.source.text, limit.status);
    let found = check_herb(&herbs, &Sourced::new(Fraction::percent(*percent).ok()?, source))?;
    Some(LimitAssessment {
        share: Some(found.share),
        of_limit: Some(found.of_limit),
        would_pass: found.would_pass,
        ..plain(reference, limit, found.verdict)
    })
}

/// Whether a limit on a herb applies to this material. A limit that names a dried plant part also applies to the fresh
/// part and to the same part under another name.
fn is_of(reference: &Materia, limit: &materia::Limit, material: &Material) -> bool {
    let plant = |botanical: &materia::Botanical| (botanical.species.key.clone(), botanical.part.clone());
    match &limit.subject {
        materia::Subject::Material(key) => {
            let named = reference.material(key).and_then(|named| named.botanical.as_ref()).map(plant);
            material.key == *key || (named.is_some() && material.botanical.as_ref().map(plant) == named)
        }
        _ => limit.is_about(material),
    }
}

/// The driest ends of the ranges of a herb's water content, fresh and dried.
fn driest(material: &Material) -> Option<Driest> {
    let end = |measured: &materia::Measured, percent: Decimal| {
        let source = facts::source(&measured.source.text, measured.status);
        Some(Sourced::new(Fraction::percent(percent).ok()?, source))
    };
    let (fresh, dried) = (material.water_content_fresh.as_ref()?, material.water_content_dried.as_ref()?);
    Some(Driest { water: end(fresh, fresh.low)?, dried_water: end(dried, dried.high)? })
}

/// Whether a limit applies to the exposure, site and age of a use.
fn meets(limit: &materia::Limit, of: &Use) -> bool {
    let of_age = match &limit.audience {
        materia::Audience::Everyone => true,
        audience => of.youngest_months.is_some_and(|youngest| audience.includes_age(youngest)),
    };
    binding(limit, of).is_none_or(|exposure| exposure == of.exposure)
        && (limit.site == materia::Site::Any || of.site.as_deref() == Some(limit.site.word()))
        && of_age
}

/// A daily limit whose subject is present: unknown until the lots are assayed, which is not a pass.
fn by_day(
    reference: &Materia,
    limit: &materia::Limit,
    of: &Use,
    known: &Known<'_>,
) -> Option<LimitAssessment> {
    if !is_daily(limit) || !meets(limit, of) {
        return None;
    }
    let there = known.values().any(|material| match &limit.subject {
        materia::Subject::Substance(key) => material.constituents.iter().any(|held| held.substance == *key),
        _ => limit.is_about(material),
    });
    there.then(|| plain(reference, limit, Verdict::Unknown))
}

/// Whether a limit is on an amount in a day.
const fn is_daily(limit: &materia::Limit) -> bool {
    matches!(
        limit.bound,
        materia::Bound::MaximumDaily { .. } | materia::Bound::MaximumDailyPerKilogram { .. }
    )
}
