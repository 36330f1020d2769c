//! Look-up of the materials that a question names.

use std::sync::Arc;

use galenics::{Decimal, Fraction, MaterialFacts, Sourced};
use materia::{Material, Measured};
use materials::Unnamed;

use super::form::{Form, Read};
use store::{Error, Result, Tx};

/// A named material.
#[derive(Clone)]
pub(super) struct Known {
    /// Its facts in the form of the calculations.
    pub(super) facts: Arc<MaterialFacts>,
    /// Its facts in the form of the materia medica.
    pub(super) material: Arc<Material>,
}

/// Looks up the material in an optional field. The inner result refuses an unknown name.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn one(
    tx: &mut Tx<'_>,
    form: &Form,
    field: &str,
    name: Option<&String>,
) -> Result<Read<Option<Known>>> {
    let Some(name) = name else { return Ok(Ok(None)) };
    let found = some(tx, &[name]).await?.pop();
    Ok(found.transpose().map_err(|unnamed| form.unnamed(field, unnamed)))
}

/// A material, or the refusal of an unknown name.
pub(super) type Named = std::result::Result<Known, Unnamed>;

/// Looks up two names.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn two(tx: &mut Tx<'_>, one: &str, other: &str) -> Result<(Named, Named)> {
    let mut found = some(tx, &[one, other]).await?;
    match (found.pop(), found.pop()) {
        (Some(other), Some(one)) => Ok((one, other)),
        _ => Err(Error::internal("a name without an answer")),
    }
}

/// Looks up names; one result for each, in order.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn some(tx: &mut Tx<'_>, names: &[&str]) -> Result<Vec<Named>> {
    let found = materials::resolve(tx, names).await?;
    let lost: Vec<&str> =
        names.iter().zip(&found).filter(|(_, found)| found.is_none()).map(|(name, _)| *name).collect();
    let mut nowhere = materials::nowhere(tx, &lost).await?.into_iter();
    let versions: Vec<_> = found.iter().flatten().map(|found| (found.id.0, found.version)).collect();
    let facts = materials::facts_of(tx, versions).await?;
    found
        .into_iter()
        .map(|found| {
            let Some(found) = found else { return Ok(Err(nowhere.next().unwrap_or_default())) };
            let material = facts
                .get(&(found.id.0, found.version))
                .ok_or_else(|| Error::internal("a material without its current facts"))?;
            let facts = Arc::new(judgement::facts::calculable(found.id.0, material)?);
            Ok(Ok(Known { facts, material: Arc::clone(material) }))
        })
        .collect()
}

/// A measured property with its source, in the form of the calculations.
pub(super) fn sourced(measured: &Measured) -> Sourced<Decimal> {
    Sourced::new(measured.value, judgement::facts::source(&measured.source.text, measured.status))
}

/// A property in per cent, as a share. `None` if it is out of range.
pub(super) fn sourced_share(measured: &Measured) -> Option<Sourced<Fraction>> {
    let share = Fraction::percent(measured.value).ok()?;
    Some(Sourced::new(share, judgement::facts::source(&measured.source.text, measured.status)))
}
