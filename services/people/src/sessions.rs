//! Sessions, and the rotation of their refresh tokens.
//!
//! A refresh token works once. A second use ends the session, because the token was stolen or its answer was lost.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{page_session, person, refresh_token, session};
use store::{Credentials, Error, Hold, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{PersonId, SessionId};
use wire::people::{Person, Role, Session};
use wire::security::SecurityEventKind;

use crate::account;
use crate::kept::SESSION;
use crate::origin::Origin;
use crate::secret::new_secret;
use crate::security::{Security, Who};

/// A session expires if it is not refreshed within this time: one working day.
const IDLE: Duration = Duration::hours(12);
/// A session expires after this time at the latest.
const ABSOLUTE: Duration = Duration::days(14);

/// A session that was opened or refreshed. The refresh token is stored only as its digest.
pub struct Opened {
    /// The session.
    pub session: SessionId,
    /// The person of the session.
    pub person: Person,
    /// The new secret of the session, as [`Holds`] asked for it.
    pub secret: String,
}

/// By what the holder of a session proves to be its holder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// A refresh token, which works once: for tools.
    RefreshToken,
    /// A secret that works for as long as the session does: for the cookie of the pages.
    PageSecret,
}

/// Opens a session in the person's role. The caller must hold what decides about entry, by [`account::lock_for_entry`].
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn begin(tx: &mut Tx<'_>, id: PersonId, role: Role, holds: Holds) -> Result<Opened> {
    let now = tx.now();
    let session_id = SessionId(tx.new_id());
    diesel::insert_into(session::table)
        .values((
            session::id.eq(session_id.0),
            session::person_id.eq(id.0),
            session::role.eq(role.as_str()),
            session::started_at.eq(now),
            session::idle_expires_at.eq(now + IDLE),
            session::valid_until.eq(now + ABSOLUTE),
        ))
        .execute(tx.conn())
        .await?;
    tx.act_in_session(session_id, id).await?;
    let secret = match holds {
        Holds::RefreshToken => issue(tx, session_id).await?,
        Holds::PageSecret => issue_to_page(tx, session_id).await?,
    };
    Ok(Opened { session: session_id, person: account::find(tx, id).await?.value, secret })
}

