//! A tincture that macerates for two weeks: interrupted and taken up again, looked at by a plan, and handed over by one student
//! to another.

use std::pin::Pin;

use chrono::{Days, NaiveDate};
use clinic::{Clinic, Credentials, bench, handovers, long_work};
use wire::bench::{EntryKind, NewEntry};
use wire::handovers::{HandoverAnswer, NewHandover, NewHandoverAnswer};
use wire::ids::{BatchId, PersonId, RevisionId};
use wire::long_work::{LookFor, NewLookPlan, NewPause, PauseReason};
use wire::recipe::MakeFor;

use super::batches::{asked, lines, lot, opened_for, weighing};
use super::checks::checked;
use super::requests::{acknowledge, once};
use crate::error::StartError;

/// Days that the herb stays in the spirit.
const MACERATES: u64 = 14;

/// Starts the tincture, and hands it over while it macerates. On the heap from the first moment: the scenario awaits so much that
/// a thread's stack has no room for another future of this size.
pub(super) fn handed_over_while_it_macerates<'a>(
    clinic: &'a Clinic,
    first: &'a Credentials,
    second: (&'a Credentials, PersonId),
    revision: RevisionId,
) -> Pin<Box<impl Future<Output = Result<(), StartError>> + 'a>> {
    Box::pin(async move {
        let batch = Box::pin(covered(clinic, first, revision)).await?;
        Box::pin(handed_over(clinic, first, second, (batch, revision))).await?;
        Box::pin(left_to_macerate(clinic, second.0, batch)).await
    })
}

/// The first student weighs the herb, covers it, and plans when it is looked at.
async fn covered(clinic: &Clinic, first: &Credentials, revision: RevisionId) -> Result<BatchId, StartError> {
    let make_for = MakeFor { readability: Some("0.1 g".into()), ..MakeFor::default() };
    let record = opened_for(clinic, first, revision, make_for).await?;
    let batch = record.summary.id;
    Box::pin(checked(clinic, first, batch)).await?;
    for (i, line) in lines(&record).enumerate() {
        let entry = weighing(line, &asked(line), Some(lot(i)));
        bench::entry_create(clinic, first, &once(clinic), batch, &entry).await?;
    }
    let interrupted = NewPause {
        why: PauseReason::Interrupted,
        until: in_days(clinic, 1),
        note: Some("The jar was too small, and a larger one had to be sterilised.".into()),
    };
    long_work::pause(clinic, first, &once(clinic), batch, &interrupted).await?;
    long_work::resume(clinic, first, &once(clinic), batch).await?;
    let covered = NewEntry { step: Some(1), ..NewEntry::of(EntryKind::StepDone) };
    bench::entry_create(clinic, first, &once(clinic), batch, &covered).await?;
    let plan = NewLookPlan {
        what: vec![LookFor::Shake, LookFor::Appearance],
        every_days: Some(1),
        until: Some(in_days(clinic, MACERATES)),
    };
    long_work::plan_looks(clinic, first, &once(clinic), batch, &plan).await?;
    Ok(batch)
}

/// The second student acknowledges the cautions, and accepts what the first one offers.
async fn handed_over(
    clinic: &Clinic,
    first: &Credentials,
    (second, second_id): (&Credentials, PersonId),
    (batch, revision): (BatchId, RevisionId),
) -> Result<(), StartError> {
    acknowledge(clinic, second, revision).await?;
    let offer = NewHandover {
        to: second_id,
        reason: Some("I am away for two weeks, and it has to be shaken every day.".into()),
    };
    let offered = handovers::offer(clinic, first, &once(clinic), batch, &offer).await?;
    for waiting in offered.handovers.iter().filter(|offer| offer.answer.is_none()) {
        let accept = NewHandoverAnswer { answer: HandoverAnswer::Accepted };
        handovers::answer(clinic, second, &once(clinic), waiting.id, &accept).await?;
    }
    Ok(())
}

/// The second student leaves it in the dark, and looks at it.
async fn left_to_macerate(clinic: &Clinic, maker: &Credentials, batch: BatchId) -> Result<(), StartError> {
    let macerating = NewPause {
        why: PauseReason::Macerating,
        until: in_days(clinic, MACERATES),
        note: Some("In the dark cupboard, second shelf.".into()),
    };
    long_work::pause(clinic, maker, &once(clinic), batch, &macerating).await?;
    let seen = NewEntry {
        note: Some("Shaken. The spirit covers the herb, and is turning green.".into()),
        ..NewEntry::of(EntryKind::Observation)
    };
    bench::entry_create(clinic, maker, &once(clinic), batch, &seen).await?;
    Ok(())
}

fn in_days(clinic: &Clinic, days: u64) -> NaiveDate {
    let today = clinic.clock().now().date_naive();
    today.checked_add_days(Days::new(days)).unwrap_or(today)
}
