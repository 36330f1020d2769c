//! What the demo clinic holds: formulas over several kinds, nested ones, an old official one, and batches at work.

use clinic::{Claim, Clinic, bench, formulary, policy, safety};
use wire::bench::{BatchRecord, EntryKind, NewBatch, NewEntry, NewReview, ReviewComment, Submit, Verdict};
use wire::formulary::{Decide, Decision, FormulaContent, NewLibrary};
use wire::ids::{BatchId, LibraryId, PersonId, RevisionId};
use wire::recipe::MakeFor;
use wire::safety::{Acknowledge, CautionLevel};

use super::once;
use crate::start::StartError;

/// The formulas, in the order they build on each other.
const FORMULAS: &str = include_str!("../../demo/formulas.json");

/// The formula that waits for a decision, so that a newcomer has one to take.
const WAITING: &str = "Lavender balm";

pub(super) async fn load(
    clinic: &Clinic,
    administrator: Claim,
    author: Claim,
    second: Claim,
    noor: (Claim, PersonId),
    tomas: (Claim, PersonId),
) -> Result<(), StartError> {
    rules(clinic, &administrator).await?;
    let second_id = clinic::people::me(clinic, &second).await?.person.map(|person| person.id);
    let modern =
        library(clinic, &author, "First-year creams", "What the first-year cohort makes in its first term.")
            .await?;
    let old =
        library(clinic, &author, "Old official formulas", "Read and made for teaching, never given out.")
            .await?;
    for library in [modern, old] {
        for member in [second_id, Some(noor.1), Some(tomas.1)].into_iter().flatten() {
            formulary::member_add(clinic, &author, library, member.into()).await?;
        }
    }
    let formulas: Vec<FormulaContent> = serde_json::from_str(FORMULAS).map_err(std::io::Error::other)?;
    let mut creams = Vec::new();
    for content in &formulas {
        let library = if content.regime == wire::formulary::Regime::TeachingOnly { old } else { modern };
        let revision = proposed(clinic, &author, library, content).await?;
        if content.title == WAITING {
            continue;
        }
        acknowledge(clinic, &second, revision).await?;
        let decide = Decide { decision: Decision::Approve, comment: String::new() };
        formulary::decide(clinic, &second, revision, &decide).await?;
        // The author may then put it into other formulas.
        acknowledge(clinic, &author, revision).await?;
        creams.push((content.title.as_str(), revision));
    }
    let of = |title: &str| {
        creams
            .iter()
            .find(|(known, _)| *known == title)
            .map(|(_, revision)| *revision)
            .ok_or_else(|| StartError::Clinic(format!("the demo has no formula {title:?}")))
    };
    made(clinic, &noor.0, &second, of("Calendula cream")?, true).await?;
    made(clinic, &tomas.0, &second, of("Plain salve")?, false).await
}

async fn rules(clinic: &Clinic, administrator: &Claim) -> Result<(), StartError> {
    let found = policy::policy(clinic, administrator).await?;
    let mut content = found.value.content;
    content.clinic_name = "Aldergrove Teaching Clinic".into();
    content.time_zone = "Europe/Berlin".into();
    content.reason = "The demo clinic's own name and time zone.".into();
    policy::policy_change(clinic, administrator, found.version, &content).await?;
    Ok(())
}

async fn library(
    clinic: &Clinic,
    by: &Claim,
    name: &str,
    description: &str,
) -> Result<LibraryId, StartError> {
    let request = NewLibrary { name: name.into(), description: description.into() };
    Ok(formulary::library_create(clinic, by, &once(clinic), &request).await?.value.id)
}

async fn proposed(
    clinic: &Clinic,
    author: &Claim,
    library: LibraryId,
    content: &FormulaContent,
) -> Result<RevisionId, StartError> {
    let told = |error: clinic::Error| match &error {
        clinic::Error::Invalid(fields) => StartError::Clinic(format!("{}: {fields:?}", content.title)),
        _ => StartError::from(error),
    };
    let made =
        formulary::formula_create(clinic, author, &once(clinic), library, content).await.map_err(told)?;
    let revision = made
        .revisions
        .first()
        .map(|revision| revision.id)
        .ok_or_else(|| StartError::Clinic("a formula without a draft".into()))?;
    formulary::propose(clinic, author, revision, 1).await?;
    Ok(revision)
}

async fn acknowledge(clinic: &Clinic, by: &Claim, revision: RevisionId) -> Result<(), StartError> {
    let set = safety::cautions(clinic, by, revision).await?;
    let contraindications = set
        .cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.clone())
        .collect();
    let request = Acknowledge {
        caution_set: set.digest,
        contraindications,
        meant_for: Vec::new(),
        for_api_client: None,
    };
    safety::acknowledge(clinic, by, &once(clinic), revision, &request).await?;
    Ok(())
}

