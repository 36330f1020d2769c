//! Requests that every part of the scenario sends.

use clinic::{Clinic, Credentials, IdempotencyKey, formulary};
use wire::ids::RevisionId;
use wire::safety::{Acknowledge, CautionLevel};

use crate::error::StartError;

/// A key for a request that is sent once.
pub(super) fn once(clinic: &Clinic) -> IdempotencyKey {
    let key = clinic.rng().id(clinic.clock().now()).to_string();
    IdempotencyKey { digest: [0; 32], key, route: "demo".into() }
}

/// Acknowledges the current cautions of a revision, each contraindication too.
pub(super) async fn acknowledge(
    clinic: &Clinic,
    by: &Credentials,
    revision: RevisionId,
) -> Result<(), StartError> {
    let set = formulary::cautions(clinic, by, revision).await?;
    let contraindications = set
        .cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.clone())
        .collect();
    let request = Acknowledge {
        caution_set: set.digest,
        contraindications,
        meant_for: Vec::new(),
        for_api_client: None,
    };
    formulary::acknowledge(clinic, by, &once(clinic), revision, &request).await?;
    Ok(())
}
