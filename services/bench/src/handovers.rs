//! Handing a batch over: who has it offers it, or an instructor does for somebody who is absent, and the other accepts.
//!
//! What follows from an acceptance is written by triggers: whose the batch is, and that the other is one of its makers.
//! Never here: a batch that counts for an assignment, which stays its student's own work.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use formulary::gate;
use locks::{Locks, Mode, lock};
use release::Record;
use schema::{batch, batch_handover, batch_handover_answer};
use serde_json::json;
use store::known_as::{self, Names};
use store::page::PageRequest;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::bench::BatchState;
use wire::handovers::{Handover, HandoverAnswer, Handovers, Maker, NewHandover, NewHandoverAnswer};
use wire::ids::{BatchId, HandoverId, PersonId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::problem::FieldError;

use crate::batches;
use crate::kept::{BATCH, HANDOVER, HANDOVER_ANSWER};
use crate::observed::text;

/// Who has a batch and who had it, and who could take it.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn handovers(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Handovers> {
    store
        .read(credentials, async |tx| {
            let record = batches::access(tx, id, false).await?;
            told(tx, &record).await
        })
        .await
}

/// Offers a batch to another maker.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] unless the caller has it or is an instructor,
/// [`Error::State`] once it was submitted, while an offer waits, or if it counts for an assignment, and
/// [`Error::Invalid`] for refused fields, such as somebody who may not make it.
pub async fn hand_over(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: BatchId,
    request: &NewHandover,
) -> Result<Handovers> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access(tx, id, true).await?;
                offer(tx, &record, request).await
            },
            async |tx, _| {
                let record = batches::access(tx, id, false).await?;
                told(tx, &record).await
            },
        )
        .await
}

/// Answers an offer. Whoever accepts it has the batch from then on.
///
/// # Errors
/// Returns [`Error::NotFound`] for an offer that is none of the caller's, [`Error::Forbidden`] if its answer is not theirs to
/// give, [`Error::State`] if it was answered before or the batch can no longer be handed over, and [`Error::GateClosed`]
/// where the cautions are to be acknowledged first.
pub async fn answer_handover(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: HandoverId,
    request: &NewHandoverAnswer,
) -> Result<Handover> {
    store
        .create(
            credentials,
            once,
            async |tx| answer(tx, id, request.answer).await,
            async |tx, _| one(tx, id).await,
        )
        .await
}

/// An offer, for those whom it concerns.
///
/// # Errors
/// Returns [`Error::NotFound`] for anybody else, and [`Error::Forbidden`] for an API client.
pub async fn handover(store: &Store, credentials: &Credentials, id: HandoverId) -> Result<Handover> {
    store.read(credentials, async |tx| one(tx, id).await).await
}

/// Batches that are offered to the caller and wait for an answer, those that were offered first.
///
/// # Errors
/// Returns [`Error::Forbidden`] for an API client, and [`Error::Invalid`] for a refused cursor.
pub async fn offered(store: &Store, credentials: &Credentials, query: &PageQuery) -> Result<Page<Handover>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let after = slice.after.unwrap_or_default();
            let rows: Vec<Row> = diesel::sql_query(format!(
                "{OFFERS} WHERE h.to_id = $1 AND a.handover_id IS NULL AND h.id > $3
                     AND b.state IN ('planned', 'making', 'returned') ORDER BY h.id LIMIT $4"
            ))
            .bind::<SqlUuid, _>(me)
            .bind::<Timestamptz, _>(tx.now())
            .bind::<SqlUuid, _>(after)
            .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.id)?;
            let names = names(tx, &page.items).await?;
            let items = page.items.into_iter().map(|row| row.told(&names)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// Offers with their answers, and what they are of, as the person `$1` sees them at `$2`: of libraries that they are a member of.
/// The reason may tell of the making, so the other person reads it while they may make the formula.
const OFFERS: &str = "SELECT h.id, h.batch_id, b.number, r.title, b.revision_id, h.from_id, h.to_id, h.by_id,
        CASE WHEN h.to_id <> $1 OR may_make_revision($1, b.revision_id, $2) THEN h.reason END AS reason, h.at,
        a.answer, a.at AS answered_at
    FROM batch_handover h JOIN batch b ON b.id = h.batch_id JOIN revision r ON r.id = b.revision_id
    JOIN formula f ON f.id = r.formula_id
    JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
    LEFT JOIN batch_handover_answer a ON a.handover_id = h.id";

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    number: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    title: String,
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    from_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    to_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    by_id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::Text>)]
    reason: Option<String>,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
    #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::Text>)]
    answer: Option<String>,
    #[diesel(sql_type = diesel::sql_types::Nullable<Timestamptz>)]
    answered_at: Option<DateTime<Utc>>,
}

impl Row {
    fn told(self, names: &Names) -> Result<Handover> {
        Ok(Handover {
            id: HandoverId(self.id),
            batch: BatchId(self.batch_id),
            number: self.number,
            title: self.title,
            from: PersonId(self.from_id),
            from_name: names.of(self.from_id),
            to: PersonId(self.to_id),
            to_name: names.of(self.to_id),
            by: PersonId(self.by_id),
            by_name: names.of(self.by_id),
            reason: self.reason,
            at: self.at,
            answer: self.answer.as_deref().map(word).transpose()?,
            answered_at: self.answered_at,
        })
    }

