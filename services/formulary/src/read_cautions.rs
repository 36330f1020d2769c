//! The caution set as its readers see it: one statement proves the caller and tells which set is the current one, and
//! memory has the set.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::AsyncPgConnection;
use quick_cache::sync::Cache;
use store::gather::{Ask, COLUMNS, Gather, Known, Queue, Sql, answers, by_id, statement};
use store::{Credentials, Error, Ready, Result, Store, word};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{PersonId, RevisionId};
use wire::people::Scope;

use crate::cautions::of;
use crate::facts::{may_see, visible};
use crate::sets;

/// A revision, the number of its set, and the version of the policy whose notice stands beside it. What they name never
/// changes.
type Names = (RevisionId, i32, i32);

/// The most cached sets: some kilobytes each.
const SETS: usize = 500;

/// The caution sets that one process has rendered. They are open to whoever may see the revision.
pub struct CautionCache(Cache<Names, Ready>);

impl Default for CautionCache {
    fn default() -> Self {
        Self(Cache::new(SETS))
    }
}

/// The question which caution set of a revision is the current one.
#[derive(Clone, Copy)]
pub struct CurrentCautions(pub RevisionId);

/// The names of the current set; no set for a draft.
pub struct CurrentNames {
    set: Option<i32>,
    policy: i32,
}

/// The current caution set of a revision, or the one that its author's draft would be proposed with now. Everybody who
/// may see the revision may read it. Cost: a share of one statement, once the set is in memory.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, and [`Error::Forbidden`] if an API client lacks
/// the scope.
pub async fn current_cautions(
    store: &Store,
    cache: &CautionCache,
    queue: &Queue<CurrentCautions>,
    credentials: &Credentials,
    id: RevisionId,
) -> Result<Ready> {
    let known = queue.ask(credentials, CurrentCautions(id)).await?;
    known.actor.require_scope(Scope::FormulasRead)?;
    let current = known.found.ok_or(Error::NotFound("revision"))?;
    if let Some(set) = current.set
        && let Some(ready) = cache.0.get(&(id, set, current.policy))
    {
        return Ok(ready);
    }
    store
        .read(credentials, async |tx| {
            let facts = visible(tx, id).await?;
            if facts.digest.is_none() {
                return Ready::new(&of(tx, &facts).await?);
            }
            let number = sets::current_number(tx, id).await?;
            // In one snapshot, so that the notice in the set is that of the version.
            let policy = policy::rules(tx).await?.version;
            let ready = Ready::new(&sets::numbered(tx, id, number).await?)?;
            cache.0.insert((id, number, policy), ready.clone());
            Ok(ready)
        })
        .await
}

static SQL: Sql = Sql::new(|| {
    statement(
        &["revision_id"],
        &format!(
            "SELECT {COLUMNS}, r.*, (SELECT max(version) FROM policy) AS policy
             FROM ask LEFT JOIN LATERAL (
                 SELECT revision.state, revision.author_id, gate.set_number
                 FROM revision JOIN formula ON formula.id = revision.formula_id
                 JOIN library_member m ON m.library_id = formula.library_id
                 LEFT JOIN gate ON gate.revision_id = revision.id
                 WHERE revision.id = ask.revision_id AND m.holder_id = ask.holder_id LIMIT 1) AS r ON true"
        ),
    )
});

/// A revision of one of the caller's libraries; empty where there is none.
#[derive(QueryableByName)]
struct CurrentRow {
    #[diesel(sql_type = Nullable<Text>)]
    state: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    author_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Integer>)]
    set_number: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    policy: Option<i32>,
}

/// A revision of one of the caller's libraries, which the caller may not be allowed to see.
struct OfMember {
    state: RevisionState,
    author: PersonId,
    names: CurrentNames,
}

impl CurrentRow {
    fn of_member(self) -> Result<Option<OfMember>> {
        let (Some(state), Some(author)) = (self.state, self.author_id) else { return Ok(None) };
        let policy = self.policy.ok_or_else(|| Error::internal("there is no policy"))?;
        let names = CurrentNames { set: self.set_number, policy };
        Ok(Some(OfMember { state: word(&state)?, author: PersonId(author), names }))
    }
}

impl Gather for CurrentCautions {
    type Found = Option<CurrentNames>;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let rows = by_id::<_, CurrentRow>(conn, &SQL, asked, |ask| ask.0.0, now).await?;
        let twice = |_: &mut _, _| Err(Error::internal("a second revision of the same id"));
        let found = answers(asked, now, rows, CurrentRow::of_member, twice)?;
        let seen = |known: Known<Option<OfMember>>| {
            let actor = known.actor.clone();
            known.map(|found| found.filter(|it| may_see(&actor, it.state, it.author)).map(|it| it.names))
        };
        Ok(found.into_iter().map(|known| known.map(seen)).collect())
    }
}
