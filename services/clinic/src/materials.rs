//! The materia medica.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::Credentials;
use store::Result;
use wire::ids::MaterialId;
use wire::materials::EntryVersion;
use wire::materials::Material;
use wire::materials::MaterialQuery;
use wire::materials::MaterialSummary;
use wire::page::Page;

use crate::Clinic;

/// The materia medica by name, or the result of a search in it. Cost: one index range for each page, at any depth.
///
/// # Errors
/// As [`materials::materials`].
pub async fn materials(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &MaterialQuery,
) -> Result<Page<MaterialSummary>> {
    ::materials::materials(&clinic.store, credentials, query).await
}

/// One material with its current facts.
///
/// # Errors
/// As [`materials::material`].
pub async fn material(clinic: &Clinic, credentials: &Credentials, id: MaterialId) -> Result<Material> {
    ::materials::material(&clinic.store, credentials, id).await
}

/// A material in the form in which it can be revised.
///
/// # Errors
/// As [`materials::entry()`].
pub async fn entry(clinic: &Clinic, credentials: &Credentials, id: MaterialId) -> Result<EntryVersion> {
    ::materials::entry(&clinic.store, credentials, id).await
}

/// All materials as a table, by name.
///
/// # Errors
/// As [`materials::export`].
pub async fn export(clinic: &Clinic, credentials: &Credentials) -> Result<String> {
    ::materials::export(&clinic.store, credentials).await
}
