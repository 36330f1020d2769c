//! The recipe as it is read most: one round trip proves the session and the door, memory holds the bytes.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{
    Array, BigInt, Binary, Integer, Nullable, Text, Timestamptz, Untyped, Uuid as SqlUuid,
};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use store::{Claim, ENDED, Error, KEY_NOT_KNOWN, Result, Store, USE_NOTED_EVERY};
use uuid::Uuid;
use wire::ids::RevisionId;
use wire::people::Scope;
use wire::recipe::MakeFor;
use wire::safety::Purpose;

use super::frozen::Names;
use super::released::{Released, ReleasedRecipe, Rendered};
use super::{gate, recipe as work};
use policy;
use crate::reader::Reader;

/// The recipe of a revision, worked out for a quantity: through the door to make, or the door to decide.
///
/// Cost when the recipe was read before and no quantity is asked: a share of one statement, which finds two rows by
/// their keys for each of the readings that go together in it. `reader` gathers them.
///
/// # Errors
/// [`Error::GateClosed`] with the outstanding cautions; what the quantity asked for cannot be; and what proving the
/// claim answers.
pub async fn recipe(
    store: &Store,
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
    store
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
async fn to_make(store: &Store, reader: &Reader, claim: &Claim, id: RevisionId) -> Result<Option<Names>> {
    let Ok(found) = reader.ask(Ask { claim: *claim, revision: id }).await else { return Ok(None) };
    let found = found.ok_or(match claim {
        Claim::Session { .. } => ENDED,
        Claim::Key(_) => KEY_NOT_KNOWN,
    })?;
    let may_read = |scopes: &str| scopes.split_whitespace().any(|one| one == Scope::RecipesRead.as_str());
    let noted = |used: DateTime<Utc>| store.clock.now() - used <= USE_NOTED_EVERY;
    match &found.scopes {
        // The slow way says what is missing, and notes the use.
        Some(scopes) if !may_read(scopes) || !found.last_used_at.is_some_and(noted) => Ok(None),
        _ => found.names(),
    }
}

/// Who wants to read which recipe.
pub(crate) struct Ask {
    claim: Claim,
    revision: RevisionId,
}

/// A caller who is known, and what names the recipe where their door to make is open.
#[derive(QueryableByName)]
pub(crate) struct Found {
    /// Which question this answers, counted from one.
    #[diesel(sql_type = BigInt)]
    place: i64,
    #[diesel(sql_type = Nullable<Binary>)]
    digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Binary>)]
    caution_digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Integer>)]
    set_number: Option<i32>,
    /// The version of the policy in force, whose notice stands in every recipe.
    #[diesel(sql_type = Nullable<Integer>)]
    policy: Option<i32>,
    /// Of an API client.
    #[diesel(sql_type = Nullable<Text>)]
    scopes: Option<String>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    last_used_at: Option<DateTime<Utc>>,
}

impl Found {
    fn names(self) -> Result<Option<Names>> {
        let length = |_| Error::internal("a digest of the wrong length");
        match (self.digest, self.caution_digest, self.set_number, self.policy) {
            (Some(digest), Some(cautions), Some(set), Some(policy)) => Ok(Some((
                digest.try_into().map_err(length)?,
                cautions.try_into().map_err(length)?,
                set,
                policy,
            ))),
            _ => Ok(None),
        }
    }
}

/// For each question who asks and the door they stand before, or none when their session or key has ended.
pub(crate) async fn doors(
    conn: &mut AsyncPgConnection,
    questions: &[Ask],
    now: DateTime<Utc>,
) -> Result<Vec<Option<Found>>> {
    let mut statement = Doors { now, ..Doors::default() };
    for ask in questions {
        let (session, person, key) = match &ask.claim {
            Claim::Session { session, person } => (Some(session.0), Some(person.0), None),
            Claim::Key(hash) => (None, None, Some(hash.to_vec())),
        };
        statement.sessions.push(session);
        statement.persons.push(person);
        statement.keys.push(key);
        statement.revisions.push(ask.revision.0);
    }
    let mut answers: Vec<Option<Found>> = questions.iter().map(|_| None).collect();
    for found in statement.load::<Found>(conn).await? {
        let answer = usize::try_from(found.place - 1).ok().and_then(|place| answers.get_mut(place));
        *answer.ok_or_else(|| Error::internal("an answer to no question"))? = Some(found);
    }
    Ok(answers)
}

/// All questions in one statement, which finds each row by its key. Its text never changes, so that it is prepared once
/// a connection.
#[derive(Default, QueryId)]
struct Doors {
    sessions: Vec<Option<Uuid>>,
    persons: Vec<Option<Uuid>>,
    keys: Vec<Option<Vec<u8>>>,
    revisions: Vec<Uuid>,
    now: DateTime<Utc>,
}

impl Query for Doors {
    type SqlType = Untyped;
}

impl QueryFragment<Pg> for Doors {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql("WITH ask AS (SELECT asked.*, ");
        out.push_bind_param::<Timestamptz, _>(&self.now)?;
        out.push_sql("::timestamptz AS now FROM unnest(");
        out.push_bind_param::<Array<Nullable<SqlUuid>>, _>(&self.sessions)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<Nullable<SqlUuid>>, _>(&self.persons)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<Nullable<Binary>>, _>(&self.keys)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<SqlUuid>, _>(&self.revisions)?;
        out.push_sql(
            ") WITH ORDINALITY AS asked (session_id, person_id, key_hash, revision_id, place))
             SELECT ask.place, door.digest, door.caution_digest, door.set_number, client.scopes, client.last_used_at,
                    (SELECT max(version) FROM policy) AS policy
             FROM ask
             LEFT JOIN LATERAL (
                 SELECT session.person_id AS id FROM session
                 WHERE session.id = ask.session_id AND session.person_id = ask.person_id AND session.ended_at IS NULL
                   AND session.idle_until > ask.now AND session.valid_until > ask.now
                 LIMIT 1) AS person ON true
             LEFT JOIN LATERAL (
                 SELECT api_client.id, api_client.scopes, api_client.last_used_at FROM api_client
                 WHERE api_client.key_hash = ask.key_hash AND api_client.state = 'active'
                   AND api_client.valid_until > ask.now
                 LIMIT 1) AS client ON true
             LEFT JOIN LATERAL (
                 SELECT door.digest, door.caution_digest, door.set_number FROM door
                 WHERE door.holder_id = coalesce(person.id, client.id) AND door.revision_id = ask.revision_id
                   AND door.purpose = 'make' AND door.pulled AND door.valid_until > ask.now
                 LIMIT 1) AS door ON true
             WHERE person.id IS NOT NULL OR client.id IS NOT NULL",
        );
        Ok(())
    }
}
