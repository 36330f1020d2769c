//! Formulas and new revisions: creating, listing and reading them.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::Written;
use release::content;
use schema::{formula, revision};
use store::{
    Actor, Credentials, Error, IdempotencyKey, Instructor, NewEvent, Result, Store, Tx, Versioned,
    page::PageRequest, violates, word,
};
use uuid::Uuid;
use wire::formulary::{Formula, FormulaContent, FormulaSummary, Regime, RevisionSummary};
use wire::ids::{FormulaId, LibraryId, PersonId, RevisionId};
use wire::page::Page;
use wire::people::{Role, Scope};

use crate::draft::check;
use crate::facts::{Facts, approval_note};
use crate::kept::{FORMULA, REVISION};
use crate::members::membership;
use crate::names::preparation_name;
use crate::resolve::resolve;
use crate::revisions;

/// Filter and page of a list of formulas.
#[derive(Clone, Debug, Default)]
pub struct FormulaQuery {
    /// Only formulas of this library.
    pub library: Option<LibraryId>,
    /// Only formulas with an approved revision. Students and API clients see no others in any case.
    pub approved: bool,
    /// The most items of a page.
    pub limit: Option<u32>,
    /// The cursor of the previous page.
    pub after: Option<String>,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    library_id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    title: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    preparation: String,
    #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::Uuid>)]
    approved_revision_id: Option<Uuid>,
    #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::Bool>)]
    own_approval: Option<bool>,
    #[diesel(sql_type = diesel::sql_types::Nullable<diesel::sql_types::Timestamptz>)]
    since: Option<DateTime<Utc>>,
}

impl From<Row> for FormulaSummary {
    fn from(row: Row) -> Self {
        Self {
            id: FormulaId(row.id),
            library: LibraryId(row.library_id),
            title: row.title,
            preparation: row.preparation,
            approved_revision: row.approved_revision_id.map(RevisionId),
            approval_note: approval_note(row.own_approval.unwrap_or_default()),
            withheld_since: row.since,
        }
    }
}

/// Whether the caller may see formulas without an approved revision: only instructors may.
fn sees_unapproved(actor: &Actor) -> bool {
    matches!(actor, Actor::Person(person) if person.role == Role::Instructor)
}

/// The formulas of the caller's libraries, by title. Cost: one page from each of these libraries, merged; it grows
/// neither with depth nor with the number of formulas.
///
/// # Errors
/// Returns [`Error::Forbidden`] if an API client lacks the scope, and [`Error::Invalid`] for a refused cursor.
pub async fn formulas(
    store: &Store,
    credentials: &Credentials,
    query: &FormulaQuery,
) -> Result<Page<FormulaSummary>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let me = tx.actor()?.holder();
            let approved = query.approved || !sees_unapproved(tx.actor()?);
            let (title, id) = slice.after.clone().unwrap_or_default();
            // One statement for each case, so that each can use its own index.
            let sql = if approved {
                "SELECT f.*, r.own_approval, w.since FROM library_member m CROSS JOIN LATERAL (
                     SELECT id, library_id, title, preparation, approved_revision_id FROM formula
                     WHERE library_id = m.library_id AND approved_revision_id IS NOT NULL
                       AND (title COLLATE \"C\", id) > ($1, $2)
                     ORDER BY title COLLATE \"C\", id LIMIT $3) f
                 LEFT JOIN revision r ON r.id = f.approved_revision_id
                 LEFT JOIN withholding w ON w.revision_id = f.approved_revision_id
                 WHERE m.holder_id = $4 AND ($5 IS NULL OR m.library_id = $5)
                 ORDER BY f.title COLLATE \"C\", f.id LIMIT $3"
            } else {
                "SELECT f.*, r.own_approval, w.since FROM library_member m CROSS JOIN LATERAL (
                     SELECT id, library_id, title, preparation, approved_revision_id FROM formula
                     WHERE library_id = m.library_id AND (title COLLATE \"C\", id) > ($1, $2)
                     ORDER BY title COLLATE \"C\", id LIMIT $3) f
                 LEFT JOIN revision r ON r.id = f.approved_revision_id
                 LEFT JOIN withholding w ON w.revision_id = f.approved_revision_id
                 WHERE m.holder_id = $4 AND ($5 IS NULL OR m.library_id = $5)
                 ORDER BY f.title COLLATE \"C\", f.id LIMIT $3"
            };
            let rows: Vec<Row> = diesel::sql_query(sql)
                .bind::<diesel::sql_types::Text, _>(title)
                .bind::<diesel::sql_types::Uuid, _>(id)
                .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
                .bind::<diesel::sql_types::Uuid, _>(me.0)
                .bind::<diesel::sql_types::Nullable<diesel::sql_types::Uuid>, _>(query.library.map(|id| id.0))
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| (row.title.clone(), row.id))?;
            Ok(Page { items: page.items.into_iter().map(FormulaSummary::from).collect(), next: page.next })
        })
        .await
}

