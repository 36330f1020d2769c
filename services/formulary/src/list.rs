//! The list of formulas: read by one statement that also proves the callers. Who asks for the same page of the same
//! libraries at the same moment shares one reading of it, as a class does that opens its list.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{Array, BigInt, Bool, Nullable, Text, Untyped, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use store::gather::{Ask, COLUMNS, Caller, Callers, Gather, Known, Queue, Sql, shared_answers, statement};
use store::page::{PageRequest, ReadyPage};
use store::{Credentials, Result};
use uuid::Uuid;
use wire::formulary::{FormulaSummary, Regime};
use wire::ids::LibraryId;
use wire::people::Scope;

use crate::listing::{APPROVAL, SEES_UNAPPROVED, SummaryRow};

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

/// The question for a page of the caller's formulas.
#[derive(Clone)]
pub struct FormulaPage {
    slice: PageRequest<(String, Uuid)>,
    library: Option<LibraryId>,
    approved: bool,
}

/// The formulas of the caller's libraries, by title. Cost: a share of one statement, which reads one page from each of
/// these libraries and merges them; it grows neither with depth nor with the number of formulas.
///
/// # Errors
/// Returns [`store::Error::Forbidden`] if an API client lacks the scope, and [`store::Error::Invalid`] for a refused
/// cursor.
pub async fn formulas(
    queue: &Queue<FormulaPage>,
    credentials: &Credentials,
    query: &FormulaQuery,
) -> Result<Arc<ReadyPage>> {
    let slice = PageRequest::parse(query.limit, query.after.as_deref())?;
    let question = FormulaPage { slice, library: query.library, approved: query.approved };
    let known = queue.ask(credentials, question).await?;
    known.actor.require_scope(Scope::FormulasRead)?;
    Ok(known.found)
}

/// Which of the pages of the statement a caller reads, or a formula is on.
#[derive(QueryableByName)]
struct OnPage {
    #[diesel(sql_type = BigInt)]
    page: i64,
}

/// First the page of each caller, then what is on each page. Callers with the same libraries who ask for the same share a
/// page. Of the two branches for a library, each with an index of its own, only the one that applies is run.
static LIST: Sql = Sql::new(|| {
    let branch = |case: &str, only: &str| {
        format!(
            "(SELECT id, library_id, title, preparation, approved_revision_id FROM formula
              WHERE {case} AND library_id = of.library {only}
                AND (title COLLATE \"C\", id) > (each.after_title, each.after_id)
              ORDER BY title COLLATE \"C\", id LIMIT each.at_most)"
        )
    };
    statement(
        &["after_title", "after_id", "at_most", "of_library", "approved"],
        &format!(
            ", wanted AS (
                 SELECT *, dense_rank() OVER (ORDER BY libraries, after_title COLLATE \"C\", after_id, at_most,
                                              unapproved) AS page
                 FROM (SELECT ask.*, NOT ask.approved AND {SEES_UNAPPROVED} AS unapproved, ARRAY(
                           SELECT m.library_id FROM library_member m
                           WHERE m.holder_id = ask.holder_id
                             AND (ask.of_library IS NULL OR m.library_id = ask.of_library)
                           ORDER BY m.library_id) AS libraries
                       FROM ask) AS ask)
             SELECT {COLUMNS}, ask.page, NULL::uuid AS id, NULL::uuid AS library_id, NULL::text AS title,
                    NULL::text AS preparation, NULL::uuid AS approved_revision_id, NULL::boolean AS own_approval,
                    NULL::timestamptz AS since
             FROM wanted AS ask
             UNION ALL
             SELECT 0, NULL, NULL, NULL, NULL, NULL, NULL, each.page, f.*, {APPROVAL}
             FROM (SELECT DISTINCT ON (page) * FROM wanted) AS each CROSS JOIN LATERAL (
                 SELECT part.* FROM unnest(each.libraries) AS of (library) CROSS JOIN LATERAL (
                     {all} UNION ALL {approved}) AS part
                 ORDER BY title COLLATE \"C\", id LIMIT each.at_most) AS f",
            all = branch("each.unapproved", ""),
            approved = branch("NOT each.unapproved", "AND approved_revision_id IS NOT NULL"),
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
    type Found = Arc<ReadyPage>;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let each = || asked.iter().map(|ask| &ask.question);
        let after = || each().map(|page| page.slice.after.clone().unwrap_or_default());
        let list = List {
            callers: Callers::of(asked, now),
            titles: after().map(|(title, _)| title).collect(),
            ids: after().map(|(_, id)| id).collect(),
            fetch: each().map(|page| page.slice.fetch()).collect(),
            libraries: each().map(|page| page.library.map(|id| id.0)).collect(),
            approved: each().map(|page| page.approved).collect(),
        };
        let rows: Vec<(Caller, (OnPage, SummaryRow))> = list.load(conn).await?;
        let rows = rows.into_iter().map(|(caller, (on, row))| (caller, on.page, row.summary()));
        shared_answers(asked, now, rows, |asked: &Self, found: Vec<Option<FormulaSummary>>| {
            let mut items: Vec<FormulaSummary> = found.into_iter().flatten().collect();
            items.sort_by(|one, other| (&one.title, one.id.0).cmp(&(&other.title, other.id.0)));
            Ok(Arc::new(ReadyPage::new(asked.slice.page(items, |one| (one.title.clone(), one.id.0))?)?))
        })
    }
}
