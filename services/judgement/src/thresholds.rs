//! Amounts of what carries a caution, held against the thresholds above which the caution is raised.
//!
//! The sums are those of the limits: everything that holds a substance counts at the top of its range. Never here: an
//! unknown amount that silences a caution.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use galenics::limits::{
    Bound, Finding, GroupUse, Limit, LimitBasis, Purpose, Subject, Use, Verdict, check_limits,
};
use galenics::{Decimal, Figure, Fraction, Input, Leaf, Rule, units};
use materia::{Exposure, Materia, Material, Measure, State, Threshold, ThresholdSubject};
use uuid::Uuid;

use crate::assembled::Assembled;
use crate::error::Result;
use crate::facts;
use crate::limits;
use crate::parts::{Part, by_id, parts};
use crate::serving::used_daily;
use crate::written::Written;

static DRAWN: Rule = Rule::definition(
    "all_of_the_herb",
    "{herb}: the dried herb behind the product is {=} of it, as if all of it passed over",
);

/// A threshold whose subject is in the product, with the share that was found.
pub struct ThresholdOutcome<'r> {
    /// The threshold.
    pub threshold: &'r Threshold,
    /// Name of what was counted.
    pub subject: String,
    /// Its share of the product, counted at the top of each range.
    pub share: Figure,
    /// Whether the share is known and not above the threshold.
    pub below: bool,
}

/// The cautions for which every carrier is covered by thresholds and the amounts together stay below them, each with
/// the thresholds that were looked at.
///
/// # Errors
/// Returns [`Error::Internal`](crate::Error::Internal) if `whole` lacks the facts of a material.
pub(crate) fn below(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    carriers: &BTreeMap<&str, HashSet<Uuid>>,
) -> Result<HashMap<String, Vec<Threshold>>> {
    let wanted = |threshold: &&Threshold| carriers.contains_key(threshold.caution.as_str());
    let looked = Looked::at(reference, written, whole, reference.thresholds.iter().filter(wanted))?;
    let mut silent = HashMap::new();
    for (caution, carried_by) in carriers {
        let rows: Vec<&Threshold> = looked.applicable(caution).collect();
        if !rows.is_empty()
            && carried_by.iter().all(|material| looked.covers(&rows, *material))
            && looked.together(caution)
        {
            silent.insert((*caution).to_owned(), looked.found(caution));
        }
    }
    Ok(silent)
}

/// Every threshold whose subject is in the product.
///
/// # Errors
/// Returns [`Error::Internal`](crate::Error::Internal) if `whole` lacks the facts of a material.
pub fn outcomes<'r>(
    reference: &'r Materia,
    written: &Written,
    whole: &Assembled,
) -> Result<Vec<ThresholdOutcome<'r>>> {
    let Looked { rows, findings, .. } = Looked::at(reference, written, whole, reference.thresholds.iter())?;
    let found = findings.into_iter().filter_map(|finding| {
        let (threshold, limit) = rows.iter().find(|(_, limit)| limit.key == finding.limit)?;
        Some(ThresholdOutcome {
            threshold,
            subject: limit.name.to_string(),
            below: finding.verdict == Verdict::Within,
            share: finding.share,
        })
    });
    Ok(found.collect())
}

/// A threshold in words: `0.4 % of the product`.
#[must_use]
pub fn in_words(threshold: &Threshold) -> String {
    let amount = threshold.more_than.normalize();
    match threshold.measure {
        Measure::Share => format!("{amount} % of the product"),
        Measure::Day => format!("{amount} mg a day"),
        Measure::DayPerKilogram => format!("{amount} mg a day for each kg of body weight"),
    }
}

/// Thresholds with what the product holds of their subjects.
struct Looked<'r, 'm> {
    /// What is counted, by the ID that the calculations use.
    counted: HashMap<String, &'m Material>,
    rows: Vec<(&'r Threshold, Limit)>,
    findings: Vec<Finding>,
    groups: Vec<GroupUse>,
}

impl<'r, 'm> Looked<'r, 'm> {
    fn at(
        reference: &'r Materia,
        written: &Written,
        whole: &'m Assembled,
        thresholds: impl Iterator<Item = &'r Threshold>,
    ) -> Result<Self> {
        let materials = by_id(whole);
        let drawn = drawn_out(whole, &materials);
        let mut parts = parts(&materials, &whole.evaluation)?;
        parts.extend(drawn.iter().map(|(leaf, material)| Part { leaf, material }));
        let meant = limits::meant_for(reference, written, &parts);
        let used_daily = used_daily(written, &whole.evaluation).map(|used| used.g());
        let rows: Vec<(&Threshold, Limit)> = thresholds
            .filter(|threshold| {
                threshold.exposure == Exposure::Any || threshold.exposure.word() == meant.exposure.as_str()
            })
            .enumerate()
            .filter_map(|(i, threshold)| {
                let (subject, name) = match &threshold.subject {
                    ThresholdSubject::Material(key) => {
                        let part = parts.iter().find(|part| part.material.key == *key)?;
                        (Subject::Material(part.leaf.material.id.clone()), part.leaf.material.name.clone())
                    }
                    ThresholdSubject::Substance(key) => {
                        let substance = reference.substance(key)?;
                        (Subject::Substance(key.clone().into()), substance.name.clone().into())
                    }
                };
                let share = as_share(threshold, used_daily)?;
                Some((threshold, limit(threshold, i, (subject, name.to_string()), share, &meant)))
            })
            .collect();
        let all: Vec<Limit> = rows.iter().map(|(_, limit)| limit.clone()).collect();
        let report = if all.is_empty() {
            None
        } else {
            let profiles = limits::profiles(reference, &parts);
            let composition: Vec<Leaf> = parts.iter().map(|part| part.leaf.clone()).collect();
            Some(check_limits(&composition, &profiles, &all, &meant))
        };
        let (findings, groups) = report.map(|report| (report.findings, report.groups)).unwrap_or_default();
        let counted = parts
            .iter()
            .filter_map(|part| {
                let id = part.leaf.material.id.to_string();
                materials.get(&id).map(|material| (id.clone(), *material))
            })
            .collect();
        Ok(Self { counted, rows, findings, groups })
    }