/// One formula with its revisions.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the formula, and [`Error::Forbidden`] if an API client lacks
/// the scope.
pub async fn formula(store: &Store, credentials: &Credentials, id: FormulaId) -> Result<Formula> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            show(tx, id).await
        })
        .await
}

async fn find(tx: &mut Tx<'_>, id: FormulaId) -> Result<Row> {
    let row: Option<Row> = diesel::sql_query(
        "SELECT f.id, f.library_id, f.title, f.preparation, f.approved_revision_id, r.own_approval, w.since
         FROM formula f LEFT JOIN revision r ON r.id = f.approved_revision_id
         LEFT JOIN withholding w ON w.revision_id = f.approved_revision_id WHERE f.id = $1",
    )
    .bind::<diesel::sql_types::Uuid, _>(id.0)
    .get_result(tx.conn())
    .await
    .optional()?;
    let row = row.ok_or(Error::NotFound("formula"))?;
    match membership(tx, LibraryId(row.library_id)).await {
        Err(Error::NotFound(_)) => Err(Error::NotFound("formula")),
        other => other.map(|_| row),
    }
}

async fn show(tx: &mut Tx<'_>, id: FormulaId) -> Result<Formula> {
    let row = find(tx, id).await?;
    let states: &[&str] = if sees_unapproved(tx.actor()?) {
        &["proposed", "returned", "approved", "superseded", "withdrawn"]
    } else {
        &["approved", "superseded", "withdrawn"]
    };
    let me = tx.actor()?.holder();
    let revisions: Vec<(Uuid, i32, String, Uuid, bool)> = revision::table
        .filter(revision::formula_id.eq(id.0))
        .filter(revision::state.eq_any(states).or(revision::author_id.eq(me.0)))
        .order(revision::number.desc())
        .limit(i64::from(store::page::MAX_PAGE_SIZE))
        .select((
            revision::id,
            revision::number,
            revision::state,
            revision::author_id,
            revision::own_approval,
        ))
        .load(tx.conn())
        .await?;
    let revisions = revisions
        .into_iter()
        .map(|(id, number, state, author, own_approval)| {
            Ok(RevisionSummary {
                id: RevisionId(id),
                number: number.unsigned_abs(),
                state: word(&state)?,
                author: PersonId(author),
                approval_note: approval_note(own_approval),
            })
        })
        .collect::<Result<Vec<_>>>()?;
    // Instructors find a new formula in their list, although another author's draft is not shown.
    if revisions.is_empty() && !sees_unapproved(tx.actor()?) {
        return Err(Error::NotFound("formula"));
    }
    Ok(Formula { summary: row.into(), revisions })
}

/// Checks that the caller may see a formula.
///
/// # Errors
/// Returns [`Error::NotFound`] otherwise.
pub async fn formula_seen(tx: &mut Tx<'_>, id: FormulaId) -> Result<()> {
    show(tx, id).await.map(drop)
}

/// Adds a formula to a library, with its first draft.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller is not a member of the library, [`Error::Forbidden`] unless the caller is
/// an instructor, [`Error::Invalid`] with every refused field, and [`Error::GateClosed`] for a nested revision.
pub async fn formula_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    library: LibraryId,
    content: &FormulaContent,
) -> Result<Formula> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let member = membership(tx, library).await?;
                let author = tx.instructor()?;
                let written = resolve(tx, content).await?;
                let id = FormulaId(tx.new_id());
                check(tx, id, &written).await?;
                let now = tx.now();
                diesel::insert_into(formula::table)
                    .values((
                        formula::id.eq(id.0),
                        formula::library_id.eq(member.library.0),
                        formula::title.eq(written.content.title.trim()),
                        formula::preparation.eq(preparation_name(tx, &written)),
                        formula::last_number.eq(1),
                        formula::created_by.eq(author.id().0),
                        formula::created_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("formula", id.0, "made").keeps(&FORMULA, [id.0]));
                draft(tx, id, 1, author, &written).await?;
                Ok(id.0)
            },
            async |tx, id| show(tx, FormulaId(id)).await,
        )
        .await
}

