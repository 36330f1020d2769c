//! Formulas as their readers see them: the list, and one with its revisions. Each is read by one statement that also
//! proves the caller, for all who ask at once.

use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{
    Array, BigInt, Bool, Integer, Nullable, Text, Timestamptz, Untyped, Uuid as SqlUuid,
};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use store::gather::{Ask, COLUMNS, Caller, Callers, Gather, Known, Queue, Sql, answers, by_id, statement};
use store::page::{MAX_PAGE_SIZE, PageRequest};
use store::{Credentials, Error, Result, Tx, word};
use uuid::Uuid;
use wire::formulary::{Formula, FormulaSummary, Regime, RevisionSummary};
use wire::ids::{FormulaId, LibraryId, PersonId, RevisionId};
use wire::page::Page;
use wire::people::Scope;

use crate::facts::approval_note;

/// Filter and page of a list of formulas.
#[derive(Clone, Debug, Default)]
pub struct FormulaQuery {
    /// Only formulas of this library.
    pub library: Option<LibraryId>,
    /// Only formulas with an approved revision. Students and API clients see no others in any case.
    pub approved: bool,
    /// Only formulas whose title contains this.
    pub title: Option<String>,
    /// Only formulas that contain this material at any level: its id, or a part of one of its names.
    pub material: Option<String>,
    /// Only this kind of preparation.
    pub kind: Option<String>,
    /// Only what is made as this.
    pub regime: Option<Regime>,
    /// The most items of a page.
    pub limit: Option<u32>,
    /// The cursor of the previous page.
    pub after: Option<String>,
}

impl FormulaQuery {
    /// Whether it looks for something, and is no list of whole libraries.
    #[must_use]
    pub const fn is_search(&self) -> bool {
        self.title.is_some() || self.material.is_some() || self.kind.is_some() || self.regime.is_some()
    }
}

/// The question for a page of the caller's formulas, one item longer than the page.
#[derive(Clone)]
pub struct FormulaPage {
    after: (String, Uuid),
    fetch: i64,
    library: Option<LibraryId>,
    approved: bool,
}

/// The question for a formula with those of its revisions that the caller may see.
#[derive(Clone, Copy)]
pub struct OneFormula(pub FormulaId);

/// The formulas of the caller's libraries, by title. Cost: a share of one statement, which reads one page from each of
/// these libraries and merges them; it grows neither with depth nor with the number of formulas.
///
/// # Errors
/// Returns [`Error::Forbidden`] if an API client lacks the scope, and [`Error::Invalid`] for a refused cursor.
pub async fn formulas(
    queue: &Queue<FormulaPage>,
    credentials: &Credentials,
    query: &FormulaQuery,
) -> Result<Page<FormulaSummary>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    let question = FormulaPage {
        after: slice.after.clone().unwrap_or_default(),
        fetch: slice.fetch(),
        library: query.library,
        approved: query.approved,
    };
    let known = queue.ask(credentials, question).await?;
    known.actor.require_scope(Scope::FormulasRead)?;
    slice.page(known.found, |one| (one.title.clone(), one.id.0))
}

/// One formula with its revisions. Cost: a share of one statement.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the formula, and [`Error::Forbidden`] if an API client lacks
/// the scope.
pub async fn formula(queue: &Queue<OneFormula>, credentials: &Credentials, id: FormulaId) -> Result<Formula> {
    let known = queue.ask(credentials, OneFormula(id)).await?;
    known.actor.require_scope(Scope::FormulasRead)?;
    known.found.ok_or(Error::NotFound("formula"))
}

/// As [`formula`], within a transaction of a person.
///
/// # Errors
/// As [`formula`].
pub(crate) async fn show(tx: &mut Tx<'_>, id: FormulaId) -> Result<Formula> {
    tx.ask(OneFormula(id)).await?.ok_or(Error::NotFound("formula"))
}

