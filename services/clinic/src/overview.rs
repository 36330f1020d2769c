//! What a person has in hand: what is on the bench, what came back, which recipes are open, what can be found.
//!
//! Reads over several subjects, by open columns only: no amount, no method and no free text about them.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::person;
use store::{Credentials, Result, Tx, word};
use uuid::Uuid;
use wire::bench::BatchState;
use wire::formulary::Regime;
use wire::ids::{AcknowledgementId, BatchId, FormulaId, PersonId, RevisionId};
use wire::people::Role;

use crate::Clinic;

/// How many of each kind are answered; one more than a page shows says that there are others.
pub const SHOWN: usize = 5;

/// A batch in hand.
#[derive(Clone, Debug)]
pub struct BatchInHand {
    /// The batch.
    pub id: BatchId,
    /// What stands on the jar.
    pub number: String,
    /// The revision's title.
    pub title: String,
    /// Where the record stands.
    pub state: BatchState,
    /// How many entries were written.
    pub entries: i32,
    /// Who makes it.
    pub maker: String,
    /// When it was opened, or handed in last.
    pub since: DateTime<Utc>,
    /// Who decided last, and when, where a record came back.
    pub reviewed: Option<(String, DateTime<Utc>)>,
    /// Until when its making is paused, where it is.
    pub paused_until: Option<NaiveDate>,
}

/// A recipe that is open to the caller.
#[derive(Clone, Debug)]
pub struct OpenRecipe {
    /// The revision.
    pub revision: RevisionId,
    /// The formula.
    pub formula: FormulaId,
    /// Its title.
    pub title: String,
    /// Until when it stays open, unless something closes it before.
    pub until: DateTime<Utc>,
}

/// What a student does next.
#[derive(Clone, Debug, Default)]
pub struct StudentHome {
    /// Opened and not handed in, the newest first.
    pub bench: Vec<BatchInHand>,
    /// Came back to be mended, the newest first.
    pub returned: Vec<BatchInHand>,
    /// Accepted or rejected within the last two weeks, the newest first.
    pub decided: Vec<BatchInHand>,
    /// Open recipes, those last acknowledged first.
    pub recipes: Vec<OpenRecipe>,
}

#[derive(QueryableByName)]
pub(crate) struct BatchRow {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = Integer)]
    last_entry: i32,
    #[diesel(sql_type = Text)]
    maker: String,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) since: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Text>)]
    reviewer: Option<String>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    reviewed_at: Option<DateTime<Utc>>,
    #[diesel(sql_type = Nullable<Date>)]
    paused_until: Option<NaiveDate>,
}

impl BatchRow {
    pub(crate) fn told(self) -> Result<BatchInHand> {
        Ok(BatchInHand {
            id: BatchId(self.id),
            number: self.number,
            title: self.title,
            state: word(&self.state)?,
            entries: self.last_entry,
            maker: self.maker,
            since: self.since,
            reviewed: self.reviewer.zip(self.reviewed_at),
            paused_until: self.paused_until.filter(|_| self.state == BatchState::Making.as_str()),
        })
    }
}

#[derive(QueryableByName)]
struct RecipeRow {
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    formula_id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Timestamptz)]
    valid_until: DateTime<Utc>,
}

/// Batches of the libraries of `$1`, with their revision, their maker, and who did what last. A candidate stands in place of
/// number and maker where the record is marked blind.
const BATCHES: &str = "SELECT b.id, CASE WHEN u.it THEN candidate_of_batch(b.id) ELSE b.number END AS number, r.title, b.state, b.last_entry,
            CASE WHEN u.it THEN candidate_of_batch(b.id) ELSE p.name END AS maker,
            coalesce(s.at, b.opened_at) AS since, w.name AS reviewer, v.at AS reviewed_at,
            batch_paused_until(b.id) AS paused_until
     FROM batch b
     JOIN revision r ON r.id = b.revision_id
     JOIN formula f ON f.id = r.formula_id
     JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
     JOIN person p ON p.id = b.maker_id
     CROSS JOIN LATERAL (SELECT unnamed_batch(b.id, $1) AS it) u
     LEFT JOIN LATERAL (
         SELECT e.at FROM event e
         WHERE e.subject_kind = 'batch' AND e.subject_id = b.id AND e.action = 'submitted'
         ORDER BY e.number DESC LIMIT 1) s ON true
     LEFT JOIN LATERAL (
         SELECT e.at, e.actor_id FROM event e
         WHERE e.subject_kind = 'batch' AND e.subject_id = b.id AND e.action IN ('returned', 'accepted', 'rejected')
         ORDER BY e.number DESC LIMIT 1) v ON true
     LEFT JOIN person w ON w.id = v.actor_id";

