//! Acknowledging and countersigning: the only ways to a grant.
//!
//! Whoever calls has decided who may acknowledge what and for which purpose; here it is written, and the grant with it.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, countersignature, gate, revision};
use serde_json::json;
use store::{Error, Instructor, NewEvent, Result, Tx, violates, word};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, HolderId, PersonId, RevisionId};
use wire::safety::Purpose;

use crate::grants::{self, NewGrant, sha};
use crate::kept::{ACKNOWLEDGEMENT, COUNTERSIGNATURE, GRANT};

/// An acknowledgement as it is kept.
#[derive(Debug, Queryable, Selectable)]
#[diesel(table_name = acknowledgement, check_for_backend(diesel::pg::Pg))]
pub struct AcknowledgementRow {
    /// The acknowledgement.
    pub id: Uuid,
    /// For whom it is.
    pub holder_id: Uuid,
    /// The person who answers for it.
    pub given_by: Uuid,
    /// The revision.
    pub revision_id: Uuid,
    /// The revision's digest.
    pub revision_digest: Vec<u8>,
    /// Which of the revision's caution sets was acknowledged.
    pub set_number: i32,
    /// The digest of that set.
    pub caution_digest: Vec<u8>,
    /// The contraindications that were acknowledged each on its own.
    pub contraindications: serde_json::Value,
    /// What it is for.
    pub purpose: String,
    /// When it was given.
    pub at: DateTime<Utc>,
    /// When it ends.
    pub valid_until: DateTime<Utc>,
    /// For whom the preparation is meant.
    pub meant_for: serde_json::Value,
    /// Whether it waits for an instructor's countersignature before it grants anything.
    pub countersign: bool,
}

/// An acknowledgement that is given now.
pub struct NewAcknowledgement<'a> {
    /// For whom it is.
    pub holder: HolderId,
    /// The person who answers for it.
    pub given_by: PersonId,
    /// The revision.
    pub revision: RevisionId,
    /// The contraindications, each acknowledged on its own.
    pub contraindications: &'a [String],
    /// For whom the preparation is meant.
    pub meant_for: &'a [String],
    /// What it is for.
    pub purpose: Purpose,
    /// When it ends.
    pub valid_until: DateTime<Utc>,
    /// Whether it waits for an instructor's countersignature before it grants anything.
    pub countersign: bool,
}

/// Which caution set of a revision is the current one. Its row stays locked for share until the transaction ends, so
/// that the set cannot change under whoever acknowledges it.
pub struct CurrentSet {
    revision: RevisionId,
    number: i32,
    digest: Sha,
}

impl CurrentSet {
    /// Its number among the sets of the revision.
    #[must_use]
    pub const fn number(&self) -> i32 {
        self.number
    }

    /// Its digest.
    #[must_use]
    pub const fn digest(&self) -> &Sha {
        &self.digest
    }
}

/// Locks which caution set of a revision is the current one.
///
/// # Errors
/// When the revision has none.
pub async fn lock_current_set(tx: &mut Tx<'_>, id: RevisionId) -> Result<CurrentSet> {
    let (number, digest): (i32, Vec<u8>) = gate::table
        .find(id.0)
        .select((gate::set_number, gate::caution_digest))
        .for_share()
        .first(tx.conn())
        .await?;
    Ok(CurrentSet { revision: id, number, digest: sha(digest)? })
}

async fn digest_of(tx: &mut Tx<'_>, id: RevisionId) -> Result<Sha> {
    let digest: Option<Vec<u8>> =
        revision::table.find(id.0).select(revision::digest).first(tx.conn()).await?;
    sha(digest.ok_or_else(|| Error::internal("a frozen revision without digest"))?)
}

