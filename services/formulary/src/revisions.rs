//! The open part of a revision: everything except amounts and method.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::revision_ingredient;
use store::{Credentials, Result, Store, Tx, Versioned, known_as};
use uuid::Uuid;
use wire::formulary::{IngredientName, Revision, RevisionState};
use wire::ids::{MaterialId, RevisionId};
use wire::people::Scope;

use crate::facts::visible;
use crate::sets;
use crate::withholding::withheld_since;

/// The open part of a revision.
///
/// # Errors
/// Returns [`store::Error::NotFound`] if the caller may not see the revision, and [`store::Error::Forbidden`] if an API
/// client lacks the scope.
pub async fn revision(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Versioned<Revision>> {
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            show(tx, id).await
        })
        .await
}

/// The open part of a revision, within a transaction.
///
/// # Errors
/// Returns [`store::Error::NotFound`] if the caller may not see the revision.
pub async fn show(tx: &mut Tx<'_>, id: RevisionId) -> Result<Versioned<Revision>> {
    let facts = visible(tx, id).await?;
    let caution_set = match facts.state {
        RevisionState::Draft => None,
        _ => Some(sets::current(tx, id).await?),
    };
    let withheld_since = withheld_since(tx, id).await?;
    let ingredients = ingredients(tx, id).await?;
    let (author, decider) = (facts.author.0, facts.decided_by.map(|by| by.0));
    let names = known_as::people(tx, [author].into_iter().chain(decider)).await?;
    Ok(Versioned {
        version: facts.version,
        value: Revision {
            id,
            formula: facts.formula,
            library: facts.library,
            number: facts.number.unsigned_abs(),
            state: facts.state,
            digest: facts.digest.map(hex::encode),
            decided_by: facts.decided_by,
            decided_by_name: names.of(decider),
            decided_at: facts.decided_at,
            approval_note: facts.approval_note(),
            withheld_since,
            title: facts.title,
            preparation: facts.preparation,
            route: facts.route,
            regime: facts.regime,
            author: facts.author,
            author_name: names.of(author),
            ingredients,
            caution_set,
            recipe: format!("/v1/revisions/{id}/recipe"),
        },
    })
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = revision_ingredient, check_for_backend(diesel::pg::Pg))]
struct IngredientRow {
    phase_name: String,
    name: String,
    function: Option<String>,
    material_id: Option<Uuid>,
    nested_revision_id: Option<Uuid>,
}

async fn ingredients(tx: &mut Tx<'_>, id: RevisionId) -> Result<Vec<IngredientName>> {
    let rows: Vec<IngredientRow> = revision_ingredient::table
        .filter(revision_ingredient::revision_id.eq(id.0))
        .order((revision_ingredient::phase, revision_ingredient::line))
        .select(IngredientRow::as_select())
        .load(tx.conn())
        .await?;
    Ok(rows
        .into_iter()
        .map(|row| IngredientName {
            phase: row.phase_name,
            name: row.name,
            function: row.function,
            material: row.material_id.map(MaterialId),
            nested_revision: row.nested_revision_id.map(RevisionId),
        })
        .collect())
}
