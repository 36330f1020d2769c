//! Grants: an acknowledgement creates one; a change of cautions, revision, membership or role deletes it in the
//! transaction of that change.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::BoxedDeleteStatement;
use diesel_async::RunQueryDsl;
use locks::{Locks, lock, lock_grants_of};
use schema::{formula, library_member, recipe_pull, release_grant, revision, revision_nested};
use serde_json::{Value, json};
use store::actor::Brand;
use store::{Error, NewEvent, Result, Tx, word};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{HolderId, LibraryId, RevisionId};
use wire::safety::Purpose;

use crate::current::CurrentSet;
use crate::kept::{GRANT, PULL};
use crate::sealed::private::Proof;
use crate::sealed::sha;

/// Proof that the caller holds a grant for a revision, looked up in this transaction.
pub struct Grant<'t> {
    revision: RevisionId,
    digest: Sha,
    caution_digest: Sha,
    set_number: i32,
    purpose: Purpose,
    was_read: bool,
    _brand: Brand<'t>,
}

impl Grant<'_> {
    /// The revision that it is for.
    #[must_use]
    pub const fn revision(&self) -> RevisionId {
        self.revision
    }

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

    /// What it is for.
    #[must_use]
    pub const fn purpose(&self) -> Purpose {
        self.purpose
    }

    /// Whether a first reading by it was recorded.
    #[must_use]
    pub const fn was_read(&self) -> bool {
        self.was_read
    }
}

impl Proof for Grant<'_> {
    fn digest(&self) -> &Sha {
        &self.digest
    }

    fn to_make(&self) -> Option<Sha> {
        (self.purpose == Purpose::Make).then_some(self.digest)
    }
}

/// Proof that the caller may read a revision, by a grant or as the record of a batch asked for it, and holds a grant for
/// everything that it is made from, at every level.
pub struct EveryLevel<'g, 't> {
    digest: &'g Sha,
    was_read: bool,
    nested: AllOpen<'t>,
}

impl<'t> EveryLevel<'_, 't> {
    /// The digest of the revision, as acknowledged or as the batch asked for it.
    #[must_use]
    pub const fn digest(&self) -> &Sha {
        self.digest
    }

    /// The grants for what it is made from.
    #[must_use]
    pub fn nested(&self) -> &[Grant<'t>] {
        &self.nested.grants
    }

    /// Whether a first reading was recorded by each of its grants.
    #[must_use]
    pub fn was_read(&self) -> bool {
        self.was_read && self.nested.grants.iter().all(Grant::was_read)
    }
}

impl Proof for EveryLevel<'_, '_> {
    fn digest(&self) -> &Sha {
        self.digest
    }
}

/// Proof that the caller holds a grant for each of some revisions, looked up in this transaction.
pub struct AllOpen<'t> {
    pub(crate) ids: Vec<Uuid>,
    grants: Vec<Grant<'t>>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = release_grant, check_for_backend(diesel::pg::Pg))]
struct Row {
    revision_id: Uuid,
    digest: Vec<u8>,
    caution_digest: Vec<u8>,
    set_number: i32,
    purpose: String,
    pulled: bool,
}

/// The caller's grants for some revisions. A grant to decide is valid only for instructors, one to make only for an
/// approved revision, and both only until their time.
async fn valid<'t>(tx: &mut Tx<'t>, ids: &[Uuid]) -> Result<Vec<Grant<'t>>> {
    let (holder, now) = (tx.actor()?.holder(), tx.now());
    let instructor = tx.actor()?.is_instructor();
    let rows: Vec<(Row, String)> = release_grant::table
        .inner_join(revision::table.on(revision::id.eq(release_grant::revision_id)))
        .filter(release_grant::holder_id.eq(holder.0))
        .filter(release_grant::revision_id.eq_any(ids))
        .filter(release_grant::valid_until.gt(now))
        .filter(revision::digest.eq(release_grant::digest.nullable()))
        .select((Row::as_select(), revision::state))
        .load(tx.conn())
        .await?;
    let mut grants = Vec::with_capacity(rows.len());
    for (row, state) in rows {
        let purpose: Purpose = word(&row.purpose)?;
        let holds = match purpose {
            Purpose::Make => state == RevisionState::Approved.as_str(),
            Purpose::Decide => instructor,
            // Such an acknowledgement grants nothing: what the batch asked for is read in its record.
            Purpose::Record => false,
        };
        if holds {
            grants.push(Grant {
                revision: RevisionId(row.revision_id),
                digest: sha(row.digest)?,
                caution_digest: sha(row.caution_digest)?,
                set_number: row.set_number,
                purpose,
                was_read: row.pulled,
                _brand: Brand::default(),
            });
        }
    }
    Ok(grants)
}

