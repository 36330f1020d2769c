//! Batch records: opening, reading, listing and abandoning.

use chrono::{Datelike, NaiveDate};
use diesel::dsl::not;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use formulary::gate;
use judgement::figures::Detail;
use locks::{Locks, Mode, lock};
use policy::Rules;
use recipes::stored::Recipe;
use recipes::stored::as_shown;
use recipes::{Making, RecipeCache, as_made, leaves, marc, work_out};
use release::entries::{Contents, Submission};
use release::lookup::RecordState;
use release::{Access, BatchRow, EveryLevel, ForRules, Record, Released, ReleasedRecipe, entries, record};
use schema::{
    acknowledgement, batch, batch_counter, countersignature, formula, gate as gates, library_member, revision,
};
use serde_json::json;
use store::gather::Queue;
use store::known_as::{self, Names};
use store::sql::blind_batch;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::bench::{BatchRecord, BatchState, BatchSummary, Disposition, NewBatch, Review};
use wire::formulary::Regime;
use wire::handovers::Maker;
use wire::ids::{BatchId, PersonId, RevisionId};
use wire::page::Page;
use wire::people::Role;
use wire::recipe::MakeFor;
use wire::safety::Purpose;

use crate::beside::Beside;
use crate::checked;
use crate::deviations;
use crate::draws;
use crate::findings::findings;
use crate::holds;
use crate::kept::BATCH;
use crate::makers;
use crate::measured;
use crate::nameless::nameless;
use crate::pauses;
use crate::records::advance;
use crate::stored::Findings;

/// Filter and page of a list of batches.
#[derive(Clone, Debug, Default)]
pub struct BatchQuery {
    /// Only batches in this state.
    pub state: Option<BatchState>,
    /// Only the caller's own batches. Other callers than instructors see no others in any case.
    pub own: bool,
    /// The most items of a page.
    pub limit: Option<u32>,
    /// The cursor of the previous page.
    pub after: Option<String>,
}

/// Opens a batch record from a recipe. Requires a `Make` grant.
///
/// # Errors
/// Returns [`Error::GateClosed`] without a grant, [`Error::State`] with a `Decide` grant, and [`Error::Invalid`] if the
/// quantity cannot be met.
pub async fn batch_create(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewBatch,
) -> Result<Released<BatchRecord>> {
    store
        .create_then_show(
            credentials,
            once,
            async |tx| {
                let maker = tx.person()?;
                // Nobody withdraws or supersedes it while a batch is opened with it.
                lock(tx, Locks::new().revision(request.revision, Mode::Shared)).await?;
                let passed = gate::open(tx, request.revision).await?;
                gate::require_to_make(tx, &passed).await?;
                let rules = policy::rules(tx).await?;
                // The day of making defaults to today in the clinic's time zone.
                let made_on = Some(request.make_for.made_on.unwrap_or_else(|| rules.date(tx.now())));
                let make_for = MakeFor { made_on, ..request.make_for.clone() };
                let recipe = work_out(tx, cache, &passed, &make_for, "/make_for/").await?;
                let number = next_number(tx, rules.date(tx.now()).year()).await?;
                let id = BatchId(tx.new_id());
                let now = tx.now();
                let disposition = match passed.facts.regime {
                    Regime::TeachingOnly => Disposition::PracticeOnly,
                    Regime::Cosmetic | Regime::HerbalMedicine | Regime::Food => Disposition::Quarantine,
                };
                diesel::insert_into(batch::table)
                    .values((
                        batch::id.eq(id.0),
                        batch::number.eq(&number),
                        batch::revision_id.eq(passed.facts.id.0),
                        batch::revision_digest.eq(&passed.grant.digest()[..]),
                        batch::caution_digest.eq(&passed.grant.caution_digest()[..]),
                        batch::policy_version.eq(rules.version),
                        batch::maker_id.eq(maker.id.0),
                        batch::state.eq(BatchState::Planned.as_str()),
                        batch::disposition.eq(disposition.as_str()),
                        batch::version.eq(1_i64),
                        batch::opened_at.eq(now),
                        batch::last_entry.eq(0),
                        batch::last_submission.eq(0),
                        batch::checks_asked.eq(Some(true)),
                    ))
                    .execute(tx.conn())
                    .await?;
                let detail = json!({
                    "revision": passed.facts.id,
                    "caution_set": hex::encode(passed.grant.caution_digest()),
                });
                let opened = NewEvent::new("batch", id.0, "opened")
                    .after(*passed.grant.digest())
                    .detail(detail)
                    .keeps(&BATCH, [id.0]);
                entries::keep_recipe(tx, id, &recipe, opened).await?;
                Ok(id.0)
            },
            async |tx, id| shown(tx, cache, BatchId(id)).await,
        )
        .await
}

