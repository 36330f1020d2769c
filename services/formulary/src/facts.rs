//! The open row of a revision, and the rule on who may see it.

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

/// The open facts of a revision. Holds no gated content.
#[derive(Clone, Debug)]
pub struct Facts {
    /// ID of the revision.
    pub id: RevisionId,
    /// Its formula.
    pub formula: FormulaId,
    /// The library of the formula.
    pub library: LibraryId,
    /// Number of the revision within its formula, counted from 1.
    pub number: i32,
    /// Its state.
    pub state: RevisionState,
    /// Its title.
    pub title: String,
    /// Name of the kind of preparation.
    pub preparation: String,
    /// Route of use, as the author entered it.
    pub route: String,
    /// The regime it is made under.
    pub regime: Regime,
    /// Version of the row, for `If-Match`.
    pub version: i64,
    /// Its author.
    pub author: PersonId,
    /// Digest of the frozen content; `None` for a draft.
    pub digest: Option<Sha>,
    /// The instructor who returned or approved it.
    pub decided_by: Option<PersonId>,
    /// When it was returned, approved, superseded or withdrawn.
    pub decided_at: Option<DateTime<Utc>>,
    /// Whether its author approved it, which the policy can permit.
    pub own_approval: bool,
}

impl Facts {
    /// The note that marks an approval by the author.
    #[must_use]
    pub fn approval_note(&self) -> Option<String> {
        approval_note(self.own_approval)
    }
}

/// The note that marks an approval by the author, or `None` for another approval.
pub(crate) fn approval_note(own_approval: bool) -> Option<String> {
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

/// The facts of a revision, without a check of the caller.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such revision.
pub async fn facts(tx: &mut Tx<'_>, id: RevisionId) -> Result<Facts> {
    let found: Option<(Row, Uuid)> = revision::table
        .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
        .filter(revision::id.eq(id.0))
        .select((Row::as_select(), formula::library_id))
        .first(tx.conn())
        .await
        .optional()?;
    let (row, library) = found.ok_or(Error::NotFound("revision"))?;
    row.into_facts(library)
}

/// The facts of a revision, if the caller may see it. Members of its library may see a revision once it was approved;
/// before that only instructors and its author may, and a draft only its author.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such revision or the caller may not see it.
pub async fn visible(tx: &mut Tx<'_>, id: RevisionId) -> Result<Facts> {
    const HIDDEN: Error = Error::NotFound("revision");
    let facts = facts(tx, id).await?;
    match membership(tx, facts.library).await {
        Err(Error::NotFound(_)) => return Err(HIDDEN),
        other => other?,
    };
    if may_see(tx.actor()?, facts.state, facts.author) { Ok(facts) } else { Err(HIDDEN) }
}

/// Whether a member of a revision's library may see it.
pub(crate) fn may_see(actor: &Actor, state: RevisionState, author: PersonId) -> bool {
    let (me, role) = match actor {
        Actor::Person(person) => (Some(person.id), Some(person.role)),
        Actor::Client { .. } => (None, None),
    };
    match state {
        RevisionState::Draft => me == Some(author),
        RevisionState::Proposed | RevisionState::Returned => {
            role == Some(Role::Instructor) || me == Some(author)
        }
        RevisionState::Approved | RevisionState::Superseded | RevisionState::Withdrawn => true,
    }
}
