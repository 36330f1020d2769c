//! Accounting for jars that were recalled, several at once.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{jar, recall, recall_item, recall_jar_outcome};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::RecallId;
use wire::problem::FieldError;
use wire::recalls::{JarOutcome, NewJarOutcomes, Recall};

use crate::accounts::open;
use crate::kept::{JAR_OUTCOME, RECALL};
use crate::read;

/// Notes what came of jars of a batch that was recalled. What was noted before stays; the last counts.
///
/// # Errors
/// As [`account`](crate::account).
pub async fn account_jars(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RecallId,
    request: &NewJarOutcomes,
) -> Result<Recall> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.staff()?;
                open(tx, id).await?;
                let note = request.note.as_deref().map(str::trim).filter(|note| !note.is_empty());
                let (item, jars) = acceptable(tx, id, request, note).await?;
                noted(tx, id, (item, &jars), request.outcome, note).await?;
                Ok(id.0)
            },
            async |tx, _| read::seen(tx, id).await,
        )
        .await
}

async fn noted(
    tx: &mut Tx<'_>,
    id: RecallId,
    (item, jars): (i32, &[Uuid]),
    outcome: JarOutcome,
    note: Option<&str>,
) -> Result<()> {
    let before: Vec<(Uuid, i32)> = recall_jar_outcome::table
        .filter(recall_jar_outcome::recall_id.eq(id.0))
        .filter(recall_jar_outcome::jar_id.eq_any(jars))
        .select((recall_jar_outcome::jar_id, recall_jar_outcome::number))
        .load(tx.conn())
        .await?;
    let mut last: BTreeMap<Uuid, i32> = BTreeMap::new();
    for (jar, number) in before {
        let of = last.entry(jar).or_default();
        *of = number.max(*of);
    }
    let by = tx.person()?.id.0;
    let rows: Vec<_> = jars
        .iter()
        .map(|jar| {
            let noted = tx.new_id();
            let row = (
                recall_jar_outcome::id.eq(noted),
                recall_jar_outcome::recall_id.eq(id.0),
                recall_jar_outcome::item.eq(item),
                recall_jar_outcome::jar_id.eq(*jar),
                recall_jar_outcome::number.eq(last.get(jar).copied().unwrap_or(0) + 1),
                recall_jar_outcome::outcome.eq(outcome.as_str()),
                recall_jar_outcome::note.eq(note),
                recall_jar_outcome::by_id.eq(by),
                recall_jar_outcome::at.eq(tx.now()),
            );
            (noted, row)
        })
        .collect();
    let (ids, rows): (Vec<Uuid>, Vec<_>) = rows.into_iter().unzip();
    diesel::insert_into(recall_jar_outcome::table).values(rows).execute(tx.conn()).await?;
    diesel::update(recall::table.find(id.0))
        .set(recall::version.eq(recall::version + 1))
        .execute(tx.conn())
        .await?;
    let event = NewEvent::new("recall", id.0, "jars_accounted").keeps(&RECALL, [id.0]);
    tx.record(ids.into_iter().fold(event, |event, noted| event.keeps(&JAR_OUTCOME, [noted])));
    Ok(())
}

/// Refuses what cannot be noted; answers the item and the jars.
async fn acceptable(
    tx: &mut Tx<'_>,
    id: RecallId,
    request: &NewJarOutcomes,
    note: Option<&str>,
) -> Result<(i32, Vec<Uuid>)> {
    let mut errors = Vec::new();
    let item = i32::try_from(request.item).unwrap_or(i32::MAX);
    let batch: Option<Option<Uuid>> = recall_item::table
        .find((id.0, item))
        .select(recall_item::batch_id)
        .first(tx.conn())
        .await
        .optional()?;
    let numbers: BTreeSet<u32> = request.jars.iter().copied().collect();
    let mut jars = Vec::new();
    match batch.flatten() {
        None => errors.push(FieldError::new(
            "/item",
            "The recall has no batch at this place. Send the `item` of a batch that it reached.",
        )),
        Some(_) if numbers.is_empty() || numbers.len() > 1000 => {
            errors.push(FieldError::new("/jars", "Choose 1 to 1000 jars."));
        }
        Some(batch) => {
            let wanted = numbers.iter().filter_map(|number| i32::try_from(*number).ok());
            let found: Vec<(Uuid, i32)> = jar::table
                .filter(jar::batch_id.eq(batch))
                .filter(jar::number.eq_any(wanted.collect::<Vec<_>>()))
                .order(jar::number)
                .select((jar::id, jar::number))
                .load(tx.conn())
                .await?;
            let there: BTreeSet<u32> = found.iter().map(|(_, number)| number.unsigned_abs()).collect();
            if let Some(none) = numbers.difference(&there).next() {
                let said = format!("The batch has no jar {none}. Send the numbers of its jars.");
                errors.push(FieldError::new("/jars", said));
            }
            jars = found.into_iter().map(|(id, _)| id).collect();
        }
    }
    if note.is_some_and(|note| note.chars().count() > 1000) {
        errors.push(FieldError::new("/note", "Enter 1 to 1000 characters, or omit the field."));
    }
    if request.outcome == JarOutcome::NotFound && note.is_none() {
        errors.push(FieldError::new("/note", "Enter who was asked, and where it was looked for."));
    }
    if errors.is_empty() { Ok((item, jars)) } else { Err(Error::Invalid(errors)) }
}