/// The caller's grant for a revision, if there is one.
///
/// # Errors
/// When the database does not answer.
pub async fn find<'t>(tx: &mut Tx<'t>, id: RevisionId) -> Result<Option<Grant<'t>>> {
    Ok(valid(tx, &[id.0]).await?.pop())
}

/// Extends a grant to everything that its revision is made from; answers the first revision that is closed to the
/// caller where one is.
///
/// # Errors
/// When the database does not answer.
pub async fn every_level<'g, 't>(
    tx: &mut Tx<'t>,
    grant: &'g Grant<'t>,
) -> Result<Result<EveryLevel<'g, 't>, RevisionId>> {
    below(tx, grant.revision, &grant.digest, grant.was_read).await
}

/// As [`every_level`], for whoever is proved to read the revision of this digest.
pub(crate) async fn below<'g, 't>(
    tx: &mut Tx<'t>,
    id: RevisionId,
    digest: &'g Sha,
    was_read: bool,
) -> Result<Result<EveryLevel<'g, 't>, RevisionId>> {
    let nested: Vec<Uuid> = revision_nested::table
        .filter(revision_nested::revision_id.eq(id.0))
        .order(revision_nested::nested_id)
        .select(revision_nested::nested_id)
        .load(tx.conn())
        .await?;
    Ok(all_open(tx, nested).await?.map(|nested| EveryLevel { digest, was_read, nested }))
}

/// Whether the caller holds a grant for each of these revisions; answers the first that is closed where one is.
///
/// # Errors
/// When the database does not answer.
pub async fn all_open<'t>(tx: &mut Tx<'t>, ids: Vec<Uuid>) -> Result<Result<AllOpen<'t>, RevisionId>> {
    let grants = if ids.is_empty() { Vec::new() } else { valid(tx, &ids).await? };
    let closed = ids.iter().find(|id| !grants.iter().any(|grant| grant.revision.0 == **id));
    Ok(match closed {
        Some(closed) => Err(RevisionId(*closed)),
        None => Ok(AllOpen { ids, grants }),
    })
}

/// What a new grant is for. Only [`crate::acknowledgements`] makes one.
pub(crate) struct NewGrant<'a, 't> {
    pub(crate) holder: HolderId,
    pub(crate) set: &'a CurrentSet<'t>,
    pub(crate) digest: Sha,
    pub(crate) purpose: Purpose,
    pub(crate) acknowledgement: Uuid,
    pub(crate) valid_until: DateTime<Utc>,
}