/// Batches in some states: of the caller, or of everybody in the caller's libraries but the caller.
async fn batches(tx: &mut Tx<'_>, states: &[&str], own: bool, newest: bool) -> Result<Vec<BatchInHand>> {
    batches_that(tx, states, (own, newest), "true").await
}

/// As [`batches`], of those for which `that` holds of the batch `b`.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn batches_that(
    tx: &mut Tx<'_>,
    states: &[&str],
    (own, newest): (bool, bool),
    that: &str,
) -> Result<Vec<BatchInHand>> {
    let own_limit = i64::try_from(SHOWN + 1).unwrap_or(i64::MAX);
    let limit = if own { own_limit } else { QUEUE };
    let rows = rows_after(tx, states, (own, newest), that, (None, limit)).await?;
    rows.into_iter().map(BatchRow::told).collect()
}

/// So many of them; of those that come with the oldest first, after the sort values of one.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn rows_after(
    tx: &mut Tx<'_>,
    states: &[&str],
    (own, newest): (bool, bool),
    that: &str,
    (after, limit): (Option<(DateTime<Utc>, Uuid)>, i64),
) -> Result<Vec<BatchRow>> {
    let me = tx.person()?.id.0;
    let order = if newest { "DESC" } else { "ASC" };
    // What was handed in for an assignment waits in the markers' queue.
    let others = "NOT batch_made_by(b.id, $1) AND NOT EXISTS (SELECT FROM handed_work h
        WHERE h.batch_id = b.id AND h.submission_number = b.last_submission AND h.state = 'submitted')";
    let whose = if own { "b.maker_id = $1" } else { others };
    let sql = format!(
        "{BATCHES}
         WHERE {whose} AND b.state = ANY ($2) AND {that}
           AND ($4 IS NULL OR (coalesce(s.at, b.opened_at), b.id) > ($4, $5))
         ORDER BY since {order}, b.id LIMIT $3"
    );
    let (since, id) = after.unzip();
    Ok(diesel::sql_query(sql)
        .bind::<SqlUuid, _>(me)
        .bind::<Array<Text>, _>(states)
        .bind::<BigInt, _>(limit)
        .bind::<Nullable<Timestamptz>, _>(since)
        .bind::<SqlUuid, _>(id.unwrap_or_default())
        .load(tx.conn())
        .await?)
}

/// For how long a decision stands on the first page of whoever made the batch.
const LATELY: TimeDelta = TimeDelta::days(14);

/// How many records a queue shows.
const QUEUE: i64 = 21;

/// What the caller does next.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn student_home(clinic: &Clinic, credentials: &Credentials) -> Result<StudentHome> {
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let now = tx.now();
            let rows: Vec<RecipeRow> = diesel::sql_query(
                "SELECT g.revision_id, r.formula_id, r.title, g.valid_until
                 FROM release_grant g JOIN revision r ON r.id = g.revision_id
                 WHERE g.holder_id = $1 AND g.purpose = 'make' AND g.valid_until > $2 AND r.state = 'approved'
                 ORDER BY g.acknowledgement_id DESC LIMIT $3",
            )
            .bind::<SqlUuid, _>(me)
            .bind::<Timestamptz, _>(now)
            .bind::<BigInt, _>(QUEUE)
            .load(tx.conn())
            .await?;
            let mut decided = batches(tx, &["accepted", "rejected"], true, true).await?;
            decided.retain(|batch| batch.reviewed.as_ref().is_some_and(|(_, at)| *at > now - LATELY));
            let recipes = rows.into_iter().map(|row| OpenRecipe {
                revision: RevisionId(row.revision_id),
                formula: FormulaId(row.formula_id),
                title: row.title,
                until: row.valid_until,
            });
            Ok(StudentHome {
                bench: batches(tx, &["planned", "making"], true, true).await?,
                returned: batches(tx, &["returned"], true, true).await?,
                decided,
                recipes: recipes.collect(),
            })
        })
        .await
}