/// Starts a further revision of a formula.
///
/// # Errors
/// As [`formula_create`], and [`Error::Conflict`] if the formula already has an open revision.
pub async fn revision_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: FormulaId,
    content: &FormulaContent,
) -> Result<Versioned<wire::formulary::Revision>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                find(tx, id).await?;
                let author = tx.instructor()?;
                let written = resolve(tx, content).await?;
                check(tx, id, &written).await?;
                Ok(next(tx, id, author, &written).await?.0)
            },
            async |tx, id| revisions::show(tx, RevisionId(id)).await,
        )
        .await
}

/// The open part of a new draft.
struct Face<'a> {
    formula: FormulaId,
    author: PersonId,
    title: &'a str,
    preparation: &'a str,
    route: &'a str,
    regime: Regime,
}

/// Starts the next revision of a formula with the given content.
async fn next<'t>(
    tx: &mut Tx<'t>,
    id: FormulaId,
    author: Instructor<'t>,
    written: &Written,
) -> Result<RevisionId> {
    let number = next_number(tx, id).await?;
    draft(tx, id, number, author, written).await
}

async fn next_number(tx: &mut Tx<'_>, id: FormulaId) -> Result<i32> {
    Ok(diesel::update(formula::table.find(id.0))
        .set(formula::last_number.eq(formula::last_number + 1))
        .returning(formula::last_number)
        .get_result(tx.conn())
        .await?)
}

async fn draft<'t>(
    tx: &mut Tx<'t>,
    formula: FormulaId,
    number: i32,
    author: Instructor<'t>,
    written: &Written,
) -> Result<RevisionId> {
    let preparation = preparation_name(tx, written);
    let face = Face {
        formula,
        author: author.id(),
        title: written.content.title.trim(),
        preparation: &preparation,
        route: &written.content.route,
        regime: written.content.regime.into(),
    };
    let id = draft_row(tx, number, &face).await?;
    let draft = content::draft(tx, author, id).await?.ok_or(Error::NotFound("draft"))?;
    content::draft_insert(tx, &draft, written).await?;
    Ok(id)
}

/// Starts the next revision of a formula with the content of a returned one.
///
/// # Errors
/// Returns [`Error::Conflict`] if the formula already has an open revision.
pub(crate) async fn draft_again(tx: &mut Tx<'_>, returned: &Facts) -> Result<()> {
    let number = next_number(tx, returned.formula).await?;
    let face = Face {
        formula: returned.formula,
        author: returned.author,
        title: &returned.title,
        preparation: &returned.preparation,
        route: &returned.route,
        regime: returned.regime,
    };
    let id = draft_row(tx, number, &face).await?;
    content::draft_copy(tx, returned.id, id).await
}

async fn draft_row(tx: &mut Tx<'_>, number: i32, face: &Face<'_>) -> Result<RevisionId> {
    let id = RevisionId(tx.new_id());
    let now = tx.now();
    diesel::insert_into(revision::table)
        .values((
            revision::id.eq(id.0),
            revision::formula_id.eq(face.formula.0),
            revision::number.eq(number),
            revision::state.eq("draft"),
            revision::title.eq(face.title),
            revision::preparation.eq(face.preparation),
            revision::route.eq(face.route),
            revision::regime.eq(face.regime.as_str()),
            revision::version.eq(1_i64),
            revision::author_id.eq(face.author.0),
            revision::created_at.eq(now),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| {
            if violates(&error, "revision_one_in_work") {
                Error::Conflict(
                    "This formula already has an open revision. Finish or propose that revision.".into(),
                )
            } else {
                error.into()
            }
        })?;
    tx.record(
        NewEvent::new("revision", id.0, "drafted").keeps(&REVISION, [id.0]).keeps(&FORMULA, [face.formula.0]),
    );
    Ok(id)
}
