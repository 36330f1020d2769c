//! An open transaction with its proved caller, its time, and the events that it will leave.
//!
//! One request, one transaction, one connection. What never happens here: deciding what a caller may do beyond their
//! role and scopes, or content of any subject kept from one transaction to the next.

use std::marker::PhantomData;
use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use materia::Materia;
use uuid::Uuid;
use wire::ids::{PersonId, SessionId};
use wire::people::{Role, Scope};

use crate::actor::{Actor, Administrator, Brand, Credentials, Instructor, PersonActor, Staff};
use crate::calculations::Calculations;
use crate::calling::Earlier;
use crate::clock::Rng;
use crate::error::{Error, Result};
use crate::idempotency::Made;
use crate::journal::NewEvent;
use crate::order::Held;
use crate::pool::Conn;
use crate::proof::{self, Hold};

/// An open transaction with a proved caller.
pub struct Tx<'t> {
    pub(crate) conn: Conn,
    actor: Option<Actor>,
    now: DateTime<Utc>,
    /// The one source of randomness.
    pub rng: &'t Rng,
    /// The reference data that this service was built with.
    pub reference: &'t Arc<Materia>,
    calculations: &'t Calculations,
    pub(crate) events: Vec<NewEvent>,
    /// What an earlier request with the same key made, where that was looked up with the proof.
    pub(crate) earlier: Earlier,
    /// What a creating request made, which is kept when the transaction ends.
    pub(crate) made: Option<Made>,
    /// The locks that this transaction has taken, each after those that come before it.
    pub locks: Held,
    _brand: Brand<'t>,
}

impl<'t> Tx<'t> {
    pub(crate) fn new(
        conn: Conn,
        actor: Option<Actor>,
        now: DateTime<Utc>,
        rng: &'t Rng,
        reference: &'t Arc<Materia>,
        calculations: &'t Calculations,
    ) -> Self {
        Self {
            conn,
            actor,
            now,
            rng,
            reference,
            calculations,
            events: Vec::new(),
            earlier: None,
            made: None,
            locks: Held::default(),
            _brand: PhantomData,
        }
    }

    /// The connection of this transaction.
    pub fn conn(&mut self) -> &mut AsyncPgConnection {
        &mut self.conn.pg
    }

    /// Runs a calculation off the executor, within its time. The connection stays with the transaction meanwhile: what only
    /// reads ends its transaction first, where it can.
    ///
    /// # Errors
    /// As [`Calculations::run`].
    pub async fn calculate<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T> + Send + 'static,
    ) -> Result<T> {
        self.calculations.run(work).await
    }

    /// A new id.
    #[must_use]
    pub fn new_id(&self) -> Uuid {
        self.rng.id(self.now)
    }

    /// Leaves an event. It is written at the end of the transaction, after everything that it speaks of.
    pub fn record(&mut self, event: NewEvent) {
        self.events.push(event);
    }

    /// Who is calling.
    ///
    /// # Errors
    /// When nobody is: the transaction was opened without the credentials.
    pub fn actor(&self) -> Result<&Actor> {
        self.actor.as_ref().ok_or(Error::Unauthenticated("Sign in first."))
    }

    /// Who is calling, where it may be nobody (the service itself, or a sign-in that has just succeeded).
    pub(crate) const fn actor_if_any(&self) -> Option<&Actor> {
        self.actor.as_ref()
    }

    /// The time of this request; everything in it happens at this time.
    #[must_use]
    pub const fn now(&self) -> DateTime<Utc> {
        self.now
    }

    /// Goes on as the person of a session that this transaction has just begun or renewed. The session's row proves it.
    ///
    /// # Errors
    /// [`Error::Unauthenticated`] when there is no such session or it has ended.
    pub async fn act_in_session(&mut self, session: SessionId, person: PersonId) -> Result<PersonActor> {
        let credentials = Credentials::Session { session, person };
        match proof::prove(&self.conn.pg, &credentials, self.now, Hold::Nothing).await? {
            Actor::Person(person) => {
                self.actor = Some(Actor::Person(person));
                Ok(person)
            }
            Actor::Client { .. } => Err(proof::ENDED),
        }
    }

    /// The person who is calling.
    ///
    /// # Errors
    /// When another tool or nobody is calling.
    pub fn person(&self) -> Result<PersonActor> {
        match self.actor()? {
            Actor::Person(person) => Ok(*person),
            Actor::Client { .. } => {
                Err(Error::Forbidden("Only a person may do this, not an API key. Sign in.".into()))
            }
        }
    }

    /// Proves that an instructor is calling.
    ///
    /// # Errors
    /// When anybody else is.
    pub fn instructor(&self) -> Result<Instructor<'t>> {
        let person = self.person()?;
        match person.role {
            Role::Instructor => Ok(Instructor::proved(person.id)),
            Role::Student | Role::Administrator => Err(Error::Forbidden(
                "Only an instructor may do this. Ask one of the clinic's instructors.".into(),
            )),
        }
    }

    /// Proves that an administrator is calling.
    ///
    /// # Errors
    /// When anybody else is.
    pub fn administrator(&self) -> Result<Administrator<'t>> {
        let person = self.person()?;
        match person.role {
            Role::Administrator => Ok(Administrator::proved(person.id)),
            Role::Student | Role::Instructor => Err(Error::Forbidden(
                "Only an administrator may do this. Ask one of the clinic's administrators.".into(),
            )),
        }
    }

    /// Proves that an instructor or an administrator is calling: those who look after what the whole clinic relies on.
    ///
    /// # Errors
    /// When anybody else is.
    pub fn staff(&self) -> Result<Staff<'t>> {
        let person = self.person()?;
        match person.role {
            Role::Instructor | Role::Administrator => Ok(Staff::proved(person)),
            Role::Student => Err(Error::Forbidden(
                "Only an instructor or an administrator may do this. Ask one of them.".into(),
            )),
        }
    }

    /// Refuses an API client that lacks a scope; a person's role decides elsewhere.
    ///
    /// # Errors
    /// When a client without the scope is calling.
    pub fn require_scope(&self, wanted: Scope) -> Result<()> {
        self.actor()?.require_scope(wanted)
    }
}
