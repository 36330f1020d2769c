//! Opening a batch record, reading it, listing it, giving it up.

use chrono::{Datelike, NaiveDate};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{batch, batch_counter, formula, library_member, revision};
use serde_json::json;
use store::{Claim, Error, NewEvent, Once, Result, Store, Tx, page::Slice, word};
use uuid::Uuid;
use wire::bench::{BatchRecord, BatchState, BatchSummary, Disposition, NewBatch};
use wire::formulary::Regime;
use wire::ids::{BatchId, PersonId, RevisionId};
use wire::page::Page;
use wire::people::Role;
use wire::recipe::{MakeFor, Recipe};
use wire::safety::Purpose;

use super::findings;
use super::store::{self, BatchRow};
use formulary;
use policy::{self, Rules};
use crate::safety::{self, Released};

/// Proof that the caller may read a batch record: its maker while a member, or an instructor of the library whose
/// door to the revision is open.
pub(crate) struct MayRead(());

/// Which batches are listed.
#[derive(Clone, Debug, Default)]
pub struct BatchQuery {
    /// Only in this state.
    pub state: Option<BatchState>,
    /// Only the caller's own. Students see no others anyway.
    pub own: bool,
    /// How many at most.
    pub limit: Option<u32>,
    /// The cursor.
    pub after: Option<String>,
}

/// Opens a batch record from a released recipe: through the door to make, and no other.
///
/// # Errors
/// When the door is closed or open only to decide, or the quantity cannot be worked out.
pub async fn batch_create(
    store: &Store,
    claim: &Claim,
    once: &Once,
    request: &NewBatch,
) -> Result<Released<BatchRecord>> {
    store
        .create(
            claim,
            once,
            async |tx| {
                let maker = tx.person()?;
                formulary::hold(tx, request.revision).await?;
                let door = safety::open(tx, request.revision).await?;
                if door.purpose != Purpose::Make {
                    return Err(Error::state(
                        door.facts.state,
                        "the cautions were acknowledged to decide about this revision, not to make it: acknowledge an \
                         approved one",
                    ));
                }
                let rules = policy::rules(tx).await?;
                // A batch is dated from the day it is opened, in the clinic's time zone.
                let made_on = Some(request.make_for.made_on.unwrap_or_else(|| rules.date(tx.now)));
                let make_for = MakeFor { made_on, ..request.make_for.clone() };
                let recipe = safety::work_out_for(tx, &door, &make_for).await?;
                let number = next_number(tx, rules.date(tx.now).year()).await?;
                let id = BatchId(tx.new_id());
                let now = tx.now;
                let disposition = match door.facts.regime {
                    Regime::TeachingOnly => Disposition::PracticeOnly,
                    Regime::Cosmetic | Regime::HerbalMedicine | Regime::Food => Disposition::Quarantine,
                };
                diesel::insert_into(batch::table)
                    .values((
                        batch::id.eq(id.0),
                        batch::number.eq(&number),
                        batch::revision_id.eq(door.facts.id.0),
                        batch::revision_digest.eq(&door.digest[..]),
                        batch::caution_digest.eq(&door.caution_digest[..]),
                        batch::policy_version.eq(rules.version),
                        batch::maker_id.eq(maker.id.0),
                        batch::state.eq(BatchState::Planned.as_str()),
                        batch::disposition.eq(disposition.as_str()),
                        batch::version.eq(1_i64),
                        batch::opened_at.eq(now),
                        batch::last_entry.eq(0),
                        batch::last_submission.eq(0),
                    ))
                    .execute(tx.conn())
                    .await?;
                safety::keep_recipe(tx, id, &recipe).await?;
                let detail = json!({
                    "revision": door.facts.id,
                    "caution_set": hex::encode(door.caution_digest),
                });
                tx.record(NewEvent::new("batch", id.0, "opened").after(door.digest).detail(detail));
                Ok(id.0)
            },
            async |tx, id| record(tx, BatchId(id)).await,
        )
        .await
}

/// The next number of the year, such as 2026-0042. The counter's row lock makes it gapless and unique.
async fn next_number(tx: &mut Tx<'_>, year: i32) -> Result<String> {
    let last: i32 = diesel::insert_into(batch_counter::table)
        .values((batch_counter::year.eq(year), batch_counter::last.eq(1)))
        .on_conflict(batch_counter::year)
        .do_update()
        .set(batch_counter::last.eq(batch_counter::last + 1))
        .returning(batch_counter::last)
        .get_result(tx.conn())
        .await?;
    Ok(format!("{year}-{last:04}"))
}

/// Who may read a batch record: its maker while a member of the library, and the library's instructors whose door to
/// the revision is open. To everybody else it does not exist.
pub(super) async fn may_read(tx: &mut Tx<'_>, row: &BatchRow) -> Result<MayRead> {
    const HIDDEN: Error = Error::NotFound("batch");
    let me = tx.person()?;
    let facts = formulary::facts(tx, RevisionId(row.revision_id), false).await?;
    match formulary::membership(tx, facts.library).await {
        Err(Error::NotFound(_)) => return Err(HIDDEN),
        other => other?,
    };
    if me.id.0 == row.maker_id {
        return Ok(MayRead(()));
    }
    if me.role != Role::Instructor {
        return Err(HIDDEN);
    }
    safety::open(tx, RevisionId(row.revision_id)).await?;
    Ok(MayRead(()))
}