/// The next batch number of the year, such as `2026-0042`. The row lock of the counter keeps numbers unique and
/// gapless.
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

/// The proof that the caller may read a batch record; with `lock`, its row stays locked until the transaction ends.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such batch or the caller may not see it, and [`Error::GateClosed`] for an
/// instructor who has not acknowledged the cautions of its revision.
pub(crate) async fn access<'t>(tx: &mut Tx<'t>, id: BatchId, lock: bool) -> Result<Record<'t>> {
    let found = record::access(tx, id, lock).await?;
    opened(tx, found).await
}

/// As [`access`], for the label, which an API client with the scope for labels may read too.
///
/// # Errors
/// As [`access`], and [`Error::Forbidden`] for an API client without the scope.
pub(crate) async fn access_for_label<'t>(tx: &mut Tx<'t>, id: BatchId) -> Result<Record<'t>> {
    let found = record::access_for_label(tx, id).await?;
    opened(tx, found).await
}

/// As [`access`], for what names nobody where the record counts for work that is marked blind: it is read through
/// [`nameless()`](crate::nameless), or what is done to it tells nothing of its maker.
///
/// # Errors
/// As [`access`].
pub(crate) async fn access_unnamed<'t>(tx: &mut Tx<'t>, id: BatchId, lock: bool) -> Result<Record<'t>> {
    match record::access(tx, id, lock).await? {
        Access::Unnamed(record) => Ok(*record),
        other => opened(tx, other).await,
    }
}

async fn opened<'t>(tx: &mut Tx<'t>, found: Access<'t>) -> Result<Record<'t>> {
    match found {
        Access::Open(record) => Ok(*record),
        Access::Hidden => Err(Error::NotFound("batch")),
        Access::Blind(_) => Err(blind()),
        Access::Unnamed(_) => Err(unnamed()),
        Access::Closed(revision) => match gate::open(tx, revision).await {
            Err(closed) => Err(closed),
            Ok(_) => Err(Error::internal("a grant that is there and is not")),
        },
    }
}

/// Refuses whoever gives a second mark among such work: the record tells the first one, and whose it is.
fn blind() -> Error {
    let detail = "You give a second mark in this assignment, so its marked records are closed to you until then. Give that mark first.";
    Error::state("second_marker", detail)
}

/// Refuses what would tell whose record it is while the work that it counts for is marked blind.
fn unnamed() -> Error {
    let detail = "This record is marked blind, and this would tell whose it is. Give its verdict first.";
    Error::state("marked_blind", detail)
}

/// The record of a batch for its second marker, who reads what names nobody.
///
/// # Errors
/// As [`batch()`]; returns [`Error::NotFound`] unless the record is closed to the caller as a second marker.
pub(crate) async fn access_blind<'t>(tx: &mut Tx<'t>, id: BatchId) -> Result<Record<'t>> {
    match record::access(tx, id, false).await? {
        Access::Blind(record) => Ok(*record),
        Access::Open(_) | Access::Unnamed(_) => Err(Error::NotFound("batch")),
        closed => opened(tx, closed).await,
    }
}

/// A batch record with its entries, findings and evaluation.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such batch or the caller may not see it, and [`Error::GateClosed`] for an
/// instructor who has not acknowledged the cautions of its revision.
pub async fn batch(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
    detail: Detail,
) -> Result<Released<BatchRecord>> {
    store.read(credentials, async |tx| explained(tx, cache, id, detail).await).await
}