/// What formulas are looked for by.
#[derive(Clone, Debug, Default)]
pub struct Search {
    /// A part of the title, of the name of something in it at the first level, or of any name of a material in it at any
    /// level.
    pub text: String,
    /// The kind of preparation.
    pub kind: Option<String>,
    /// What it is made as.
    pub regime: Option<Regime>,
    /// The cursor of the page before: title and id.
    pub after: Option<(String, FormulaId)>,
}

/// A formula that was found.
#[derive(Clone, Debug)]
pub struct Found {
    /// The formula.
    pub id: FormulaId,
    /// Its title.
    pub title: String,
    /// The kind of preparation.
    pub preparation: String,
    /// The revision that may be made, if any.
    pub approved: Option<RevisionId>,
    /// Whether its recipe is open to the caller.
    pub open: bool,
    /// Whether it is withheld.
    pub withheld: bool,
    /// How many acts of reading there are: each contraindication, and each group of the others.
    pub to_read: i64,
}

#[derive(QueryableByName)]
struct FoundRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    preparation: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    approved: Option<Uuid>,
    #[diesel(sql_type = Bool)]
    open: bool,
    #[diesel(sql_type = Bool)]
    withheld: bool,
    #[diesel(sql_type = BigInt)]
    to_read: i64,
}

#[derive(QueryableByName)]
struct KindRow {
    #[diesel(sql_type = Text)]
    preparation: String,
}

/// How many formulas a page of results holds.
pub const PAGE: usize = 50;

/// Formulas of the caller's libraries, by title, with the kinds of preparation that there are. One more than a page holds
/// says that there are others.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn search(
    clinic: &Clinic,
    credentials: &Credentials,
    search: &Search,
) -> Result<(Vec<Found>, Vec<String>)> {
    let text: String = search.text.chars().take(100).collect();
    let like = format!("%{}%", text.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_"));
    let (after_title, after_id) = search.after.clone().unwrap_or((String::new(), FormulaId(Uuid::nil())));
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let now = tx.now();
            // One letter is in nearly every name, and finds titles only.
            let materials = match text.trim().chars().count() {
                0 | 1 => Vec::new(),
                _ => ::materials::called(tx, &text, "?q").await?,
            };
            let rows: Vec<FoundRow> = diesel::sql_query(FIND)
                .bind::<SqlUuid, _>(me.id.0)
                .bind::<Timestamptz, _>(now)
                .bind::<Text, _>(&like)
                .bind::<Nullable<Text>, _>(&search.kind)
                .bind::<Bool, _>(me.role == Role::Student)
                .bind::<Text, _>(&after_title)
                .bind::<SqlUuid, _>(after_id.0)
                .bind::<BigInt, _>(i64::try_from(PAGE + 1).unwrap_or(i64::MAX))
                .bind::<Nullable<Text>, _>(search.regime.map(Regime::as_str))
                .bind::<Array<SqlUuid>, _>(&materials)
                .load(tx.conn())
                .await?;
            let kinds: Vec<KindRow> = diesel::sql_query(
                "SELECT DISTINCT f.preparation FROM formula f
                 JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1 ORDER BY 1 LIMIT 100",
            )
            .bind::<SqlUuid, _>(me.id.0)
            .load(tx.conn())
            .await?;
            let found = rows.into_iter().map(|row| Found {
                id: FormulaId(row.id),
                title: row.title,
                preparation: row.preparation,
                approved: row.approved.map(RevisionId),
                open: row.open,
                withheld: row.withheld,
                to_read: row.to_read,
            });
            Ok((found.collect(), kinds.into_iter().map(|row| row.preparation).collect()))
        })
        .await
}

