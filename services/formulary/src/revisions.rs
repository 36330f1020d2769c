//! What may be seen of a revision before the gate, and by whom.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{formula, revision, revision_ingredient};
use store::{Actor, Claim, Error, Result, Store, Tx, Versioned, word};
use uuid::Uuid;
use wire::formulary::{IngredientName, Regime, Revision, RevisionState};
use wire::ids::{FormulaId, LibraryId, MaterialId, PersonId, RevisionId};
use wire::people::{Role, Scope};

use super::membership;
use crate::safety;

/// The facts of a revision that the clinic's own functions decide by.
#[derive(Clone, Debug)]
pub(crate) struct Facts {
    pub(crate) id: RevisionId,
    pub(crate) formula: FormulaId,
    pub(crate) library: LibraryId,
    pub(crate) number: i32,
    pub(crate) state: RevisionState,
    pub(crate) title: String,
    pub(crate) preparation: String,
    pub(crate) route: String,
    pub(crate) regime: Regime,
    pub(crate) version: i64,
    pub(crate) author: PersonId,
    pub(crate) digest: Option<canonical::Sha>,
    pub(crate) decided_by: Option<PersonId>,
    pub(crate) decided_at: Option<DateTime<Utc>>,
    pub(crate) own_approval: bool,
}

impl Facts {
    /// How an approval by its own author is marked wherever it is shown.
    pub(crate) fn approval_note(&self) -> Option<String> {
        approval_note(self.own_approval)
    }
}

/// As [`Facts::approval_note`], where only that is known.
pub(super) fn approval_note(own_approval: bool) -> Option<String> {
    own_approval.then(|| "approved by its author".to_owned())
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = revision, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    formula_id: Uuid,
    number: i32,
    state: String,
    title: String,
    preparation: String,
    route: String,
    regime: String,
    version: i64,
    author_id: Uuid,
    digest: Option<Vec<u8>>,
    decided_by: Option<Uuid>,
    decided_at: Option<DateTime<Utc>>,
    own_approval: bool,
}

impl Row {
    fn into_facts(self, library: Uuid) -> Result<Facts> {
        Ok(Facts {
            id: RevisionId(self.id),
            formula: FormulaId(self.formula_id),
            library: LibraryId(library),
            number: self.number,
            state: word(&self.state)?,
            title: self.title,
            preparation: self.preparation,
            route: self.route,
            regime: word(&self.regime)?,
            version: self.version,
            author: PersonId(self.author_id),
            digest: self.digest.map(sha).transpose()?,
            decided_by: self.decided_by.map(PersonId),
            decided_at: self.decided_at,
            own_approval: self.own_approval,
        })
    }
}

fn sha(bytes: Vec<u8>) -> Result<canonical::Sha> {
    bytes.try_into().map_err(|_| Error::internal("a digest of the wrong length"))
}

/// The facts of a revision, whoever is calling; locked against other changes when it is about to change.
pub(crate) async fn facts(tx: &mut Tx<'_>, id: RevisionId, lock: bool) -> Result<Facts> {
    let query = revision::table.find(id.0).select(Row::as_select());
    let row: Option<Row> = if lock {
        query.for_update().first(tx.conn()).await.optional()?
    } else {
        query.first(tx.conn()).await.optional()?
    };
    let row = row.ok_or(Error::NotFound("revision"))?;
    let library: Uuid =
        formula::table.find(row.formula_id).select(formula::library_id).first(tx.conn()).await?;
    row.into_facts(library)
}

/// Holds a revision as it is until this transaction ends: whoever decides about it or closes its doors waits, so that
/// what is read of it from here on still holds when a door or a batch is written by it.
pub(crate) async fn hold(tx: &mut Tx<'_>, id: RevisionId) -> Result<()> {
    let _held: Option<Uuid> =
        revision::table.find(id.0).select(revision::id).for_share().first(tx.conn()).await.optional()?;
    Ok(())
}

/// The facts of a revision if the caller may know of it: members of its library, drafts only their author, what is
/// not approved only instructors.
pub(crate) async fn visible(tx: &mut Tx<'_>, id: RevisionId, lock: bool) -> Result<Facts> {
    const HIDDEN: Error = Error::NotFound("revision");
    let facts = facts(tx, id, lock).await?;
    match membership(tx, facts.library).await {
        Err(Error::NotFound(_)) => return Err(HIDDEN),
        other => other?,
    };
    let (me, role) = match tx.actor()? {
        Actor::Person(person) => (Some(person.id), Some(person.role)),
        Actor::Client { .. } => (None, None),
    };
    let open = match facts.state {
        RevisionState::Draft => me == Some(facts.author),
        RevisionState::Proposed | RevisionState::Returned => {
            role == Some(Role::Instructor) || me == Some(facts.author)
        }
        RevisionState::Approved | RevisionState::Superseded | RevisionState::Withdrawn => true,
    };
    if open { Ok(facts) } else { Err(HIDDEN) }
}

/// What may be seen of a revision before the gate.
///
/// # Errors
/// When there is none such for the caller.
pub async fn revision(store: &Store, claim: &Claim, id: RevisionId) -> Result<Versioned<Revision>> {
    store
        .read(claim, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            show(tx, id).await
        })
        .await
}

/// A revision as it may be seen before the gate.
pub(crate) async fn show(tx: &mut Tx<'_>, id: RevisionId) -> Result<Versioned<Revision>> {
    let facts = visible(tx, id, false).await?;
    let caution_set = match facts.state {
        RevisionState::Draft => None,
        _ => Some(safety::current_set(tx, id).await?),
    };
    let withheld_since = safety::withheld_since(tx, id).await?;
    let ingredients = ingredients(tx, id).await?;
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
            decided_at: facts.decided_at,
            approval_note: facts.approval_note(),
            withheld_since,
            title: facts.title,
            preparation: facts.preparation,
            route: facts.route,
            regime: facts.regime,
            author: facts.author,
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
