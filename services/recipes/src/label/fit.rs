//! Whether what a batch made can be released: what is read beside its label, by the same composition.
//!
//! What was not judged is not within: an unknown limit bars as one that is exceeded. Never here: the decision.

use chrono::NaiveDate;
use galenics::limits::Verdict;
use wire::jars::{ReleaseBar, ReleaseBarKind};
use wire::label::{Label, LabelComposition};
use wire::safety::{Caution, CautionLevel};

use super::sheet::Sheet;
use super::warnings::is_for_the_jar;

/// The label of a batch, with what whoever releases it confirms, and what stands in the way.
pub struct ForRelease {
    /// The label.
    pub label: Label,
    /// The cautions that stand on it, the strongest first.
    pub cautions: Vec<Caution>,
    /// What bars the release by its composition, its date, its cautions and its formula.
    pub barred: Vec<ReleaseBar>,
}

/// The cautions that concern whoever uses the jar, the strongest first.
pub(super) fn for_the_jar(cautions: &[Caution]) -> Vec<Caution> {
    let mut all: Vec<Caution> = cautions.iter().filter(|one| is_for_the_jar(one)).cloned().collect();
    all.sort_by_key(|caution| std::cmp::Reverse(caution.level));
    all
}

fn bar(kind: ReleaseBarKind, text: impl Into<String>) -> ReleaseBar {
    ReleaseBar { kind, text: text.into() }
}

/// What bars a release by what the sheet of a label holds.
pub(super) fn barred(sheet: &Sheet<'_>) -> Vec<ReleaseBar> {
    let mut out = Vec::new();
    if sheet.of != LabelComposition::Made {
        let why = sheet.why_planned.clone().unwrap_or_default();
        out.push(bar(ReleaseBarKind::Composition, format!("Its composition as made is not known. {why}")));
    }
    limits(sheet, &mut out);
    acidity(sheet, &mut out);
    let stops = sheet.set.cautions.iter().filter(|caution| caution.level == CautionLevel::Stop);
    out.extend(stops.map(|stop| bar(ReleaseBarKind::Stop, format!("A stop stands: {}", stop.text))));
    if sheet.withheld {
        out.push(bar(
            ReleaseBarKind::Formula,
            "Its formula is withheld. An instructor decides about it first.",
        ));
    }
    if sheet.facts.state == wire::formulary::RevisionState::Withdrawn {
        out.push(bar(ReleaseBarKind::Formula, "Its formula was withdrawn."));
    }
    out
}

/// A dosage is the strength that a monograph speaks of, and no bound of safety.
const NO_BOUND: &str = "dosage";

fn limits(sheet: &Sheet<'_>, out: &mut Vec<ReleaseBar>) {
    for limit in sheet.judged.limits.iter().filter(|limit| limit.force != NO_BOUND) {
        let (subject, bound) = (&limit.subject, &limit.bound);
        let said = match limit.verdict {
            Verdict::Within => continue,
            Verdict::NotCovered => {
                format!("No limit is recorded for {subject}, so nothing says that it is safe here.")
            }
            Verdict::Unknown => format!("It is not known whether the limit for {subject} is kept: {bound}."),
            Verdict::Exceeded => format!("The limit for {subject} is exceeded: {bound}."),
            Verdict::Prohibited => format!("{subject} is not allowed in it: {bound}."),
        };
        out.push(bar(ReleaseBarKind::Limit, said));
    }
    for group in &sheet.judged.groups {
        let said = match group.verdict {
            Verdict::Within | Verdict::NotCovered => continue,
            Verdict::Unknown => "is not known",
            Verdict::Exceeded | Verdict::Prohibited => "is exceeded",
        };
        out.push(bar(
            ReleaseBarKind::Limit,
            format!("The common limit of the group {} {said}.", group.group),
        ));
    }
}

/// An acid preserves only below some pH, so the pH is measured, and the acid enough at it.
fn acidity(sheet: &Sheet<'_>, out: &mut Vec<ReleaseBar>) {
    let judged = sheet.judged;
    if !judged.watery || judged.preserving_acids.is_empty() {
        return;
    }
    let acids = judged.preserving_acids.join(" and ");
    match sheet.observed.ph {
        None => out.push(bar(
            ReleaseBarKind::Ph,
            format!("No pH is recorded, and {acids} preserves only at a low enough one."),
        )),
        Some(ph) if !judged.preservation.preserved => out.push(bar(
            ReleaseBarKind::Ph,
            format!("At pH {}, {acids} does not preserve it.", ph.normalize()),
        )),
        Some(_) => {}
    }
}

/// What bars a release by the date on the label.
pub(super) fn by_date(label: &Label, today: NaiveDate) -> Option<ReleaseBar> {
    let day = label.use_by.as_ref().and_then(|use_by| use_by.day);
    let said = match day {
        None => "No use-by date is known for it.".to_owned(),
        Some(day) if day < today => format!("Its use-by date, {day}, has passed."),
        Some(_) => return None,
    };
    Some(bar(ReleaseBarKind::UseBy, said))
}
