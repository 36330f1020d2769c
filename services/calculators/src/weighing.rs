//! Weighing: the least weighable mass, and weighing by aliquot.

use galenics::weighing::{Spread, aliquot, least_weighable};
use galenics::{Decimal, Mass, Measure};
use store::{Credentials, Result, Store};
use wire::calculations::Calculated;
use wire::calculations::weighing::{AliquotQuestion, LeastWeighable, WeighingQuestion};

use super::answer::calculated;
use super::form::{Basis, Form, Read, all};

/// Answers a question about weighing.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn weighing(
    store: &Store,
    credentials: &Credentials,
    question: &WeighingQuestion,
) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            Ok(match question {
                WeighingQuestion::Least(asked) => least(&form.within("least"), asked),
                WeighingQuestion::Aliquot(asked) => part(&form.within("aliquot"), asked),
            }?)
        })
        .await
}

fn least(form: &Form, asked: &LeastWeighable) -> Read<Calculated> {
    let (sensitivity, readability, error) = all((
        form.optional(asked.sensitivity.as_ref(), |form, text| form.mass("sensitivity", text)),
        form.optional(asked.readability.as_ref(), |form, text| form.mass("readability", text)),
        form.share("error", &asked.error, Basis::Any),
    ))?;
    let (field, sensitivity) = match (sensitivity, readability) {
        (Some(sensitivity), None) => ("sensitivity", sensitivity),
        // A balance is accurate to half of its smallest step.
        (None, Some(step)) => {
            let half = step.g().checked_div(Decimal::TWO).unwrap_or_default();
            ("readability", Mass::grams(half).map_err(|error| form.refuse("readability", error))?)
        }
        (Some(_), Some(_)) | (None, None) => {
            return Err(form.refuse(
                "sensitivity",
                "Enter either the sensitivity requirement, such as 6 mg, or the readability, such as 0.1 g.",
            ));
        }
    };
    let least = form.worked_as(&[("sensitivity", field)], least_weighable(sensitivity, error))?;
    Ok(calculated(&[("least weighable", &least)]))
}

fn part(form: &Form, asked: &AliquotQuestion) -> Read<Calculated> {
    let (wanted, least, part) = all((
        form.mass("wanted", &asked.wanted),
        form.mass("least", &asked.least),
        form.quantity("aliquot", &asked.aliquot),
    ))?;
    let spread = match part.measure() {
        Measure::Mass(aliquot) => Spread::ByWeight { aliquot },
        Measure::Volume(_) | Measure::Drops { .. } => {
            Spread::ByVolume { aliquot: form.volume("aliquot", &asked.aliquot)? }
        }
    };
    let found = form.worked(aliquot(wanted, least, spread))?;
    let mut answer = calculated(&[
        ("weigh", &found.weigh),
        ("diluent", &found.diluent),
        ("mixture", &found.mixture),
        ("aliquot", &found.aliquot),
        ("multiple", &found.multiple),
    ]);
    answer.notes.extend(part.taken_as());
    Ok(answer)
}
