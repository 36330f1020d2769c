//! Conversion of a quantity to another unit.

use galenics::strength::{mass_of_volume, volume_of_mass};
use galenics::unit::Unit;
use galenics::{
    Decimal, Density, Dimension, Figure, Input, Mass, Measure, Quantity, Rule, Sourced, Unknown, units,
};
use store::{Credentials, Result, Store};
use wire::calculations::{Calculated, quantity::QuantityQuestion};

use super::answer::calculated_from;
use super::form::{Form, Read, all};
use super::known;

static IN_BASE: Rule = Rule::definition("quantity_in_base_unit", "{quantity} = {=}");
static CONVERTED: Rule = Rule::definition("quantity_in_unit", "{quantity} / {factor} = {=}");
static DROPS: Rule = Rule::definition("quantity_in_drops", "{quantity} × {dropper} drops per mL = {=}");

/// Converts a quantity to another unit. Conversion between mass and volume uses the given density, or that of the named
/// material; if the material has none, the result is unknown.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn quantity(
    store: &Store,
    credentials: &Credentials,
    question: &QuantityQuestion,
) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            let material = known::one(tx, &form, "material", question.material.as_ref()).await?;
            let density =
                form.optional(question.density.as_ref(), |form, text| form.density("density", text));
            let (quantity, to, density, material) = all((
                form.quantity("quantity", &question.quantity),
                wanted(&form, &question.to),
                density,
                material,
            ))?;
            let density = match (density, material) {
                (Some(density), _) => Some(Ok(density)),
                (None, Some(known)) => {
                    let missing = Unknown::of(format!("density of {}", known.facts.name));
                    Some(known.facts.density.clone().ok_or(missing))
                }
                (None, None) => None,
            };
            Ok(convert(&form, &quantity, to, density)?)
        })
        .await
}

/// The target unit, with the drops per mL if it is a drop.
#[derive(Clone, Copy)]
struct Wanted {
    unit: Unit,
    dropper: Option<Decimal>,
}

fn wanted(form: &Form, text: &str) -> Read<Wanted> {
    // The unit is parsed as a quantity of 1, so that every spelling of a unit is accepted.
    let refuse =
        || form.refuse("to", "Enter a unit, such as g, mL, oz, fl oz, US cup, or drops at 20 per mL.");
    let one = Quantity::parse_with(&format!("1 {}", text.trim()), form.customary()).map_err(|_| refuse())?;
    let [part] = one.parts() else { return Err(refuse()) };
    match one.measure() {
        Measure::Drops { per_ml: None, .. } => {
            Err(form.refuse("to", "Enter the drops per mL as well, such as drops at 20 per mL."))
        }
        Measure::Drops { per_ml, .. } => Ok(Wanted { unit: part.unit, dropper: per_ml }),
        Measure::Mass(_) | Measure::Volume(_) => Ok(Wanted { unit: part.unit, dropper: None }),
    }
}

fn convert(
    form: &Form,
    quantity: &Quantity,
    to: Wanted,
    density: Option<std::result::Result<Sourced<Density>, Unknown>>,
) -> Read<Calculated> {
    let typed = || vec![Input::words("quantity", quantity.typed())];
    let grams = |mass: Mass| Figure::number(mass.g(), units::GRAM, &IN_BASE, typed());
    let weighs = to.unit.dimension() == Dimension::Mass;
    let base = match (quantity.measure(), weighs) {
        (Measure::Mass(mass), true) => grams(mass),
        (Measure::Mass(mass), false) => match given(form, density)? {
            Ok(density) => form.worked_as(&[("mass", "quantity")], volume_of_mass(mass, &density))?,
            Err(unknown) => Figure::unknown_for(unknown, units::MILLILITRE, &IN_BASE, typed()),
        },
        (Measure::Volume(_) | Measure::Drops { .. }, weighs) => {
            let volume = quantity.volume(None).ok_or_else(|| {
                form.refuse("quantity", "Enter the drops per mL as well, such as 20 drops at 25 per mL.")
            })?;
            if weighs {
                match given(form, density)? {
                    Ok(density) => {
                        form.worked_as(&[("volume", "quantity")], mass_of_volume(volume, &density))?
                    }
                    Err(unknown) => Figure::unknown_for(unknown, units::GRAM, &IN_BASE, typed()),
                }
            } else {
                Figure::number(volume.ml(), units::MILLILITRE, &IN_BASE, typed())
            }
        }
    };
    let figure = in_unit(&base, to);
    Ok(calculated_from(&[("quantity", &figure), ("in base unit", &base)], &[quantity]))
}

fn given(
    form: &Form,
    density: Option<std::result::Result<Sourced<Density>, Unknown>>,
) -> Read<std::result::Result<Sourced<Density>, Unknown>> {
    density.ok_or_else(|| {
        form.refuse(
            "density",
            "Converting between mass and volume requires a density. Enter one, such as 0.91 g/mL, or name the material.",
        )
    })
}

/// A figure in g or mL in a unit of the same dimension.
fn in_unit(base: &Figure, to: Wanted) -> Figure {
    let out_of_range = || Unknown::of("an amount within the range of a decimal");
    let mut inputs = vec![Input::figure("quantity", base)];
    if let Some(per_ml) = to.dropper {
        inputs.push(Input::number("dropper", per_ml, units::RATIO));
        let count = base.known().and_then(|ml| ml.checked_mul(per_ml).ok_or_else(out_of_range));
        return Figure::from_result(count, to.unit.symbol(), &DROPS, inputs);
    }
    // The figure already has the target unit.
    if to.unit.symbol() == base.unit() {
        return base.clone();
    }
    let factor = to.unit.factor();
    let each = factor.to_base(Decimal::ONE).unwrap_or(Decimal::ONE);
    inputs.push(Input::constant("factor", each, base.unit(), to.unit.source().clone()));
    let value = base.known().and_then(|value| factor.from_base(value).ok_or_else(out_of_range));
    Figure::from_result(value, to.unit.symbol(), &CONVERTED, inputs)
}