/// A student's batch: one that was accepted after a comment, or one that is waiting for its review.
async fn made(
    clinic: &Clinic,
    maker: &Claim,
    reviewer: &Claim,
    revision: RevisionId,
    reviewed: bool,
) -> Result<(), StartError> {
    acknowledge(clinic, maker, revision).await?;
    let make_for = MakeFor {
        containers: Some(12),
        fill: Some("30 g".into()),
        transfer_loss: Some("4 %".into()),
        readability: Some("0.1 g".into()),
        ..MakeFor::default()
    };
    let record = bench::batch_create(clinic, maker, &once(clinic), &NewBatch { revision, make_for }).await?;
    let record = read_back(&record)?;
    let batch = record.summary.id;
    let lines: Vec<_> = record.recipe.phases.iter().flat_map(|phase| &phase.lines).collect();
    for (i, line) in lines.iter().enumerate() {
        let asked = line.weigh.value.clone().unwrap_or_default();
        let lot = (i > 0 || !reviewed).then(|| format!("AG-26-{:03}", i + 1));
        let entry = NewEntry {
            line: Some(line.line.clone()),
            quantity: Some(format!("{asked} g")),
            lot,
            lot_expires: Some("2028-03".into()),
            price: Some("14.50 per 1 kg".into()),
            ..entry(EntryKind::Weighing)
        };
        bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    }
    for (i, step) in record.recipe.method.iter().enumerate() {
        let number = u16::try_from(i + 1).ok();
        if let Some(asked) = &step.temperature {
            let degrees = asked.split(' ').next().unwrap_or("20");
            let entry = NewEntry {
                step: number,
                quantity: Some(format!("{degrees} C")),
                ..entry(EntryKind::Temperature)
            };
            bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
        }
        let entry = NewEntry { step: number, ..entry(EntryKind::StepDone) };
        bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    }
    if record.recipe.preparation == "cream" {
        let entry = NewEntry {
            quantity: Some("4.9".into()),
            note: Some("paper from 4 to 7".into()),
            ..entry(EntryKind::Ph)
        };
        bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    }
    let entry = NewEntry { quantity: Some("361.5 g".into()), ..entry(EntryKind::Yield) };
    bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    bench::submit(clinic, maker, &once(clinic), batch, &Submit::default()).await?;
    if reviewed { review(clinic, maker, reviewer, batch).await } else { Ok(()) }
}

async fn review(clinic: &Clinic, maker: &Claim, reviewer: &Claim, batch: BatchId) -> Result<(), StartError> {
    let record = read_back(&bench::batch(clinic, reviewer, batch).await?)?;
    let first = record.entries.first();
    let request = NewReview {
        verdict: Verdict::Return,
        summary: "Careful work. One lot is missing.".into(),
        comments: vec![ReviewComment {
            entry: first.map(|entry| entry.id),
            text: "Which lot was this?".into(),
        }],
    };
    bench::review(clinic, reviewer, &once(clinic), batch, &request).await?;
    if let Some(first) = first {
        let correction = NewEntry {
            line: first.line.clone(),
            quantity: first.quantity.clone(),
            lot: Some("AG-26-001".into()),
            lot_expires: first.lot_expires.clone(),
            price: first.price.clone(),
            corrects: Some(first.id),
            reason: Some("The lot had not been written down.".into()),
            ..entry(first.kind)
        };
        bench::entry_create(clinic, maker, &once(clinic), batch, &correction).await?;
    }
    let answer = Submit { answer: Some("It was the lot opened in March; I have added it.".into()) };
    bench::submit(clinic, maker, &once(clinic), batch, &answer).await?;
    let request =
        NewReview { verdict: Verdict::Accept, summary: "Complete now.".into(), comments: Vec::new() };
    bench::review(clinic, reviewer, &once(clinic), batch, &request).await?;
    Ok(())
}

fn entry(kind: EntryKind) -> NewEntry {
    NewEntry {
        kind,
        line: None,
        step: None,
        quantity: None,
        lot: None,
        lot_expires: None,
        price: None,
        note: None,
        corrects: None,
        reason: None,
    }
}

/// Reads a released record the way a caller would: from what is sent.
fn read_back(released: &safety::Released<BatchRecord>) -> Result<BatchRecord, StartError> {
    serde_json::to_string(released)
        .and_then(|text| serde_json::from_str(&text))
        .map_err(|error| StartError::Clinic(error.to_string()))
}
