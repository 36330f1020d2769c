//! Acknowledgement of a caution set, by the caller or for an API client that the caller is responsible for.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::acknowledgements::{self as gate_rows, NewAcknowledgement, Party, party};
use release::lock_current_set;
use schema::library_member;
use store::{Actor, Credentials, Error, IdempotencyKey, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{AcknowledgementId, ApiClientId, HolderId, LibraryId, RevisionId};
use wire::people::Scope;
use wire::problem::FieldError;
use wire::safety::{Acknowledge, Acknowledgement, CautionLevel, CautionSet, Purpose};

use crate::facts::visible;
use crate::members::membership;
use crate::{acknowledgement, changes, gate, held, sets, signing};

/// Acknowledges the current caution set of a revision. This creates a grant, unless a countersignature is required
/// first.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::State`] if nobody may make or decide on
/// it or an assignment holds it, [`Error::GateClosed`] with the current set if the request names another one, and [`Error::Invalid`] if a
/// contraindication is missing or the caller may not acknowledge for the client.
pub async fn acknowledge(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: RevisionId,
    request: &Acknowledge,
) -> Result<Acknowledgement> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.require_scope(Scope::Acknowledge)?;
                signing::lock_rules(tx).await?;
                let before = visible(tx, id).await?;
                gate::lock_to_make(tx, &before).await?;
                // Read again: what was decided meanwhile, and whether the caller is still a member.
                let facts = visible(tx, id).await?;
                membership(tx, facts.library).await?;
                let party = for_whom(tx, request.for_api_client, facts.library).await?;
                let purpose = gate::grant_purpose(tx, &facts).await?;
                let current = lock_current_set(tx, id).await?;
                if request.caution_set != hex::encode(current.digest()) {
                    let reason = "The cautions have changed. Read and acknowledge the current set.";
                    return Err(Error::GateClosed(Box::new(gate::outstanding(tx, id, reason).await?)));
                }
                let set = sets::numbered(tx, id, current.number()).await?;
                let me = tx.actor()?.holder();
                let holder = request.for_api_client.map_or(me, HolderId::from);
                if purpose == Purpose::Make {
                    held::let_go(tx, holder, id).await?;
                }
                let earlier = changes::earlier(tx, holder, id, &set.digest).await?;
                let before = changes::acknowledged_before(&set, earlier.as_ref().map(|(_, set)| set));
                let acknowledged = each_contraindication(&set, request, before)?;
                // One to decide turns into one to make at the approval, so it asks for the same countersignature.
                let countersign =
                    signing::is_needed(tx, &set, &request.meant_for).await? && purpose != Purpose::Record;
                let new = NewAcknowledgement {
                    contraindications: &acknowledged,
                    meant_for: &request.meant_for,
                    purpose,
                    valid_until: tx.now() + policy::rules(tx).await?.acknowledgement,
                    countersign,
                };
                Ok(gate_rows::acknowledge(tx, &current, &party, &new).await?.0)
            },
            async |tx, made| acknowledgement::show(tx, AcknowledgementId(made)).await,
        )
        .await
}

/// The holder of the new grant, and the person responsible for it.
async fn for_whom<'t>(
    tx: &mut Tx<'t>,
    for_client: Option<ApiClientId>,
    library: LibraryId,
) -> Result<Party<'t>> {
    let refused = |detail: &str| Error::field("/for_api_client", detail);
    if for_client.is_some() && matches!(tx.actor()?, Actor::Client { .. }) {
        return Err(refused(
            "Only the responsible person may acknowledge for an API client. Omit the field.",
        ));
    }
    let found = party(tx, for_client).await?;
    let party = found.ok_or_else(|| {
        refused("You are not responsible for an active API client with this ID. Check the ID.")
    })?;
    if let Some(client) = for_client {
        let shared: Option<Uuid> = library_member::table
            .find((library.0, client.0))
            .select(library_member::holder_id)
            .first(tx.conn())
            .await
            .optional()?;
        if shared.is_none() {
            return Err(refused(
                "This API client is not a member of the formula's library. Ask an instructor to add it.",
            ));
        }
    }
    Ok(party)
}

/// Every contraindication of the set, each acknowledged in this request or, unchanged, `before`.
fn each_contraindication(
    set: &CautionSet,
    request: &Acknowledge,
    before: Vec<String>,
) -> Result<Vec<String>> {
    let wanted: Vec<&str> = set
        .cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.as_str())
        .collect();
    let mut acknowledged = request.contraindications.clone();
    acknowledged.extend(before.into_iter().filter(|key| !request.contraindications.contains(key)));
    let mut errors: Vec<FieldError> = wanted
        .iter()
        .filter(|key| !acknowledged.iter().any(|given| given == *key))
        .map(|key| {
            FieldError::new("/contraindications", format!(
                    "Contraindication {key:?} must be acknowledged individually. Add its key to `contraindications`."
                ))
        })
        .collect();
    for (i, given) in request.contraindications.iter().enumerate() {
        if !wanted.contains(&given.as_str()) {
            errors.push(FieldError::new(
                format!("/contraindications/{i}"),
                "This set has no contraindication with this key. Remove the key.",
            ));
        }
    }
    if errors.is_empty() { Ok(acknowledged) } else { Err(Error::Invalid(errors)) }
}
