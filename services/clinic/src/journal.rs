//! The journal: reading events, verifying rows and signing statements.
//!
//! Anybody who may see a subject may read its events; administrators may read all events. Never here: a repair.

use diesel::dsl::not;
use diesel::prelude::*;
use diesel::sql_types::{Array, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use ed25519_dalek::SigningKey;
use schema::{amendment, api_client, batch, event, formula, library_member, material, revision};
use store::journal::{self, Check, EventRow, Kept};
pub use store::journal::{Statement, StatementVerdict, Verdict, VouchedFor};
use store::sql::batch_made_by;
use store::sql::blind_batch;
use store::{Actor, Credentials, Error, Result, Tx, known_as, page::PageRequest};
use uuid::Uuid;
use wire::ids::{FormulaId, RevisionId};
use wire::journal::{Event, EventQuery};
use wire::page::Page;
use wire::people::{Role, Scope};

use crate::{Clinic, others};

/// Events, the oldest first; students and API clients are told no ids of other readers. Cost: one index range for each
/// page, at any depth.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the subject, [`Error::Forbidden`] for events of another actor
/// unless the caller is an administrator, or if an API client lacks the scope, and [`Error::Invalid`] without a subject
/// or for a refused cursor.
pub async fn events(clinic: &Clinic, credentials: &Credentials, query: &EventQuery) -> Result<Page<Event>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    clinic
        .store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            may_read(tx, query).await?;
            let mut rows =
                event::table.select(EventRow::as_select()).order(event::id).limit(slice.fetch()).into_boxed();
            if let Some(subject) = query.subject {
                rows = rows.filter(event::subject_id.eq(subject));
            }
            if let Some(actor) = query.actor {
                rows = rows.filter(event::actor_id.eq(actor.0));
            }
            if let Some(after) = slice.after {
                rows = rows.filter(event::id.gt(after));
            }
            let rows: Vec<EventRow> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, EventRow::id)?;
            let mut items = others::hide(tx, page.items.into_iter().map(Event::from).collect()).await?;
            unname(tx, &mut items).await?;
            name_all(tx, &mut items).await?;
            Ok(Page { items, next: page.next })
        })
        .await
}

/// The newest events first, for administrators: of everything, of one subject or by one actor, and before an event. One more
/// than `limit` says that there are others.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an administrator, and the errors of verifying the credentials.
pub async fn newest(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &EventQuery,
    before: Option<wire::ids::EventId>,
) -> Result<Vec<Event>> {
    let limit = i64::from(query.limit.unwrap_or(50).clamp(1, 100)) + 1;
    clinic
        .store
        .read(credentials, async |tx| {
            tx.administrator()?;
            let mut rows =
                event::table.select(EventRow::as_select()).order(event::id.desc()).limit(limit).into_boxed();
            if let Some(subject) = query.subject {
                rows = rows.filter(event::subject_id.eq(subject));
            }
            if let Some(actor) = query.actor {
                rows = rows.filter(event::actor_id.eq(actor.0));
            }
            if let Some(before) = before {
                rows = rows.filter(event::id.lt(before.0));
            }
            let rows: Vec<EventRow> = rows.load(tx.conn()).await?;
            let mut items: Vec<Event> = rows.into_iter().map(Event::from).collect();
            name_all(tx, &mut items).await?;
            Ok(items)
        })
        .await
}

#[derive(QueryableByName)]
struct OfUnnamed {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// Leaves out who drew from a lot for a record that is marked blind. Administrators, who mark nothing, are told.
async fn unname(tx: &mut Tx<'_>, events: &mut [Event]) -> Result<()> {
    let me = match tx.actor()? {
        Actor::Person(person) if person.role == Role::Instructor => person.id.0,
        _ => return Ok(()),
    };
    let of_lots: Vec<Uuid> =
        events.iter().filter(|event| event.subject_kind == "lot").map(|event| event.id.0).collect();
    if of_lots.is_empty() {
        return Ok(());
    }
    let unnamed: Vec<OfUnnamed> = diesel::sql_query(
        "SELECT e.id FROM event e WHERE e.id = ANY ($1) AND EXISTS (SELECT FROM lot_movement m
             WHERE m.lot_id = e.subject_id AND m.at = e.at AND m.by_id = e.actor_id AND unnamed_batch(m.batch_id, $2))",
    )
    .bind::<Array<SqlUuid>, _>(of_lots)
    .bind::<SqlUuid, _>(me)
    .load(tx.conn())
    .await?;
    for event in events.iter_mut().filter(|event| unnamed.iter().any(|one| one.id == event.id.0)) {
        event.actor = None;
    }
    Ok(())
}

/// Puts names beside the ids that the caller is told.
async fn name_all(tx: &mut Tx<'_>, events: &mut [Event]) -> Result<()> {
    let told = |event: &Event| [event.actor.map(|id| id.0), event.on_authority_of.map(|id| id.0)];
    let names = known_as::holders(tx, events.iter().flat_map(told).flatten().collect::<Vec<_>>()).await?;
    for event in events {
        event.actor_name = names.of(event.actor.map(|id| id.0));
        event.on_authority_of_name = names.of(event.on_authority_of.map(|id| id.0));
    }
    Ok(())
}

