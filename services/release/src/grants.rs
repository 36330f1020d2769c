//! Doors: opened by acknowledging, closed in the transaction of whatever closes them.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{batch, door, formula, library_member, recipe_pull, revision, revision_nested};
use serde_json::json;
use store::{Actor, Error, NewEvent, Result, Tx, word};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{HolderId, LibraryId, RevisionId};
use wire::people::Role;
use wire::problem::Outstanding;
use wire::safety::Purpose;

use super::{countersign, renew, set};
use canonical::Sha;
use formulary::{self, Facts};

/// Proof that the caller's door to a revision is open, looked up in this transaction.
pub(crate) struct Door {
    /// The revision.
    pub(crate) facts: Facts,
    /// Its digest, as acknowledged.
    pub(crate) digest: Sha,
    /// The digest of the caution set, as acknowledged.
    pub(crate) caution_digest: Sha,
    /// Which of its caution sets is the current one.
    pub(crate) set_number: i32,
    /// What it is open for.
    pub(crate) purpose: Purpose,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = release_grant, check_for_backend(diesel::pg::Pg))]
struct Row {
    digest: Vec<u8>,
    caution_digest: Vec<u8>,
    set_number: i32,
    purpose: String,
    valid_until: DateTime<Utc>,
}

/// The caller's open door to a revision.
///
/// # Errors
/// [`Error::NotFound`] when the caller may not know of the revision, [`Error::GateClosed`] with the outstanding
/// cautions when its door is closed, [`Error::State`] for a draft, which has no door.
pub(crate) async fn open(tx: &mut Tx<'_>, id: RevisionId) -> Result<Door> {
    let facts = formulary::visible(tx, id, false).await?;
    if facts.digest.is_none() {
        return Err(Error::state(facts.state, "a draft is read and changed by its author, under /draft"));
    }
    let me = tx.actor()?.holder();
    match open_now(tx, me, id).await? {
        Some(open) if may_pass(tx.actor()?, &facts, open.purpose) => {
            let Open { digest, caution_digest, set_number, purpose } = open;
            Ok(Door { facts, digest, caution_digest, set_number, purpose })
        }
        _ => Err(closed(tx, &facts).await?),
    }
}

/// Whether the caller's doors to all of these revisions are open.
pub(super) async fn all_open(tx: &mut Tx<'_>, ids: impl Iterator<Item = Uuid>) -> Result<bool> {
    for id in ids {
        match open(tx, RevisionId(id)).await {
            Ok(_) => {}
            Err(Error::GateClosed(_) | Error::NotFound(_) | Error::State { .. }) => return Ok(false),
            Err(other) => return Err(other),
        }
    }
    Ok(true)
}

/// An open door's row.
pub(crate) struct Open {
    pub(crate) digest: Sha,
    pub(crate) caution_digest: Sha,
    pub(crate) set_number: i32,
    pub(crate) purpose: Purpose,
}

/// The row of a holder's door, if it is open.
pub(crate) async fn open_now(tx: &mut Tx<'_>, holder: HolderId, id: RevisionId) -> Result<Option<Open>> {
    let now = tx.now;
    let row: Option<Row> =
        release_grant::table.find((holder.0, id.0)).select(Row::as_select()).first(tx.conn()).await.optional()?;
    let Some(row) = row.filter(|row| row.valid_until > now) else { return Ok(None) };
    let length = |_| Error::internal("a digest of the wrong length");
    Ok(Some(Open {
        digest: row.digest.try_into().map_err(length)?,
        caution_digest: row.caution_digest.try_into().map_err(length)?,
        set_number: row.set_number,
        purpose: word(&row.purpose)?,
    }))
}

/// A door to decide serves instructors only; a door to make serves only what is approved.
fn may_pass(actor: &Actor, facts: &Facts, purpose: Purpose) -> bool {
    match purpose {
        Purpose::Make => facts.state == RevisionState::Approved,
        // Such an acknowledgement opens no door: what the batch asked for is read in its record.
        Purpose::Record => false,
        Purpose::Decide => matches!(actor, Actor::Person(person) if person.role == Role::Instructor),
    }
}

