//! One request, one transaction, one connection: the claim is proved by the transaction's first statement.

use std::marker::PhantomData;

use chrono::{DateTime, Utc};
use diesel::{ExpressionMethods, OptionalExtension, QueryDsl};
use diesel_async::{AnsiTransactionManager, AsyncPgConnection, RunQueryDsl, TransactionManager};
use schema::{api_client, session};
use uuid::Uuid;
use wire::ids::{ApiClientId, HolderId, PersonId, SessionId};
use wire::people::{Role, Scope};

use crate::canonical::Sha;
use crate::clock::{Clock, Source};
use crate::error::{Error, Result};
use crate::people::Passwords;
use crate::pool::{self, Conn, Pool, PoolSettings};
use crate::safety::Frozen;
use materia::Materia;

/// What a caller says about itself, checked for form and signature but not yet proved: sessions end and keys are
/// revoked, and only the database knows.
#[derive(Clone, Copy, Debug)]
pub enum Claim {
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
}

/// Proof that an instructor is calling, good for the transaction it was made in.
#[derive(Clone, Copy)]
pub struct Instructor<'t> {
    /// Who.
    pub id: PersonId,
    proof: Brand<'t>,
}

/// Proof that an administrator is calling, good for the transaction it was made in.
#[derive(Clone, Copy)]
pub struct Administrator<'t> {
    /// Who.
    pub id: PersonId,
    proof: Brand<'t>,
}

/// Ties a proof to one transaction: invariant, so that it can be neither lengthened nor shortened.
type Brand<'t> = PhantomData<fn(&'t ()) -> &'t ()>;

/// An open transaction with a proved caller.
pub struct Tx<'t> {
    conn: Conn,
    actor: Option<Actor>,
    /// The time of this request; everything in it happens at this time.
    pub now: DateTime<Utc>,
    pub(crate) source: &'t Source,
    pub(crate) frozen: &'t Frozen,
    pub(crate) reference: &'t Materia,
    brand: Brand<'t>,
}

impl<'t> Tx<'t> {
    /// The connection of this transaction.
    pub(crate) fn conn(&mut self) -> &mut AsyncPgConnection {
        &mut self.conn
    }

    /// A new id.
    pub(crate) fn new_id(&self) -> Uuid {
        self.source.id(self.now)
    }

    /// Who is calling.
    ///
    /// # Errors
    /// When nobody is: the transaction was opened without a claim.
    pub fn actor(&self) -> Result<&Actor> {
        self.actor.as_ref().ok_or(Error::NotKnown("sign in first"))
    }

    /// Who is calling, where it may be nobody (the service itself, or a sign-in that has just succeeded).
    pub(crate) fn actor_if_any(&self) -> Option<&Actor> {
        self.actor.as_ref()
    }

    /// Goes on as the person whose password has just been verified.
    pub(crate) fn act_as(&mut self, person: PersonActor) {
        self.actor = Some(Actor::Person(person));
    }

