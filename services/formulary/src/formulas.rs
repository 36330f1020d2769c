//! Formulas and new revisions: creating them.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::Written;
use release::content;
use schema::{formula, revision};
use store::{
    Credentials, Error, IdempotencyKey, Instructor, NewEvent, Result, Store, Tx, Versioned, violates,
};
use wire::formulary::{Formula, FormulaContent, Regime};
use wire::ids::{FormulaId, LibraryId, PersonId, RevisionId};

use crate::draft::check;
use crate::facts::Facts;
use crate::kept::{FORMULA, REVISION};
use crate::listing::show;
use crate::members::membership;
use crate::names::preparation_name;
use crate::resolve::resolve;
use crate::revisions;

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
                in_my_library(tx, id).await?;
                let author = tx.instructor()?;
                let written = resolve(tx, content).await?;
                check(tx, id, &written).await?;
                Ok(next(tx, id, author, &written).await?.0)
            },
            async |tx, id| revisions::show(tx, RevisionId(id)).await,
        )
        .await
}

async fn in_my_library(tx: &mut Tx<'_>, id: FormulaId) -> Result<()> {
    const HIDDEN: Error = Error::NotFound("formula");
    let library = formula::table.find(id.0).select(formula::library_id).first(tx.conn()).await.optional()?;
    match membership(tx, LibraryId(library.ok_or(HIDDEN)?)).await {
        Err(Error::NotFound(_)) => Err(HIDDEN),
        other => other.map(drop),
    }
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