/// Checks that a person is calling who may see a formula.
///
/// # Errors
/// Returns [`Error::NotFound`] otherwise.
pub async fn formula_seen(tx: &mut Tx<'_>, id: FormulaId) -> Result<()> {
    match tx.person() {
        Ok(_) => show(tx, id).await.map(drop),
        Err(_) => Err(Error::NotFound("formula")),
    }
}

/// A formula; empty where there is none.
#[derive(QueryableByName)]
pub(crate) struct SummaryRow {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    library_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    title: Option<String>,
    #[diesel(sql_type = Nullable<Text>)]
    preparation: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    approved_revision_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Bool>)]
    own_approval: Option<bool>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    since: Option<DateTime<Utc>>,
}

impl SummaryRow {
    pub(crate) fn summary(self) -> Option<FormulaSummary> {
        Some(FormulaSummary {
            id: FormulaId(self.id?),
            library: LibraryId(self.library_id?),
            title: self.title?,
            preparation: self.preparation?,
            approved_revision: self.approved_revision_id.map(RevisionId),
            approval_note: approval_note(self.own_approval.unwrap_or_default()),
            withheld_since: self.since,
        })
    }
}

/// A revision of a formula; empty where there is none.
#[derive(QueryableByName)]
struct RevisionRow {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    revision_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Integer>)]
    number: Option<i32>,
    #[diesel(sql_type = Nullable<Text>)]
    state: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    author_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    author_name: Option<String>,
    #[diesel(sql_type = Nullable<Bool>)]
    approved_by_author: Option<bool>,
}

impl RevisionRow {
    fn summary(self) -> Result<Option<RevisionSummary>> {
        let (Some(id), Some(number), Some(state), Some(author)) =
            (self.revision_id, self.number, self.state, self.author_id)
        else {
            return Ok(None);
        };
        Ok(Some(RevisionSummary {
            id: RevisionId(id),
            number: number.unsigned_abs(),
            state: word(&state)?,
            author: PersonId(author),
            author_name: self.author_name,
            approval_note: approval_note(self.approved_by_author.unwrap_or_default()),
        }))
    }
}

/// What the list and a formula say of its approved revision.
pub(crate) const APPROVAL: &str = "
    (SELECT own_approval FROM revision WHERE id = f.approved_revision_id) AS own_approval,
    (SELECT since FROM withholding WHERE revision_id = f.approved_revision_id) AS since";

/// Only instructors see formulas without an approved revision.
const SEES_UNAPPROVED: &str = "ask.role IS NOT DISTINCT FROM 'instructor'";

static LIST: Sql = Sql::new(|| {
    // A page of each library. One branch for each case, so that each can use its own index; the other is never run.
    let page = |case: &str, only: &str| {
        format!(
            "SELECT of.* FROM library_member m CROSS JOIN LATERAL (
                 SELECT id, library_id, title, preparation, approved_revision_id FROM formula
                 WHERE library_id = m.library_id {only} AND (title COLLATE \"C\", id) > (ask.after_title, ask.after_id)
                 ORDER BY title COLLATE \"C\", id LIMIT ask.at_most) AS of
             WHERE ({case}) AND m.holder_id = ask.holder_id
               AND (ask.of_library IS NULL OR m.library_id = ask.of_library)"
        )
    };
    let all = format!("NOT ask.approved AND {SEES_UNAPPROVED}");
    let approved = page(&format!("NOT ({all})"), "AND approved_revision_id IS NOT NULL");
    statement(
        &["after_title", "after_id", "at_most", "of_library", "approved"],
        &format!(
            "SELECT {COLUMNS}, f.*, {APPROVAL}
             FROM ask LEFT JOIN LATERAL (
                 SELECT * FROM ({approved} UNION ALL {all}) AS each ORDER BY title COLLATE \"C\", id LIMIT ask.at_most
             ) AS f ON true
             ORDER BY ask.place, f.title COLLATE \"C\", f.id",
            all = page(&all, ""),
        ),
    )
});

#[derive(QueryId)]
struct List {
    callers: Callers,
    titles: Vec<String>,
    ids: Vec<Uuid>,
    fetch: Vec<i64>,
    libraries: Vec<Option<Uuid>>,
    approved: Vec<bool>,
}

impl Query for List {
    type SqlType = Untyped;
}

impl QueryFragment<Pg> for List {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(&LIST);
        self.callers.bind(&mut out)?;
        out.push_bind_param_value_only::<Array<Text>, _>(&self.titles)?;
        out.push_bind_param_value_only::<Array<SqlUuid>, _>(&self.ids)?;
        out.push_bind_param_value_only::<Array<BigInt>, _>(&self.fetch)?;
        out.push_bind_param_value_only::<Array<Nullable<SqlUuid>>, _>(&self.libraries)?;
        out.push_bind_param_value_only::<Array<Bool>, _>(&self.approved)
    }
}

