//! Content of one application.

use galenics::Preparation;
use galenics::dose::{Application, Dose, dose as work_out};
use store::{Credentials, Result, Store};
use wire::calculations::Calculated;
use wire::calculations::dose::{ApplicationSize, DoseQuestion};

use super::composition::{Composition, composed};
use super::form::{Form, Read, all};
use judgement::figures::Detail;
use judgement::limits;
use materia::Materia;

/// Dried herb, ethanol and restricted constituents in one application and in one day. States what they contain; never
/// recommends a dose.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn dose(store: &Store, credentials: &Credentials, question: &DoseQuestion) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
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
///
/// # Errors
/// Refuses a name that the reference data do not have.
pub(super) fn kind(reference: &Materia, form: &Form, text: &str) -> Read<Preparation> {
    match reference.preparation(text) {
        Some(known) => form.word("preparation", &known.key),
        None => {
            let accepted: Vec<&str> =
                reference.preparations.iter().map(|known| known.name.as_str()).collect();
            Err(form.refuse(
                "preparation",
                format!("Unknown kind of preparation. Accepted kinds: {}.", accepted.join(", ")),
            ))
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
    let mut figures = judgement::answers::dose_said(&found, Detail::Explained);
    figures.insert(1, Detail::Explained.figure("one day", &found.per_day));
    Ok(Calculated { figures, notes: Vec::new() })
}
