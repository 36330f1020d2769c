//! Acknowledging a caution set: for oneself, or as the person who answers for another tool.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::audience::Asked;
use release::acknowledgements::{self as gate_rows, NewAcknowledgement, Party, party};
use release::lock_current_set;
use schema::library_member;
use store::{Actor, Claim, Error, Once, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, ApiClientId, LibraryId, RevisionId};
use wire::people::Scope;
use wire::problem::FieldError;
use wire::safety::{Acknowledge, Acknowledgement, CautionLevel, CautionSet, Purpose};

use crate::facts::{lock_shared, visible};
use crate::members::lock_membership;
use crate::{acknowledgement, gate, sets};

/// Acknowledges the current caution set of a revision, which creates a grant for it.
///
/// # Errors
/// When the caller may not know of the revision or may not acknowledge for the client; when the set named is not
/// the current one ([`Error::GateClosed`] with the current one); when a contraindication was left out.
pub async fn acknowledge(
    store: &Store,
    claim: &Claim,
    once: &Once,
    id: RevisionId,
    request: &Acknowledge,
) -> Result<Acknowledgement> {
    store
        .create(
            claim,
            once,
            async |tx| {
                tx.require_scope(Scope::Acknowledge)?;
                lock_shared(tx, id).await?;
                let facts = visible(tx, id, false).await?;
                lock_membership(tx, facts.library).await?;
                let party = for_whom(tx, request.for_api_client, facts.library).await?;
                let purpose = gate::grant_purpose(tx, &facts).await?;
                let current = lock_current_set(tx, id).await?;
                if request.caution_set != hex::encode(current.digest()) {
                    let reason =
                        "the caution set you named is not the current one: read this one and acknowledge it";
                    return Err(Error::GateClosed(Box::new(gate::outstanding(tx, id, reason).await?)));
                }
                let set = sets::numbered(tx, id, current.number()).await?;
                each_contraindication(&set, request)?;
                let countersign = is_needed(tx, &set, &request.meant_for).await? && purpose == Purpose::Make;
                let new = NewAcknowledgement {
                    contraindications: &request.contraindications,
                    meant_for: &request.meant_for,
                    purpose,
                    valid_until: tx.now + policy::rules(tx).await?.acknowledgement,
                    countersign,
                };
                Ok(gate_rows::acknowledge(tx, &current, &party, &new).await?.0)
            },
            async |tx, made| acknowledgement::show(tx, AcknowledgementId(made)).await,
        )
        .await
}

/// For whom the grant is, and who answers for it.
async fn for_whom<'t>(
    tx: &mut Tx<'t>,
    for_client: Option<ApiClientId>,
    library: LibraryId,
) -> Result<Party<'t>> {
    let refused = |detail: &str| Error::field("/for_api_client", detail);
    if for_client.is_some() && matches!(tx.actor()?, Actor::Client { .. }) {
        return Err(refused("only the responsible person acknowledges for a client"));
    }
    let found = party(tx, for_client).await?;
    let party = found.ok_or_else(|| refused("you answer for no active API client of this id"))?;
    if let Some(client) = for_client {
        let shared: Option<Uuid> = library_member::table
            .find((library.0, client.0))
            .select(library_member::holder_id)
            .first(tx.conn())
            .await
            .optional()?;
        if shared.is_none() {
            return Err(refused("this client is not a member of the formula's library"));
        }
    }
    Ok(party)
}

fn each_contraindication(set: &CautionSet, request: &Acknowledge) -> Result<()> {
    let wanted: Vec<&str> = set
        .cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.as_str())
        .collect();
    let mut errors: Vec<FieldError> = wanted
        .iter()
        .filter(|key| !request.contraindications.iter().any(|given| given == *key))
        .map(|key| {
            FieldError::new("/contraindications", format!("{key:?} is acknowledged on its own: add its key"))
        })
        .collect();
    for (i, given) in request.contraindications.iter().enumerate() {
        if !wanted.contains(&given.as_str()) {
            errors.push(FieldError::new(
                format!("/contraindications/{i}"),
                "this is not the key of a contraindication of this set",
            ));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// Whether an acknowledgement for these people needs a countersignature: when the policy names one of them, or when a
/// contraindication of the set is meant for one.
///
/// # Errors
/// When one of them is not an audience.
async fn is_needed(tx: &mut Tx<'_>, set: &CautionSet, meant_for: &[String]) -> Result<bool> {
    let named = policy::rules(tx).await?.countersign_audiences;
    let mut needed = false;
    for (i, text) in meant_for.iter().enumerate() {
        let asked = Asked::parse(tx.reference, text.trim(), &format!("/meant_for/{i}"))?;
        let mut against = set.cautions.iter().filter(|it| it.level >= CautionLevel::Contraindication);
        needed |= asked.is_among(&named) || against.any(|caution| asked.is_meant(caution));
    }
    Ok(needed)
}