/// A whole batch record, through the door of record.
///
/// # Errors
/// When there is none such for the caller, or an instructor has not acknowledged the cautions of its revision.
pub async fn batch(store: &Store, claim: &Claim, id: BatchId) -> Result<Released<BatchRecord>> {
    store.read(claim, async |tx| record(tx, id).await).await
}

pub(super) async fn record(tx: &mut Tx<'_>, id: BatchId) -> Result<Released<BatchRecord>> {
    let row = store::find(tx, id, false).await?;
    let shown = may_read(tx, &row).await?;
    let recipe = safety::recipe_of(tx, id).await?;
    let entries = store::entries(tx, id).await?;
    let rules = policy::rules_of(tx, row.policy_version).await?;
    let made_on = made_on(&row, recipe.content(), &rules);
    let findings = findings::findings(recipe.content(), &entries, &rules, made_on);
    let digest = row
        .revision_digest
        .clone()
        .try_into()
        .map_err(|_| Error::internal("a digest of the wrong length"))?;
    let as_made = safety::as_made(tx, recipe.content(), digest, &entries, &rules, made_on).await?;
    let submissions = store::submissions(tx, id).await?;
    let caution_change =
        safety::change_outstanding(tx, RevisionId(row.revision_id), &row.caution_digest).await?.then(|| {
            "the cautions have changed: acknowledge them before finishing a step or submitting".to_owned()
        });
    let title = recipe.content().title.clone();
    let record = BatchRecord {
        policy_version: row.policy_version.unsigned_abs(),
        summary: summary(row, title)?,
        recipe: recipe.content().clone(),
        entries,
        findings,
        as_made: as_made.map(Box::new),
        submissions,
        caution_change,
    };
    Ok(safety::release_record(record, &shown))
}

/// The day of making: as it was asked for, else the day on which the batch was opened.
pub(super) fn made_on(row: &BatchRow, recipe: &Recipe, rules: &Rules) -> NaiveDate {
    recipe.asked.made_on.unwrap_or_else(|| rules.date(row.opened_at))
}

fn summary(row: BatchRow, title: String) -> Result<BatchSummary> {
    Ok(BatchSummary {
        id: BatchId(row.id),
        state: row.state()?,
        disposition: word(&row.disposition)?,
        number: row.number,
        revision: RevisionId(row.revision_id),
        title,
        maker: PersonId(row.maker_id),
        opened_at: row.opened_at,
    })
}

/// Batches, oldest first: the caller's own, and for instructors those of the libraries shared with them.
///
/// # Errors
/// When the claim does not hold.
pub async fn batches(store: &Store, claim: &Claim, query: &BatchQuery) -> Result<Page<BatchSummary>> {
    let slice = Slice::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(claim, async |tx| {
            let me = tx.person()?;
            let shared = library_member::table
                .filter(library_member::holder_id.eq(me.id.0))
                .select(library_member::library_id);
            let mut rows = batch::table
                .inner_join(revision::table.on(revision::id.eq(batch::revision_id)))
                .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
                .filter(formula::library_id.eq_any(shared))
                .order(batch::id)
                .limit(slice.fetch())
                .select((BatchRow::as_select(), revision::title))
                .into_boxed();
            if query.own || me.role != Role::Instructor {
                rows = rows.filter(batch::maker_id.eq(me.id.0));
            }
            if let Some(state) = query.state {
                rows = rows.filter(batch::state.eq(state.as_str()));
            }
            if let Some(after) = slice.after {
                rows = rows.filter(batch::id.gt(after));
            }
            let rows: Vec<(BatchRow, String)> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |(row, _)| row.id)?;
            let items =
                page.items.into_iter().map(|(row, title)| summary(row, title)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// The batch, locked, if the caller is its maker.
pub(super) async fn own(tx: &mut Tx<'_>, id: BatchId) -> Result<BatchRow> {
    let row = store::find(tx, id, true).await?;
    may_read(tx, &row).await?;
    if tx.person()?.id.0 != row.maker_id {
        return Err(Error::Forbidden("only its maker writes into a batch record".into()));
    }
    Ok(row)
}

/// Gives a batch up.
///
/// # Errors
/// When the caller is not its maker, or it was handed in.
pub async fn abandon(store: &Store, claim: &Claim, id: BatchId) -> Result<Released<BatchRecord>> {
    store
        .write(claim, async |tx| {
            let row = own(tx, id).await?;
            store::advance(tx, &row, BatchState::Abandoned).await?;
            tx.record(NewEvent::new("batch", id.0, "abandoned"));
            record(tx, id).await
        })
        .await
}

/// The address of a released record: the batch's id is no secret of it.
#[must_use]
pub fn address(record: &Released<BatchRecord>) -> String {
    format!("/v1/batches/{}", record.content().summary.id)
}
