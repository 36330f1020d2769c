//! One formula with its revisions, as its readers see it: read by one statement that also proves the caller, for all who
//! ask at once.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::AsyncPgConnection;
use store::gather::{Ask, COLUMNS, Gather, Known, Queue, Sql, answers, by_id, statement};
use store::page::MAX_PAGE_SIZE;
use store::{Credentials, Error, Result, Tx, word};
use uuid::Uuid;
use wire::formulary::{Formula, FormulaSummary, RevisionSummary};
use wire::ids::{FormulaId, LibraryId, PersonId, RevisionId};
use wire::people::Scope;

use crate::facts::approval_note;

/// The question for a formula with those of its revisions that the caller may see.
#[derive(Clone, Copy)]
pub struct OneFormula(pub FormulaId);

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
pub(crate) const SEES_UNAPPROVED: &str = "ask.role IS NOT DISTINCT FROM 'instructor'";

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
