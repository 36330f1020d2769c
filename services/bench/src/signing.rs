//! What a second person signs of a batch: a hold that is released, a deviation that is authorised.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use recipes::RecipeCache;
use release::{ForRules, Record};
use schema::{batch, batch_authorisation, batch_hold_release};
use serde_json::json;
use store::known_as;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::bench::{BatchState, Finding, FindingKind};
use wire::deviations::{Authorisation, NewAuthorisation};
use wire::holds::{HoldRelease, NewHoldRelease};
use wire::ids::{BatchId, EntryId};

use crate::beside::Beside;
use crate::findings::findings;
use crate::kept::{AUTHORISATION, BATCH, HOLD_RELEASE};
use crate::{adjusting, batches, deviations, holds};

/// The record of a batch, locked, for an instructor who signs something of it.
async fn signed<'t>(tx: &mut Tx<'t>, id: BatchId) -> Result<Record<'t>> {
    let record = batches::access_unnamed(tx, id, true).await?;
    tx.instructor()?;
    if record.is_made_by_caller() && policy::rules(tx).await?.second_person {
        let cure = "You may sign nothing of your own batch. Ask another instructor.";
        return Err(Error::Forbidden(cure.into()));
    }
    let state: BatchState = word(&record.row().state)?;
    if !matches!(state, BatchState::Making | BatchState::Submitted | BatchState::Returned) {
        let cure = "Holds and deviations are signed while a batch is making, submitted or returned.";
        return Err(Error::state(state, cure));
    }
    Ok(record)
}

/// Releases a hold, so that its maker goes on with the next step.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] unless the caller is an instructor, and for the maker while
/// the policy demands a second person; [`Error::State`] for a record that is planned or decided; [`Error::Invalid`] for a
/// step that is no hold or is not done, and [`Error::Conflict`] for a hold that was released before.
pub async fn hold_release(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewHoldRelease,
) -> Result<HoldRelease> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = signed(tx, id).await?;
                let asked = cache.asked(tx, &record).await?;
                holds::is_hold(asked.content(), request.step)?;
                release_insert(tx, &record, request.step).await
            },
            async |tx, release| {
                let record = batches::access_unnamed(tx, id, false).await?;
                let all = holds::rows(tx, &record).await?;
                let row = all.into_iter().find(|row| row.id == release).ok_or(Error::NotFound("hold"))?;
                let names = known_as::people(tx, [row.by_id]).await?;
                Ok(holds::named(row.into(), &names))
            },
        )
        .await
}

async fn release_insert<'t>(tx: &mut Tx<'t>, record: &Record<'t>, step: u16) -> Result<Uuid> {
    let batch = record.batch();
    let row = holds::Row {
        id: tx.new_id(),
        batch_id: batch.0,
        maker_id: record.row().maker_id,
        step: step.into(),
        by_id: tx.person()?.id.0,
        own_release: record.is_made_by_caller(),
        at: tx.now(),
    };
    let refused = |error: diesel::result::Error| {
        if violates(&error, "batch_hold_release_once") {
            return Error::Conflict(format!("The hold of step {step} was released before."));
        }
        if violates(&error, "hold_is_done") {
            return Error::field(
                "/step",
                format!("Step {step} is not recorded as done. Its maker finishes it first."),
            );
        }
        error.into()
    };
    diesel::insert_into(batch_hold_release::table).values(&row).execute(tx.conn()).await.map_err(refused)?;
    diesel::update(batch::table.find(batch.0))
        .set(batch::version.eq(batch::version + 1))
        .execute(tx.conn())
        .await?;
    let mut detail = json!({ "release": row.id, "step": step.to_string() });
    if row.own_release {
        detail["note"] = json!("released by its maker");
    }
    let released = NewEvent::new("batch", batch.0, "hold_released")
        .detail(detail)
        .keeps(&BATCH, [batch.0])
        .keeps(&HOLD_RELEASE, [row.id]);
    tx.record(released);
    Ok(row.id)
}

