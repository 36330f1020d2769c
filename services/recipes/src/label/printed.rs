//! Assembly of a label from its parts, and the printed text of each part.

use chrono::NaiveDate;
use materia::Materia;
use store::Result;
use wire::bench::Disposition;
use wire::calculations::use_by::UseByAnswer;
use wire::figure::FigureSource;
use wire::formulary::{Regime, RevisionState};
use wire::label::{Label, LabelComposition, LabelDay, LabelFact, LabelOrigin, LabelUseBy};

use super::sheet::{LabelledBatch, Sheet};
use super::{contents, layout, parts, room, warnings};
use judgement::dating::{Dated, use_by as dated_by};
use judgement::figures::Detail;
use judgement::written::Content;

use crate::stored::Turn;

/// Assembles a label.
///
/// # Errors
/// Returns [`store::Error::Internal`] if the use-by date cannot be calculated.
pub(super) fn label(reference: &Materia, sheet: Sheet<'_>) -> Result<Label> {
    let known = contents::known(&sheet);
    let now = dated(reference, &sheet, sheet.made_on.unwrap_or(sheet.today))?;
    let dated = binding(&sheet, now);
    let sorted = warnings::sorted(reference, &sheet.set.cautions);
    let written = &sheet.written.content.label;
    let (batch, facts) = (sheet.batch, sheet.facts);
    let undated = undated(&facts.preparation, facts.regime);
    let mut label = Label {
        revision: facts.id,
        batch: batch.map(|batch| batch.id),
        name: fact(&facts.title, LabelOrigin::Formula),
        preparation: fact(&facts.preparation, LabelOrigin::Formula),
        marks: marks(&sheet),
        batch_number: batch.map(|batch| fact(batch.number, LabelOrigin::Batch)),
        regime: regime(reference, facts.regime),
        strength: contents::strength(reference, &sheet),
        route: route(reference, &facts.route),
        meant_for: meant_for(&sheet.written.content),
        directions: written_out(&written.directions, LabelOrigin::Formula),
        patch_test: sorted.patch_test,
        longest_use: sorted.longest_use,
        warnings: sorted.warnings,
        ingredients: contents::ingredients(reference, &sheet, &known),
        allergens: contents::allergens(reference, &sheet, &known),
        net_contents: sheet.net.as_ref().map(|net| fact(&net.text, net.from)),
        made_on: sheet.made_on.map(|day| LabelDay { day, from: day_from(batch.is_some()) }),
        use_by: sheet.made_on.map(|_| no_later(batch, use_by(&dated, &undated))),
        after_opening: after_opening(&written.after_opening),
        storage: storage(&written.storage, dated.refrigerate),
        children: common("Keep out of the reach of children."),
        clinic: fact(&sheet.rules.clinic_name, LabelOrigin::Policy),
        notice: fact(&sheet.rules.notice, LabelOrigin::Policy),
        missing: Vec::new(),
        room: None,
        layout: None,
    };
    label.missing = missing(&label, facts.regime, &undated);
    if sheet.unchecked {
        label.missing.push(UNCHECKED.to_owned());
    }
    label.room = sheet.room.as_ref().map(|area| room::room(area, &parts::parts(&label)));
    label.layout = sheet.room.as_ref().map(|area| layout::layout(&label, area));
    Ok(label)
}

/// What the label of a submitted batch lacks for a reader to whom a nested formula is closed.
const UNCHECKED: &str = "weighings: What was weighed may call for other warnings, allergens or another date. Ask a \
                         reader who has acknowledged the cautions of the formula and of every nested formula to read \
                         this label.";

fn fact(text: &str, from: LabelOrigin) -> LabelFact {
    LabelFact { text: text.to_owned(), from, source: None }
}

fn common(text: &str) -> LabelFact {
    let source = FigureSource { text: "common practice, no source".into(), status: "common practice".into() };
    LabelFact { source: Some(source), ..fact(text, LabelOrigin::CommonPractice) }
}

fn written_out(text: &str, from: LabelOrigin) -> Option<LabelFact> {
    let text = text.trim();
    (!text.is_empty()).then(|| fact(text, from))
}

