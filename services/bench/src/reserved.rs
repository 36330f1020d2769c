//! What a batch reserves of the shelf, for the lines that are not weighed yet.

use chrono::Duration;
use recipes::RecipeCache;
use recipes::stored::Recipe;
use release::ForRules;
use release::entries::{self, Entry};
use stock::{Reserving, Wanted};
use store::{Credentials, Error, IdempotencyKey, Result, Store, word};
use wire::bench::{BatchState, EntryKind};
use wire::ids::BatchId;
use wire::stock::{NewReservations, Reservations};

use crate::batches;

/// For how many days lots are reserved where nobody says so, and at most. Common practice, no source.
const DAYS: (u8, u8) = (3, 14);

/// Reserves lots for the lines of a batch that are not weighed yet, in the place of what it had reserved before.
///
/// # Errors
/// As [`batch`](crate::batch()), [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] unless the batch is
/// planned or making, and [`Error::Invalid`] for a number of days that is not accepted.
pub async fn reserve(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewReservations,
) -> Result<Reservations> {
    let days = request.days.unwrap_or(DAYS.0);
    if !(1..=DAYS.1).contains(&days) {
        return Err(Error::field("/days", format!("Enter a number of days from 1 to {}.", DAYS.1)));
    }
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::own(tx, id).await?;
                let state: BatchState = word(&record.row().state)?;
                if !matches!(state, BatchState::Planned | BatchState::Making) {
                    let cure = "Lots are reserved for a batch that is planned or making.";
                    return Err(Error::state(state, format!("This batch record is {state}. {cure}")));
                }
                let asked = cache.asked(tx, &record).await?;
                let entries = entries::all(tx, &record).await?;
                let wanted = wanted(asked.content(), entries.content());
                let rules = cache.rules(tx, record.row().policy_version).await?;
                let by = Reserving {
                    batch: id,
                    revision: record.revision(),
                    today: rules.date(tx.now()),
                    until: tx.now() + Duration::days(days.into()),
                };
                stock::reserve(tx, &by, &wanted).await?;
                Ok(id.0)
            },
            async |tx, id| stock::reserved(tx, BatchId(id)).await,
        )
        .await
}

/// What the lines ask for of which nothing is weighed yet.
fn wanted(recipe: &Recipe, entries: &[Entry]) -> Vec<Wanted> {
    let weighed = |line: &str| {
        let live = entries.iter().filter(|entry| entry.shown.corrected_by.is_none());
        live.filter(|entry| entry.shown.kind == EntryKind::Weighing)
            .any(|entry| entry.shown.line.as_deref() == Some(line))
    };
    let open = recipe.lines().filter(|line| !weighed(&line.line));
    open.filter_map(|line| Some(Wanted { line: line.line.clone(), grams: recipe.target(line)? })).collect()
}

/// What a batch has reserved.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn reserved(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Reservations> {
    store
        .read(credentials, async |tx| {
            batches::access(tx, id, false).await?;
            stock::reserved(tx, id).await
        })
        .await
}

/// Frees what a batch has reserved.
///
/// # Errors
/// As [`batch`](crate::batch()), and [`Error::Forbidden`] if the caller is not the maker.
pub async fn free(store: &Store, credentials: &Credentials, id: BatchId) -> Result<()> {
    store
        .write(credentials, async |tx| {
            batches::own(tx, id).await?;
            stock::free_lots(tx, id).await
        })
        .await
}
