//! What may be known of a revision before the gate, and by whom.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{formula, revision};
use store::{Actor, Error, Result, Tx, word};
use uuid::Uuid;
use wire::formulary::{Regime, RevisionState};
use wire::ids::{FormulaId, LibraryId, PersonId, RevisionId};
use wire::people::Role;

use crate::members::membership;

/// The facts of a revision that the clinic's own functions decide by.
#[derive(Clone, Debug)]
pub struct Facts {
    pub id: RevisionId,
    pub formula: FormulaId,
    pub library: LibraryId,
    pub number: i32,
    pub state: RevisionState,
    pub title: String,
    pub preparation: String,
    pub route: String,
    pub regime: Regime,
    pub version: i64,
    pub author: PersonId,
    pub digest: Option<Sha>,
    pub decided_by: Option<PersonId>,
    pub decided_at: Option<DateTime<Utc>>,
    pub own_approval: bool,
}

impl Facts {
    /// How an approval by its own author is marked wherever it is shown.
    pub fn approval_note(&self) -> Option<String> {
        approval_note(self.own_approval)
    }
}

/// As [`Facts::approval_note`], where only that is known.
pub fn approval_note(own_approval: bool) -> Option<String> {
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

fn sha(bytes: Vec<u8>) -> Result<Sha> {
    bytes.try_into().map_err(|_| Error::internal("a digest of the wrong length"))
}

/// The facts of a revision, whoever is calling; locked against other changes when it is about to change.
pub async fn facts(tx: &mut Tx<'_>, id: RevisionId, lock: bool) -> Result<Facts> {
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

/// Takes a share lock on the revision row until the transaction ends. No decision can change its state before the
/// dependent grant or batch is inserted.
///
/// # Errors
/// When the database does not answer.
pub async fn lock_shared(tx: &mut Tx<'_>, id: RevisionId) -> Result<()> {
    let _held: Option<Uuid> =
        revision::table.find(id.0).select(revision::id).for_share().first(tx.conn()).await.optional()?;
    Ok(())
}

/// The facts of a revision if the caller may know of it: members of its library, drafts only their author, what is
/// not approved only instructors.
pub async fn visible(tx: &mut Tx<'_>, id: RevisionId, lock: bool) -> Result<Facts> {
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
