//! Looking up grants for many readers in one statement.

use std::sync::Arc;

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{
    Array, BigInt, Binary, Integer, Nullable, Text, Timestamptz, Untyped, Uuid as SqlUuid,
};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use store::{Credentials, Error, Result};
use uuid::Uuid;
use wire::ids::RevisionId;

use crate::released::Released;
use crate::sealed::private::Proof;
use crate::sealed::{Sealed, sha};

/// Who wants to read which recipe.
pub struct Lookup {
    /// Who asks.
    pub credentials: Credentials,
    /// For which revision.
    pub revision: RevisionId,
}

/// A caller who is known.
pub struct Known {
    /// The caller's grant to make, where there is one by which something was read before.
    pub grant: Option<LookedUp>,
    /// The scopes of an API client.
    pub scopes: Option<String>,
    /// When an API client was last noted to be used.
    pub last_used_at: Option<DateTime<Utc>>,
}

/// Proof that a caller held a grant to make when the statement ran that looked it up, after they had asked. It is used
/// up by the one reading that was asked for.
pub struct LookedUp {
    digest: Sha,
    caution_digest: Sha,
    set_number: i32,
    policy: i32,
}

impl LookedUp {
    /// The digest of the revision, as acknowledged.
    #[must_use]
    pub const fn digest(&self) -> &Sha {
        &self.digest
    }

    /// The digest of the caution set, as acknowledged.
    #[must_use]
    pub const fn caution_digest(&self) -> &Sha {
        &self.caution_digest
    }

    /// Which of the revision's caution sets is the current one.
    #[must_use]
    pub const fn set_number(&self) -> i32 {
        self.set_number
    }

    /// The version of the policy in force, whose notice stands in every recipe.
    #[must_use]
    pub const fn policy(&self) -> i32 {
        self.policy
    }

    /// Releases the content that the grant is for.
    ///
    /// # Errors
    /// [`Error::Internal`] when the grant is for other content.
    pub fn open<T>(self, sealed: &Sealed<T>) -> Result<Released<Arc<T>>> {
        sealed.open(&ByLookup(self.digest))
    }
}

struct ByLookup(Sha);

impl Proof for ByLookup {
    fn digest(&self) -> &Sha {
        &self.0
    }

    fn to_make(&self) -> Option<Sha> {
        Some(self.0)
    }
}

#[derive(QueryableByName)]
struct Row {
    /// Which question this answers, counted from one.
    #[diesel(sql_type = BigInt)]
    place: i64,
    #[diesel(sql_type = Nullable<Binary>)]
    digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Binary>)]
    caution_digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Integer>)]
    set_number: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    policy: Option<i32>,
    #[diesel(sql_type = Nullable<Text>)]
    scopes: Option<String>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    last_used_at: Option<DateTime<Utc>>,
}

impl Row {
    fn into_known(self) -> Result<Known> {
        let grant = match (self.digest, self.caution_digest, self.set_number, self.policy) {
            (Some(digest), Some(cautions), Some(set_number), Some(policy)) => {
                Some(LookedUp { digest: sha(digest)?, caution_digest: sha(cautions)?, set_number, policy })
            }
            _ => None,
        };
        Ok(Known { grant, scopes: self.scopes, last_used_at: self.last_used_at })
    }
}

/// Answers each question: who asks and, where there is one, their grant to make; none when their session or key has
/// ended. One statement, whatever the number of questions.
///
/// # Errors
/// When the database does not answer.
pub async fn lookup(
    conn: &mut AsyncPgConnection,
    questions: &[Lookup],
    now: DateTime<Utc>,
) -> Result<Vec<Option<Known>>> {
    let mut statement = GrantLookup { now, ..GrantLookup::default() };
    for ask in questions {
        let (session, person, key) = match &ask.credentials {
            Credentials::Session { session, person } => (Some(session.0), Some(person.0), None),
            Credentials::Key(hash) => (None, None, Some(hash.to_vec())),
        };
        statement.sessions.push(session);
        statement.persons.push(person);
        statement.keys.push(key);
        statement.revisions.push(ask.revision.0);
    }
    let mut answers: Vec<Option<Known>> = questions.iter().map(|_| None).collect();
    for found in statement.load::<Row>(conn).await? {
        let place = usize::try_from(found.place - 1).unwrap_or(usize::MAX);
        *answers.get_mut(place).ok_or_else(|| Error::internal("an answer to no question"))? =
            Some(found.into_known()?);
    }
    Ok(answers)
}

/// All questions in one statement, which finds each row by its key. Its text never changes, so that it is prepared once
/// a connection. The lists stand in selects of their own, where the planner does not see how long they are: a plan for each
/// length would look no cheaper than one for all, so that Postgres keeps the one, without any setting of the connection.
#[derive(Default, QueryId)]
struct GrantLookup {
    sessions: Vec<Option<Uuid>>,
    persons: Vec<Option<Uuid>>,
    keys: Vec<Option<Vec<u8>>>,
    revisions: Vec<Uuid>,
    now: DateTime<Utc>,
}

impl Query for GrantLookup {
    type SqlType = Untyped;
}

impl QueryFragment<Pg> for GrantLookup {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql("WITH ask AS (SELECT asked.*, ");
        out.push_bind_param::<Timestamptz, _>(&self.now)?;
        out.push_sql("::timestamptz AS now FROM unnest((SELECT ");
        out.push_bind_param::<Array<Nullable<SqlUuid>>, _>(&self.sessions)?;
        out.push_sql("), (SELECT ");
        out.push_bind_param::<Array<Nullable<SqlUuid>>, _>(&self.persons)?;
        out.push_sql("), (SELECT ");
        out.push_bind_param::<Array<Nullable<Binary>>, _>(&self.keys)?;
        out.push_sql("), (SELECT ");
        out.push_bind_param::<Array<SqlUuid>, _>(&self.revisions)?;
        out.push_sql(
            ")) WITH ORDINALITY AS asked (session_id, person_id, key_hash, revision_id, place))
             SELECT ask.place, release_grant.digest, release_grant.caution_digest, release_grant.set_number, client.scopes, client.last_used_at,
                    (SELECT max(version) FROM policy) AS policy
             FROM ask
             LEFT JOIN LATERAL (
                 SELECT session.person_id AS id FROM session
                 WHERE session.id = ask.session_id AND session.person_id = ask.person_id AND session.ended_at IS NULL
                   AND session.idle_expires_at > ask.now AND session.valid_until > ask.now
                 LIMIT 1) AS person ON true
             LEFT JOIN LATERAL (
                 SELECT api_client.id, api_client.scopes, api_client.last_used_at FROM api_client
                 WHERE api_client.key_hash = ask.key_hash AND api_client.state = 'active'
                   AND api_client.valid_until > ask.now
                 LIMIT 1) AS client ON true
             LEFT JOIN LATERAL (
                 SELECT release_grant.digest, release_grant.caution_digest, release_grant.set_number FROM release_grant
                 WHERE release_grant.holder_id = coalesce(person.id, client.id) AND release_grant.revision_id = ask.revision_id
                   AND release_grant.purpose = 'make' AND release_grant.pulled AND release_grant.valid_until > ask.now
                 LIMIT 1) AS release_grant ON true
             WHERE person.id IS NOT NULL OR client.id IS NOT NULL",
        );
        Ok(())
    }
}
