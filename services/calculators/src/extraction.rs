//! Extraction: ratios, maceration, pressing and decoction.

use galenics::extraction::{
    Convention, ExtractRatio, Poured, decoction, dried_equivalent, dried_for_fresh, extract_for_dried,
    fresh_for_dried, macerate, macerate_by_volume, menstruum_for_fresh, press_yield, press_yield_by_volume,
    pressed_ratio, pressed_ratio_by_volume,
};
use galenics::{Decimal, Fraction, Mass, Measure, Quantity, Volume};
use store::{Credentials, Result, Store};
use wire::calculations::Calculated;
use wire::calculations::extraction::{
    DecoctionQuestion, DriedEquivalent, ExtractForDried, ExtractionQuestion, FreshAndDried,
    FreshMenstruumQuestion, MacerationQuestion, PressedExtract,
};

use super::answer::{calculated, calculated_from};
use super::form::{Basis, Form, Read, all};
use super::known::{self, Known};

/// Answers a question about extraction.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, such as an ambiguous ratio without
/// its convention, and the errors of verifying `claim`.
pub async fn extraction(
    store: &Store,
    credentials: &Credentials,
    question: &ExtractionQuestion,
) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            Ok(match question {
                ExtractionQuestion::DriedEquivalent(asked) => behind(&form.within("dried_equivalent"), asked),
                ExtractionQuestion::ExtractForDried(asked) => {
                    instead(&form.within("extract_for_dried"), asked)
                }
                ExtractionQuestion::Pressed(asked) => pressed(&form.within("pressed"), asked),
                ExtractionQuestion::Maceration(asked) => maceration(&form.within("maceration"), asked),
                ExtractionQuestion::FreshMenstruum(asked) => {
                    let form = form.within("fresh_menstruum");
                    let herb = known::one(tx, &form, "material", asked.material.as_ref()).await?;
                    herb.and_then(|herb| menstruum(&form, asked, herb.as_ref()))
                }
                ExtractionQuestion::FreshAndDried(asked) => fresh(&form.within("fresh_and_dried"), asked),
                ExtractionQuestion::Decoction(asked) => boiled(&form.within("decoction"), asked),
            }?)
        })
        .await
}

fn ratio(form: &Form, text: &str, convention: Option<&String>) -> Read<ExtractRatio> {
    let convention = form.optional(convention, |form, text| form.word::<Convention>("convention", text))?;
    form.worked(ExtractRatio::parse(text, convention))
}

fn behind(form: &Form, asked: &DriedEquivalent) -> Read<Calculated> {
    let (extract, ratio) = all((
        form.quantity("extract", &asked.extract),
        ratio(form, &asked.ratio, asked.convention.as_ref()),
    ))?;
    let herb = form.worked(dried_equivalent(&extract, &ratio))?;
    Ok(calculated_from(&[("dried herb", &herb)], &[&extract]))
}

fn instead(form: &Form, asked: &ExtractForDried) -> Read<Calculated> {
    let (herb, ratio) =
        all((form.mass("herb", &asked.herb), ratio(form, &asked.ratio, asked.convention.as_ref())))?;
    let extract = form.worked(extract_for_dried(herb, &ratio))?;
    Ok(calculated(&[("extract", &extract)]))
}

fn pressed(form: &Form, asked: &PressedExtract) -> Read<Calculated> {
    let (herb, menstruum, pressed) = all((
        form.mass("herb", &asked.herb),
        form.quantity("menstruum", &asked.menstruum),
        form.quantity("pressed", &asked.pressed),
    ))?;
    let (ratio, yielded) = match (menstruum.measure(), pressed.measure()) {
        (Measure::Mass(menstruum), Measure::Mass(pressed)) => {
            (pressed_ratio(herb, menstruum, pressed), press_yield(menstruum, pressed))
        }
        (Measure::Volume(menstruum), Measure::Volume(pressed)) => {
            (pressed_ratio_by_volume(herb, menstruum, pressed), press_yield_by_volume(menstruum, pressed))
        }
        _ => {
            let cure =
                "Enter the menstruum and the pressed liquid both by mass, in g, or both by volume, in mL.";
            return Err(form.refuse("pressed", cure));
        }
    };
    let (ratio, yielded) = (form.worked(ratio)?, form.worked(yielded)?);
    Ok(calculated(&[
        ("parts of native extract to one of drug", &ratio.native),
        ("dried herb carried", &ratio.carried),
        ("yield of the menstruum", &yielded),
    ]))
}