impl Gather for FormulaPage {
    type Found = Vec<FormulaSummary>;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let each = || asked.iter().map(|ask| &ask.question);
        let list = List {
            callers: Callers::of(asked, now),
            titles: each().map(|page| page.after.0.clone()).collect(),
            ids: each().map(|page| page.after.1).collect(),
            fetch: each().map(|page| page.fetch).collect(),
            libraries: each().map(|page| page.library.map(|id| id.0)).collect(),
            approved: each().map(|page| page.approved).collect(),
        };
        let rows: Vec<(Caller, SummaryRow)> = list.load(conn).await?;
        let rows = rows.into_iter().map(|(caller, row)| (caller, row.summary()));
        let first = |one: Option<FormulaSummary>| Ok(one.into_iter().collect());
        answers(asked, now, rows, first, |page: &mut Vec<_>, one| {
            page.extend(one);
            Ok(())
        })
    }
}

static ONE: Sql = Sql::new(|| {
    statement(
        &["formula_id"],
        &format!(
            "SELECT {COLUMNS}, f.*, {APPROVAL}, r.id AS revision_id, r.number, r.state, r.author_id,
                    (SELECT name FROM person WHERE id = r.author_id AND ask.client_id IS NULL) AS author_name,
                    r.own_approval AS approved_by_author
             FROM ask LEFT JOIN LATERAL (
                 SELECT formula.id, formula.library_id, title, preparation, approved_revision_id
                 FROM formula JOIN library_member m ON m.library_id = formula.library_id
                 WHERE formula.id = ask.formula_id AND m.holder_id = ask.holder_id LIMIT 1) AS f ON true
             LEFT JOIN LATERAL (
                 SELECT id, number, state, author_id, own_approval FROM revision
                 WHERE formula_id = f.id AND (state IN ('approved', 'superseded', 'withdrawn')
                     OR ({SEES_UNAPPROVED} AND state IN ('proposed', 'returned')) OR author_id = ask.holder_id)
                 ORDER BY number DESC LIMIT {MAX_PAGE_SIZE}) AS r ON true
             ORDER BY ask.place, r.number DESC"
        ),
    )
});

impl Gather for OneFormula {
    type Found = Option<Formula>;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let rows = by_id::<_, (SummaryRow, RevisionRow)>(conn, &ONE, asked, |ask| ask.0.0, now).await?;
        let first = |(formula, revision): (SummaryRow, RevisionRow)| {
            let revisions = revision.summary()?.into_iter().collect();
            Ok(formula.summary().map(|summary| Formula { summary, revisions }))
        };
        let found = answers(asked, now, rows, first, |formula: &mut Option<Formula>, (_, revision)| {
            if let (Some(formula), Some(revision)) = (formula, revision.summary()?) {
                formula.revisions.push(revision);
            }
            Ok(())
        })?;
        // Instructors find a new formula in their list, although another author's draft is not shown.
        let seen = |known: Known<Option<Formula>>| {
            let sees_unapproved = known.actor.is_instructor();
            known.map(|found| found.filter(|it| sees_unapproved || !it.revisions.is_empty()))
        };
        Ok(found.into_iter().map(|known| known.map(seen)).collect())
    }
}
