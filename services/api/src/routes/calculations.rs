//! The calculators. They create nothing, so they take no Idempotency-Key and answer 200.

use crate::mount::{Mount, operations};
use actix_web::web::Data;
use clinic::calculations;
use wire::calculations::Calculated;
use wire::calculations::alcohol::AlcoholQuestion;
use wire::calculations::cost::{CostAnswer, CostQuestion};
use wire::calculations::dose::DoseQuestion;
use wire::calculations::emulsion::EmulsionQuestion;
use wire::calculations::extraction::ExtractionQuestion;
use wire::calculations::quantity::QuantityQuestion;
use wire::calculations::skin_limits::{SkinLimitsAnswer, SkinLimitsQuestion};
use wire::calculations::strength::StrengthQuestion;
use wire::calculations::use_by::{UseByAnswer, UseByQuestion};
use wire::calculations::weighing::WeighingQuestion;

use crate::answer::{self, Answer};
use crate::body::Body;
use crate::caller::Caller;
use crate::state::ApiState;

pub(super) fn routes(config: &mut impl Mount) {
    operations!(
        config,
        quantity_calculate,
        alcohol_calculate,
        strength_calculate,
        extraction_calculate,
        emulsion_calculate,
        weighing_calculate,
        skin_limits_calculate,
        use_by_calculate,
        dose_calculate,
        cost_calculate
    );
}

/// Convert a quantity
///
/// Into any unit of mass or volume, by exact factors; from mass to volume and back by a density, given or of a
/// material.
#[utoipa::path(post, path = "/v1/calculations/quantity",
    tag = "calculations", request_body = QuantityQuestion,
    responses((status = 200, body = Calculated)))]
async fn quantity_calculate(state: Data<ApiState>, caller: Caller, body: Body<QuantityQuestion>) -> Answer {
    answer::worked_out(&calculations::quantity(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate with ethanol and water
///
/// Dilution with contraction, strength by volume and by mass, density, mixtures, a hydrometer's reading. Name one
/// question.
#[utoipa::path(post, path = "/v1/calculations/alcohol",
    tag = "calculations", request_body = AlcoholQuestion,
    responses((status = 200, body = Calculated)))]
async fn alcohol_calculate(state: Data<ApiState>, caller: Caller, body: Body<AlcoholQuestion>) -> Answer {
    answer::worked_out(&calculations::alcohol(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate strengths and dilutions
///
/// Per cent, ratio strength, parts in a million and mg in a mL; alligation; stock dilution; powder into an ointment;
/// specific gravity; proportion. Name one question.
#[utoipa::path(post, path = "/v1/calculations/strength",
    tag = "calculations", request_body = StrengthQuestion,
    responses((status = 200, body = Calculated)))]
async fn strength_calculate(state: Data<ApiState>, caller: Caller, body: Body<StrengthQuestion>) -> Answer {
    answer::worked_out(&calculations::strength(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate extractions
///
/// Dried-herb equivalents by a ratio whose convention is named, pressing, repeated maceration, fresh herbs,
/// decoctions. Name one question.
#[utoipa::path(post, path = "/v1/calculations/extraction",
    tag = "calculations", request_body = ExtractionQuestion,
    responses((status = 200, body = Calculated)))]
async fn extraction_calculate(
    state: Data<ApiState>,
    caller: Caller,
    body: Body<ExtractionQuestion>,
) -> Answer {
    answer::worked_out(&calculations::extraction(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate emulsions
///
/// Required HLB, HLB of emulsifiers and blends, soap formed in place, the likely type and advice. Name one question.
/// HLB is a guide for nonionic emulsifiers, not a rule; the response says where it does not apply.
#[utoipa::path(post, path = "/v1/calculations/emulsion",
    tag = "calculations", request_body = EmulsionQuestion,
    responses((status = 200, body = Calculated)))]
async fn emulsion_calculate(state: Data<ApiState>, caller: Caller, body: Body<EmulsionQuestion>) -> Answer {
    answer::worked_out(&calculations::emulsion(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate weighings
///
/// The least weighable quantity of a balance, and the aliquot for smaller quantities. Name one question.
#[utoipa::path(post, path = "/v1/calculations/weighing",
    tag = "calculations", request_body = WeighingQuestion,
    responses((status = 200, body = Calculated)))]
async fn weighing_calculate(state: Data<ApiState>, caller: Caller, body: Body<WeighingQuestion>) -> Answer {
    answer::worked_out(&calculations::weighing(&state.clinic, &caller.0, &body.0).await?)
}

/// Check limits on the skin
///
/// Every limit that applies to the product, with constituents summed over all materials at the top of their ranges, and
/// the fragrance allergens that a label must name. A limit without a verified source says so.
#[utoipa::path(post, path = "/v1/calculations/skin-limits",
    tag = "calculations", request_body = SkinLimitsQuestion,
    responses((status = 200, body = SkinLimitsAnswer)))]
async fn skin_limits_calculate(
    state: Data<ApiState>,
    caller: Caller,
    body: Body<SkinLimitsQuestion>,
) -> Answer {
    answer::worked_out(&calculations::skin_limits(&state.clinic, &caller.0, &body.0).await?)
}

/// Find a use-by date
///
/// The strictest of the applicable rules, with the result of each.
#[utoipa::path(post, path = "/v1/calculations/use-by",
    tag = "calculations", request_body = UseByQuestion,
    responses((status = 200, body = UseByAnswer)))]
async fn use_by_calculate(state: Data<ApiState>, caller: Caller, body: Body<UseByQuestion>) -> Answer {
    answer::worked_out(&calculations::use_by(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate a dose
///
/// Dried herb, alcohol and restricted constituents in one application and one day. States the content, never a dose to
/// take.
#[utoipa::path(post, path = "/v1/calculations/dose",
    tag = "calculations", request_body = DoseQuestion,
    responses((status = 200, body = Calculated)))]
async fn dose_calculate(state: Data<ApiState>, caller: Caller, body: Body<DoseQuestion>) -> Answer {
    answer::worked_out(&calculations::dose(&state.clinic, &caller.0, &body.0).await?)
}

/// Calculate a cost
///
/// From quantities and prices, exact, rounded once. An unknown price makes the total unknown.
#[utoipa::path(post, path = "/v1/calculations/cost",
    tag = "calculations", request_body = CostQuestion,
    responses((status = 200, body = CostAnswer)))]
async fn cost_calculate(state: Data<ApiState>, caller: Caller, body: Body<CostQuestion>) -> Answer {
    answer::worked_out(&calculations::cost(&state.clinic, &caller.0, &body.0).await?)
}