const WITHHELD: &str =
    "this revision is withheld: it has gained a stop, and an instructor decides what follows";

const fn to_acknowledge(actor: &Actor) -> &'static str {
    match actor {
        Actor::Person(_) => "acknowledge the cautions first: they, and where to acknowledge, are listed here",
        Actor::Client { .. } => {
            "the person who answers for this key acknowledges the cautions for it, with `for_api_client`, or the key \
             itself where it has the scope acknowledge: they, and where to acknowledge, are listed here"
        }
    }
}

async fn closed(tx: &mut Tx<'_>, facts: &Facts) -> Result<Error> {
    let withheld = renew::withheld_since(tx, facts.id).await?.is_some();
    let reason = match facts.state {
        RevisionState::Approved if withheld => WITHHELD.to_owned(),
        RevisionState::Approved => match countersign::waiting(tx, tx.actor()?.holder(), facts.id).await? {
            Some(id) => format!(
                "your acknowledgement waits for an instructor's countersignature, which opens this: it is {id}"
            ),
            None => to_acknowledge(tx.actor()?).to_owned(),
        },
        state => format!("{}; an instructor acknowledges its cautions to decide about it", not_made(state)),
    };
    Ok(Error::GateClosed(Box::new(outstanding(tx, facts.id, &reason).await?)))
}

/// Why nobody makes a revision in this state.
fn not_made(state: RevisionState) -> &'static str {
    match state {
        RevisionState::Withdrawn => "this revision was withdrawn and may not be made",
        RevisionState::Superseded => "this revision was superseded by a later one and may not be made",
        RevisionState::Returned => "this revision was returned to its author and may not be made",
        RevisionState::Draft | RevisionState::Proposed | RevisionState::Approved => {
            "this revision is not approved yet and may not be made"
        }
    }
}

/// The caller's open door to a revision that another is made from. When it is shut, its title says which one it is.
///
/// # Errors
/// As [`open`].
pub(super) async fn open_nested(tx: &mut Tx<'_>, id: RevisionId) -> Result<Door> {
    let refused = match open(tx, id).await {
        Err(refused @ (Error::GateClosed(_) | Error::State { .. })) => refused,
        other => return other,
    };
    let title: String = revision::table.find(id.0).select(revision::title).first(tx.conn()).await?;
    let named = |reason: String| format!("{title:?}, which this is made from, is closed to you: {reason}");
    Err(match refused {
        Error::GateClosed(mut outstanding) => {
            outstanding.reason = named(outstanding.reason);
            Error::GateClosed(outstanding)
        }
        Error::State { state, detail } => Error::State { state, detail: named(detail) },
        other => other,
    })
}

/// The current caution set with the way to acknowledge it.
pub(crate) async fn outstanding(tx: &mut Tx<'_>, id: RevisionId, reason: &str) -> Result<Outstanding> {
    Ok(Outstanding {
        caution_set: set::current(tx, id).await?,
        acknowledge: format!("/v1/revisions/{id}/acknowledgements"),
        reason: reason.to_owned(),
    })
}

/// Refuses what nobody makes now: what is not approved, is withheld, or is made from something that was withdrawn. Those
/// it is made from are held for share: whoever withdraws one waits, and then closes the door that is opened here.
pub(super) async fn may_be_made(tx: &mut Tx<'_>, facts: &Facts) -> Result<()> {
    if facts.state != RevisionState::Approved {
        let why = format!("{}: look for the approved one", not_made(facts.state));
        return Err(Error::state(facts.state, why));
    }
    if renew::withheld_since(tx, facts.id).await?.is_some() {
        return Err(Error::state("withheld", WITHHELD));
    }
    let nested = revision_nested::table
        .filter(revision_nested::revision_id.eq(facts.id.0))
        .select(revision_nested::nested_id);
    let nested: Vec<(String, String)> = revision::table
        .filter(revision::id.eq_any(nested))
        .order(revision::id)
        .select((revision::state, revision::title))
        .for_share()
        .load(tx.conn())
        .await?;
    match nested.into_iter().find(|(state, _)| state == RevisionState::Withdrawn.as_str()) {
        None => Ok(()),
        Some((_, title)) => Err(Error::state(
            facts.state,
            format!("{title:?}, which this is made from, was withdrawn: an instructor decides what follows"),
        )),
    }
}

