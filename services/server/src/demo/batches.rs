//! The students' batches: one accepted after a comment, one handed in with a weighing out of tolerance, one at work, an infused
//! oil from which others are made, one for which lots are reserved, and a powder that is given out.

use clinic::{Clinic, Credentials, bench};
use wire::bench::{BatchRecord, EntryKind, NewBatch, NewEntry, NewReview, ReviewComment, Submit, Verdict};
use wire::holds::NewHoldRelease;
use wire::ids::{BatchId, RevisionId};
use wire::photographs::PhotographSubject;
use wire::recipe::{MakeFor, RecipeLine};
use wire::stock::{BatchLots, NewReservations};

use super::checks::checked;
use super::photographs::photographed;
use super::requests::{acknowledge, once};
use crate::error::StartError;

/// A batch of which the first lot was not written down: returned, answered, accepted.
pub(super) async fn accepted_after_a_comment(
    clinic: &Clinic,
    maker: &Credentials,
    reviewer: &Credentials,
    revision: RevisionId,
) -> Result<(), StartError> {
    let record = opened(clinic, maker, revision).await?;
    let batch = record.summary.id;
    Box::pin(checked(clinic, maker, batch)).await?;
    for (i, line) in lines(&record).enumerate() {
        let lot = (i > 0).then(|| lot(i));
        weigh(clinic, maker, batch, line, asked(line), lot).await?;
    }
    let handed_in = finish(clinic, (maker, reviewer), &record, "411.5 g").await?;
    review(clinic, maker, reviewer, &handed_in).await
}

/// A batch that waits for its review, with more of the first line than the tolerance allows.
pub(super) async fn handed_in_with_too_much_wax(
    clinic: &Clinic,
    maker: &Credentials,
    reviewer: &Credentials,
    revision: RevisionId,
) -> Result<(), StartError> {
    let record = opened(clinic, maker, revision).await?;
    Box::pin(checked(clinic, maker, record.summary.id)).await?;
    for (i, line) in lines(&record).enumerate() {
        let too_much = || asked(line).parse().map(|grams: f64| format!("{:.1}", grams * 1.06));
        let grams = if i == 0 { too_much().map_err(std::io::Error::other)? } else { asked(line) };
        let why = (i == 0).then(|| "The last pellet was larger than it looked.".to_owned());
        let entry = NewEntry { deviation: why, ..weighing(line, &grams, Some(lot(i))) };
        bench::entry_create(clinic, maker, &once(clinic), record.summary.id, &entry).await?;
    }
    Box::pin(photographed(clinic, maker, record.summary.id, PhotographSubject::Reading)).await?;
    finish(clinic, (maker, reviewer), &record, "411.5 g").await.map(drop)
}

/// An infused oil whose record is accepted, so that it can go on the shelf.
pub(super) async fn oil_to_make_others_from(
    clinic: &Clinic,
    maker: &Credentials,
    reviewer: &Credentials,
    revision: RevisionId,
) -> Result<BatchId, StartError> {
    let make_for = MakeFor { readability: Some("0.1 g".into()), ..MakeFor::default() };
    let record = opened_for(clinic, maker, revision, make_for).await?;
    Box::pin(checked(clinic, maker, record.summary.id)).await?;
    for (i, line) in lines(&record).enumerate() {
        weigh(clinic, maker, record.summary.id, line, asked(line), Some(lot(i))).await?;
    }
    let handed_in = finish(clinic, (maker, reviewer), &record, "842 g").await?;
    accept(clinic, reviewer, &handed_in, "A clear oil, and a full record.").await
}

/// A foot powder whose record is accepted, so that its jars can be filled.
pub(super) async fn powder_to_give_out(
    clinic: &Clinic,
    maker: &Credentials,
    reviewer: &Credentials,
    revision: RevisionId,
) -> Result<BatchId, StartError> {
    let record = opened(clinic, maker, revision).await?;
    Box::pin(checked(clinic, maker, record.summary.id)).await?;
    for (i, line) in lines(&record).enumerate() {
        weigh(clinic, maker, record.summary.id, line, asked(line), Some(lot(i))).await?;
    }
    let handed_in = finish(clinic, (maker, reviewer), &record, "411.5 g").await?;
    accept(clinic, reviewer, &handed_in, "Dry, even, and a full record.").await
}

async fn accept(
    clinic: &Clinic,
    reviewer: &Credentials,
    record: &BatchRecord,
    summary: &str,
) -> Result<BatchId, StartError> {
    let batch = record.summary.id;
    let request =
        NewReview { verdict: Verdict::Accept, summary: summary.into(), comments: Vec::new(), mark: None };
    bench::review(clinic, reviewer, &once(clinic), batch, &request).await?;
    Ok(batch)
}

/// A batch that is planned, with lots reserved for it.
pub(super) async fn planned_with_reserved_lots(
    clinic: &Clinic,
    maker: &Credentials,
    revision: RevisionId,
) -> Result<(), StartError> {
    let record = opened(clinic, maker, revision).await?;
    let days = NewReservations { days: Some(14) };
    bench::reserve(clinic, maker, &once(clinic), record.summary.id, &days).await?;
    Ok(())
}

