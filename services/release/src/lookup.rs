//! Looking up grants for many readers in one statement.

use std::sync::Arc;

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Binary, Integer, Nullable};
use diesel_async::AsyncPgConnection;
use store::gather::{Ask, COLUMNS, Gather, Known, Sql, answers, by_id, statement};
use store::{Error, Result};
use wire::ids::RevisionId;

use crate::released::Released;
use crate::sealed::private::Proof;
use crate::sealed::{Sealed, sha};

/// The question for the caller's grant to make a revision, where there is one by which something was read before.
#[derive(Clone, Copy)]
pub struct MakeGrant(pub RevisionId);

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
struct GrantRow {
    #[diesel(sql_type = Nullable<Binary>)]
    digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Binary>)]
    caution_digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Integer>)]
    set_number: Option<i32>,
    #[diesel(sql_type = Nullable<Integer>)]
    policy: Option<i32>,
}

impl GrantRow {
    fn found(self) -> Result<Option<LookedUp>> {
        match (self.digest, self.caution_digest, self.set_number, self.policy) {
            (Some(digest), Some(cautions), Some(set_number), Some(policy)) => {
                let (digest, caution_digest) = (sha(digest)?, sha(cautions)?);
                Ok(Some(LookedUp { digest, caution_digest, set_number, policy }))
            }
            _ => Ok(None),
        }
    }
}

impl Gather for MakeGrant {
    type Found = Option<LookedUp>;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let rows = by_id::<_, GrantRow>(conn, &SQL, asked, |ask| ask.0.0, now).await?;
        answers(asked, now, rows, GrantRow::found, |_, _| Err(Error::internal("a second grant to make")))
    }
}

static SQL: Sql = Sql::new(|| {
    let rest = "LEFT JOIN LATERAL (
            SELECT digest, caution_digest, set_number FROM release_grant
            WHERE holder_id = ask.holder_id AND revision_id = ask.revision_id AND purpose = 'make' AND pulled
              AND valid_until > ask.now
            LIMIT 1) AS held ON true";
    statement(
        &["revision_id"],
        &format!("SELECT {COLUMNS}, held.*, (SELECT max(version) FROM policy) AS policy FROM ask {rest}"),
    )
});
