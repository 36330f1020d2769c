//! Calculators that need no formula.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::Credentials;
use store::Result;
use wire::calculations::Calculated;
use wire::calculations::alcohol::AlcoholQuestion;
use wire::calculations::cost::CostAnswer;
use wire::calculations::cost::CostQuestion;
use wire::calculations::dose::DoseQuestion;
use wire::calculations::emulsion::EmulsionQuestion;
use wire::calculations::extraction::ExtractionQuestion;
use wire::calculations::quantity::QuantityQuestion;
use wire::calculations::skin_limits::SkinLimitsAnswer;
use wire::calculations::skin_limits::SkinLimitsQuestion;
use wire::calculations::strength::StrengthQuestion;
use wire::calculations::use_by::UseByAnswer;
use wire::calculations::use_by::UseByQuestion;
use wire::calculations::weighing::WeighingQuestion;

use crate::Clinic;

/// Answers a question about ethanol and water.
///
/// # Errors
/// As [`calculators::alcohol`].
pub async fn alcohol(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &AlcoholQuestion,
) -> Result<Calculated> {
    ::calculators::alcohol(&clinic.store, credentials, question).await
}

/// The cost of draws and extras, calculated exactly and rounded once. Without a currency, that of the policy applies.
///
/// # Errors
/// As [`calculators::cost`].
pub async fn cost(clinic: &Clinic, credentials: &Credentials, question: &CostQuestion) -> Result<CostAnswer> {
    ::calculators::cost(&clinic.store, credentials, question).await
}

/// Dried herb, ethanol and restricted constituents in one application and in one day. States what they contain; never
/// recommends a dose.
///
/// # Errors
/// As [`calculators::dose`].
pub async fn dose(clinic: &Clinic, credentials: &Credentials, question: &DoseQuestion) -> Result<Calculated> {
    ::calculators::dose(&clinic.store, credentials, question).await
}

/// Answers a question about emulsions.
///
/// # Errors
/// As [`calculators::emulsion`].
pub async fn emulsion(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &EmulsionQuestion,
) -> Result<Calculated> {
    ::calculators::emulsion(&clinic.store, credentials, question).await
}

/// Answers a question about extraction.
///
/// # Errors
/// As [`calculators::extraction`].
pub async fn extraction(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &ExtractionQuestion,
) -> Result<Calculated> {
    ::calculators::extraction(&clinic.store, credentials, question).await
}

/// Converts a quantity to another unit. Conversion between mass and volume uses the given density, or that of the named
/// material; if the material has none, the result is unknown.
///
/// # Errors
/// As [`calculators::quantity`].
pub async fn quantity(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &QuantityQuestion,
) -> Result<Calculated> {
    ::calculators::quantity(&clinic.store, credentials, question).await
}

/// Checks a composition against the limits that apply to its use, and lists the allergens to declare.
///
/// # Errors
/// As [`calculators::skin_limits`].
pub async fn skin_limits(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &SkinLimitsQuestion,
) -> Result<SkinLimitsAnswer> {
    ::calculators::skin_limits(&clinic.store, credentials, question).await
}

/// Answers a question about strengths.
///
/// # Errors
/// As [`calculators::strength`].
pub async fn strength(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &StrengthQuestion,
) -> Result<Calculated> {
    ::calculators::strength(&clinic.store, credentials, question).await
}

/// The use-by date of a preparation, with the outcome of every rule.
///
/// # Errors
/// As [`calculators::use_by`].
pub async fn use_by(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &UseByQuestion,
) -> Result<UseByAnswer> {
    ::calculators::use_by(&clinic.store, credentials, question).await
}

/// Answers a question about weighing.
///
/// # Errors
/// As [`calculators::weighing`].
pub async fn weighing(
    clinic: &Clinic,
    credentials: &Credentials,
    question: &WeighingQuestion,
) -> Result<Calculated> {
    ::calculators::weighing(&clinic.store, credentials, question).await
}
