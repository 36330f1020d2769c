//! Content of one application of a recipe. States what it contains; never recommends a dose.

use galenics::dose::{Application, dose};
use galenics::{Evaluation, Mass};
use materia::Materia;
use store::{Error, Result};
use wire::figure::Figure;

use formulary::FrozenRevision;
use judgement::answers::dose_said;
use judgement::figures::Detail;
use judgement::{limits, parts};

use crate::made_for::Asked;

/// Dried herb, ethanol and restricted constituents of one application, as figures of the recipe. They tell the amounts
/// of leaves: the caller shuts them in [`crate::leaves::Leaves`].
///
/// # Errors
/// Returns [`Error::Invalid`] at the field of the request that cannot be met.
pub(crate) fn figures(
    reference: &Materia,
    frozen: &FrozenRevision,
    asked: &Asked,
    application: Application,
    detail: Detail,
) -> Result<Vec<Figure>> {
    let whole = &frozen.assembled;
    // The measured density is that of the product after evaporation.
    let evaluation = asked.measured(&after_evaporation(&whole.evaluation, asked)?).into_owned();
    let materials = parts::by_id(whole);
    let parts = parts::parts(&materials, &evaluation)?;
    let found = dose(&evaluation, &limits::profiles(reference, &parts), application, 1)
        .map_err(|refusal| asked.refuse("application", refusal.says.to_string()))?;
    let mut figures = dose_said(&found, detail);
    for figure in figures.iter_mut().skip(1) {
        figure.name = format!("{} in one application", figure.name);
    }
    Ok(figures)
}

/// The evaluation after the stated evaporation, which raises the shares of everything that remains.
fn after_evaporation(evaluation: &Evaluation, asked: &Asked) -> Result<Evaluation> {
    let share = asked.losses.evaporation.get();
    let (false, Some(charged)) = (share.is_zero(), evaluation.charged.value()) else {
        return Ok(evaluation.clone());
    };
    let gone = charged.checked_mul(share).and_then(|gone| Mass::grams(gone).ok());
    let gone = gone.ok_or_else(|| Error::internal("a share of a mass that is no mass"))?;
    evaluation
        .concentrated(gone)
        .map_err(|refusal| asked.refuse("evaporation_loss", refusal.says.to_string()))
}