const fn day_from(of_batch: bool) -> LabelOrigin {
    if of_batch { LabelOrigin::Batch } else { LabelOrigin::Request }
}

/// Marks that concern the whole jar, such as a withdrawn formula or a batch in quarantine.
fn marks(sheet: &Sheet<'_>) -> Vec<LabelFact> {
    let mut marks = Vec::new();
    if sheet.facts.regime == Regime::TeachingOnly {
        marks.push(fact("For practice, not for use.", LabelOrigin::Formula));
    }
    if sheet.facts.approval_note().is_some() {
        marks.push(fact("Approved by its author.", LabelOrigin::Policy));
    }
    match sheet.facts.state {
        RevisionState::Withdrawn => {
            marks.push(fact("Formula withdrawn. Do not give out.", LabelOrigin::Formula));
        }
        RevisionState::Proposed => {
            marks.push(fact("Formula not approved. Do not make.", LabelOrigin::Formula));
        }
        RevisionState::Approved if sheet.withheld => {
            marks.push(fact("Formula withheld. Do not give out.", LabelOrigin::Formula));
        }
        _ => {}
    }
    let disposition = sheet.batch.and_then(|batch| match batch.disposition {
        Disposition::PracticeOnly => Some("Practice only. Do not give out."),
        Disposition::Quarantine => Some("In quarantine. Do not give out."),
        Disposition::Recalled => Some("Recalled. Do not give out."),
        Disposition::Discarded => Some("Discarded. Do not give out."),
        Disposition::Released => None,
    });
    marks.extend(disposition.map(|text| fact(text, LabelOrigin::Batch)));
    if sheet.batch.is_some_and(|batch| batch.sample) {
        marks.push(fact("Retained sample. Do not give out.", LabelOrigin::Batch));
    }
    marks
}

fn regime(reference: &Materia, regime: Regime) -> LabelFact {
    let known = reference.regimes.iter().find(|known| known.key.replace('-', "_") == regime.as_str());
    let name = known.map_or_else(|| regime.as_str().replace('_', " "), |known| known.name.clone());
    let mut letters = name.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    fact(&format!("{first}{}.", letters.as_str()), LabelOrigin::Formula)
}

/// The routes of the reference data as a label says them.
const ROUTES: [(&str, &str); 10] = [
    ("intact-skin-leave-on", "For unbroken skin; leave on."),
    ("intact-skin-rinse-off", "For unbroken skin; rinse off."),
    ("broken-skin", "For broken skin."),
    ("mucosa", "For mucous membranes."),
    ("eye", "For the eye."),
    ("inhaled", "To be inhaled."),
    ("by-mouth", "To be swallowed."),
    ("bath", "For the bath."),
    ("lips", "For the lips."),
    ("gargle", "Gargle or rinse; spit out."),
];

fn route(reference: &Materia, named: &str) -> LabelFact {
    let key = reference.route(named).map_or(named, |route| route.key.as_str());
    let said = ROUTES.iter().find(|(known, _)| *known == key).map(|(_, said)| (*said).to_owned());
    fact(&said.unwrap_or_else(|| format!("Used {named}.")), LabelOrigin::Formula)
}

/// The intended part of the body and the lowest age, if the author states them.
fn meant_for(content: &Content) -> Option<LabelFact> {
    let site = content.site.as_ref().map(|site| format!("Part of the body: {}.", site.trim()));
    let youngest = content.youngest.as_ref().map(|age| format!("From the age of {}.", age.trim()));
    let text = site.into_iter().chain(youngest).collect::<Vec<_>>().join(" ");
    written_out(&text, LabelOrigin::Formula)
}

/// The use-by date calculated from the composition.
fn dated(reference: &Materia, sheet: &Sheet<'_>, made_on: NaiveDate) -> Result<UseByAnswer> {
    let of = Dated {
        made_on,
        evaluation: sheet.evaluation,
        observed: sheet.observed,
        lots: sheet.lots.clone(),
        switched_off: &sheet.switched_off,
    };
    Ok(dated_by(reference, sheet.written, sheet.whole, of, Detail::Brief)?)
}