async fn may_read(tx: &mut Tx<'_>, query: &EventQuery) -> Result<()> {
    let me = tx.actor()?.holder();
    if let Actor::Person(person) = tx.actor()?
        && person.role == Role::Administrator
    {
        return Ok(());
    }
    if query.actor.is_some_and(|actor| actor != me) {
        return Err(Error::Forbidden(
            "Only administrators may list the events of another person. Ask for one subject instead.".into(),
        ));
    }
    match query.subject {
        None if query.actor == Some(me) => Ok(()),
        None => Err(Error::field(
            "?subject",
            "Enter the ID of the revision, batch, formula or library whose events you want.",
        )),
        Some(subject) if subject == me.0 => Ok(()),
        Some(subject) => {
            if of_formulary(tx, subject).await? {
                return Ok(());
            }
            let of_library = library_member::table
                .filter(library_member::holder_id.eq(me.0))
                .filter(library_member::library_id.eq(subject));
            let of_batch = batch::table
                .inner_join(revision::table.on(revision::id.eq(batch::revision_id)))
                .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
                .inner_join(library_member::table.on(library_member::library_id.eq(formula::library_id)))
                .filter(batch::id.eq(subject))
                .filter(library_member::holder_id.eq(me.0))
                .filter(not(blind_batch(batch::id, me.0)));
            let of_client = api_client::table
                .filter(api_client::id.eq(subject))
                .filter(api_client::responsible_id.eq(me.0));
            let role = match tx.actor()? {
                Actor::Person(person) => Some(person.role),
                Actor::Client { .. } => None,
            };
            let taught = role == Some(Role::Instructor) && ::teaching::may_read_events(tx, subject).await?;
            let kept = role.is_some()
                && (::stock::may_read_events(tx, subject).await?
                    || ::recalls::may_read_events(tx, subject).await?
                    || ::reactions::may_read_events(tx, subject).await?);
            let open = taught
                || kept
                || diesel::select(diesel::dsl::exists(of_library)).get_result::<bool>(tx.conn()).await?
                || diesel::select(diesel::dsl::exists(of_client)).get_result::<bool>(tx.conn()).await?
                || match role {
                    // Instructors may see all batches of their libraries, students only their own.
                    Some(Role::Instructor) => {
                        let of_material = material::table.filter(material::id.eq(subject));
                        let of_amendment = amendment::table.filter(amendment::id.eq(subject));
                        diesel::select(
                            diesel::dsl::exists(of_batch)
                                .or(diesel::dsl::exists(of_material))
                                .or(diesel::dsl::exists(of_amendment)),
                        )
                        .get_result::<bool>(tx.conn())
                        .await?
                    }
                    _ => {
                        let own =
                            batch::table.filter(batch::id.eq(subject)).filter(batch_made_by(batch::id, me.0));
                        diesel::select(diesel::dsl::exists(own)).get_result::<bool>(tx.conn()).await?
                    }
                };
            if open { Ok(()) } else { Err(Error::NotFound("subject")) }
        }
    }
}

/// Whether the subject is a revision or a formula that the caller may see.
async fn of_formulary(tx: &mut Tx<'_>, subject: Uuid) -> Result<bool> {
    let revision = ::formulary::visible(tx, RevisionId(subject)).await.map(drop);
    let found = match revision {
        Err(Error::NotFound(_)) => ::formulary::formula_seen(tx, FormulaId(subject)).await,
        other => other,
    };
    match found {
        Ok(()) => Ok(true),
        Err(Error::NotFound(_)) => Ok(false),
        Err(other) => Err(other),
    }
}

/// Every kind of row that the journal vouches for.
#[must_use]
pub fn kept() -> Vec<&'static Kept> {
    [
        ::people::kept::KEPT,
        ::policy::kept::KEPT,
        ::materials::kept::KEPT,
        release::kept::KEPT,
        ::formulary::kept::KEPT,
        ::bench::kept::KEPT,
        ::stock::kept::KEPT,
        ::recalls::kept::KEPT,
        ::reactions::kept::KEPT,
        ::teaching::kept::KEPT,
        crate::amendments::kept::KEPT,
    ]
    .concat()
}

/// Further checks that a digest over one row cannot express.
#[must_use]
pub fn checks() -> &'static [&'static Check] {
    static CHECKS: [&Check; 2] = [&release::verify::REVISIONS, &::materials::FACTS];
    &CHECKS
}

/// Verifies the journal and every row that it vouches for, over one snapshot of the database.
///
/// # Errors
/// Returns the errors of the database.
pub async fn verify(clinic: &Clinic) -> Result<Verdict> {
    journal::verify(&clinic.store, &kept(), checks()).await
}

/// Records a digest of every row from before rows were digested, as found. Does nothing when called again.
///
/// # Errors
/// Returns the errors of the database.
pub async fn vouch_for_older(clinic: &Clinic) -> Result<VouchedFor> {
    journal::vouch_for_older(&clinic.store, &kept()).await
}

/// Numbers every committed event, and signs a statement of the journal's state.
///
/// # Errors
/// Returns the errors of the database.
pub async fn state(clinic: &Clinic, key: &SigningKey) -> Result<Statement> {
    journal::state(&clinic.store, key).await
}

/// Verifies an earlier statement against the current database.
///
/// # Errors
/// Returns the errors of the database.
pub async fn verify_statement(clinic: &Clinic, statement: &Statement) -> Result<StatementVerdict> {
    journal::verify_statement(&clinic.store, statement).await
}

/// Numbers every committed event that has no number yet, and returns how many were numbered. No other function numbers
/// events.
///
/// # Errors
/// Returns the errors of the database.
pub async fn number_events(clinic: &Clinic) -> Result<u64> {
    journal::number_events(&clinic.store).await
}
