//! Content of one application of a recipe. States what it contains; never recommends a dose.

use std::borrow::Cow;

use galenics::dose::{Application, dose};
use galenics::{Decimal, Evaluation, Mass};
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
pub(crate) fn after_evaporation(evaluation: &Evaluation, asked: &Asked) -> Result<Evaluation> {
    let Some(gone) = evaporating(evaluation, asked)? else { return Ok(evaluation.clone()) };
    evaluation
        .concentrated(gone)
        .map_err(|refusal| asked.refuse("evaporation_loss", refusal.says.to_string()))
}

/// What evaporates of the formula's own quantity; nothing where no evaporation is stated or the mass made is not known.
fn evaporating(evaluation: &Evaluation, asked: &Asked) -> Result<Option<Mass>> {
    let share = asked.losses.evaporation.get();
    // Losses that leave nothing are refused where the recipe is scaled.
    if asked.losses.total() >= Decimal::ONE {
        return Ok(None);
    }
    let (false, Some(made)) = (share.is_zero(), evaluation.product.value()) else { return Ok(None) };
    let gone = made.checked_mul(share).and_then(|gone| Mass::grams(gone).ok());
    gone.map(Some).ok_or_else(|| Error::internal("a share of a mass that is no mass"))
}

/// The evaluation of a recipe after the stated evaporation, for what every reader of the recipe is told. Of a formula that
/// nests others it says only that something evaporated, not how much: what depends on the share would tell their water.
///
/// # Errors
/// Returns [`Error::Invalid`] at `evaporation_loss` if more is stated than can evaporate by the formula's own lines.
pub(crate) fn evaporated<'e>(frozen: &'e FrozenRevision, asked: &Asked) -> Result<Cow<'e, Evaluation>> {
    let whole = &frozen.assembled;
    let evaluation = &whole.evaluation;
    let Some(gone) = evaporating(evaluation, asked)? else { return Ok(Cow::Borrowed(evaluation)) };
    if let (Ok(most), Some(made)) =
        (evaluation.volatile_by_own_lines(&whole.formula), evaluation.product.value())
        && gone.g() > most
    {
        let percent = most.checked_div(made).unwrap_or_default().saturating_mul(Decimal::ONE_HUNDRED);
        let percent = percent.trunc_with_scale(2).normalize();
        let cure = format!(
            "At most {percent} % can evaporate: the water, spirit and volatile oils. Enter a smaller loss."
        );
        return Err(asked.refuse("evaporation_loss", cure));
    }
    let known = whole.nested.is_empty().then(|| evaluation.concentrated(gone).ok()).flatten();
    Ok(Cow::Owned(known.unwrap_or_else(|| evaluation.evaporated_unmeasured())))
}