/// The answer that the label shows. A batch as made takes the date calculated from its weighings. Before every line is
/// weighed, the date is never later than the one it was opened with.
///
/// Date and storage come from the same answer, so that a date that requires a refrigerator is never shown without it.
fn binding(sheet: &Sheet<'_>, now: UseByAnswer) -> UseByAnswer {
    let planned = sheet.batch.filter(|_| sheet.of == LabelComposition::Planned);
    let opened_with = planned.and_then(|batch| batch.asked.use_by.as_ref());
    match opened_with {
        Some(before) if before.date.is_some() && (now.date.is_none() || before.date < now.date) => {
            before.clone().turn()
        }
        // On the same day the answer that requires a refrigerator is the stricter one.
        Some(before) if before.date == now.date && before.refrigerate => before.clone().turn(),
        _ => now,
    }
}

/// That no rule dates a kind, with the remedy.
fn undated(kind: &str, regime: Regime) -> String {
    let regime = regime.as_str().replace('_', " ");
    format!(
        "No dating rule is recorded that applies to the kind {kind} made as {regime}. An instructor must set the use-by \
         date."
    )
}

fn use_by(dated: &UseByAnswer, undated: &str) -> LabelUseBy {
    let because = match (&dated.date, &dated.limited_by) {
        (Some(_), Some(by)) => by.clone(),
        _ => undated.to_owned(),
    };
    LabelUseBy { day: dated.date, because, from: LabelOrigin::Calculation }
}

/// The date, or the earlier one that somebody chose for the jars.
fn no_later(batch: Option<&LabelledBatch<'_>>, dated: LabelUseBy) -> LabelUseBy {
    let chosen = batch.and_then(|batch| batch.no_later.as_ref());
    match chosen {
        Some((day, because)) if dated.day.is_none_or(|dated| *day < dated) => {
            LabelUseBy { day: Some(*day), because: because.clone(), from: LabelOrigin::Batch }
        }
        _ => dated,
    }
}

fn after_opening(written: &str) -> LabelFact {
    written_out(written, LabelOrigin::Formula).unwrap_or_else(|| {
        common("After opening, use only until the use-by date and while appearance and smell are unchanged.")
    })
}

fn storage(written: &str, refrigerate: bool) -> Vec<LabelFact> {
    let mut all: Vec<LabelFact> = written_out(written, LabelOrigin::Formula).into_iter().collect();
    if refrigerate {
        all.push(fact(
            "Keep refrigerated. The use-by date applies only when refrigerated.",
            LabelOrigin::Calculation,
        ));
    }
    all
}

/// The required parts that this label lacks, each as the name of the part and a sentence with the remedy.
fn missing(label: &Label, regime: Regime, undated: &str) -> Vec<String> {
    let mut out = Vec::new();
    let mut need = |there: bool, text: &str| {
        if !there {
            out.push(text.to_owned());
        }
    };
    need(label.directions.is_some(), "directions: The formula's author must enter directions for use.");
    need(!label.storage.is_empty(), "storage: The formula's author must enter storage conditions.");
    need(label.net_contents.is_some(), "net_contents: Enter the net contents, such as net=30 g.");
    need(label.made_on.is_some(), "made_on: Enter the day of making, such as made_on=2026-03-21.");
    need(label.use_by.as_ref().is_none_or(|use_by| use_by.day.is_some()), &format!("use_by: {undated}"));
    if regime == Regime::Cosmetic {
        let nameless = label.ingredients.items.iter().filter(|item| item.inci.is_none());
        out.extend(nameless.map(|item| format!("ingredients: The INCI name of {} is unknown.", item.name)));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_has_words_of_its_own_for_every_route() {
        let reference = Materia::embedded().unwrap();
        for known in &reference.routes {
            assert!(!route(&reference, &known.name).text.starts_with("Used"), "{}", known.key);
        }
        assert_eq!(regime(&reference, Regime::HerbalMedicine).text, "Herbal medicine.");
    }
}