    fn concerns(&self, person: Uuid) -> bool {
        [self.from_id, self.to_id, self.by_id].contains(&person)
    }
}

async fn names(tx: &mut Tx<'_>, rows: &[Row]) -> Result<Names> {
    let people: Vec<Uuid> = rows.iter().flat_map(|row| [row.from_id, row.to_id, row.by_id]).collect();
    known_as::people(tx, people).await
}

/// An offer that concerns the caller.
async fn found(tx: &mut Tx<'_>, id: HandoverId) -> Result<Row> {
    let me = tx.person()?.id.0;
    let row: Option<Row> = diesel::sql_query(format!("{OFFERS} WHERE h.id = $3"))
        .bind::<SqlUuid, _>(me)
        .bind::<Timestamptz, _>(tx.now())
        .bind::<SqlUuid, _>(id.0)
        .get_result(tx.conn())
        .await
        .optional()?;
    row.filter(|row| row.concerns(me)).ok_or(Error::NotFound("offer"))
}

async fn one(tx: &mut Tx<'_>, id: HandoverId) -> Result<Handover> {
    let row = found(tx, id).await?;
    let names = names(tx, std::slice::from_ref(&row)).await?;
    row.told(&names)
}

#[derive(QueryableByName)]
struct Holds {
    #[diesel(sql_type = Bool)]
    holds: bool,
}

/// Refuses a batch that is handed in, or that counts for an assignment.
async fn can_be_given(tx: &mut Tx<'_>, id: BatchId, state: BatchState) -> Result<()> {
    if !matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned) {
        let cure = "A batch is handed over while it is planned, making or returned.";
        return Err(Error::state(state, cure));
    }
    let counts: Holds =
        diesel::sql_query("SELECT EXISTS (SELECT FROM work_batch w WHERE w.batch_id = $1) AS holds")
            .bind::<SqlUuid, _>(id.0)
            .get_result(tx.conn())
            .await?;
    match counts.holds {
        false => Ok(()),
        true => Err(Error::state(
            "counts_for_assignment",
            "This batch counts for an assignment, so its student finishes it. Open another batch for the other person.",
        )),
    }
}

async fn may_make(tx: &mut Tx<'_>, person: PersonId, revision: RevisionId) -> Result<bool> {
    let may: Holds = diesel::sql_query("SELECT may_make_revision($1, $2, $3) AS holds")
        .bind::<SqlUuid, _>(person.0)
        .bind::<SqlUuid, _>(revision.0)
        .bind::<Timestamptz, _>(tx.now())
        .get_result(tx.conn())
        .await?;
    Ok(may.holds)
}

