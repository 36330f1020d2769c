//! Recalling: everything that was made of the cause is taken out of use in one transaction.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, lock};
use schema::{recall, recall_item};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{BatchId, LotId, RecallId};
use wire::problem::FieldError;
use wire::recalls::{NewRecall, Recall, RecallCause, RecallState, TraceDirection, TraceKind, TraceNode};

use crate::kept::RECALL;
use crate::read;
use crate::trace::told;
use crate::walk::{Place, Reached, walk};

/// Recalls a lot, a batch, a formula or a material with everything that was made of it: lots cannot be weighed from any
/// more, what batches made is not to be given out. For instructors.
///
/// The lots are locked before the trace is walked a second time, so that whoever was weighing from one of them is either in
/// the recall or refused. Cost: two walks, and some statements for each lot and batch that is reached.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless an instructor is calling, and [`Error::Invalid`] for a refused reason, an id that is
/// not there, and a formula or material of which there is nothing.
pub async fn start(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewRecall,
) -> Result<Recall> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                let reason = reason(&request.reason)?;
                let from = causes(tx, request.cause, request.id).await?;
                let reached = walk(tx, &from, TraceDirection::Onward).await?;
                let (lots, batches) = (TraceKind::Lot, TraceKind::Batch);
                lock(tx, Locks::new().batches(reached.ids(batches)).lots(reached.ids(lots))).await?;
                if walk(tx, &from, TraceDirection::Onward).await? != reached {
                    return Err(Error::Contended("something was weighed from a lot that is recalled".into()));
                }
                put(tx, request, reason, &reached).await
            },
            async |tx, id| read::seen(tx, RecallId(id)).await,
        )
        .await
}

/// What a recall would reach now, nearest first. For who keeps the stock. Cost: a walk, and one statement for the names.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::Invalid`] as [`start`].
pub async fn reach(
    store: &Store,
    credentials: &Credentials,
    cause: RecallCause,
    id: Uuid,
) -> Result<Vec<TraceNode>> {
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            let from = causes(tx, cause, id).await?;
            let reached = walk(tx, &from, TraceDirection::Onward).await?;
            told(tx, &reached.places).await
        })
        .await
}

/// A reason without the spaces around it.
fn reason(text: &str) -> Result<&str> {
    let text = text.trim();
    if (1..=1000).contains(&text.chars().count()) {
        Ok(text)
    } else {
        Err(Error::field("/reason", "Enter the reason in 1 to 1000 characters."))
    }
}

#[derive(QueryableByName)]
struct There {
    #[diesel(sql_type = BigInt)]
    there: i64,
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// The lots and batches with which a recall begins.
async fn causes(tx: &mut Tx<'_>, cause: RecallCause, id: Uuid) -> Result<Vec<Place>> {
    let (there, sql) = match cause {
        RecallCause::Lot => {
            ("lot", "SELECT 'lot' AS kind, id FROM lot WHERE id = $1 AND $2::uuid IS NOT NULL")
        }
        RecallCause::Batch => (
            "batch",
            "SELECT 'batch' AS kind, b.id FROM batch b JOIN revision r ON r.id = b.revision_id
             JOIN formula f ON f.id = r.formula_id
             JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $2 WHERE b.id = $1",
        ),
        RecallCause::Formula => (
            "formula",
            "SELECT 'batch' AS kind, b.id FROM batch b JOIN revision r ON r.id = b.revision_id
             JOIN formula f ON f.id = r.formula_id
             JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $2 WHERE f.id = $1",
        ),
        RecallCause::Material => (
            "material",
            "SELECT 'lot' AS kind, l.id FROM lot l JOIN material m ON m.id = l.material_id
             JOIN material c ON c.id = $1
             WHERE coalesce(m.merged_into, m.id) = coalesce(c.merged_into, c.id) AND $2::uuid IS NOT NULL",
        ),
    };
    let me = tx.actor()?.holder();
    let rows: Vec<Found> =
        diesel::sql_query(sql).bind::<SqlUuid, _>(id).bind::<SqlUuid, _>(me.0).load(tx.conn()).await?;
    if !rows.is_empty() {
        let place = |row: Found| Ok(Place { kind: store::word(&row.kind)?, id: row.id });
        return rows.into_iter().map(place).collect();
    }
    // The table is one of the four words above; a formula of another library is none that the caller knows.
    let of = match cause {
        RecallCause::Formula => {
            "formula f JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $2 WHERE f.id = $1"
        }
        RecallCause::Material => "material WHERE id = $1 AND $2::uuid IS NOT NULL",
        // Had it been there, it would have been found.
        RecallCause::Lot | RecallCause::Batch => "lot WHERE id = $1 AND $2::uuid IS NOT NULL AND false",
    };
    let known: There = diesel::sql_query(format!("SELECT count(*) AS there FROM {of}"))
        .bind::<SqlUuid, _>(id)
        .bind::<SqlUuid, _>(me.0)
        .get_result(tx.conn())
        .await?;
    let said = match cause {
        _ if known.there == 0 => format!("No {there} has this ID. Send the ID of a {there}."),
        RecallCause::Formula => "Nothing was made by this formula, so nothing can be recalled.".to_owned(),
        _ => "There is no lot of this material, so nothing can be recalled.".to_owned(),
    };
    Err(Error::Invalid(vec![FieldError::new("/id", said)]))
}

/// Writes the recall, and takes what it reached out of use. All of it is locked.
async fn put(tx: &mut Tx<'_>, request: &NewRecall, reason: &str, reached: &Reached) -> Result<Uuid> {
    let id = tx.new_id();
    let of = |cause: RecallCause| (request.cause == cause).then_some(request.id);
    diesel::insert_into(recall::table)
        .values((
            recall::id.eq(id),
            recall::cause.eq(request.cause.as_str()),
            recall::lot_id.eq(of(RecallCause::Lot)),
            recall::batch_id.eq(of(RecallCause::Batch)),
            recall::formula_id.eq(of(RecallCause::Formula)),
            recall::material_id.eq(of(RecallCause::Material)),
            recall::reason.eq(reason),
            recall::state.eq(RecallState::Open.as_str()),
            recall::version.eq(0_i64),
            recall::last_outcome.eq(0),
            recall::by_id.eq(tx.person()?.id.0),
            recall::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let item = |(number, place): (i32, &Place)| {
        let of = |kind: TraceKind| (place.kind == kind).then_some(place.id);
        (
            recall_item::recall_id.eq(id),
            recall_item::number.eq(number),
            recall_item::lot_id.eq(of(TraceKind::Lot)),
            recall_item::batch_id.eq(of(TraceKind::Batch)),
        )
    };
    let items: Vec<_> = (1..).zip(&reached.places).map(item).collect();
    // Four values a row, and Postgres takes 65,535 of them in one statement.
    for some in items.chunks(10_000) {
        diesel::insert_into(recall_item::table).values(some).execute(tx.conn()).await?;
    }
    tx.record(NewEvent::new("recall", id, "started").keeps(&RECALL, [id]));
    for place in &reached.places {
        match place.kind {
            TraceKind::Lot => stock::recall(tx, LotId(place.id), reason).await?,
            TraceKind::Batch => bench::recall(tx, BatchId(place.id), reason).await?,
        }
    }
    Ok(id)
}
