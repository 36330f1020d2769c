//! The caller's grant for a revision, or the reason why there is none and how to obtain one.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use release::{AllOpen, EveryLevel, Grant, grants};
use schema::{batch, revision, revision_nested};
use store::{Actor, Error, Result, Tx};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::RevisionId;
use wire::people::Role;
use wire::problem::Outstanding;
use wire::safety::Purpose;

use crate::awaiting;
use crate::facts::{Facts, visible};
use crate::sets;
use crate::withholding::withheld_since;

/// The caller's grant for a revision, with the facts of the revision.
pub struct Passed<'t> {
    /// The open facts of the revision.
    pub facts: Facts,
    /// The grant.
    pub grant: Grant<'t>,
}

/// Finds the caller's grant for a revision.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::GateClosed`] with the outstanding
/// cautions if there is no grant, and [`Error::State`] for a draft, which nobody is granted.
pub async fn open<'t>(tx: &mut Tx<'t>, id: RevisionId) -> Result<Passed<'t>> {
    let facts = visible(tx, id).await?;
    if facts.digest.is_none() {
        return Err(Error::state(
            facts.state,
            "A draft has no recipe. Its author may read and change it under `/draft`.",
        ));
    }
    match grants::find(tx, id).await? {
        Some(grant) => Ok(Passed { facts, grant }),
        None => Err(closed(tx, &facts).await?),
    }
}

/// Records the first read by the caller's grant for a revision, so that everybody who has a recipe can be found. With
/// `every_level`, also by those for everything nested in it, all of them together.
///
/// # Errors
/// As [`open`] and [`open_every_level`].
pub async fn record_first_read(tx: &mut Tx<'_>, id: RevisionId, levels: Levels) -> Result<()> {
    let passed = open(tx, id).await?;
    let below = match levels {
        Levels::Every => Some(open_every_level(tx, &passed).await?),
        Levels::WhereOpen => grants::every_level(tx, &passed.grant).await?.ok(),
        Levels::Own => None,
    };
    let below = below.as_ref().map(EveryLevel::nested).unwrap_or_default();
    let read: Vec<&Grant<'_>> = below.iter().chain([&passed.grant]).collect();
    grants::record_first_read(tx, &read).await
}

/// What is read of what is nested in a revision.
#[derive(Clone, Copy, Debug)]
pub enum Levels {
    /// Nothing.
    Own,
    /// All of it.
    Every,
    /// All of it, where all of it is open to the caller.
    WhereOpen,
}

/// Extends a grant to every revision nested in its revision.
///
/// # Errors
/// Returns [`Error::GateClosed`] or [`Error::State`] with the title of a nested revision that the caller holds no grant
/// for.
pub async fn open_every_level<'g, 't>(tx: &mut Tx<'t>, passed: &'g Passed<'t>) -> Result<EveryLevel<'g, 't>> {
    match grants::every_level(tx, &passed.grant).await? {
        Err(closed) => Err(nested_closed(tx, closed).await?),
        Ok(levels) => Ok(levels),
    }
}

/// The caller's grants for the given nested revisions.
///
/// # Errors
/// As [`open_every_level`].
pub(crate) async fn open_all<'t>(tx: &mut Tx<'t>, ids: Vec<Uuid>) -> Result<AllOpen<'t>> {
    match grants::all_open(tx, ids).await? {
        Ok(open) => Ok(open),
        Err(closed) => Err(nested_closed(tx, closed).await?),
    }
}

/// The refusal for a nested revision, with its title.
async fn nested_closed(tx: &mut Tx<'_>, id: RevisionId) -> Result<Error> {
    let refused = match open(tx, id).await {
        Err(refused @ (Error::GateClosed(_) | Error::State { .. })) => refused,
        Err(other) => return Ok(other),
        Ok(_) => return Err(Error::internal("a grant that is there and is not")),
    };
    let title: String = revision::table.find(id.0).select(revision::title).first(tx.conn()).await?;
    let named = |reason: String| {
        format!("You do not have access to {title:?}, an ingredient of this formula: {reason}")
    };
    Ok(match refused {
        Error::GateClosed(mut outstanding) => {
            outstanding.reason = named(outstanding.reason);
            Error::GateClosed(outstanding)
        }
        Error::State { state, detail } => Error::State { state, detail: named(detail) },
        other => other,
    })
}

/// The sentence for users on a withheld revision.
pub const WITHHELD: &str =
    "This revision is withheld because a new stop applies. An instructor must withdraw or reinstate it.";

const fn to_acknowledge(actor: &Actor) -> &'static str {
    match actor {
        Actor::Person(_) => {
            "Acknowledge the current cautions first. `outstanding` lists them and gives the address to send the \
             acknowledgement to."
        }
        Actor::Client { .. } => {
            "The responsible person must acknowledge the cautions for this API client, with `for_api_client`. A key \
             with the scope acknowledge may do so itself. `outstanding` lists the cautions and gives the address."
        }
    }
}

async fn closed(tx: &mut Tx<'_>, facts: &Facts) -> Result<Error> {
    let withheld = withheld_since(tx, facts.id).await?.is_some();
    let reason = match facts.state {
        RevisionState::Approved if withheld => WITHHELD.to_owned(),
        RevisionState::Approved => match awaiting::own(tx, facts.id).await? {
            Some(id) => format!("{} The recipe becomes available once countersigned.", awaits(id)),
            None => to_acknowledge(tx.actor()?).to_owned(),
        },
        state => {
            let why = not_makeable_reason(state);
            format!("{why} Only an instructor may acknowledge its cautions, in order to decide on it.")
        }
    };
    Ok(Error::GateClosed(Box::new(outstanding(tx, facts.id, &reason).await?)))
}

