//! Reading cases: for instructors and administrators who are members of the libraries that the jars come from.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryableByName;
use diesel::sql_types::{Array, BigInt, Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::known_as;
use store::page::PageRequest;
use store::{Actor, Credentials, Error, Result, Store, Tx, word};
use uuid::Uuid;
use wire::ids::{BatchId, JarId, MaterialId, PersonId, ReactionCaseId, ReactionReportId};
use wire::page::Page;
use wire::people::Role;
use wire::reactions::{
    ReactionCase, ReactionCaseRef, ReactionCaseSummary, ReactionEnd, ReactionMaterial, ReactionNote,
    ReactionQuery, ReactionReport,
};

use crate::shared;
use crate::visible::VISIBLE;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = BigInt)]
    version: i64,
    #[diesel(sql_type = Timestamptz)]
    opened_at: DateTime<Utc>,
    #[diesel(sql_type = BigInt)]
    reports: i64,
    #[diesel(sql_type = Bool)]
    serious: bool,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    joined_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    joined_number: Option<String>,
    #[diesel(sql_type = Nullable<Text>)]
    causality: Option<String>,
    #[diesel(sql_type = Nullable<Text>)]
    conclusion: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    ended_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    ended_at: Option<DateTime<Utc>>,
}

const ROW: &str = "
    SELECT c.id, c.number, c.state, c.version, c.opened_at, s.reports, s.serious, s.title, c.joined_id,
        t.number AS joined_number, c.causality, c.conclusion, c.ended_by, c.ended_at
    FROM reaction_case c LEFT JOIN reaction_case t ON t.id = c.joined_id
    CROSS JOIN LATERAL (
        SELECT count(*) AS reports, coalesce(bool_or(cardinality(p.serious) > 0), false) AS serious,
            coalesce(string_agg(DISTINCT r.title, ', '), '') AS title
        FROM reaction_report p JOIN jar j ON j.id = p.jar_id JOIN batch b ON b.id = j.batch_id
        JOIN revision r ON r.id = b.revision_id WHERE p.case_id = c.id) s";

impl Row {
    fn summary(&self) -> Result<ReactionCaseSummary> {
        Ok(ReactionCaseSummary {
            id: ReactionCaseId(self.id),
            number: self.number.clone(),
            state: word(&self.state)?,
            opened_at: self.opened_at,
            reports: u32::try_from(self.reports).unwrap_or(u32::MAX),
            serious: self.serious,
            title: self.title.clone(),
        })
    }
}

/// Cases of the caller's libraries, the newest first. For instructors and administrators. Cost: one statement.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::Invalid`] for a refused query.
pub async fn cases(
    store: &Store,
    credentials: &Credentials,
    query: &ReactionQuery,
) -> Result<Page<ReactionCaseSummary>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            let me = tx.actor()?.holder();
            let rows: Vec<Row> = diesel::sql_query(format!(
                "{ROW} WHERE {VISIBLE} AND CASE WHEN $2::text IS NULL THEN c.state <> 'joined' ELSE c.state = $2 END
                     AND ($3::uuid IS NULL OR c.id < $3) ORDER BY c.id DESC LIMIT $4"
            ))
            .bind::<SqlUuid, _>(me.0)
            .bind::<Nullable<Text>, _>(query.state.map(|state| state.as_str()))
            .bind::<Nullable<SqlUuid>, _>(slice.after)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.id)?;
            let items = page.items.iter().map(Row::summary).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// One case with everything about it. Cost: six statements; that of what it has in common grows with the cases of the
/// caller's libraries.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, and [`Error::NotFound`] if no case of the caller's libraries
/// has this id.
pub async fn case(store: &Store, credentials: &Credentials, id: ReactionCaseId) -> Result<ReactionCase> {
    store.read(credentials, async |tx| seen(tx, id).await).await
}

#[derive(QueryableByName)]
struct ReportRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    reference: String,
    #[diesel(sql_type = SqlUuid)]
    jar_id: Uuid,
    #[diesel(sql_type = Integer)]
    jar_number: i32,
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    #[diesel(sql_type = Text)]
    batch_number: String,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    told: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    by_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    what: Option<String>,
    #[diesel(sql_type = Nullable<Date>)]
    began_on: Option<NaiveDate>,
    #[diesel(sql_type = Text)]
    outcome: String,
    #[diesel(sql_type = Array<Text>)]
    serious: Vec<String>,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
}

#[derive(QueryableByName)]
struct NoteRow {
    #[diesel(sql_type = Text)]
    text: String,
    #[diesel(sql_type = SqlUuid)]
    by_id: Uuid,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
}

#[derive(QueryableByName)]
struct MaterialRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
}

async fn row(tx: &mut Tx<'_>, id: ReactionCaseId) -> Result<Row> {
    tx.staff()?;
    let me = tx.actor()?.holder();
    let rows: Vec<Row> = diesel::sql_query(format!("{ROW} WHERE {VISIBLE} AND c.id = $2"))
        .bind::<SqlUuid, _>(me.0)
        .bind::<SqlUuid, _>(id.0)
        .load(tx.conn())
        .await?;
    rows.into_iter().next().ok_or(Error::NotFound("case"))
}