    /// The person who is calling.
    ///
    /// # Errors
    /// When another tool or nobody is calling.
    pub fn person(&self) -> Result<PersonActor> {
        match self.actor()? {
            Actor::Person(person) => Ok(*person),
            Actor::Client { .. } => {
                Err(Error::Forbidden("this is done by a person, not with an API key".into()))
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
            Role::Instructor => Ok(Instructor { id: person.id, proof: PhantomData }),
            Role::Student | Role::Administrator => Err(Error::Forbidden(
                "only an instructor does this; ask one of the clinic's instructors".into(),
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
            Role::Administrator => Ok(Administrator { id: person.id, proof: PhantomData }),
            Role::Student | Role::Instructor => Err(Error::Forbidden(
                "only an administrator does this; ask one of the clinic's administrators".into(),
            )),
        }
    }

    /// The instructor or administrator who is calling: those who keep what the whole clinic relies on.
    ///
    /// # Errors
    /// When anybody else is.
    pub(crate) fn keeper(&self) -> Result<PersonActor> {
        let person = self.person()?;
        match person.role {
            Role::Instructor | Role::Administrator => Ok(person),
            Role::Student => Err(Error::Forbidden(
                "only an instructor or an administrator does this; ask one of the clinic's".into(),
            )),
        }
    }

    /// Refuses an API client that lacks a scope; a person's role decides elsewhere.
    ///
    /// # Errors
    /// When a client without the scope is calling.
    pub fn require_scope(&self, wanted: Scope) -> Result<()> {
        match self.actor()? {
            Actor::Client { scopes, .. } if !scopes.contains(&wanted) => Err(Error::Forbidden(format!(
                "this API key lacks the scope {wanted}; ask an administrator for a key that has it"
            ))),
            Actor::Person(_) | Actor::Client { .. } => Ok(()),
        }
    }
}

/// A creating request that may be repeated: its key, what it was, and a digest of its body.
#[derive(Clone, Debug)]
pub struct Once {
    /// The `Idempotency-Key`.
    pub key: String,
    /// Method and path.
    pub route: String,
    /// Digest of the body.
    pub digest: Sha,
}

/// The clinic: what every clinic function works with.
pub struct Clinic {
    pool: Pool,
    settings: PoolSettings,
    /// The one clock.
    pub clock: Clock,
    /// The one source of randomness.
    pub source: Source,
    pub(crate) passwords: Passwords,
    pub(crate) frozen: Frozen,
    pub(crate) reference: Materia,
}

impl Clinic {
    /// Opens the clinic on a migrated database.
    ///
    /// # Errors
    /// When the pool's settings make no sense.
    pub fn open(settings: &PoolSettings, clock: Clock, source: Source) -> Result<Self> {
        Ok(Self {
            pool: pool::build(settings)?,
            settings: settings.clone(),
            clock,
            passwords: Passwords::new(&source)?,
            source,
            frozen: Frozen::new(),
            reference: Materia::embedded().map_err(|error| Error::Internal(error.into()))?,
        })
    }

    /// The same with other reference data than those built in.
    #[must_use]
    pub fn with_reference(self, reference: Materia) -> Self {
        Self { reference, ..self }
    }

    /// How long a request waits for a connection.
    pub(crate) fn wait(&self) -> std::time::Duration {
        self.settings.wait
    }

    /// A connection of its own for a worker's reads.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub(crate) async fn reading_connection(&self) -> Result<AsyncPgConnection> {
        tokio::time::timeout(self.wait(), pool::connect(&self.settings.url))
            .await
            .map_err(|slow| Error::Unavailable(slow.into()))?
            .map_err(|error| Error::Unavailable(error.into()))
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// When it does not.
    pub async fn ready(&self) -> Result<()> {
        let mut conn = self.conn().await?;
        diesel::select(diesel::dsl::sql::<diesel::sql_types::Integer>("1"))
            .get_result::<i32>(&mut conn)
            .await?;
        Ok(())
    }

    async fn conn(&self) -> Result<Conn> {
        self.pool.get().await.map_err(|error| Error::Unavailable(error.into()))
    }

    async fn begin<'t>(&'t self, claim: Option<&Claim>, sql: &str) -> Result<Tx<'t>> {
        let mut conn = self.conn().await?;
        AnsiTransactionManager::begin_transaction_sql(&mut *conn, sql).await?;
        let now = self.clock.now();
        let actor = match claim {
            Some(claim) => match prove(&mut conn, claim, now).await {
                Ok(actor) => Some(actor),
                Err(error) => {
                    AnsiTransactionManager::rollback_transaction(&mut *conn).await.ok();
                    return Err(error);
                }
            },
            None => None,
        };
        Ok(Tx {
            conn,
            actor,
            now,
            source: &self.source,
            frozen: &self.frozen,
            reference: &self.reference,
            brand: PhantomData,
        })
    }

    /// Runs `work` in a transaction whose first statement proves the claim. An error rolls everything back.
    ///
    /// # Errors
    /// What `work` answers, or that the claim does not hold.
    pub async fn write<T>(
        &self,
        claim: &Claim,
        work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        let tx = self.begin(Some(claim), "BEGIN").await?;
        finish(tx, work).await
    }

    /// As [`write`](Self::write), for what only reads.
    ///
    /// # Errors
    /// What `work` answers, or that the claim does not hold.
    pub async fn read<T>(
        &self,
        claim: &Claim,
        work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>,
    ) -> Result<T> {
        // A key's use is noted, so its transaction writes now and then.
        let sql = if matches!(claim, Claim::Key(_)) { "BEGIN" } else { "BEGIN READ ONLY" };
        let tx = self.begin(Some(claim), sql).await?;
        finish(tx, work).await
    }

    /// Runs `work` for nobody in particular: signing in, using a one-time code, the service's own work.
    pub(crate) async fn unclaimed<T>(&self, work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>) -> Result<T> {
        let tx = self.begin(None, "BEGIN").await?;
        finish(tx, work).await
    }

    /// Runs a creating request once, however often it is sent: `make` does the work and names what it made,
    /// `show` renders it. A repetition only shows, afresh and through the gate: nothing that was answered is kept.
    ///
    /// # Errors
    /// [`Error::KeyInFlight`] while the first is being worked on, [`Error::KeyReused`] for another request, and what
    /// `make` and `show` answer.
    pub async fn create<T>(
        &self,
        claim: &Claim,
        once: &Once,
        make: impl AsyncFnOnce(&mut Tx<'_>) -> Result<Uuid>,
        show: impl AsyncFnOnce(&mut Tx<'_>, Uuid) -> Result<T>,
    ) -> Result<T> {
        self.write(claim, async |tx| {
            if let Some(made) = crate::people::idempotency::earlier(tx, once).await? {
                return show(tx, made).await;
            }
            let made = make(tx).await?;
            crate::people::idempotency::keep(tx, once, made).await?;
            show(tx, made).await
        })
        .await
    }
}

async fn finish<T>(mut tx: Tx<'_>, work: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T>) -> Result<T> {
    match work(&mut tx).await {
        Ok(answer) => {
            AnsiTransactionManager::commit_transaction(&mut *tx.conn).await?;
            Ok(answer)
        }
        Err(error) => {
            // A connection whose rollback fails is thrown away by the pool, and Postgres rolls back by itself.
            AnsiTransactionManager::rollback_transaction(&mut *tx.conn).await.ok();
            Err(error)
        }
    }
}

pub(crate) const ENDED: Error = Error::NotKnown("the session has ended: sign in again");

/// Proves a claim by one row found by its key.
async fn prove(conn: &mut AsyncPgConnection, claim: &Claim, now: DateTime<Utc>) -> Result<Actor> {
    match claim {
        Claim::Session { session: id, person } => {
            let row: Option<(Uuid, String)> = session::table
                .filter(session::id.eq(id.0))
                .filter(session::person_id.eq(person.0))
                .filter(session::ended_at.is_null())
                .filter(session::idle_until.gt(now))
                .filter(session::valid_until.gt(now))
                .select((session::person_id, session::role))
                .first(conn)
                .await
                .optional()?;
            let (person, role) = row.ok_or(ENDED)?;
            Ok(Actor::Person(PersonActor { id: PersonId(person), role: word(&role)?, session: *id }))
        }
        Claim::Key(hash) => {
            let row: Option<(Uuid, Uuid, String, Option<DateTime<Utc>>)> = api_client::table
                .filter(api_client::key_hash.eq(&hash[..]))
                .filter(api_client::state.eq("active"))
                .filter(api_client::valid_until.gt(now))
                .select((
                    api_client::id,
                    api_client::responsible_id,
                    api_client::scopes,
                    api_client::last_used_at,
                ))
                .first(conn)
                .await
                .optional()?;
            let (id, responsible, scopes, last_used_at) = row.ok_or(KEY_NOT_KNOWN)?;
            if last_used_at.is_none_or(|at| now - at > USE_NOTED_EVERY) {
                note_use(conn, ApiClientId(id), now).await?;
            }
            Ok(Actor::Client {
                id: ApiClientId(id),
                responsible: PersonId(responsible),
                scopes: scopes.split_whitespace().map(word).collect::<Result<_>>()?,
            })
        }
    }
}

pub(crate) const KEY_NOT_KNOWN: Error =
    Error::NotKnown("this API key is not known, has ended or was revoked");

/// A write per read would cost more than the read, so that a key was used is noted to the hour.
pub(crate) const USE_NOTED_EVERY: chrono::Duration = chrono::Duration::hours(1);

/// Notes that an API client's key was used.
pub(crate) async fn note_use(
    conn: &mut AsyncPgConnection,
    id: ApiClientId,
    now: DateTime<Utc>,
) -> Result<()> {
    diesel::update(api_client::table.find(id.0)).set(api_client::last_used_at.eq(now)).execute(conn).await?;
    Ok(())
}

/// A word out of the database, which a check there has held to the accepted ones.
pub(crate) fn word<T: std::str::FromStr<Err = wire::problem::UnknownWord>>(text: &str) -> Result<T> {
    text.parse().map_err(|error: wire::problem::UnknownWord| Error::Internal(error.into()))
}