fn maceration(form: &Form, asked: &MacerationQuestion) -> Read<Calculated> {
    let (herb, retained, turns) = all((
        form.mass("herb", &asked.herb),
        form.number("retained", &asked.retained),
        form.each("turns", &asked.turns, 20, |form, turn: &String| form.quantity("", turn)),
    ))?;
    let by_mass = |turn: &Quantity| match turn.measure() {
        Measure::Mass(mass) => Some(mass),
        Measure::Volume(_) | Measure::Drops { .. } => None,
    };
    let masses: Option<Vec<Mass>> = turns.iter().map(by_mass).collect();
    let by_volume = |turn: &Quantity| match turn.measure() {
        Measure::Volume(volume) => Some(volume),
        Measure::Mass(_) | Measure::Drops { .. } => None,
    };
    let volumes: Option<Vec<Volume>> = turns.iter().map(by_volume).collect();
    let found = form.worked(match (masses, volumes) {
        (Some(masses), _) => macerate(herb, retained, &masses),
        (None, Some(volumes)) => macerate_by_volume(herb, retained, &volumes),
        (None, None) => {
            return Err(form.refuse("turns", "Enter all turns by mass, in g, or all by volume, in mL."));
        }
    })?;
    let names: Vec<String> =
        (1..=found.pressed.len()).map(|turn| format!("pressed in turn {turn}")).collect();
    let mut figures = vec![
        ("pressed altogether", &found.total),
        ("held back by the marc", &found.retained),
        ("share of the herb that comes with it", &found.recovered),
    ];
    figures.extend(names.iter().map(String::as_str).zip(&found.pressed));
    Ok(calculated(&figures))
}

fn menstruum(form: &Form, asked: &FreshMenstruumQuestion, herb: Option<&Known>) -> Read<Calculated> {
    let (mass, water, menstruum, wanted, strongest) = all((
        form.mass("herb", &asked.herb),
        water_of(form, asked.water.as_ref(), herb),
        form.quantity("menstruum", &asked.menstruum),
        form.share("wanted", &asked.wanted, Basis::ByVolume),
        form.share("strongest", asked.strongest.as_deref().unwrap_or("96 %"), Basis::ByVolume),
    ))?;
    let menstruum = match menstruum.measure() {
        Measure::Mass(mass) => Poured::Weighed(mass),
        Measure::Volume(volume) => Poured::Measured(volume),
        Measure::Drops { .. } => return Err(form.refuse("menstruum", "Enter g or mL, such as 200 mL.")),
    };
    let found = form.worked(menstruum_for_fresh(mass, water, menstruum, wanted, strongest))?;
    let mut figures = vec![
        ("strength of the menstruum", &found.strength),
        ("water that the herb brings", &found.juice),
        ("menstruum by mass", &found.mass),
        ("menstruum to pour", &found.volume),
    ];
    figures.extend(found.spirit.as_ref().map(|spirit| ("of it the strongest spirit, by volume", spirit)));
    figures.extend(found.water.as_ref().map(|water| ("of it water, by volume", water)));
    Ok(calculated(&figures))
}

/// The water content of a fresh herb: as given, otherwise from the materia medica.
fn water_of(form: &Form, given: Option<&String>, herb: Option<&Known>) -> Read<Fraction> {
    if let Some(text) = given {
        return form.share("water", text, Basis::ByMass);
    }
    let held = herb.and_then(|known| known.material.water_content_fresh.as_ref());
    held.and_then(known::sourced_share).map(|share| share.value).ok_or_else(|| match herb {
        Some(known) => form.refuse(
            "water",
            format!(
                "The water content of {} is unknown. Dry a sample and enter it, such as 80 %.",
                known.facts.name
            ),
        ),
        None => {
            form.refuse("water", "Enter the water content of the herb, such as 80 %, or name the material.")
        }
    })
}

fn fresh(form: &Form, asked: &FreshAndDried) -> Read<Calculated> {
    let (fresh, dried, water, dried_water) = all((
        form.optional(asked.fresh.as_ref(), |form, text| form.mass("fresh", text)),
        form.optional(asked.dried.as_ref(), |form, text| form.mass("dried", text)),
        form.share("water", &asked.water, Basis::ByMass),
        form.share("dried_water", &asked.dried_water, Basis::ByMass),
    ))?;
    match (fresh, dried) {
        (Some(fresh), None) => {
            let dried = form.worked(dried_for_fresh(fresh, water, dried_water))?;
            Ok(calculated(&[("dried herb", &dried)]))
        }
        (None, Some(dried)) => {
            let fresh = form.worked(fresh_for_dried(dried, dried_water, water))?;
            Ok(calculated(&[("fresh herb", &fresh)]))
        }
        (Some(_), Some(_)) | (None, None) => {
            Err(form.refuse("fresh", "Enter either fresh or dried, such as 100 g."))
        }
    }
}

fn boiled(form: &Form, asked: &DecoctionQuestion) -> Read<Calculated> {
    let none = Volume::millilitres(Decimal::ZERO).map_err(|error| form.refuse("evaporated", error));
    let (herb, water, evaporated, retained, target, none) = all((
        form.mass("herb", &asked.herb),
        form.volume("water", &asked.water),
        form.optional(asked.evaporated.as_ref(), |form, text| form.volume_or_none("evaporated", text)),
        form.number("retained", &asked.retained),
        form.volume("target", &asked.target),
        none,
    ))?;
    let found = form.worked(decoction(herb, water, evaporated.unwrap_or(none), retained, target))?;
    Ok(calculated(&[
        ("strained", &found.strained),
        ("poured through the marc", &found.make_up),
        ("dried herb before it is made up", &found.herb_strained),
        ("dried herb at most", &found.herb_at_most),
        ("strength", &found.strength),
    ]))
}