/// What a new acknowledgement opens a revision for. What nobody makes, an instructor acknowledges to decide about it, and
/// whoever has a batch of it in hand to go on with the record.
///
/// # Errors
/// When it opens it for nothing.
pub(super) async fn purpose_for(tx: &mut Tx<'_>, facts: &Facts) -> Result<Purpose> {
    if facts.state == RevisionState::Draft {
        return Err(Error::state(facts.state, "a draft has no cautions to acknowledge until it is proposed"));
    }
    let Err(refused) = may_be_made(tx, facts).await else { return Ok(Purpose::Make) };
    let me = match tx.actor()? {
        Actor::Person(person) if person.role == Role::Instructor => return Ok(Purpose::Decide),
        Actor::Person(person) => person.id,
        Actor::Client { .. } => return Err(refused),
    };
    let in_hand = batch::table
        .filter(batch::revision_id.eq(facts.id.0))
        .filter(batch::maker_id.eq(me.0))
        .filter(batch::state.eq_any(["planned", "making", "returned"]));
    if diesel::select(diesel::dsl::exists(in_hand)).get_result(tx.conn()).await? {
        return Ok(Purpose::Record);
    }
    Err(refused)
}

/// Opens a door, or opens it anew after a change.
pub(super) async fn put(
    tx: &mut Tx<'_>,
    holder: HolderId,
    door: &Door,
    acknowledgement: Uuid,
    valid_until: DateTime<Utc>,
) -> Result<()> {
    let values = (
        release_grant::digest.eq(door.digest.to_vec()),
        release_grant::caution_digest.eq(door.caution_digest.to_vec()),
        release_grant::purpose.eq(door.purpose.as_str()),
        release_grant::pulled.eq(false),
        release_grant::set_number.eq(door.set_number),
        release_grant::acknowledgement_id.eq(acknowledgement),
        release_grant::valid_until.eq(valid_until),
    );
    diesel::insert_into(release_grant::table)
        .values((release_grant::holder_id.eq(holder.0), release_grant::revision_id.eq(door.facts.id.0), values.clone()))
        .on_conflict((release_grant::holder_id, release_grant::revision_id))
        .do_update()
        .set(values)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Notes the first reading through the caller's door.
pub(super) async fn note_pull(tx: &mut Tx<'_>, door: &Door) -> Result<()> {
    let holder = tx.actor()?.holder();
    let first: Option<Uuid> =
        diesel::update(release_grant::table.find((holder.0, door.facts.id.0)).filter(diesel::dsl::not(release_grant::pulled)))
            .set(release_grant::pulled.eq(true))
            .returning(release_grant::acknowledgement_id)
            .get_result(tx.conn())
            .await
            .optional()?;
    let Some(acknowledgement) = first else {
        // Noted before, or the door has just been removed by whoever we waited for.
        return match open_now(tx, holder, door.facts.id).await? {
            Some(_) => Ok(()),
            None => Err(closed(tx, &door.facts).await?),
        };
    };
    let now = tx.now;
    diesel::insert_into(recipe_pull::table)
        .values((recipe_pull::acknowledgement_id.eq(acknowledgement), recipe_pull::at.eq(now)))
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    let detail = json!({ "acknowledgement": acknowledgement, "purpose": door.purpose });
    tx.record(NewEvent::new("revision", door.facts.id.0, "recipe_pulled").detail(detail));
    Ok(())
}

/// Closes every door to a revision, and, when it was withdrawn, to everything that is made from it.
pub(crate) async fn close_revision(tx: &mut Tx<'_>, id: RevisionId, why: &'static str) -> Result<()> {
    let mut ids = vec![id.0];
    if matches!(why, "withdrawn" | "superseded") {
        renew::ended(tx, id).await?;
    }
    if why == "withdrawn" {
        let made_from: Vec<Uuid> = revision_nested::table
            .filter(revision_nested::nested_id.eq(id.0))
            .select(revision_nested::revision_id)
            .load(tx.conn())
            .await?;
        ids.extend(made_from);
    }
    let closed: Vec<Uuid> = diesel::delete(release_grant::table.filter(release_grant::revision_id.eq_any(&ids)))
        .returning(release_grant::acknowledgement_id)
        .get_results(tx.conn())
        .await?;
    ended(tx, closed, why).await
}

/// The doors to a revision stay open under a set that binds the same and reads differently.
pub(super) async fn keep_open(tx: &mut Tx<'_>, id: RevisionId, set_number: i32) -> Result<()> {
    diesel::update(release_grant::table.filter(release_grant::revision_id.eq(id.0)))
        .set(release_grant::set_number.eq(set_number))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Closes one holder's door to a revision.
pub(super) async fn close_for(
    tx: &mut Tx<'_>,
    holder: HolderId,
    id: RevisionId,
    why: &'static str,
) -> Result<()> {
    let closed: Vec<Uuid> = diesel::delete(release_grant::table.find((holder.0, id.0)))
        .returning(release_grant::acknowledgement_id)
        .get_results(tx.conn())
        .await?;
    ended(tx, closed, why).await
}

/// Closes every door of a holder to the formulas of a library.
pub(crate) async fn close_library(tx: &mut Tx<'_>, library: LibraryId, holder: HolderId) -> Result<()> {
    let revisions = revision::table
        .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
        .filter(formula::library_id.eq(library.0))
        .select(revision::id);
    let closed: Vec<Uuid> = diesel::delete(
        release_grant::table.filter(release_grant::holder_id.eq(holder.0)).filter(release_grant::revision_id.eq_any(revisions)),
    )
    .returning(release_grant::acknowledgement_id)
    .get_results(tx.conn())
    .await?;
    ended(tx, closed, "membership_ended").await
}

/// Closes every door to decide of somebody who is no longer an instructor.
pub(crate) async fn close_decisions(tx: &mut Tx<'_>, holder: HolderId) -> Result<()> {
    let closed: Vec<Uuid> = diesel::delete(
        release_grant::table.filter(release_grant::holder_id.eq(holder.0)).filter(release_grant::purpose.eq(Purpose::Decide.as_str())),
    )
    .returning(release_grant::acknowledgement_id)
    .get_results(tx.conn())
    .await?;
    ended(tx, closed, "role_changed").await
}

async fn ended(tx: &mut Tx<'_>, acknowledgements: Vec<Uuid>, why: &'static str) -> Result<()> {
    for id in acknowledgements {
        tx.record(NewEvent::new("acknowledgement", id, "ended").detail(json!({ "why": why })));
    }
    Ok(())
}

/// A revision was approved: those who acknowledged it to decide may now make it, unless they no longer share it.
pub(crate) async fn decided_to_make(tx: &mut Tx<'_>, id: RevisionId) -> Result<()> {
    let members = library_member::table
        .inner_join(formula::table.on(formula::library_id.eq(library_member::library_id)))
        .inner_join(revision::table.on(revision::formula_id.eq(formula::id)))
        .filter(revision::id.eq(id.0))
        .select(library_member::holder_id);
    diesel::update(release_grant::table.filter(release_grant::revision_id.eq(id.0)).filter(release_grant::holder_id.eq_any(members)))
        .set(release_grant::purpose.eq(Purpose::Make.as_str()))
        .execute(tx.conn())
        .await?;
    Ok(())
}
