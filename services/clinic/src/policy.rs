//! The clinic's policy.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::Credentials;
use store::Result;
use store::Versioned;
use wire::policy::Policy;
use wire::policy::PolicyContent;

use crate::Clinic;

pub use ::policy::beginning;

/// The policy in force, in the types of `wire`.
///
/// # Errors
/// As [`policy::policy`].
pub async fn policy(clinic: &Clinic, credentials: &Credentials) -> Result<Versioned<Policy>> {
    ::policy::policy(&clinic.store, credentials).await
}

/// Adds a version of the policy, which is in force from now on. `version` is the one the caller read. Ends the grants to
/// make that need a countersignature by the new version and have none.
///
/// # Errors
/// As [`policy::change`].
pub async fn policy_change(
    clinic: &Clinic,
    credentials: &Credentials,
    version: i64,
    content: &PolicyContent,
) -> Result<Versioned<Policy>> {
    clinic
        .store
        .write(credentials, async |tx| {
            let changed = ::policy::change(tx, version, content).await?;
            ::formulary::close_unsigned(tx).await?;
            Ok(changed)
        })
        .await
}

/// Ends the grants to make that need a countersignature by the policy and caution sets of now and have none. An earlier
/// version of this service let an approval make such grants.
///
/// # Errors
/// Returns the errors of the database.
pub async fn close_unsigned(clinic: &Clinic) -> Result<()> {
    clinic.store.run_unauthenticated(async |tx| ::formulary::close_unsigned(tx).await).await
}

/// Adds the first version of the policy; does nothing if there is one.
///
/// # Errors
/// As [`policy::begin`].
pub async fn begin(clinic: &Clinic, content: &PolicyContent) -> Result<()> {
    ::policy::begin(&clinic.store, content).await
}