/// Acknowledges the current caution set of a revision. Unless it waits for a countersignature or is of record, it
/// creates the grant.
///
/// # Errors
/// When `set` is of another revision, or the database refuses it.
pub async fn acknowledge(
    tx: &mut Tx<'_>,
    set: &CurrentSet,
    new: &NewAcknowledgement<'_>,
) -> Result<AcknowledgementId> {
    if set.revision != new.revision {
        return Err(Error::internal("a caution set was acknowledged for another revision than its own"));
    }
    let digest = digest_of(tx, new.revision).await?;
    let id = tx.new_id();
    let now = tx.now;
    diesel::insert_into(acknowledgement::table)
        .values((
            acknowledgement::id.eq(id),
            acknowledgement::holder_id.eq(new.holder.0),
            acknowledgement::given_by.eq(new.given_by.0),
            acknowledgement::revision_id.eq(new.revision.0),
            acknowledgement::revision_digest.eq(&digest[..]),
            acknowledgement::set_number.eq(set.number),
            acknowledgement::caution_digest.eq(&set.digest[..]),
            acknowledgement::contraindications.eq(json!(new.contraindications)),
            acknowledgement::language.eq("en"),
            acknowledgement::purpose.eq(new.purpose.as_str()),
            acknowledgement::at.eq(now),
            acknowledgement::valid_until.eq(new.valid_until),
            acknowledgement::meant_for.eq(json!(new.meant_for)),
            acknowledgement::countersign.eq(new.countersign),
        ))
        .execute(tx.conn())
        .await?;
    let detail = json!({
        "acknowledgement": id,
        "holder": new.holder,
        "given_by": new.given_by,
        "caution_set": hex::encode(set.digest),
        "purpose": new.purpose,
        "countersign": if new.countersign { "needed" } else { "not needed" },
    });
    let mut event = NewEvent::new("revision", new.revision.0, "acknowledged")
        .after(digest)
        .detail(detail)
        .keeps(&ACKNOWLEDGEMENT, [id]);
    if new.countersign {
        // Whoever makes it for somebody in particular no longer makes it for just anybody.
        grants::close_for(tx, new.holder, new.revision, "countersignature_awaited").await?;
    } else if new.purpose != Purpose::Record {
        let grant = NewGrant {
            holder: new.holder,
            revision: new.revision,
            digest,
            caution_digest: set.digest,
            set_number: set.number,
            purpose: new.purpose,
            acknowledgement: id,
            valid_until: new.valid_until,
        };
        grants::put(tx, &grant).await?;
        event = event.keeps(&GRANT, [new.holder.0, new.revision.0]);
    }
    tx.record(event);
    Ok(AcknowledgementId(id))
}

/// An acknowledgement, by its id.
///
/// # Errors
/// When the database does not answer.
pub async fn acknowledgement(tx: &mut Tx<'_>, id: Uuid) -> Result<Option<AcknowledgementRow>> {
    Ok(acknowledgement::table
        .find(id)
        .select(AcknowledgementRow::as_select())
        .first(tx.conn())
        .await
        .optional()?)
}

/// Countersigns an acknowledgement, which creates its grant. Whoever calls has found that it still holds.
///
/// # Errors
/// [`Error::State`] when it was countersigned already.
pub async fn countersign(
    tx: &mut Tx<'_>,
    by: Instructor<'_>,
    set: &CurrentSet,
    row: &AcknowledgementRow,
) -> Result<()> {
    let current = set.revision.0 == row.revision_id && set.number == row.set_number;
    if !current || word::<Purpose>(&row.purpose)? != Purpose::Make {
        return Err(Error::internal("an acknowledgement was countersigned that no longer holds"));
    }
    let now = tx.now;
    diesel::insert_into(countersignature::table)
        .values((
            countersignature::acknowledgement_id.eq(row.id),
            countersignature::by_id.eq(by.id().0),
            countersignature::at.eq(now),
        ))
        .execute(tx.conn())
        .await
        .map_err(
            |error| {
                if violates(&error, "countersignature_pkey") { countersigned() } else { error.into() }
            },
        )?;
    let grant = NewGrant {
        holder: HolderId(row.holder_id),
        revision: RevisionId(row.revision_id),
        digest: sha(row.revision_digest.clone())?,
        caution_digest: set.digest,
        set_number: set.number,
        purpose: Purpose::Make,
        acknowledgement: row.id,
        valid_until: row.valid_until,
    };
    grants::put(tx, &grant).await?;
    let detail = json!({ "acknowledgement": row.id, "holder": row.holder_id });
    tx.record(
        NewEvent::new("revision", row.revision_id, "countersigned")
            .detail(detail)
            .keeps(&COUNTERSIGNATURE, [row.id])
            .keeps(&GRANT, [row.holder_id, row.revision_id]),
    );
    Ok(())
}

/// What is said of an acknowledgement that was countersigned before.
#[must_use]
pub fn countersigned() -> Error {
    Error::state("countersigned", "this acknowledgement has been countersigned already")
}