/// Creates a grant, or replaces the holder's earlier one. The event of the acknowledgement vouches for it.
pub(crate) async fn put<'t>(tx: &mut Tx<'t>, new: &NewGrant<'_, 't>) -> Result<()> {
    let values = (
        release_grant::digest.eq(new.digest.to_vec()),
        release_grant::caution_digest.eq(new.set.digest().to_vec()),
        release_grant::purpose.eq(new.purpose.as_str()),
        release_grant::pulled.eq(false),
        release_grant::set_number.eq(new.set.number()),
        release_grant::acknowledgement_id.eq(new.acknowledgement),
        release_grant::valid_until.eq(new.valid_until),
    );
    diesel::insert_into(release_grant::table)
        .values((
            release_grant::holder_id.eq(new.holder.0),
            release_grant::revision_id.eq(new.set.revision().0),
            values.clone(),
        ))
        .on_conflict((release_grant::holder_id, release_grant::revision_id))
        .do_update()
        .set(values)
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Records the first reading by each of these grants of the caller, unless it was recorded or a concurrent transaction
/// has deleted the grant. What is read afterwards is read by a grant that is looked up again.
///
/// # Errors
/// When the database does not answer.
pub async fn record_first_read<'t>(tx: &mut Tx<'t>, grants: &[&Grant<'t>]) -> Result<()> {
    let (holder, now) = (tx.actor()?.holder(), tx.now());
    let ids: Vec<Uuid> =
        grants.iter().filter(|grant| !grant.was_read).map(|grant| grant.revision.0).collect();
    if ids.is_empty() {
        return Ok(());
    }
    lock_grants_of(tx, holder, Some(ids.clone())).await?;
    let unread = release_grant::table
        .filter(release_grant::holder_id.eq(holder.0))
        .filter(release_grant::revision_id.eq_any(ids))
        .filter(diesel::dsl::not(release_grant::pulled));
    let first: Vec<(Uuid, Uuid, String)> = diesel::update(unread)
        .set(release_grant::pulled.eq(true))
        .returning((release_grant::revision_id, release_grant::acknowledgement_id, release_grant::purpose))
        .get_results(tx.conn())
        .await?;
    let pulls: Vec<_> = first
        .iter()
        .map(|(_, of, _)| (recipe_pull::acknowledgement_id.eq(*of), recipe_pull::at.eq(now)))
        .collect();
    let pulls = diesel::insert_into(recipe_pull::table).values(pulls).on_conflict_do_nothing();
    pulls.execute(tx.conn()).await?;
    for (revision, acknowledgement, purpose) in first {
        tx.record(
            NewEvent::new("revision", revision, "recipe_pulled")
                .detail(json!({ "acknowledgement": acknowledgement, "purpose": purpose }))
                .keeps(&PULL, [acknowledgement])
                .keeps(&GRANT, [holder.0, revision]),
        );
    }
    Ok(())
}

type Closed = (Uuid, Uuid, Uuid);

const CLOSED: (release_grant::holder_id, release_grant::revision_id, release_grant::acknowledgement_id) =
    (release_grant::holder_id, release_grant::revision_id, release_grant::acknowledgement_id);

/// Deletes every grant for these revisions. Closing takes no proof: it only ever shuts, and leaves an event.
///
/// # Errors
/// When the database refuses it.
pub async fn close_revisions(tx: &mut Tx<'_>, ids: &[Uuid], why: &'static str) -> Result<()> {
    lock(tx, Locks::new().grants(ids.iter().copied())).await?;
    close(tx, every().filter(release_grant::revision_id.eq_any(ids.to_vec())), why).await
}

/// Deletes the grants of these acknowledgements.
///
/// # Errors
/// When the database refuses it.
pub async fn close_acknowledged(tx: &mut Tx<'_>, ids: &[Uuid], why: &'static str) -> Result<()> {
    let of_these = release_grant::table.filter(release_grant::acknowledgement_id.eq_any(ids.to_vec()));
    let revisions: Vec<Uuid> = of_these.select(release_grant::revision_id).load(tx.conn()).await?;
    lock(tx, Locks::new().grants(revisions)).await?;
    close(tx, every().filter(release_grant::acknowledgement_id.eq_any(ids.to_vec())), why).await
}

/// Deletes one holder's grant for a revision.
pub(crate) async fn close_for(
    tx: &mut Tx<'_>,
    holder: HolderId,
    id: RevisionId,
    why: &'static str,
) -> Result<()> {
    let of = release_grant::holder_id.eq(holder.0).and(release_grant::revision_id.eq(id.0));
    close(tx, every().filter(of), why).await
}

/// Deletes every grant of a holder for the formulas of a library.
///
/// # Errors
/// When the database refuses it.
pub async fn close_library(tx: &mut Tx<'_>, library: LibraryId, holder: HolderId) -> Result<()> {
    let revisions = revision::table
        .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
        .filter(formula::library_id.eq(library.0))
        .select(revision::id);
    lock_grants_of(tx, holder, None).await?;
    let of = release_grant::holder_id.eq(holder.0).and(release_grant::revision_id.eq_any(revisions));
    close(tx, every().filter(of), "membership_ended").await
}

/// Deletes every grant to decide of somebody who is no longer an instructor.
///
/// # Errors
/// When the database refuses it.
pub async fn close_decisions(tx: &mut Tx<'_>, holder: HolderId) -> Result<()> {
    lock_grants_of(tx, holder, None).await?;
    let to_decide = release_grant::purpose.eq(Purpose::Decide.as_str());
    close(tx, every().filter(release_grant::holder_id.eq(holder.0).and(to_decide)), "role_changed").await
}

type Grants<'a> = BoxedDeleteStatement<'a, Pg, release_grant::table>;

fn every<'a>() -> Grants<'a> {
    diesel::delete(release_grant::table).into_boxed()
}

async fn close(tx: &mut Tx<'_>, grants: Grants<'_>, why: &'static str) -> Result<()> {
    let closed: Vec<Closed> = grants.returning(CLOSED).get_results(tx.conn()).await?;
    changed(tx, closed, "ended", &json!({ "why": why }));
    Ok(())
}

fn changed(tx: &mut Tx<'_>, grants: Vec<Closed>, action: &'static str, detail: &Value) {
    for (holder, revision, acknowledgement) in grants {
        let event = NewEvent::new("acknowledgement", acknowledgement, action).detail(detail.clone());
        tx.record(event.keeps(&GRANT, [holder, revision]));
    }
}

/// The grants for a revision stay under its current caution set where the set that was acknowledged has the same digest:
/// it binds the same and reads differently. The others are deleted.
///
/// # Errors
/// When the database refuses it.
pub async fn carry_over<'t>(tx: &mut Tx<'t>, set: &CurrentSet<'t>) -> Result<()> {
    let (id, digest) = (set.revision().0, set.digest().to_vec());
    lock(tx, Locks::new().grants([id])).await?;
    let of_others = release_grant::revision_id.eq(id).and(release_grant::caution_digest.ne(digest));
    close(tx, every().filter(of_others), "cautions_changed").await?;
    let kept: Vec<Closed> = diesel::update(release_grant::table.filter(release_grant::revision_id.eq(id)))
        .set(release_grant::set_number.eq(set.number()))
        .returning(CLOSED)
        .get_results(tx.conn())
        .await?;
    changed(tx, kept, "carried_over", &json!({}));
    Ok(())
}