/// A case without what stands in it.
///
/// # Errors
/// As [`case`].
pub(crate) async fn summary(tx: &mut Tx<'_>, id: ReactionCaseId) -> Result<ReactionCaseSummary> {
    row(tx, id).await?.summary()
}

/// A case as instructors and administrators see it.
///
/// # Errors
/// As [`case`].
pub(crate) async fn seen(tx: &mut Tx<'_>, id: ReactionCaseId) -> Result<ReactionCase> {
    let row = row(tx, id).await?;
    let reports: Vec<ReportRow> = diesel::sql_query(
        "SELECT p.id, p.reference, p.jar_id, j.number AS jar_number, b.id AS batch_id, b.number AS batch_number, r.title,
             p.told, p.by_id, w.text AS what, p.began_on, p.outcome, p.serious, p.at
         FROM reaction_report p JOIN jar j ON j.id = p.jar_id JOIN batch b ON b.id = j.batch_id
         JOIN revision r ON r.id = b.revision_id LEFT JOIN reaction_words w ON w.report_id = p.id
         WHERE p.case_id = $1 ORDER BY p.id",
    )
    .bind::<SqlUuid, _>(id.0)
    .load(tx.conn())
    .await?;
    let notes: Vec<NoteRow> =
        diesel::sql_query("SELECT text, by_id, at FROM reaction_note WHERE case_id = $1 ORDER BY number")
            .bind::<SqlUuid, _>(id.0)
            .load(tx.conn())
            .await?;
    let materials: Vec<MaterialRow> = diesel::sql_query(
        "SELECT DISTINCT m.id, m.name FROM reaction_report p JOIN jar j ON j.id = p.jar_id
         JOIN batch b ON b.id = j.batch_id JOIN revision_material o ON o.revision_id = b.revision_id
         JOIN material m ON m.id = o.material_id WHERE p.case_id = $1 ORDER BY m.name",
    )
    .bind::<SqlUuid, _>(id.0)
    .load(tx.conn())
    .await?;
    let people = reports.iter().filter_map(|report| report.by_id);
    let people = people.chain(notes.iter().map(|note| note.by_id)).chain(row.ended_by);
    let names = known_as::people(tx, people.collect::<Vec<_>>()).await?;
    let joined = row.joined_id.zip(row.joined_number.clone());
    let ended = match row.ended_by.zip(row.ended_at) {
        None => None,
        Some((by, at)) => Some(ReactionEnd {
            causality: row.causality.as_deref().map(word).transpose()?,
            conclusion: row.conclusion.clone(),
            joined_to: joined.map(|(id, number)| ReactionCaseRef { id: ReactionCaseId(id), number }),
            by: PersonId(by),
            by_name: names.of(by),
            at,
        }),
    };
    let received = reports.into_iter().map(|report| told(report, &names)).collect::<Result<_>>()?;
    let note = |row: NoteRow| {
        let by_name = names.of(row.by_id);
        ReactionNote { text: row.text, by: PersonId(row.by_id), by_name, at: row.at }
    };
    Ok(ReactionCase {
        summary: row.summary()?,
        version: row.version.unsigned_abs(),
        received,
        notes: notes.into_iter().map(note).collect(),
        shared: shared::with_others(tx, id).await?,
        materials: materials
            .into_iter()
            .map(|row| ReactionMaterial { id: MaterialId(row.id), name: row.name })
            .collect(),
        ended,
    })
}

fn told(row: ReportRow, names: &known_as::Names) -> Result<ReactionReport> {
    Ok(ReactionReport {
        id: ReactionReportId(row.id),
        reference: row.reference,
        jar: JarId(row.jar_id),
        jar_number: row.jar_number.unsigned_abs(),
        batch: BatchId(row.batch_id),
        batch_number: row.batch_number,
        title: row.title,
        told: word(&row.told)?,
        by: row.by_id.map(PersonId),
        by_name: names.of(row.by_id),
        what: row.what,
        began_on: row.began_on,
        outcome: word(&row.outcome)?,
        serious: row.serious.iter().map(|criterion| word(criterion)).collect::<Result<_>>()?,
        at: row.at,
    })
}

#[derive(QueryableByName)]
struct There {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// Whether the caller may read the events of this subject: those of cases are for instructors and administrators of the
/// libraries.
///
/// # Errors
/// Returns the errors of the database.
pub async fn may_read_events(tx: &mut Tx<'_>, subject: Uuid) -> Result<bool> {
    let me = match tx.actor()? {
        Actor::Person(person) if person.role != Role::Student => person.id,
        Actor::Person(_) | Actor::Client { .. } => return Ok(false),
    };
    let rows: Vec<There> =
        diesel::sql_query(format!("SELECT c.id FROM reaction_case c WHERE {VISIBLE} AND c.id = $2"))
            .bind::<SqlUuid, _>(me.0)
            .bind::<SqlUuid, _>(subject)
            .load(tx.conn())
            .await?;
    Ok(rows.iter().any(|row| row.id == subject))
}
