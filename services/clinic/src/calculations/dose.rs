//! What one application brings.

use galenics::Preparation;
use galenics::dose::{Application, Dose, dose as work_out};
use wire::calculations::Calculated;
use wire::calculations::dose::{ApplicationSize, DoseQuestion};
use wire::figure::Figure;

use super::composition::{Composition, composed};
use super::form::{Form, Read, all};
use crate::error::Result;
use crate::figures::figure;
use crate::safety::judged::limits;
use crate::tx::{Claim, Clinic};
use materia::Materia;

/// What one application and one day bring of dried herb, alcohol and restricted constituents. It says what is in it,
/// never what anybody should take.
///
/// # Errors
/// When the claim does not hold or a field cannot be read.
pub async fn dose(clinic: &Clinic, claim: &Claim, question: &DoseQuestion) -> Result<Calculated> {
    clinic
        .read(claim, async |tx| {
            let form = Form::of(tx).await?;
            let density =
                form.optional(question.density.as_ref(), |form, text| form.density("density", text));
            let (kind, density, application) = all((
                kind(tx.reference, &form, &question.preparation),
                density,
                size(&form, &question.application),
            ))?;
            let composition = composed(tx, &form, &question.lines, kind, density).await??;
            Ok(brought(tx.reference, &form, &composition, application, question.times_a_day)?)
        })
        .await
}

/// A kind of preparation by any of its names.
pub(super) fn kind(reference: &Materia, form: &Form, text: &str) -> Read<Preparation> {
    match reference.preparation(text) {
        Some(known) => form.word("preparation", &known.key),
        None => {
            let accepted: Vec<&str> =
                reference.preparations.iter().map(|known| known.name.as_str()).collect();
            Err(form.refuse("preparation", format!("not a known kind; one of: {}", accepted.join(", "))))
        }
    }
}

fn size(form: &Form, asked: &ApplicationSize) -> Read<Application> {
    let form = form.within("application");
    match asked {
        ApplicationSize::Mass(text) => form.mass("mass", text).map(Application::Weighed),
        ApplicationSize::Volume(text) => form.volume("volume", text).map(Application::Measured),
        ApplicationSize::Film(film) => {
            let form = form.within("film");
            let (area, film) = all((
                form.number_in("area", &film.area, "cm2"),
                form.number_in("film", &film.film, "mg/cm2"),
            ))?;
            Ok(Application::Film { area, film })
        }
    }
}

fn brought(
    reference: &Materia,
    form: &Form,
    composition: &Composition,
    application: Application,
    times_a_day: u32,
) -> Read<Calculated> {
    let profiles = limits::profiles(reference, &composition.parts());
    let names = [("area", "application/film/area"), ("film", "application/film/film")];
    let found: Dose =
        form.worked_as(&names, work_out(&composition.evaluation, &profiles, application, times_a_day))?;
    let mut figures = dose_said(&found);
    figures.insert(1, figure("one day", &found.per_day));
    Ok(Calculated { figures, notes: Vec::new() })
}

/// One application and what it brings, as it travels.
pub(crate) fn dose_said(found: &Dose) -> Vec<Figure> {
    let mut figures = vec![figure("one application", &found.application), figure("ethanol", &found.ethanol)];
    let herbs = found.herbs.iter();
    figures.extend(herbs.map(|herb| figure(format!("dried herb of {}", herb.name), &herb.figure)));
    let held = found.constituents.iter();
    figures.extend(held.map(|held| figure(format!("at most of {}", held.name), &held.figure)));
    figures
}