/// As [`batch()`], in brief, as the bytes to be sent. Cost: a share of one statement, as long as the record stays in the
/// state in which somebody has read it.
///
/// # Errors
/// As [`batch()`].
pub async fn batch_rendered(
    store: &Store,
    cache: &RecipeCache,
    queue: &Queue<RecordState>,
    credentials: &Credentials,
    id: BatchId,
) -> Result<ReleasedRecipe> {
    if let Some(seen) = queue.ask(credentials, RecordState(id)).await?.found
        && let Some(kept) = cache.record(id, seen.every_level())
        && let Some(record) = seen.open(&kept)
    {
        return Ok(record.rendered());
    }
    let read = store.read(credentials, async |tx| {
        let record = access_unnamed(tx, id, false).await?;
        let levels = record::every_level(tx, &record).await?.ok();
        let shown = read(tx, cache, &record, levels.as_ref(), Detail::Brief).await?;
        let (bytes, sealed) = record::rendered(&record, levels.as_ref(), &shown)?;
        Ok((bytes, sealed.map(|sealed| (levels.is_some(), sealed))))
    });
    let (bytes, sealed) = read.await?;
    if let Some((every_level, sealed)) = sealed {
        cache.keep_record(id, every_level, sealed);
    }
    Ok(bytes)
}

/// Everything that stands in a record, as it is stored.
pub(crate) type Stored = Contents<Recipe, Findings>;

/// The contents of a record, under the proof that releases them.
pub(crate) async fn contents<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Released<Stored>> {
    entries::contents(tx, record).await
}

fn submission(stored: Submission<Findings>, names: &Names) -> wire::bench::Submission {
    wire::bench::Submission {
        number: stored.number,
        at: stored.at,
        answer: stored.answer,
        findings: stored.findings.into(),
        review: stored.review.map(|review| Review { reviewer_name: names.of(review.reviewer.0), ..review }),
    }
}

/// A batch record as a reader sees it, within a transaction.
///
/// # Errors
/// As [`batch()`].
pub async fn shown(tx: &mut Tx<'_>, cache: &RecipeCache, id: BatchId) -> Result<Released<BatchRecord>> {
    explained(tx, cache, id, Detail::Brief).await
}

async fn explained(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    id: BatchId,
    detail: Detail,
) -> Result<Released<BatchRecord>> {
    let record = access_unnamed(tx, id, false).await?;
    let levels = record::every_level(tx, &record).await?.ok();
    read(tx, cache, &record, levels.as_ref(), detail).await
}

/// A record as a reader of these levels sees it.
async fn read<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    levels: Option<&EveryLevel<'_, 't>>,
    detail: Detail,
) -> Result<Released<BatchRecord>> {
    Reading::of(tx, record).await?.shown(tx, cache, record, levels, detail).await
}

/// What a record is shown from: what stands in it, and the rules that it was opened under.
pub(crate) struct Reading {
    pub(crate) contents: Released<Stored>,
    pub(crate) rules: Rules,
}

impl Reading {
    pub(crate) async fn of<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Self> {
        let contents = contents(tx, record).await?;
        let rules = policy::rules_of(tx, record.row().policy_version).await?;
        Ok(Self { contents, rules })
    }

