//! The clinic's own rules.
//!
//! Each function is one request: one transaction, whose first statement proves the caller.

use store::Claim;
use store::Result;
use store::Versioned;
use wire::policy::Policy;
use wire::policy::PolicyContent;

use crate::Clinic;

pub use ::policy::beginning;

/// The policy in force.
///
/// # Errors
/// As [`policy::policy`].
pub async fn policy(clinic: &Clinic, claim: &Claim) -> Result<Versioned<Policy>> {
    ::policy::policy(&clinic.store, claim).await
}

/// Puts a new version of the rules into force.
///
/// # Errors
/// As [`policy::policy_change`].
pub async fn policy_change(
    clinic: &Clinic,
    claim: &Claim,
    version: i64,
    content: &PolicyContent,
) -> Result<Versioned<Policy>> {
    ::policy::policy_change(&clinic.store, claim, version, content).await
}

/// Gives a new clinic the rules it starts with; does nothing when it has rules.
///
/// # Errors
/// As [`policy::begin`].
pub async fn begin(clinic: &Clinic, content: &PolicyContent) -> Result<()> {
    ::policy::begin(&clinic.store, content).await
}
