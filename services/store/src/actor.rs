//! Who is calling: what a caller claims, and what was proved of it.
//!
//! For: the types that say who acts. What never happens here: a query. Proofs are made in [`crate::tx`], and only for
//! the transaction in which the credentials was proved.

use std::marker::PhantomData;

use canonical::Sha;
use wire::ids::{ApiClientId, HolderId, PersonId, SessionId};
use wire::people::{Role, Scope};

use crate::error::{Error, Result};

/// What a caller says about itself, checked for form and signature but not yet proved: sessions end and keys are
/// revoked, and only the database knows.
#[derive(Clone, Copy, Debug)]
pub enum Credentials {
    /// An access token, or a page's session, that was signed or made by us.
    Session {
        /// The session it names.
        session: SessionId,
        /// The person it names.
        person: PersonId,
    },
    /// The digest of an API client's key.
    Key(Sha),
}

impl Credentials {
    /// The claim of whoever shows an API client's key.
    #[must_use]
    pub fn of_key(key: &str) -> Self {
        Self::Key(canonical::secret(key))
    }
}

/// A person who is calling.
#[derive(Clone, Copy, Debug)]
pub struct PersonActor {
    /// Who.
    pub id: PersonId,
    /// In what role, as of this transaction.
    pub role: Role,
    /// In which session.
    pub session: SessionId,
}

/// Who is calling, proved.
#[derive(Clone, Debug)]
pub enum Actor {
    /// A person.
    Person(PersonActor),
    /// Another tool, and the person who answers for it.
    Client {
        /// The tool.
        id: ApiClientId,
        /// The person who answers for it.
        responsible: PersonId,
        /// What it may do.
        scopes: Vec<Scope>,
    },
}

impl Actor {
    /// The id under which memberships and acknowledgements are held.
    #[must_use]
    pub fn holder(&self) -> HolderId {
        match self {
            Self::Person(person) => person.id.into(),
            Self::Client { id, .. } => (*id).into(),
        }
    }

    /// Whether this is a person in the role of an instructor.
    #[must_use]
    pub fn is_instructor(&self) -> bool {
        matches!(self, Self::Person(person) if person.role == Role::Instructor)
    }

    /// Refuses an API client that lacks a scope; a person's role decides elsewhere.
    ///
    /// # Errors
    /// [`Error::Forbidden`] for a client without the scope.
    pub fn require_scope(&self, wanted: Scope) -> Result<()> {
        match self {
            Self::Client { scopes, .. } if !scopes.contains(&wanted) => Err(Error::Forbidden(format!(
                "This API key lacks the scope {wanted}. Ask an administrator for a key that has it."
            ))),
            Self::Person(_) | Self::Client { .. } => Ok(()),
        }
    }
}

/// Ties a proof to one transaction: invariant, so that it can be neither lengthened nor shortened.
pub type Brand<'t> = PhantomData<fn(&'t ()) -> &'t ()>;

/// Proof that an instructor is calling, good for the transaction it was made in.
#[derive(Clone, Copy)]
pub struct Instructor<'t> {
    id: PersonId,
    _proof: Brand<'t>,
}

impl Instructor<'_> {
    /// Only a transaction whose caller was proved makes one.
    pub(crate) const fn proved(id: PersonId) -> Self {
        Self { id, _proof: PhantomData }
    }

    /// Who.
    #[must_use]
    pub const fn id(&self) -> PersonId {
        self.id
    }
}

/// Proof that an administrator is calling, good for the transaction it was made in.
#[derive(Clone, Copy)]
pub struct Administrator<'t> {
    id: PersonId,
    _proof: Brand<'t>,
}

impl Administrator<'_> {
    /// Only a transaction whose caller was proved makes one.
    pub(crate) const fn proved(id: PersonId) -> Self {
        Self { id, _proof: PhantomData }
    }

    /// Who.
    #[must_use]
    pub const fn id(&self) -> PersonId {
        self.id
    }
}

/// Proof that an instructor or an administrator is calling, good for the transaction it was made in.
#[derive(Clone, Copy)]
pub struct Staff<'t> {
    person: PersonActor,
    _proof: Brand<'t>,
}

impl Staff<'_> {
    /// Only a transaction whose caller was proved makes one.
    pub(crate) const fn proved(person: PersonActor) -> Self {
        Self { person, _proof: PhantomData }
    }

    /// Who.
    #[must_use]
    pub const fn id(&self) -> PersonId {
        self.person.id
    }

    /// In which of the two roles.
    #[must_use]
    pub const fn role(&self) -> Role {
        self.person.role
    }
}