    /// The record as a reader of these levels sees it.
    pub(crate) async fn shown<'t>(
        self,
        tx: &mut Tx<'t>,
        cache: &RecipeCache,
        record: &Record<'t>,
        levels: Option<&EveryLevel<'_, 't>>,
        detail: Detail,
    ) -> Result<Released<BatchRecord>> {
        let Self { contents, rules } = self;
        let row = record.row();
        let within = contents.content();
        let made_on = made_on(row, &within.recipe, &rules);
        let marc = marc(tx, cache, record).await?;
        let beside = Beside::of(tx, record).await?;
        let people = beside.makers.iter().copied().chain(within.entries.iter().map(|entry| entry.shown.by.0));
        let people = people.chain(beside.checks.iter().map(|check| check.by.0));
        let people = people.chain(beside.authorisations.iter().map(|one| one.by.0));
        let people = people.chain(beside.releases.iter().map(|release| release.by.0));
        let people = people.chain(beside.pauses.iter().flat_map(pauses::people));
        let reviews = within.submissions.iter().filter_map(|submission| submission.review.as_ref());
        let people = people.chain(reviews.map(|review| review.reviewer.0)).collect::<Vec<_>>();
        let names = known_as::people(tx, people).await?;
        let findings = findings(&within.recipe, &within.entries, &rules, made_on, (&marc, &beside));
        let making = Making { asked: &within.recipe, entries: &within.entries, rules: &rules, made_on };
        let as_made = as_made(tx, cache, record, levels, &making, detail).await?;
        let drawn = draws::lots_of(tx, record.batch()).await?;
        let caution_change = change_outstanding(tx, record).await?.then(|| {
        "The cautions changed during this batch. Acknowledge them before finishing a step or submitting the record.".to_owned()
    });
        let mut authorised = deviations::by_entry(beside.authorisations, &names);
        let candidate = record.candidate();
        contents.try_map(|contents| {
            let shown = |entry| {
                let entry = measured::shown(entry, &contents.recipe, &rules, detail, &names);
                let lot_id = drawn.get(&entry.id).copied();
                wire::bench::Entry { lot_id, authorised: authorised.remove(&entry.id), ..entry }
            };
            let entries = contents.entries.into_iter().map(shown).collect();
            let mut recipe = contents.recipe.into();
            // Records from before recipes were stored without them still hold figures over the leaves.
            leaves::close(&mut recipe);
            as_shown(&mut recipe, detail);
            let shown = BatchRecord {
                version: row.version.unsigned_abs(),
                policy_version: row.policy_version.unsigned_abs(),
                makers: all_makers(&beside.makers, &names),
                summary: summary(row, recipe.title.clone(), &names)?,
                recipe,
                checks: beside.checks.into_iter().map(|check| checked::named(check, &names)).collect(),
                hold_releases: beside.releases.into_iter().map(|one| holds::named(one, &names)).collect(),
                pauses: beside.pauses.into_iter().map(|one| pauses::named(one, &names)).collect(),
                entries,
                findings,
                as_made: as_made.map(Box::new),
                submissions: contents.submissions.into_iter().map(|one| submission(one, &names)).collect(),
                caution_change,
            };
            Ok(match candidate {
                Some(candidate) => nameless(shown, candidate.to_owned()),
                None => shown,
            })
        })
    }
}

/// Whether the cautions changed after the batch was opened and the caller has not acknowledged the current set, or only
/// to make it with a countersignature that is still missing.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn change_outstanding(tx: &mut Tx<'_>, record: &Record<'_>) -> Result<bool> {
    if record.cautions_current() {
        return Ok(false);
    }
    let revision = record.revision();
    let me = tx.actor()?.holder();
    let now = tx.now();
    let acknowledged: Vec<(Uuid, bool)> = acknowledgement::table
        .inner_join(
            gates::table.on(gates::revision_id
                .eq(acknowledgement::revision_id)
                .and(gates::caution_digest.eq(acknowledgement::caution_digest))),
        )
        .filter(acknowledgement::holder_id.eq(me.0))
        .filter(acknowledgement::revision_id.eq(revision.0))
        .filter(acknowledgement::valid_until.gt(now))
        .select((
            acknowledgement::id,
            acknowledgement::countersign.and(acknowledgement::purpose.eq(Purpose::Make.as_str())),
        ))
        .load(tx.conn())
        .await?;
    if acknowledged.iter().any(|(_, countersign)| !countersign) {
        return Ok(false);
    }
    let waiting: Vec<Uuid> = acknowledged.into_iter().map(|(id, _)| id).collect();
    let signed = countersignature::table.filter(countersignature::acknowledgement_id.eq_any(waiting));
    Ok(!diesel::select(diesel::dsl::exists(signed)).get_result::<bool>(tx.conn()).await?)
}

/// The day of making: as requested, otherwise the day on which the batch was opened.
pub(crate) fn made_on(row: &BatchRow, recipe: &Recipe, rules: &Rules) -> NaiveDate {
    recipe.asked.made_on.unwrap_or_else(|| rules.date(row.opened_at))
}