async fn issue(tx: &mut Tx<'_>, session: SessionId) -> Result<String> {
    let token = new_secret(tx, "sr");
    let now = tx.now();
    diesel::insert_into(refresh_token::table)
        .values((
            refresh_token::token_hash.eq(&canonical::secret(&token)[..]),
            refresh_token::session_id.eq(session.0),
            refresh_token::issued_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    Ok(token)
}

async fn issue_to_page(tx: &mut Tx<'_>, session: SessionId) -> Result<String> {
    let secret = new_secret(tx, "sp");
    let now = tx.now();
    diesel::insert_into(page_session::table)
        .values((
            page_session::secret_hash.eq(&canonical::secret(&secret)[..]),
            page_session::session_id.eq(session.0),
            page_session::issued_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    Ok(secret)
}

/// Whose session a page's secret is for, if the session lasts. Using it prolongs the session, at most once an hour, since
/// a write for each page would cost more than the page.
///
/// # Errors
/// Returns [`store::proof::ENDED`] for unknown secrets and ended sessions.
pub async fn of_page(tx: &mut Tx<'_>, secret: &str) -> Result<(Credentials, Person)> {
    let now = tx.now();
    let row: Option<(Uuid, Uuid, DateTime<Utc>)> = page_session::table
        .inner_join(session::table)
        .filter(page_session::secret_hash.eq(&canonical::secret(secret)[..]))
        .filter(session::ended_at.is_null())
        .filter(session::idle_expires_at.gt(now))
        .filter(session::valid_until.gt(now))
        .select((session::id, session::person_id, session::idle_expires_at))
        .first(tx.conn())
        .await
        .optional()?;
    let (session_id, person, idle_expires_at) = row.ok_or(store::proof::ENDED)?;
    if now + IDLE - idle_expires_at > PROLONGED_EVERY {
        diesel::update(session::table.find(session_id).filter(session::ended_at.is_null()))
            .set(session::idle_expires_at.eq(now + IDLE))
            .execute(tx.conn())
            .await?;
    }
    let person = PersonId(person);
    let credentials = Credentials::Session { session: SessionId(session_id), person };
    Ok((credentials, account::find(tx, person).await?.value))
}

/// Whose session a page's secret was for, whether or not it has ended: to keep for this person what was typed.
///
/// # Errors
/// Returns the errors of the database.
pub async fn former_of_page(tx: &mut Tx<'_>, secret: &str) -> Result<Option<PersonId>> {
    let found: Option<Uuid> = page_session::table
        .inner_join(session::table)
        .filter(page_session::secret_hash.eq(&canonical::secret(secret)[..]))
        .select(session::person_id)
        .first(tx.conn())
        .await
        .optional()?;
    Ok(found.map(PersonId))
}

/// How often the use of a page prolongs its session.
const PROLONGED_EVERY: Duration = Duration::hours(1);

const NOT_KNOWN: Error =
    Error::Unauthenticated("This refresh token is invalid or its session has ended. Sign in again.");

/// Exchanges a refresh token for a new one. A token that was used before ends its session.
///
/// # Errors
/// Returns the same [`Error::Unauthenticated`] for unknown, used and expired tokens.
pub async fn refresh(store: &Store, security: &Security, token: &str, origin: &Origin) -> Result<Opened> {
    use SecurityEventKind::{RefreshFailed, RefreshReused};
    let hash = canonical::secret(token);
    let refused = |kind, who| Ok(Err((kind, who)));
    let refreshed = store
        .run_unauthenticated(async |tx| {
            let row: Option<(Uuid, Option<DateTime<Utc>>)> = refresh_token::table
                .find(&hash[..])
                .select((refresh_token::session_id, refresh_token::used_at))
                .for_update()
                .first(tx.conn())
                .await
                .optional()?;
            let Some((session_id, used_at)) = row else { return refused(RefreshFailed, Who::Nobody) };
            let of: Uuid =
                session::table.find(session_id).select(session::person_id).first(tx.conn()).await?;
            let (session, person) = (SessionId(session_id), PersonId(of));
            if used_at.is_some() {
                account::lock_for_change(tx, person).await?;
                end(tx, session, "ended_by_reuse").await?;
                return refused(RefreshReused, Who::Principal(of));
            }
            if !account::lock_for_entry(tx, person).await?.active {
                return refused(RefreshFailed, Who::Principal(of));
            }
            let now = tx.now();
            let still = session::table
                .filter(session::id.eq(session_id))
                .filter(session::ended_at.is_null())
                .filter(session::idle_expires_at.gt(now))
                .filter(session::valid_until.gt(now));
            if !diesel::select(diesel::dsl::exists(still)).get_result::<bool>(tx.conn()).await? {
                return refused(RefreshFailed, Who::Principal(of));
            }
            tx.act_in_session(session, person).await?;
            diesel::update(refresh_token::table.find(&hash[..]))
                .set(refresh_token::used_at.eq(now))
                .execute(tx.conn())
                .await?;
            diesel::update(session::table.find(session_id))
                .set(session::idle_expires_at.eq(now + IDLE))
                .execute(tx.conn())
                .await?;
            let secret = issue(tx, session).await?;
            Ok(Ok(Opened { session, person: account::find(tx, person).await?.value, secret }))
        })
        .await?;
    refreshed.map_err(|(kind, who)| {
        security.note(store.clock.now(), kind, who, origin, None);
        NOT_KNOWN
    })
}

/// A session: its ID, its start, its expiry without a refresh, and its latest expiry.
type Row = (Uuid, DateTime<Utc>, DateTime<Utc>, DateTime<Utc>);

/// The caller's own sessions that have not ended.
///
/// # Errors
/// Returns the errors of verifying `claim`, and [`Error::Forbidden`] for an API client.
pub async fn sessions(store: &Store, credentials: &Credentials) -> Result<Vec<Session>> {
    store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let now = tx.now();
            let rows: Vec<Row> = session::table
                .filter(session::person_id.eq(me.id.0))
                .filter(session::ended_at.is_null())
                .filter(session::idle_expires_at.gt(now))
                .filter(session::valid_until.gt(now))
                .order(session::id)
                .select((session::id, session::started_at, session::idle_expires_at, session::valid_until))
                .load(tx.conn())
                .await?;
            Ok(rows
                .into_iter()
                .map(|(id, started_at, idle_until, valid_until)| Session {
                    id: SessionId(id),
                    started_at,
                    idle_until,
                    valid_until,
                    current: id == me.session.0,
                })
                .collect())
        })
        .await
}

/// Signs out: ends one of the caller's own sessions, the current one if `which` is `None`.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller has no such session or it has ended.
pub async fn session_end(store: &Store, credentials: &Credentials, which: Option<SessionId>) -> Result<()> {
    store
        .write_holding(credentials, Hold::Alone, None, async |tx| {
            let me = tx.person()?;
            let id = which.unwrap_or(me.session);
            let mine: Option<Uuid> = session::table
                .filter(session::id.eq(id.0))
                .filter(session::person_id.eq(me.id.0))
                .filter(session::ended_at.is_null())
                .select(session::id)
                .for_update()
                .first(tx.conn())
                .await
                .optional()?;
            if mine.is_none() {
                return Err(Error::NotFound("session"));
            }
            end(tx, id, "signed_out").await
        })
        .await
}

/// Ends a session. The caller must have locked the person's row for itself.
async fn end(tx: &mut Tx<'_>, id: SessionId, action: &'static str) -> Result<()> {
    let now = tx.now();
    diesel::update(session::table.find(id.0).filter(session::ended_at.is_null()))
        .set(session::ended_at.eq(now))
        .execute(tx.conn())
        .await?;
    tx.record(NewEvent::new("session", id.0, action).keeps(&SESSION, [id.0]));
    Ok(())
}

/// Ends every session of a person except `but`. The caller must have locked the person's row for itself.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn end_all(tx: &mut Tx<'_>, of: PersonId, but: Option<SessionId>) -> Result<()> {
    let now = tx.now();
    let ended: Vec<Uuid> = diesel::update(
        session::table
            .filter(session::person_id.eq(of.0))
            .filter(session::ended_at.is_null())
            .filter(session::id.ne(but.map_or(Uuid::nil(), |id| id.0))),
    )
    .set(session::ended_at.eq(now))
    .returning(session::id)
    .get_results(tx.conn())
    .await?;
    for id in ended {
        tx.record(NewEvent::new("session", id, "ended").keeps(&SESSION, [id]));
    }
    Ok(())
}

/// The sessions of a person that hold a role, ended ones too: those that follow when the person's role changes.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn in_role(tx: &mut Tx<'_>, of: PersonId, role: Role) -> Result<Vec<Uuid>> {
    Ok(session::table
        .filter(session::person_id.eq(of.0))
        .filter(session::role.eq(role.as_str()))
        .select(session::id)
        .load(tx.conn())
        .await?)
}

/// Leaves an event for each session whose role followed the person's: the database changes the copies by the foreign
/// key, and the journal vouches for the rows as they are then.
pub(super) fn role_followed(tx: &mut Tx<'_>, sessions: Vec<Uuid>) {
    for id in sessions {
        tx.record(NewEvent::new("session", id, "role_changed").keeps(&SESSION, [id]));
    }
}

/// Ends the open sessions whose role is not the person's: they were begun, under an earlier version, while the role was
/// being changed. Answers how many there were.
///
/// # Errors
/// Returns the errors of the database.
pub async fn end_outdated_sessions(store: &Store) -> Result<usize> {
    store
        .run_unauthenticated(async |tx| {
            let outdated: Vec<Uuid> = session::table
                .inner_join(person::table.on(person::id.eq(session::person_id)))
                .filter(session::role.ne(person::role))
                .filter(session::ended_at.is_null())
                .select(session::id)
                .load(tx.conn())
                .await?;
            for id in &outdated {
                end(tx, SessionId(*id), "ended").await?;
            }
            Ok(outdated.len())
        })
        .await
}