/// Titles, names of what is in the newest revision that others may see, and materials at any level. Ordered by title in the database's own order,
/// which the cursor goes by too.
const FIND: &str = "
    SELECT f.id, f.title, f.preparation, f.approved_revision_id AS approved,
           coalesce(g.purpose = 'make' AND g.valid_until > $2, false) AS open,
           (w.revision_id IS NOT NULL) AS withheld,
           coalesce((SELECT count(*) FILTER (WHERE c.level IN ('contraindication', 'stop'))
                          + count(DISTINCT coalesce(a.reading #>> ARRAY['cautions', c.position::text, 'group'],
                                                    (c.audiences = '[\"everyone\"]'::jsonb)::text))
                            FILTER (WHERE c.level IN ('note', 'caution'))
                     FROM gate k JOIN caution c ON c.revision_id = k.revision_id AND c.set_number = k.set_number
                     LEFT JOIN caution_reading a ON a.revision_id = k.revision_id AND a.set_number = k.set_number
                     WHERE k.revision_id = f.approved_revision_id), 0) AS to_read
    FROM formula f
    JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
    LEFT JOIN release_grant g ON g.holder_id = $1 AND g.revision_id = f.approved_revision_id
    LEFT JOIN withholding w ON w.revision_id = f.approved_revision_id
    WHERE (f.approved_revision_id IS NOT NULL OR NOT $5)
      AND ($4 IS NULL OR f.preparation = $4)
      AND ($9 IS NULL OR EXISTS (
               SELECT 1 FROM revision r WHERE r.id = f.approved_revision_id AND r.regime = $9))
      AND (f.title ILIKE $3 OR EXISTS (
               SELECT 1 FROM revision_ingredient i
               WHERE i.revision_id = f.approved_revision_id AND i.name ILIKE $3)
           OR EXISTS (
               SELECT 1 FROM revision_material c
               WHERE c.revision_id = f.approved_revision_id AND c.material_id = ANY ($10)))
      AND (f.title COLLATE \"C\", f.id) > ($6, $7)
    ORDER BY f.title COLLATE \"C\", f.id LIMIT $8";

/// The names of people, in the order in which they were asked for; somebody who is not there has none. Everybody who is
/// signed in may know the names on a record or formula that they may see.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn names(
    clinic: &Clinic,
    credentials: &Credentials,
    of: &[PersonId],
) -> Result<Vec<(PersonId, String)>> {
    let ids: Vec<Uuid> = of.iter().map(|id| id.0).collect();
    clinic
        .store
        .read(credentials, async |tx| {
            tx.person()?;
            let rows: Vec<(Uuid, String)> = person::table
                .filter(person::id.eq_any(&ids))
                .select((person::id, person::name))
                .load(tx.conn())
                .await?;
            Ok(rows.into_iter().map(|(id, name)| (PersonId(id), name)).collect())
        })
        .await
}

#[derive(QueryableByName)]
struct IdRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// What the caller acknowledged last of a revision, or of an earlier one of its formula.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn last_acknowledged(
    clinic: &Clinic,
    credentials: &Credentials,
    revision: RevisionId,
) -> Result<Option<AcknowledgementId>> {
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let found: Option<IdRow> = diesel::sql_query(
                "SELECT a.id FROM acknowledgement a JOIN revision r ON r.id = a.revision_id
                 WHERE a.holder_id = $1
                   AND r.formula_id = (SELECT formula_id FROM revision WHERE id = $2)
                 ORDER BY (a.revision_id = $2) DESC, a.id DESC LIMIT 1",
            )
            .bind::<SqlUuid, _>(me)
            .bind::<SqlUuid, _>(revision.0)
            .get_result(tx.conn())
            .await
            .optional()?;
            Ok(found.map(|row| AcknowledgementId(row.id)))
        })
        .await
}