/// A batch on the bench: one line is weighed and the first step is done.
pub(super) async fn being_made(
    clinic: &Clinic,
    maker: &Credentials,
    revision: RevisionId,
) -> Result<(), StartError> {
    let record = opened(clinic, maker, revision).await?;
    let batch = record.summary.id;
    Box::pin(checked(clinic, maker, batch)).await?;
    // From the shelf, so that a movement of a lot leads to a batch: the first lot that holds enough.
    let shelf = bench::lots(clinic, maker, batch).await?;
    let shelf: BatchLots =
        serde_json::from_str(&serde_json::to_string(&shelf).map_err(std::io::Error::other)?)
            .map_err(std::io::Error::other)?;
    if let Some(first) = lines(&record).next() {
        let of_line = shelf.lines.iter().find(|line| line.line == first.line);
        let entry = NewEntry {
            line: Some(first.line.clone()),
            quantity: Some(format!("{} g", asked(first))),
            lot_id: of_line.and_then(|line| line.lots.iter().find(|lot| lot.enough)).map(|lot| lot.id),
            ..entry(EntryKind::Weighing)
        };
        bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    }
    let seen =
        NewEntry { note: Some("Clear, and of a deep yellow.".into()), ..entry(EntryKind::Observation) };
    let done = NewEntry { step: Some(1), ..entry(EntryKind::StepDone) };
    for entry in [seen, done] {
        bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    }
    Box::pin(photographed(clinic, maker, batch, PhotographSubject::Preparation)).await
}

/// Opens a batch record for twelve jars.
async fn opened(
    clinic: &Clinic,
    maker: &Credentials,
    revision: RevisionId,
) -> Result<BatchRecord, StartError> {
    let make_for = MakeFor {
        containers: Some(12),
        fill: Some("35 g".into()),
        transfer_loss: Some("4 %".into()),
        readability: Some("0.1 g".into()),
        ..MakeFor::default()
    };
    opened_for(clinic, maker, revision, make_for).await
}

/// Opens a batch record for a quantity.
pub(super) async fn opened_for(
    clinic: &Clinic,
    maker: &Credentials,
    revision: RevisionId,
    make_for: MakeFor,
) -> Result<BatchRecord, StartError> {
    acknowledge(clinic, maker, revision).await?;
    let record = bench::batch_create(clinic, maker, &once(clinic), &NewBatch { revision, make_for }).await?;
    read_back(&record)
}

pub(super) fn lines(record: &BatchRecord) -> impl Iterator<Item = &RecipeLine> {
    record.recipe.phases.iter().flat_map(|phase| &phase.lines)
}

/// The grams that a line asks for.
pub(super) fn asked(line: &RecipeLine) -> String {
    line.weigh.value.clone().unwrap_or_default()
}

pub(super) fn lot(line: usize) -> String {
    format!("AG-26-{:03}", line + 1)
}

async fn weigh(
    clinic: &Clinic,
    maker: &Credentials,
    batch: BatchId,
    line: &RecipeLine,
    grams: String,
    lot: Option<String>,
) -> Result<(), StartError> {
    bench::entry_create(clinic, maker, &once(clinic), batch, &weighing(line, &grams, lot)).await?;
    Ok(())
}

pub(super) fn weighing(line: &RecipeLine, grams: &str, lot: Option<String>) -> NewEntry {
    NewEntry {
        line: Some(line.line.clone()),
        quantity: Some(format!("{grams} g")),
        lot,
        lot_expires: Some("2028-03".into()),
        price: Some("14.50 per 1 kg".into()),
        ..entry(EntryKind::Weighing)
    }
}

/// Records what is left of a batch, and hands the record in.
async fn finish(
    clinic: &Clinic,
    people: (&Credentials, &Credentials),
    record: &BatchRecord,
    yielded: &str,
) -> Result<BatchRecord, StartError> {
    recorded(clinic, people, record, yielded).await?;
    read_back(&bench::submit(clinic, people.0, &once(clinic), record.summary.id, &Submit::default()).await?)
}

/// Records every step with its temperature, the second person releasing each hold, and the yield.
pub(super) async fn recorded(
    clinic: &Clinic,
    (maker, second): (&Credentials, &Credentials),
    record: &BatchRecord,
    yielded: &str,
) -> Result<(), StartError> {
    let batch = record.summary.id;
    acknowledge(clinic, second, record.summary.revision).await?;
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
        if let Some(step) = number.filter(|_| step.hold) {
            bench::hold_release(clinic, second, &once(clinic), batch, &NewHoldRelease { step }).await?;
        }
    }
    if record.recipe.preparation == "cream" {
        let entry = NewEntry {
            quantity: Some("4.9".into()),
            note: Some("paper from 4 to 7".into()),
            ..entry(EntryKind::Ph)
        };
        bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    }
    let entry = NewEntry { quantity: Some(yielded.into()), ..entry(EntryKind::Yield) };
    bench::entry_create(clinic, maker, &once(clinic), batch, &entry).await?;
    Ok(())
}

async fn review(
    clinic: &Clinic,
    maker: &Credentials,
    reviewer: &Credentials,
    record: &BatchRecord,
) -> Result<(), StartError> {
    let batch = record.summary.id;
    let first = record.entries.first();
    let request = NewReview {
        verdict: Verdict::Return,
        summary: "Careful work. One lot is missing.".into(),
        comments: vec![ReviewComment {
            entry: first.map(|entry| entry.id),
            text: "Which lot was this?".into(),
        }],
        mark: None,
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
    let request = NewReview {
        verdict: Verdict::Accept,
        summary: "Complete now.".into(),
        comments: Vec::new(),
        mark: None,
    };
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
        lot_id: None,
        lot_expires: None,
        assay: None,
        price: None,
        note: None,
        corrects: None,
        reason: None,
        deviation: None,
        reason_later: false,
    }
}

/// Reads a released record the way a caller would: from what is sent.
pub(super) fn read_back(released: &clinic::Released<BatchRecord>) -> Result<BatchRecord, StartError> {
    serde_json::to_string(released)
        .and_then(|text| serde_json::from_str(&text))
        .map_err(|error| StartError::Clinic(error.to_string()))
}
