//! Acknowledging and countersigning: the only ways to a grant.
//!
//! A grant is written here only for a member of the library: to make an approved revision, or to decide by an instructor.
//! What the clinic's rules ask besides (that nothing is withheld or withdrawn, that each contraindication was named, whose
//! acknowledgement needs a countersignature, how long it holds) its caller has checked.

use canonical::Sha;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{acknowledgement, api_client, countersignature, formula, library_member, revision};
use serde_json::json;
use store::actor::Brand;
use store::{Actor, Error, Instructor, NewEvent, Result, Tx, violates};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{AcknowledgementId, ApiClientId, HolderId, PersonId, RevisionId};
use wire::safety::Purpose;

use crate::current::CurrentSet;
use crate::grants::{self, NewGrant};
use crate::kept::{ACKNOWLEDGEMENT, COUNTERSIGNATURE, GRANT};
use crate::sealed::sha;

/// For whom the caller may acknowledge, looked up in this transaction.
pub struct Party<'t> {
    holder: HolderId,
    given_by: PersonId,
    _brand: Brand<'t>,
}

/// For whom the caller acknowledges: for themselves, or for an API client that they answer for. None where they answer
/// for no active client of this id.
///
/// # Errors
/// When the database does not answer.
pub async fn party<'t>(tx: &mut Tx<'t>, for_client: Option<ApiClientId>) -> Result<Option<Party<'t>>> {
    let (holder, given_by) = match (tx.actor()?.clone(), for_client) {
        (Actor::Person(me), None) => (me.id.into(), me.id),
        (Actor::Client { id, responsible, .. }, None) => (id.into(), responsible),
        (Actor::Client { .. }, Some(_)) => return Ok(None),
        (Actor::Person(me), Some(client)) => {
            let answers_for = api_client::table
                .filter(api_client::id.eq(client.0))
                .filter(api_client::responsible_id.eq(me.id.0))
                .filter(api_client::state.eq("active"))
                .select(api_client::id);
            match answers_for.first::<Uuid>(tx.conn()).await.optional()? {
                Some(_) => (client.into(), me.id),
                None => return Ok(None),
            }
        }
    };
    Ok(Some(Party { holder, given_by, _brand: Brand::default() }))
}

/// An acknowledgement that is given now.
pub struct NewAcknowledgement<'a> {
    /// The contraindications, each acknowledged on its own.
    pub contraindications: &'a [String],
    /// For whom the preparation is meant.
    pub meant_for: &'a [String],
    /// What it is for.
    pub purpose: Purpose,
    /// When it ends.
    pub valid_until: DateTime<Utc>,
    /// Whether it grants making only once an instructor has countersigned it.
    pub countersign: bool,
}

/// The digest of a revision whose library the holder shares, where the revision is in a state for the purpose.
async fn digest_for(tx: &mut Tx<'_>, id: RevisionId, holder: HolderId, purpose: Purpose) -> Result<Sha> {
    let found: Option<(Option<Vec<u8>>, String)> = revision::table
        .inner_join(formula::table.on(formula::id.eq(revision::formula_id)))
        .inner_join(library_member::table.on(library_member::library_id.eq(formula::library_id)))
        .filter(revision::id.eq(id.0))
        .filter(library_member::holder_id.eq(holder.0))
        .select((revision::digest, revision::state))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((Some(digest), state)) = found else {
        return Err(Error::internal("only members acknowledge the cautions of what is frozen"));
    };
    if purpose == Purpose::Make && state != RevisionState::Approved.as_str() {
        return Err(Error::internal("only an approved revision is acknowledged to make it"));
    }
    sha(digest)
}