/// Batches by the newest, for a list: the caller's own, or for an instructor everybody's in the caller's libraries. One more
/// than a page holds says that there are others.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn batch_list(
    clinic: &Clinic,
    credentials: &Credentials,
    own: bool,
    state: Option<BatchState>,
    before: Option<BatchId>,
) -> Result<Vec<BatchInHand>> {
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let own = own || me.role != Role::Instructor;
            let rows: Vec<BatchRow> = diesel::sql_query(format!(
                "{BATCHES}
                     WHERE (b.maker_id = $1 OR NOT $2) AND NOT blind_batch(b.id, $1)
                         AND ($3 IS NULL OR b.state = $3) AND ($4 IS NULL OR b.id < $4)
                     ORDER BY b.id DESC LIMIT $5"
            ))
            .bind::<SqlUuid, _>(me.id.0)
            .bind::<Bool, _>(own)
            .bind::<Nullable<Text>, _>(state.map(BatchState::as_str))
            .bind::<Nullable<SqlUuid>, _>(before.map(|id| id.0))
            .bind::<BigInt, _>(i64::try_from(PAGE + 1).unwrap_or(i64::MAX))
            .load(tx.conn())
            .await?;
            rows.into_iter().map(BatchRow::told).collect()
        })
        .await
}

/// A revision in hand: proposed by somebody else, or a draft of the caller's own.
#[derive(Clone, Debug)]
pub struct RevisionInHand {
    /// The revision.
    pub id: RevisionId,
    /// Its title.
    pub title: String,
    /// Its number.
    pub number: i32,
    /// Who wrote it.
    pub author: String,
    /// When it was proposed, or begun.
    pub since: DateTime<Utc>,
    /// The stop that blocks its approval, if there is one.
    pub stop: Option<String>,
}

#[derive(QueryableByName)]
struct RevisionRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Text)]
    author: String,
    #[diesel(sql_type = Timestamptz)]
    since: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Text>)]
    stop: Option<String>,
}

/// Proposals that the caller may decide about, the oldest first, and the caller's own drafts, the newest first.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless the caller is an instructor, and the errors of verifying
/// the credentials.
pub async fn revisions_in_hand(
    clinic: &Clinic,
    credentials: &Credentials,
) -> Result<(Vec<RevisionInHand>, Vec<RevisionInHand>)> {
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let mut found = Vec::new();
            for (state, whose, order) in [("proposed", "<>", "ASC"), ("draft", "=", "DESC")] {
                let sql = format!(
                    "SELECT r.id, r.title, r.number, p.name AS author, coalesce(r.proposed_at, r.created_at) AS since,
                            (SELECT c.text FROM gate k
                             JOIN caution c ON c.revision_id = k.revision_id AND c.set_number = k.set_number
                             WHERE k.revision_id = r.id AND c.level = 'stop' ORDER BY c.position LIMIT 1) AS stop
                     FROM revision r
                     JOIN formula f ON f.id = r.formula_id
                     JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
                     JOIN person p ON p.id = r.author_id
                     WHERE r.state = $2 AND r.author_id {whose} $1
                     ORDER BY since {order}, r.id LIMIT $3"
                );
                let rows: Vec<RevisionRow> = diesel::sql_query(sql)
                    .bind::<SqlUuid, _>(me.0)
                    .bind::<Text, _>(state)
                    .bind::<BigInt, _>(QUEUE)
                    .load(tx.conn())
                    .await?;
                let told = rows.into_iter().map(|row| RevisionInHand {
                    id: RevisionId(row.id),
                    title: row.title,
                    number: row.number,
                    author: row.author,
                    since: row.since,
                    stop: row.stop,
                });
                found.push(told.collect::<Vec<_>>());
            }
            let own = found.pop().unwrap_or_default();
            Ok((found.pop().unwrap_or_default(), own))
        })
        .await
}

#[derive(QueryableByName)]
struct TitleRow {
    #[diesel(sql_type = Text)]
    title: String,
}

/// Which of these names are titles of approved formulas in the caller's libraries, in lower case.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) for an API client, and the errors of verifying the credentials.
pub async fn titles(clinic: &Clinic, credentials: &Credentials, names: &[String]) -> Result<Vec<String>> {
    let names: Vec<String> = names.iter().map(|name| name.to_lowercase()).collect();
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let rows: Vec<TitleRow> = diesel::sql_query(
                "SELECT DISTINCT lower(f.title) AS title FROM formula f
                 JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
                 WHERE f.approved_revision_id IS NOT NULL AND lower(f.title) = ANY ($2)",
            )
            .bind::<SqlUuid, _>(me)
            .bind::<Array<Text>, _>(&names)
            .load(tx.conn())
            .await?;
            Ok(rows.into_iter().map(|row| row.title).collect())
        })
        .await
}