async fn of_batch(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<Row>> {
    let me = tx.person()?.id.0;
    Ok(diesel::sql_query(format!("{OFFERS} WHERE h.batch_id = $3 ORDER BY h.number DESC"))
        .bind::<SqlUuid, _>(me)
        .bind::<Timestamptz, _>(tx.now())
        .bind::<SqlUuid, _>(id.0)
        .load(tx.conn())
        .await?)
}

async fn offer<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewHandover) -> Result<Uuid> {
    let (id, maker) = (record.batch(), record.row().maker_id);
    let me = tx.person()?.id.0;
    if !record.is_makers() && !tx.actor()?.is_instructor() {
        let cure = "Only the person who has this batch, or an instructor, hands it over.";
        return Err(Error::Forbidden(cure.into()));
    }
    can_be_given(tx, id, word(&record.row().state)?).await?;
    let before = of_batch(tx, id).await?;
    if before.iter().any(|offer| offer.answer.is_none()) {
        let cure =
            "This batch is offered to another person already. Withdraw that offer before you make another.";
        return Err(Error::state("offered", cure));
    }
    let mut errors = Vec::new();
    let reason = text(request.reason.as_deref(), "/reason", &mut errors);
    if reason.is_none() && me != maker {
        let cure = "Enter why you hand over what another has, in 1 to 1000 characters.";
        errors.push(FieldError::new("/reason", cure));
    }
    if request.to.0 == maker {
        errors.push(FieldError::new("/to", "This person has the batch. Choose another person."));
    } else if !may_make(tx, request.to, record.revision()).await? {
        let cure = "This person may not make the formula now. Choose a member of its library who has acknowledged its \
                    current cautions to make it, or ask the person to acknowledge them first.";
        errors.push(FieldError::new("/to", cure));
    }
    if !errors.is_empty() {
        return Err(Error::Invalid(errors));
    }
    let written = tx.new_id();
    let number = i32::try_from(before.len()).unwrap_or(i32::MAX - 1) + 1;
    diesel::insert_into(batch_handover::table)
        .values((
            batch_handover::id.eq(written),
            batch_handover::batch_id.eq(id.0),
            batch_handover::number.eq(number),
            batch_handover::from_id.eq(maker),
            batch_handover::to_id.eq(request.to.0),
            batch_handover::reason.eq(reason),
            batch_handover::by_id.eq(me),
            batch_handover::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let event =
        NewEvent::new("batch", id.0, "offered").detail(json!({ "handover": written, "to": request.to }));
    tx.record(event.keeps(&HANDOVER, [written]));
    Ok(written)
}

async fn answer(tx: &mut Tx<'_>, id: HandoverId, answer: HandoverAnswer) -> Result<Uuid> {
    let me = tx.person()?.id.0;
    let read = found(tx, id).await?;
    let (batch, revision) = (BatchId(read.batch_id), RevisionId(read.revision_id));
    let locks = match answer {
        // Nobody withdraws or supersedes it while it goes over to another maker.
        HandoverAnswer::Accepted => Locks::new().revision(revision, Mode::Shared),
        _ => Locks::new(),
    };
    lock(tx, locks.batch(batch)).await?;
    // As it stands now that nobody else answers it.
    let offer = found(tx, id).await?;
    if let Some(was) = &offer.answer {
        return Err(Error::state(was, format!("This offer was {was} before.")));
    }
    match answer {
        HandoverAnswer::Withdrawn if me == offer.to_id => {
            let cure = "This batch is offered to you. Accept the offer or decline it.";
            return Err(Error::Forbidden(cure.into()));
        }
        HandoverAnswer::Accepted | HandoverAnswer::Declined if me != offer.to_id => {
            let cure =
                "Only the person whom it is offered to accepts or declines it. You may withdraw the offer.";
            return Err(Error::Forbidden(cure.into()));
        }
        _ => {}
    }
    if answer == HandoverAnswer::Accepted {
        let passed = gate::open(tx, revision).await?;
        gate::require_to_make(tx, &passed).await?;
        let state: String = batch::table.find(batch.0).select(batch::state).first(tx.conn()).await?;
        can_be_given(tx, batch, word(&state)?).await?;
    }
    diesel::insert_into(batch_handover_answer::table)
        .values((
            batch_handover_answer::handover_id.eq(id.0),
            batch_handover_answer::batch_id.eq(batch.0),
            batch_handover_answer::answer.eq(answer.as_str()),
            batch_handover_answer::by_id.eq(me),
            batch_handover_answer::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| match violates(&error, "handover_answered") {
            true => Error::state(
                "not_makeable",
                "This formula may not be made now, so its batch stays where it is.",
            ),
            false => error.into(),
        })?;
    diesel::update(batch::table.find(batch.0))
        .set(batch::version.eq(batch::version + 1))
        .execute(tx.conn())
        .await?;
    let action = match answer {
        HandoverAnswer::Accepted => "handed_over",
        HandoverAnswer::Declined => "handover_declined",
        HandoverAnswer::Withdrawn => "handover_withdrawn",
    };
    let event = NewEvent::new("batch", batch.0, action).detail(json!({ "handover": id }));
    tx.record(event.keeps(&BATCH, [batch.0]).keeps(&HANDOVER_ANSWER, [id.0]));
    Ok(id.0)
}

#[derive(QueryableByName)]
struct Candidate {
    #[diesel(sql_type = SqlUuid)]
    person: Uuid,
}

/// Who could take a batch of a revision: everybody who may make it now, but who has it.
const CANDIDATES: &str = "SELECT p.id AS person FROM release_grant g JOIN person p ON p.id = g.holder_id
    WHERE g.revision_id = $1 AND p.id <> $2 AND may_make_revision(p.id, $1, $3) ORDER BY p.name, p.id LIMIT 200";

async fn told<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Handovers> {
    let (id, row) = (record.batch(), record.row());
    let rows = of_batch(tx, id).await?;
    let state: BatchState = word(&row.state)?;
    let allowed = record.is_makers() || tx.actor()?.is_instructor();
    let waits = rows.iter().any(|offer| offer.answer.is_none());
    let may_offer = allowed && !waits && can_be_given(tx, id, state).await.is_ok();
    let candidates: Vec<Candidate> = match may_offer {
        true => {
            diesel::sql_query(CANDIDATES)
                .bind::<SqlUuid, _>(row.revision_id)
                .bind::<SqlUuid, _>(row.maker_id)
                .bind::<Timestamptz, _>(tx.now())
                .load(tx.conn())
                .await?
        }
        false => Vec::new(),
    };
    let people = rows.iter().flat_map(|row| [row.from_id, row.to_id, row.by_id]);
    let people = people.chain(candidates.iter().map(|one| one.person)).chain([row.maker_id]);
    let names = known_as::people(tx, people.collect::<Vec<_>>()).await?;
    Ok(Handovers {
        batch: id,
        number: row.number.clone(),
        title: formulary::facts(tx, record.revision()).await?.title,
        maker: PersonId(row.maker_id),
        maker_name: names.of(row.maker_id),
        may_offer,
        candidates: candidates
            .into_iter()
            .map(|one| Maker { person: PersonId(one.person), name: names.of(one.person) })
            .collect(),
        handovers: rows.into_iter().map(|row| row.told(&names)).collect::<Result<_>>()?,
    })
}