/// Acknowledges the current caution set of a revision. It creates the grant, unless it is of record or is to make and
/// waits for a countersignature.
///
/// # Errors
/// [`Error::Internal`] when the holder does not share the revision's library, when it is to make and the revision is not
/// approved, or when it is to decide and no instructor is calling.
pub async fn acknowledge<'t>(
    tx: &mut Tx<'t>,
    set: &CurrentSet<'t>,
    party: &Party<'t>,
    new: &NewAcknowledgement<'_>,
) -> Result<AcknowledgementId> {
    let (revision, holder) = (set.revision(), party.holder);
    let digest = digest_for(tx, revision, holder, new.purpose).await?;
    if new.purpose == Purpose::Decide && !tx.actor()?.is_instructor() {
        return Err(Error::internal("only an instructor acknowledges to decide"));
    }
    let (id, now) = (tx.new_id(), tx.now());
    diesel::insert_into(acknowledgement::table)
        .values((
            acknowledgement::id.eq(id),
            acknowledgement::holder_id.eq(holder.0),
            acknowledgement::given_by.eq(party.given_by.0),
            acknowledgement::revision_id.eq(revision.0),
            acknowledgement::revision_digest.eq(&digest[..]),
            acknowledgement::set_number.eq(set.number()),
            acknowledgement::caution_digest.eq(&set.digest()[..]),
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
        "holder": holder,
        "given_by": party.given_by,
        "caution_set": hex::encode(set.digest()),
        "purpose": new.purpose,
        "countersign": if new.countersign { "needed" } else { "not needed" },
    });
    let mut event = NewEvent::new("revision", revision.0, "acknowledged")
        .after(digest)
        .detail(detail)
        .keeps(&ACKNOWLEDGEMENT, [id]);
    if new.countersign && new.purpose == Purpose::Make {
        // Whoever makes it for somebody in particular no longer makes it for just anybody.
        grants::close_for(tx, holder, revision, "countersignature_awaited").await?;
    } else if new.purpose != Purpose::Record {
        let grant = NewGrant {
            holder,
            set,
            digest,
            purpose: new.purpose,
            acknowledgement: id,
            valid_until: new.valid_until,
        };
        grants::put(tx, &grant).await?;
        event = event.keeps(&GRANT, [holder.0, revision.0]);
    }
    tx.record(event);
    Ok(AcknowledgementId(id))
}

/// Countersigns an acknowledgement, which creates its grant to make. One that was given to decide, before the approval,
/// becomes one to make.
///
/// # Errors
/// [`Error::State`] when it was countersigned already; [`Error::Internal`] when it needs no countersignature, is the
/// instructor's own, is not of the current set, or no longer holds.
pub async fn countersign<'t>(
    tx: &mut Tx<'t>,
    by: Instructor<'t>,
    set: &CurrentSet<'t>,
    id: AcknowledgementId,
) -> Result<()> {
    let (now, me) = (tx.now(), by.id().0);
    let found: Option<(Uuid, Vec<u8>, DateTime<Utc>)> = acknowledgement::table
        .find(id.0)
        .filter(acknowledgement::countersign)
        .filter(acknowledgement::revision_id.eq(set.revision().0))
        .filter(acknowledgement::set_number.eq(set.number()))
        .filter(acknowledgement::purpose.ne(Purpose::Record.as_str()))
        .filter(acknowledgement::valid_until.gt(now))
        .filter(acknowledgement::holder_id.ne(me).and(acknowledgement::given_by.ne(me)))
        .select((acknowledgement::holder_id, acknowledgement::revision_digest, acknowledgement::valid_until))
        .first(tx.conn())
        .await
        .optional()?;
    let refused = || Error::internal("an acknowledgement that needs no countersignature was countersigned");
    let (holder, acknowledged, valid_until) = found.ok_or_else(refused)?;
    let holder = HolderId(holder);
    let digest = digest_for(tx, set.revision(), holder, Purpose::Make).await?;
    if acknowledged != digest {
        return Err(refused());
    }
    diesel::insert_into(countersignature::table)
        .values((
            countersignature::acknowledgement_id.eq(id.0),
            countersignature::by_id.eq(me),
            countersignature::at.eq(now),
        ))
        .execute(tx.conn())
        .await
        .map_err(
            |error| {
                if violates(&error, "countersignature_pkey") { countersigned() } else { error.into() }
            },
        )?;
    let grant = NewGrant { holder, set, digest, purpose: Purpose::Make, acknowledgement: id.0, valid_until };
    grants::put(tx, &grant).await?;
    let detail = json!({ "acknowledgement": id, "holder": holder });
    tx.record(
        NewEvent::new("revision", set.revision().0, "countersigned")
            .detail(detail)
            .keeps(&COUNTERSIGNATURE, [id.0])
            .keeps(&GRANT, [holder.0, set.revision().0]),
    );
    Ok(())
}

/// What is said of an acknowledgement that was countersigned before.
#[must_use]
pub fn countersigned() -> Error {
    Error::state("countersigned", "This acknowledgement was countersigned before.")
}