fn awaits(acknowledgement: Uuid) -> String {
    format!("Your acknowledgement {acknowledgement} awaits an instructor's countersignature.")
}

/// Checks that a grant is one to make.
///
/// # Errors
/// Returns [`Error::State`] with the reason if it is one to decide.
pub async fn require_to_make(tx: &mut Tx<'_>, passed: &Passed<'_>) -> Result<()> {
    if passed.grant.purpose() == Purpose::Make {
        return Ok(());
    }
    let own = awaiting::own(tx, passed.facts.id).await?;
    let waiting = own.filter(|_| passed.facts.state == RevisionState::Approved);
    let reason = match waiting {
        Some(id) => format!("{} You may make this formula once countersigned.", awaits(id)),
        None => "You acknowledged the cautions to decide on this revision, not to make it. Acknowledge an approved \
                 revision."
            .into(),
    };
    Err(Error::state(passed.facts.state, reason))
}

/// The reason why a revision in this state may not be made.
fn not_makeable_reason(state: RevisionState) -> &'static str {
    match state {
        RevisionState::Withdrawn => "This revision was withdrawn and may not be made.",
        RevisionState::Superseded => "This revision was superseded by a later one and may not be made.",
        RevisionState::Returned => "This revision was returned to its author and may not be made.",
        RevisionState::Draft | RevisionState::Proposed | RevisionState::Approved => {
            "This revision is not approved yet and may not be made."
        }
    }
}

/// The current caution set, the address to acknowledge it at, and the reason for the refusal.
///
/// # Errors
/// Returns [`Error::Internal`] if the revision has no caution set.
pub async fn outstanding(tx: &mut Tx<'_>, id: RevisionId, reason: &str) -> Result<Outstanding> {
    Ok(Outstanding {
        caution_set: sets::current(tx, id).await?,
        acknowledge: format!("/v1/revisions/{id}/acknowledgements"),
        reason: reason.to_owned(),
    })
}

/// Locks for share what a grant to make a revision rests on: the memberships of its library, the revision with everything
/// nested in it, and its gate. What is nested in a revision never changes once it is frozen.
///
/// # Errors
/// Returns the errors of the database.
pub async fn lock_to_make(tx: &mut Tx<'_>, facts: &Facts) -> Result<()> {
    let id = facts.id.0;
    let nested: Vec<Uuid> = revision_nested::table
        .filter(revision_nested::revision_id.eq(id))
        .select(revision_nested::nested_id)
        .load(tx.conn())
        .await?;
    let revisions = Locks::new().library(facts.library, Mode::Shared).revisions(nested, Mode::Shared);
    lock(tx, revisions.revision(facts.id, Mode::Shared).gates([id], Mode::Shared)).await
}

/// Checks that a revision may be made: it is approved, not withheld, and contains no withdrawn revision.
///
/// The transaction must hold it and everything nested in it for share, as [`lock_to_make`] does: a concurrent withdrawal
/// waits, and then deletes the grant created here.
///
/// # Errors
/// Returns [`Error::State`] with the reason.
pub async fn may_be_made(tx: &mut Tx<'_>, facts: &Facts) -> Result<()> {
    if facts.state != RevisionState::Approved {
        let why = format!("{} Use the approved revision of this formula.", not_makeable_reason(facts.state));
        return Err(Error::state(facts.state, why));
    }
    if withheld_since(tx, facts.id).await?.is_some() {
        return Err(Error::state("withheld", WITHHELD));
    }
    let nested = revision_nested::table
        .filter(revision_nested::revision_id.eq(facts.id.0))
        .select(revision_nested::nested_id);
    let nested: Vec<(String, String)> = revision::table
        .filter(revision::id.eq_any(nested))
        .order(revision::id)
        .select((revision::state, revision::title))
        .load(tx.conn())
        .await?;
    match nested.into_iter().find(|(state, _)| state == RevisionState::Withdrawn.as_str()) {
        None => Ok(()),
        Some((_, title)) => Err(Error::state(
            facts.state,
            format!(
                "{title:?}, an ingredient of this formula, was withdrawn. Do not make this formula until an instructor has \
                 decided how to proceed."
            ),
        )),
    }
}

/// The purpose of a new acknowledgement. If the revision may not be made, an instructor acknowledges it to decide on
/// it, and the maker of an open batch to continue its record.
///
/// # Errors
/// Returns [`Error::State`] for a draft. Returns the refusal of [`may_be_made`] if the caller may neither make, decide
/// nor continue a batch.
pub(crate) async fn grant_purpose(tx: &mut Tx<'_>, facts: &Facts) -> Result<Purpose> {
    if facts.state == RevisionState::Draft {
        return Err(Error::state(
            facts.state,
            "A draft has no cautions to acknowledge. Propose the draft first.",
        ));
    }
    let refused = match may_be_made(tx, facts).await {
        Ok(()) => return Ok(Purpose::Make),
        Err(refused @ Error::State { .. }) => refused,
        Err(other) => return Err(other),
    };
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
