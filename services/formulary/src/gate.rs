//! Passing the gate: the caller's grant for a revision, or why there is none and how to get one.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
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
    /// What members may see of it.
    pub facts: Facts,
    /// The grant.
    pub grant: Grant<'t>,
}

/// The caller's grant for a revision.
///
/// # Errors
/// [`Error::NotFound`] when the caller may not know of the revision, [`Error::GateClosed`] with the outstanding
/// cautions when there is no grant, [`Error::State`] for a draft, which has none.
pub async fn open<'t>(tx: &mut Tx<'t>, id: RevisionId) -> Result<Passed<'t>> {
    let facts = visible(tx, id, false).await?;
    if facts.digest.is_none() {
        return Err(Error::state(facts.state, "a draft is read and changed by its author, under /draft"));
    }
    match grants::find(tx, id).await? {
        Some(grant) => Ok(Passed { facts, grant }),
        None => Err(closed(tx, &facts).await?),
    }
}

/// Records the first reading by the caller's grant: whoever holds a recipe can then be found.
///
/// # Errors
/// [`Error::GateClosed`] when the grant has just been deleted.
pub async fn record_first_read<'t>(tx: &mut Tx<'t>, passed: &Passed<'t>) -> Result<()> {
    if grants::record_first_read(tx, &passed.grant).await? {
        Ok(())
    } else {
        Err(closed(tx, &passed.facts).await?)
    }
}

/// Extends a grant to everything that its revision is made from, and records each first reading.
///
/// # Errors
/// [`Error::GateClosed`] and [`Error::State`] with the title of what is closed.
pub async fn open_every_level<'g, 't>(tx: &mut Tx<'t>, passed: &'g Passed<'t>) -> Result<EveryLevel<'g, 't>> {
    match grants::every_level(tx, &passed.grant).await? {
        Err(closed) => Err(nested_closed(tx, closed).await?),
        Ok(levels) => {
            for grant in levels.nested() {
                if !grants::record_first_read(tx, grant).await? {
                    return Err(nested_closed(tx, grant.revision()).await?);
                }
            }
            Ok(levels)
        }
    }
}

/// The caller's grants for everything that a formula of theirs is made from.
///
/// # Errors
/// [`Error::GateClosed`] and [`Error::State`] with the title of what is closed.
pub async fn open_all<'t>(tx: &mut Tx<'t>, ids: Vec<Uuid>) -> Result<AllOpen<'t>> {
    match grants::all_open(tx, ids).await? {
        Ok(open) => Ok(open),
        Err(closed) => Err(nested_closed(tx, closed).await?),
    }
}

/// Why something is closed that another is made from: its title says which one it is.
async fn nested_closed(tx: &mut Tx<'_>, id: RevisionId) -> Result<Error> {
    let refused = match open(tx, id).await {
        Err(refused @ (Error::GateClosed(_) | Error::State { .. })) => refused,
        Err(other) => return Ok(other),
        Ok(_) => return Err(Error::internal("a grant that is there and is not")),
    };
    let title: String = revision::table.find(id.0).select(revision::title).first(tx.conn()).await?;
    let named = |reason: String| format!("{title:?}, which this is made from, is closed to you: {reason}");
    Ok(match refused {
        Error::GateClosed(mut outstanding) => {
            outstanding.reason = named(outstanding.reason);
            Error::GateClosed(outstanding)
        }
        Error::State { state, detail } => Error::State { state, detail: named(detail) },
        other => other,
    })
}

/// What is said of a revision that gained a stop.
pub const WITHHELD: &str =
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
    let withheld = withheld_since(tx, facts.id).await?.is_some();
    let reason = match facts.state {
        RevisionState::Approved if withheld => WITHHELD.to_owned(),
        RevisionState::Approved => match awaiting::own(tx, facts.id).await? {
            Some(id) => format!(
                "your acknowledgement waits for an instructor's countersignature, which opens this: it is {id}"
            ),
            None => to_acknowledge(tx.actor()?).to_owned(),
        },
        state => {
            let why = not_makeable_reason(state);
            format!("{why}; an instructor acknowledges its cautions to decide about it")
        }
    };
    Ok(Error::GateClosed(Box::new(outstanding(tx, facts.id, &reason).await?)))
}

/// Why nobody makes a revision in this state.
fn not_makeable_reason(state: RevisionState) -> &'static str {
    match state {
        RevisionState::Withdrawn => "this revision was withdrawn and may not be made",
        RevisionState::Superseded => "this revision was superseded by a later one and may not be made",
        RevisionState::Returned => "this revision was returned to its author and may not be made",
        RevisionState::Draft | RevisionState::Proposed | RevisionState::Approved => {
            "this revision is not approved yet and may not be made"
        }
    }
}

/// The current caution set with the way to acknowledge it.
///
/// # Errors
/// When the revision has no caution set.
pub async fn outstanding(tx: &mut Tx<'_>, id: RevisionId, reason: &str) -> Result<Outstanding> {
    Ok(Outstanding {
        caution_set: sets::current(tx, id).await?,
        acknowledge: format!("/v1/revisions/{id}/acknowledgements"),
        reason: reason.to_owned(),
    })
}

/// Refuses what nobody makes now: what is not approved, is withheld, or is made from something that was withdrawn. Those
/// it is made from are locked for share: whoever withdraws one waits, and then deletes the grant that is created here.
///
/// # Errors
/// [`Error::State`] with the reason.
pub async fn may_be_made(tx: &mut Tx<'_>, facts: &Facts) -> Result<()> {
    if facts.state != RevisionState::Approved {
        let why = format!("{}: look for the approved one", not_makeable_reason(facts.state));
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

/// What a new acknowledgement is for. What nobody makes, an instructor acknowledges to decide about it, and whoever has
/// a batch of it in hand to go on with the record.
///
/// # Errors
/// [`Error::State`] for a draft; the refusal of [`may_be_made`] when the caller may neither make, decide nor go on with
/// a batch.
pub async fn grant_purpose(tx: &mut Tx<'_>, facts: &Facts) -> Result<Purpose> {
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