    fn applicable(&self, caution: &str) -> impl Iterator<Item = &'r Threshold> {
        self.rows.iter().map(|(threshold, _)| *threshold).filter(move |it| it.caution == caution)
    }

    /// Whether a threshold of the caution counts what a material brings: its own, or one on a substance of which the data
    /// say how much the material holds.
    fn covers(&self, rows: &[&Threshold], material: Uuid) -> bool {
        let Some(material) = self.counted.get(&material.to_string()) else { return false };
        rows.iter().any(|row| match &row.subject {
            ThresholdSubject::Material(key) => material.key == *key,
            ThresholdSubject::Substance(key) => {
                material.constituents.iter().any(|held| held.substance == *key)
            }
        })
    }

    /// Whether the amounts of the caution's subjects, as fractions of their thresholds, are known and come to no more
    /// than one together.
    fn together(&self, caution: &str) -> bool {
        let group = self.groups.iter().find(|group| group.group.as_str() == caution);
        group.is_some_and(|group| group.verdict == Verdict::Within)
    }

    /// The thresholds whose subject is there.
    fn found(&self, caution: &str) -> Vec<Threshold> {
        let there = |limit: &Limit| self.findings.iter().any(|finding| finding.limit == limit.key);
        let rows = self.rows.iter().filter(|(row, limit)| row.caution == caution && there(limit));
        rows.map(|(row, _)| (*row).clone()).collect()
    }
}

/// The dried herbs that a menstruum draws out, as if all that they hold passed into the product. More cannot. A herb that
/// is also in the product itself is left out, and so nothing about it is silent.
fn drawn_out<'m>(whole: &Assembled, materials: &HashMap<String, &'m Material>) -> Vec<(Leaf, &'m Material)> {
    let there = |id: &str| whole.evaluation.composition.iter().any(|leaf| leaf.material.id.as_str() == id);
    let herbs = whole.evaluation.herbs.iter().filter(|herb| !there(&herb.material.id));
    herbs
        .filter_map(|herb| {
            let material = *materials.get(herb.material.id.as_str())?;
            let state = material.botanical.as_ref()?.state?;
            let share = herb.per_gram.value()?.checked_div(Decimal::ONE_THOUSAND)?;
            let herb_name = Input::words("herb", herb.material.name.clone());
            let share = Figure::number(share, units::SHARE_OF_MASS, &DRAWN, vec![herb_name]);
            (state == State::Dried).then(|| (Leaf { material: Arc::clone(&herb.material), share }, material))
        })
        .collect()
}

/// A threshold as a share of the product. `None` if nobody knows how much is used in a day.
fn as_share(threshold: &Threshold, used_daily: Option<Decimal>) -> Option<Fraction> {
    let percent = match threshold.measure {
        Measure::Share => threshold.more_than,
        // mg of the substance in g of the product.
        Measure::Day => threshold.more_than.checked_div(used_daily?)?.checked_div(Decimal::TEN)?,
        Measure::DayPerKilogram => return None,
    };
    Fraction::percent(percent.min(Decimal::ONE_HUNDRED)).ok()
}

fn limit(
    threshold: &Threshold,
    number: usize,
    (subject, name): (Subject, String),
    most: Fraction,
    meant: &Use,
) -> Limit {
    Limit {
        key: format!("{}-{number}", threshold.caution).into(),
        regime: meant.regime.clone(),
        authority: threshold.caution.clone().into(),
        subject,
        name: name.into(),
        exposure: None,
        site: None,
        purpose: Purpose::Any,
        under_months: None,
        bound: Bound::Maximum(most),
        basis: LimitBasis::AsIs,
        group: Some(threshold.caution.clone().into()),
        source: facts::source(&threshold.source.text, threshold.status),
        date: threshold.source.date.clone().into(),
    }
}