/// Everybody who made a batch, where that is more than one.
fn all_makers(makers: &[Uuid], names: &Names) -> Vec<Maker> {
    let told = |person: &Uuid| Maker { person: PersonId(*person), name: names.of(*person) };
    if makers.len() > 1 { makers.iter().map(told).collect() } else { Vec::new() }
}

fn summary(row: &BatchRow, title: String, names: &Names) -> Result<BatchSummary> {
    Ok(BatchSummary {
        id: BatchId(row.id),
        state: word(&row.state)?,
        disposition: word(&row.disposition)?,
        number: row.number.clone(),
        revision: RevisionId(row.revision_id),
        title,
        maker: PersonId(row.maker_id),
        maker_name: names.of(row.maker_id),
        opened_at: row.opened_at,
    })
}

/// Batches, the oldest first: the caller's own, and for instructors all of the libraries they are members of.
///
/// # Errors
/// Returns [`Error::Invalid`] for a refused cursor, and the errors of verifying `claim`.
pub async fn batches(
    store: &Store,
    credentials: &Credentials,
    query: &BatchQuery,
) -> Result<Page<BatchSummary>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
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
                .filter(not(blind_batch(batch::id, me.id.0)))
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
            let names = known_as::people(tx, page.items.iter().map(|(row, _)| row.maker_id)).await?;
            let items = page
                .items
                .into_iter()
                .map(|(row, title)| summary(&row, title, &names))
                .collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// For what quantity the caller made a formula last, if the recipe of that batch is still of this revision's formula.
///
/// # Errors
/// Returns [`Error::Forbidden`] for an API client, and the errors of verifying the credentials.
pub async fn last_asked(
    store: &Store,
    credentials: &Credentials,
    revision: RevisionId,
) -> Result<Option<Released<MakeFor>>> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id;
            let of: Option<Uuid> = revision::table
                .find(revision.0)
                .select(revision::formula_id)
                .first(tx.conn())
                .await
                .optional()?;
            let Some(of) = of else { return Ok(None) };
            let last: Option<Uuid> = batch::table
                .inner_join(revision::table.on(revision::id.eq(batch::revision_id)))
                .filter(batch::maker_id.eq(me.0))
                .filter(revision::formula_id.eq(of))
                .order(batch::id.desc())
                .select(batch::id)
                .first(tx.conn())
                .await
                .optional()?;
            let Some(last) = last else { return Ok(None) };
            let Access::Open(record) = record::access(tx, BatchId(last), false).await? else {
                return Ok(None);
            };
            let contents = contents(tx, &record).await?;
            let asked = contents.try_map(|contents| {
                let recipe: wire::recipe::Recipe = contents.recipe.into();
                // The day of that batch is none of the next one's.
                Ok::<_, Error>(MakeFor { made_on: None, ..recipe.asked })
            })?;
            Ok(Some(asked))
        })
        .await
}

/// The record of a batch, locked, for its maker.
///
/// # Errors
/// As [`access`], and [`Error::Forbidden`] if the caller is not the maker.
pub(crate) async fn own<'t>(tx: &mut Tx<'t>, id: BatchId) -> Result<Record<'t>> {
    let record = access(tx, id, true).await?;
    record.require_maker()?;
    Ok(record)
}

/// Abandons a batch. An offer of it that waits is withdrawn.
///
/// # Errors
/// As [`batch()`], [`Error::Forbidden`] if the caller is not the maker, and [`Error::State`] if the record was
/// submitted.
pub async fn abandon(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<BatchRecord>> {
    store
        .write(credentials, async |tx| {
            let record = own(tx, id).await?;
            makers::offer_withdraw(tx, &record).await?;
            advance(tx, &record, BatchState::Abandoned).await?;
            stock::free_lots(tx, id).await?;
            tx.record(NewEvent::new("batch", id.0, "abandoned").keeps(&BATCH, [id.0]));
            shown(tx, cache, id).await
        })
        .await
}

/// The address of a record. The batch ID is not gated content.
#[must_use]
pub fn address(record: &Released<BatchRecord>) -> String {
    format!("/v1/batches/{}", record.content().summary.id)
}