/// Authorises a deviation of a batch.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] unless the caller is an instructor, and for the maker while
/// the policy demands a second person; [`Error::State`] for a record that is planned or decided; [`Error::Invalid`] for an
/// entry that is no deviation of this record, and [`Error::Conflict`] for one that was authorised before. Returns
/// [`Error::State`] for an adjustment whose phases were combined meanwhile, and for a weighing whose line is right by now.
pub async fn authorise(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewAuthorisation,
) -> Result<Authorisation> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = signed(tx, id).await?;
                let adjusts = adjusting::authorised(tx, cache, &record, request.entry).await?;
                still_off(tx, cache, &record, request.entry).await?;
                authorisation_insert(tx, &record, request.entry, adjusts).await
            },
            async |tx, entry| {
                let record = batches::access_unnamed(tx, id, false).await?;
                let all = deviations::of_record(tx, &record).await?;
                let one =
                    all.into_iter().find(|one| one.entry.0 == entry).ok_or(Error::NotFound("deviation"))?;
                let names = known_as::people(tx, [one.by.0]).await?;
                Ok(deviations::named(one, &names))
            },
        )
        .await
}

/// Refuses a weighing whose line is within its tolerance by now, through a correction or an adjustment: it deviates no more.
async fn still_off<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    entry: EntryId,
) -> Result<()> {
    let within = batches::contents(tx, record).await?;
    let content = within.content();
    let of = content.entries.iter().map(|one| &one.shown).find(|one| one.id == entry);
    let Some(line) = of
        .filter(|one| one.deviation.is_some() && one.corrected_by.is_none())
        .and_then(|one| one.line.as_ref())
    else {
        return Ok(());
    };
    let rules = policy::rules_of(tx, record.row().policy_version).await?;
    let marc = recipes::marc(tx, cache, record).await?;
    let beside = Beside::of(tx, record).await?;
    let made_on = batches::made_on(record.row(), &content.recipe, &rules);
    let found = findings(&content.recipe, &content.entries, &rules, made_on, (&marc, &beside));
    let off = |one: &Finding| one.kind == FindingKind::OutOfTolerance && one.line.as_ref() == Some(line);
    match found.iter().any(off) {
        true => Ok(()),
        false => {
            let said =
                format!("Line {line} is within its tolerance by now. Its deviation needs no authorisation.");
            Err(Error::state("within_tolerance", said))
        }
    }
}

async fn authorisation_insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    entry: EntryId,
    adjusts: bool,
) -> Result<Uuid> {
    let batch = record.batch();
    let row = deviations::Row {
        entry_id: entry.0,
        batch_id: batch.0,
        maker_id: record.row().maker_id,
        by_id: tx.person()?.id.0,
        own_authorisation: record.is_made_by_caller(),
        at: tx.now(),
    };
    let refused = |error: diesel::result::Error| {
        if violates(&error, "batch_authorisation_pkey") {
            return Error::Conflict("This deviation was authorised before.".into());
        }
        if violates(&error, "batch_authorisation_of_entry") {
            return Error::field("/entry", "This batch record has no entry with this ID.");
        }
        if violates(&error, "authorised_is_deviation") {
            let cure = "This entry is no deviation, or another entry stands in its place. Send a weighing with its reason, or \
                        an entry of the kind deviation.";
            return Error::field("/entry", cure);
        }
        error.into()
    };
    diesel::insert_into(batch_authorisation::table).values(&row).execute(tx.conn()).await.map_err(refused)?;
    let holds = if adjusts { Some(entry.0) } else { record.row().adjusted_by };
    diesel::update(batch::table.find(batch.0))
        .set((batch::version.eq(batch::version + 1), batch::adjusted_by.eq(holds)))
        .execute(tx.conn())
        .await?;
    let mut detail = json!({ "entry": entry });
    if row.own_authorisation {
        detail["note"] = json!("authorised by its maker");
    }
    let authorised = NewEvent::new("batch", batch.0, "deviation_authorised")
        .detail(detail)
        .keeps(&BATCH, [batch.0])
        .keeps(&AUTHORISATION, [row.entry_id]);
    tx.record(authorised);
    Ok(entry.0)
}