/// A revision was approved: those who acknowledged it to decide may now make it, unless they no longer share it or their
/// acknowledgement is among `unsigned`. Postgres refuses one that asks for a countersignature and has none.
///
/// # Errors
/// [`Error::Internal`] when it is not approved.
pub async fn decided_to_make(tx: &mut Tx<'_>, id: RevisionId, unsigned: &[Uuid]) -> Result<()> {
    let state: String = revision::table.find(id.0).select(revision::state).first(tx.conn()).await?;
    if state != RevisionState::Approved.as_str() {
        return Err(Error::internal("a revision was opened to make before it was approved"));
    }
    lock(tx, Locks::new().grants([id.0])).await?;
    let members = library_member::table
        .inner_join(formula::table.on(formula::library_id.eq(library_member::library_id)))
        .inner_join(revision::table.on(revision::formula_id.eq(formula::id)))
        .filter(revision::id.eq(id.0))
        .select(library_member::holder_id);
    let kept: Vec<Closed> = diesel::update(
        release_grant::table
            .filter(release_grant::revision_id.eq(id.0))
            .filter(release_grant::holder_id.eq_any(members))
            .filter(release_grant::acknowledgement_id.ne_all(unsigned)),
    )
    .set(release_grant::purpose.eq(Purpose::Make.as_str()))
    .returning(CLOSED)
    .get_results(tx.conn())
    .await?;
    changed(tx, kept, "opened_to_make", &json!({}));
    Ok(())
}
