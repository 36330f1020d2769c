//! The recipe as it is read most: one round trip proves the session and the door, memory holds the bytes.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{Array, BigInt, Binary, Integer, Nullable, Timestamptz};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use schema::{api_client, door, policy as policy_table};
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
use crate::reader::{Reader, Silent};
use crate::tx::{Claim, Clinic, KEY_NOT_KNOWN, USE_NOTED_EVERY};

/// The recipe of a revision, worked out for a quantity: through the door to make, or the door to decide.
///
/// Cost when the recipe was read before and no quantity is asked: a share of one statement, which finds two rows by
/// their keys for each of the readings that go together in it. `reader` gathers them.
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
        && let Some(names) = to_make(clinic, reader, claim, id).await?
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

/// What names the recipe behind the caller's door to make. None when that door is shut, or when the shared connection
/// did not answer: the slow way finds out what is wrong.
async fn to_make(clinic: &Clinic, reader: &Reader, claim: &Claim, id: RevisionId) -> Result<Option<Names>> {
    match claim {
        Claim::Session { session, person } => {
            let ask = Ask { session: session.0, person: person.0, revision: id.0 };
            match reader.ask(ask).await {
                Ok(Some(found)) => names(found),
                Ok(None) => Err(Error::NotKnown("the session has ended: sign in again")),
                Err(Silent) => Ok(None),
            }
        }
        Claim::Key(hash) => to_make_by_key(clinic, reader, hash, id).await,
    }
}

/// Who wants to read which recipe.
pub(crate) struct Ask {
    session: Uuid,
    person: Uuid,
    revision: Uuid,
}

/// What names the recipe, where the door to make is open: digest, digest of the cautions, number of their set, and
/// version of the policy in force, whose notice stands in every recipe.
pub(crate) type Found = (Option<Vec<u8>>, Option<Vec<u8>>, Option<i32>, Option<i32>);

/// For each question the door it stands before, or none when its session has ended.
pub(crate) async fn doors(
    mut conn: &AsyncPgConnection,
    questions: &[Ask],
    now: DateTime<Utc>,
) -> QueryResult<Vec<Option<Found>>> {
    let ids = |of: fn(&Ask) -> Uuid| questions.iter().map(of).collect();
    let statement = Doors {
        sessions: ids(|ask| ask.session),
        persons: ids(|ask| ask.person),
        revisions: ids(|ask| ask.revision),
        now,
    };
    let rows: Vec<(i64, Found)> = statement.load(&mut conn).await?;
    let mut answers: Vec<Option<Found>> = questions.iter().map(|_| None).collect();
    for (place, found) in rows {
        // Postgres counts from one.
        if let Some(answer) = usize::try_from(place - 1).ok().and_then(|place| answers.get_mut(place)) {
            *answer = Some(found);
        }
    }
    Ok(answers)
}

/// All questions in one statement. Its text never changes, so that it is prepared once a connection.
#[derive(QueryId)]
struct Doors {
    sessions: Vec<Uuid>,
    persons: Vec<Uuid>,
    revisions: Vec<Uuid>,
    now: DateTime<Utc>,
}

type FoundSql = (Nullable<Binary>, Nullable<Binary>, Nullable<Integer>, Nullable<Integer>);

impl Query for Doors {
    type SqlType = (BigInt, FoundSql);
}

impl QueryFragment<Pg> for Doors {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(
            "SELECT ask.place, door.digest, door.caution_digest, door.set_number, (SELECT max(version) FROM policy) \
             FROM unnest(",
        );
        out.push_bind_param::<Array<diesel::sql_types::Uuid>, _>(&self.sessions)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<diesel::sql_types::Uuid>, _>(&self.persons)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<diesel::sql_types::Uuid>, _>(&self.revisions)?;
        out.push_sql(
            ") WITH ORDINALITY AS ask (session_id, person_id, revision_id, place) \
             CROSS JOIN (SELECT ",
        );
        out.push_bind_param::<Timestamptz, _>(&self.now)?;
        out.push_sql(
            "::timestamptz AS now) AS clock \
             JOIN session ON session.id = ask.session_id AND session.person_id = ask.person_id \
             AND session.ended_at IS NULL AND session.idle_until > clock.now AND session.valid_until > clock.now \
             LEFT JOIN door ON door.holder_id = ask.person_id AND door.revision_id = ask.revision_id \
             AND door.purpose = 'make' AND door.pulled AND door.valid_until > clock.now",
        );
        Ok(())
    }
}

async fn to_make_by_key(
    clinic: &Clinic,
    reader: &Reader,
    hash: &Sha,
    id: RevisionId,
) -> Result<Option<Names>> {
    let now = clinic.clock.now();
    let statement = async |mut conn: &AsyncPgConnection| {
        api_client::table
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
                    policy_table::table.select(diesel::dsl::max(policy_table::version)).single_value(),
                ),
                api_client::scopes,
                api_client::last_used_at,
            ))
            .first::<(Found, String, Option<DateTime<Utc>>)>(&mut conn)
            .await
            .optional()
    };
    let Ok(row) = reader.run(statement).await else { return Ok(None) };
    let (found, scopes, last_used_at) = row.ok_or(KEY_NOT_KNOWN)?;
    // The slow way says what is missing, and notes the use.
    if !scopes.split_whitespace().any(|scope| scope == Scope::RecipesRead.as_str())
        || last_used_at.is_none_or(|at| now - at > USE_NOTED_EVERY)
    {
        return Ok(None);
    }
    names(found)
}

fn names(found: Found) -> Result<Option<Names>> {
    let length = |_| Error::internal("a digest of the wrong length");
    match found {
        (Some(digest), Some(cautions), Some(set), Some(policy)) => {
            Ok(Some((digest.try_into().map_err(length)?, cautions.try_into().map_err(length)?, set, policy)))
        }
        _ => Ok(None),
    }
}
