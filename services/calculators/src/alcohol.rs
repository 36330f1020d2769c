//! Mixtures of ethanol and water: dilution, strength, mixing, hydrometer and density.

use galenics::alcohol::{
    HydrometerReading, Stream, dilute_with, from_density, mix, read_hydrometer, strength_by_mass,
    strength_by_volume,
};
use galenics::{Fraction, Measure, Temperature};
use store::{Credentials, Result, Store};
use wire::calculations::Calculated;
use wire::calculations::alcohol::{
    AlcoholQuestion, DensityQuestion, HydrometerQuestion, SpiritDilution, SpiritMixture, SpiritStream,
    SpiritStrength,
};

use super::answer::{calculated, calculated_from};
use super::form::{Basis, Form, Read, all};

/// Answers a question about ethanol and water.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn alcohol(
    store: &Store,
    credentials: &Credentials,
    question: &AlcoholQuestion,
) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            Ok(match question {
                AlcoholQuestion::Dilution(asked) => dilution(&form.within("dilution"), asked),
                AlcoholQuestion::Strength(asked) => strength(&form.within("strength"), asked),
                AlcoholQuestion::Mixture(asked) => mixture(&form.within("mixture"), asked),
                AlcoholQuestion::Hydrometer(asked) => hydrometer(&form.within("hydrometer"), asked),
                AlcoholQuestion::Density(asked) => density(&form.within("density"), asked),
            }?)
        })
        .await
}

fn by_volume(form: &Form, field: &str, text: &str) -> Read<Fraction> {
    form.share(field, text, Basis::ByVolume)
}

fn dilution(form: &Form, asked: &SpiritDilution) -> Read<Calculated> {
    let (wanted, strength, stock, diluent) = all((
        form.quantity("wanted", &asked.wanted),
        by_volume(form, "strength", &asked.strength),
        by_volume(form, "stock", &asked.stock),
        form.optional(asked.diluent.as_ref(), |form, text| by_volume(form, "diluent", text)),
    ))?;
    let made = form.worked(dilute_with(&wanted, strength, stock, diluent.unwrap_or_default()))?;
    let figures = [
        ("stock by mass", &made.stock_mass),
        ("stock by volume", &made.stock_volume),
        ("water or weaker spirit by mass", &made.diluent_mass),
        ("water or weaker spirit by volume", &made.diluent_volume),
        ("made, by mass", &made.mass),
        ("made, by volume", &made.volume),
        ("contraction", &made.contraction),
    ];
    Ok(calculated_from(&figures, &[&wanted]))
}

fn strength(form: &Form, asked: &SpiritStrength) -> Read<Calculated> {
    let (volume, mass, stated_at, density_at) = all((
        form.optional(asked.by_volume.as_ref(), |form, text| by_volume(form, "by_volume", text)),
        form.optional(asked.by_mass.as_ref(), |form, text| form.share("by_mass", text, Basis::ByMass)),
        form.optional(asked.stated_at.as_ref(), |form, text| form.temperature("stated_at", text)),
        form.optional(asked.density_at.as_ref(), |form, text| form.temperature("density_at", text)),
    ))?;
    let at = stated_at.unwrap_or(Temperature::TWENTY);
    let names = [("temperature", "stated_at")];
    let found = match (volume, mass) {
        (Some(volume), None) => form.worked_as(&names, strength_by_mass(volume, at))?,
        (None, Some(mass)) => form.worked_as(&names, strength_by_volume(mass, at))?,
        (Some(_), Some(_)) | (None, None) => {
            return Err(
                form.refuse("by_volume", "Enter the strength once, as by_volume or by_mass, such as 40 %.")
            );
        }
    };
    let mut figures =
        vec![("by volume", &found.by_volume), ("by mass", &found.by_mass), ("density", &found.density)];
    let elsewhere = match (density_at, found.by_mass.value().and_then(|share| Fraction::new(share).ok())) {
        (Some(at), Some(mass)) => {
            Some(form.worked_as(&[("temperature", "density_at")], strength_by_volume(mass, at))?)
        }
        _ => None,
    };
    if let Some(elsewhere) = &elsewhere {
        figures.push(("density at the other temperature", &elsewhere.density));
        figures.push(("by volume at the other temperature", &elsewhere.by_volume));
    }
    Ok(calculated(&figures))
}

fn mixture(form: &Form, asked: &SpiritMixture) -> Read<Calculated> {
    let streams = form.each("streams", &asked.streams, 50, stream)?;
    let made = form.worked(mix(&streams))?;
    Ok(calculated(&[
        ("by volume", &made.by_volume),
        ("by mass", &made.by_mass),
        ("mass", &made.mass),
        ("volume", &made.volume),
        ("ethanol", &made.ethanol),
        ("water", &made.water),
        ("contraction", &made.contraction),
    ]))
}

fn stream(form: &Form, asked: &SpiritStream) -> Read<Stream> {
    let (amount, strength, fills) = all((
        form.quantity("amount", &asked.amount),
        form.optional(asked.strength.as_ref(), |form, text| by_volume(form, "strength", text)),
        form.optional(asked.fills.as_ref(), |form, text| form.volume("fills", text)),
    ))?;
    match (amount.measure(), strength) {
        (_, Some(_)) if fills.is_some() => {
            Err(form.refuse("fills", "The volume of ethanol and water is calculated. Omit fills."))
        }
        (Measure::Mass(mass), Some(strength)) => Ok(Stream::ByMass { mass, strength }),
        (Measure::Mass(mass), None) => Ok(Stream::Inert { mass, volume: fills }),
        (_, Some(strength)) => {
            Ok(Stream::ByVolume { volume: form.volume("amount", &asked.amount)?, strength })
        }
        (_, None) => Err(form.refuse(
            "strength",
            "Enter the strength, 0 % for water. Enter the amount by mass if it is neither ethanol nor water.",
        )),
    }
}

fn hydrometer(form: &Form, asked: &HydrometerQuestion) -> Read<Calculated> {
    let (reading, temperature) = all((
        by_volume(form, "reading", &asked.reading),
        form.temperature("temperature", &asked.temperature),
    ))?;
    Ok(read(&form.worked(read_hydrometer(reading, temperature))?))
}

fn density(form: &Form, asked: &DensityQuestion) -> Read<Calculated> {
    let density = form.density("density", &asked.density)?;
    Ok(read(&form.worked_as(&[("temperature", "density")], from_density(density.value))?))
}

fn read(found: &HydrometerReading) -> Calculated {
    calculated(&[("by volume at 20 C", &found.by_volume), ("by mass", &found.by_mass)])
}
