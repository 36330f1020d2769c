//! The recipe as it is read most: one round trip proves the session and the door, memory holds the bytes.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use schema::{api_client, door, policy as policy_table, session};
use uuid::Uuid;
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::recipe::MakeFor;
use wire::safety::Purpose;

use super::frozen::Names;
use super::released::{Released, ReleasedRecipe, Rendered};
use super::{gate, recipe as work};
use crate::canonical::Sha;
use crate::error::{Error, Result};
use crate::policy;
use crate::reader::Reader;
use crate::tx::{Claim, Clinic, KEY_NOT_KNOWN, USE_NOTED_EVERY};

/// The recipe of a revision, worked out for a quantity: through the door to make, or the door to decide.
///
/// Cost when the recipe was read before and no quantity is asked: one statement on two rows found by their keys, on a
/// connection shared and pipelined with the worker's other reads. `reader` holds that connection.
///
/// # Errors
/// [`Error::GateClosed`] with the outstanding cautions; what the quantity asked for cannot be; and what proving the
/// claim answers.
pub async fn recipe(
    clinic: &Clinic,
    reader: &Reader,
    claim: &Claim,
    id: RevisionId,
    ask: &MakeFor,
) -> Result<ReleasedRecipe> {
    if *ask == MakeFor::default()
        && let Some(conn) = reader.conn(clinic).await
        && let Some(names) = to_make(clinic, &conn, claim, id).await?.unwrap_or_else(|_| {
            reader.lose();
            None
        })
        && let Some(known) = clinic.frozen.recipe(&names)
    {
        return Ok(Released::new(known.again()));
    }
    // The first reading through a door is noted, so that everybody who has a recipe can be found when it turns out that
    // they should be told something; until it is, the quick way is closed.
    clinic
        .write(claim, async |tx| {
            tx.require_scope(Scope::RecipesRead)?;
            let door = gate::open(tx, id).await?;
            gate::note_pull(tx, &door).await?;
            let rendered = Rendered::new(&work::work_out(tx, &door, ask, "?").await?)?;
            if *ask == MakeFor::default() && door.purpose == Purpose::Make {
                let policy = policy::rules(tx).await?.version;
                let names = (door.digest, door.caution_digest, door.set_number, policy);
                tx.frozen.keep_recipe(names, Arc::new(rendered.again()));
            }
            Ok(Released::new(rendered))
        })
        .await
}

type Row = (Option<Vec<u8>>, Option<Vec<u8>>, Option<i32>, Option<i32>);

/// The version of the policy in force: its notice stands in every recipe. Written in types and not as text, for then
/// the whole statement is known by its type and is found among the prepared ones without being written out.
macro_rules! policy_in_force {
    () => {
        policy_table::table.select(diesel::dsl::max(policy_table::version)).single_value()
    };
}

/// The shared connection did not answer: the slow way finds out what is wrong.
struct Silent;

/// What names the recipe behind the caller's door to make, if that door is open.
async fn to_make(
    clinic: &Clinic,
    mut reader: &AsyncPgConnection,
    claim: &Claim,
    id: RevisionId,
) -> Result<Result<Option<Names>, Silent>> {
    let now = clinic.clock.now();
    let row = match claim {
        Claim::Session { session: session_id, person } => session::table
            .left_join(
                door::table.on(door::holder_id
                    .eq(session::person_id)
                    .and(door::revision_id.eq(id.0))
                    .and(door::purpose.eq("make"))
                    .and(door::pulled)
                    .and(door::valid_until.gt(now))),
            )
            .filter(session::id.eq(session_id.0))
            .filter(session::person_id.eq(person.0))
            .filter(session::ended_at.is_null())
            .filter(session::idle_until.gt(now))
            .filter(session::valid_until.gt(now))
            .select((
                door::digest.nullable(),
                door::caution_digest.nullable(),
                door::set_number.nullable(),
                policy_in_force!(),
            ))
            .first::<Row>(&mut reader)
            .await
            .optional(),
        Claim::Key(hash) => return to_make_by_key(clinic, reader, hash, id, now).await,
    };
    match row {
        Ok(None) => Err(Error::NotKnown("the session has ended: sign in again")),
        Ok(Some(row)) => names(row).map(Ok),
        Err(error) => Ok(Err(silent(&error))),
    }
}

async fn to_make_by_key(
    clinic: &Clinic,
    mut reader: &AsyncPgConnection,
    hash: &Sha,
    id: RevisionId,
    now: DateTime<Utc>,
) -> Result<Result<Option<Names>, Silent>> {
    let row = api_client::table
        .left_join(
            door::table.on(door::holder_id
                .eq(api_client::id)
                .and(door::revision_id.eq(id.0))
                .and(door::purpose.eq("make"))
                .and(door::pulled)
                .and(door::valid_until.gt(now))),
        )
        .filter(api_client::key_hash.eq(&hash[..]))
        .filter(api_client::state.eq("active"))
        .filter(api_client::valid_until.gt(now))
        .select((
            (
                door::digest.nullable(),
                door::caution_digest.nullable(),
                door::set_number.nullable(),
                policy_in_force!(),
            ),
            api_client::scopes,
            api_client::last_used_at,
            api_client::id,
        ))
        .first::<(Row, String, Option<DateTime<Utc>>, Uuid)>(&mut reader)
        .await
        .optional();
    match row {
        Ok(None) => Err(KEY_NOT_KNOWN),
        // The slow way says what is missing, and notes the use.
        Ok(Some((_, scopes, last_used_at, _)))
            if !scopes.split_whitespace().any(|scope| scope == Scope::RecipesRead.as_str())
                || last_used_at.is_none_or(|at| clinic.clock.now() - at > USE_NOTED_EVERY) =>
        {
            Ok(Ok(None))
        }
        Ok(Some((row, ..))) => names(row).map(Ok),
        Err(error) => Ok(Err(silent(&error))),
    }
}

fn silent(error: &diesel::result::Error) -> Silent {
    tracing::warn!(%error, "the shared connection did not answer");
    Silent
}

fn names(row: Row) -> Result<Option<Names>> {
    let length = |_| Error::internal("a digest of the wrong length");
    match row {
        (Some(digest), Some(cautions), Some(set), Some(policy)) => {
            Ok(Some((digest.try_into().map_err(length)?, cautions.try_into().map_err(length)?, set, policy)))
        }
        _ => Ok(None),
    }
}
