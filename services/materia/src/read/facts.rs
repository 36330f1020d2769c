//! The files that state one fact of one material a row: properties, constituents, usual forms.

use super::Known;
use crate::error::Error;
use crate::material::{Material, UsualForm};
use crate::property::{Density, Measured, Property, PropertyUnit};
use crate::substance::Constituent;
use crate::table::{Row, Sources, Table};
use rust_decimal::Decimal;

fn material<'m>(
    row: Row<'_>,
    known: &Known,
    materials: &'m mut [Material],
) -> Result<&'m mut Material, Error> {
    let key = row.reference("material", &known.materials)?;
    materials.iter_mut().find(|material| material.key == key).ok_or_else(|| {
        row.refuse("material", format!("{key:?} is missing"), "Write a key from materials.csv")
    })
}

pub(crate) fn properties(
    text: &str,
    sources: &Sources,
    known: &Known,
    materials: &mut [Material],
) -> Result<(), Error> {
    let columns =
        &["material", "property", "low", "value", "high", "unit", "at_celsius", "source", "place", "status"];
    let table = Table::read("properties.csv", text, columns)?;
    for row in table.rows() {
        let property: Property = row.parsed("property")?;
        let measured = measured(row, property, sources)?;
        state(row, property, measured, material(row, known, materials)?)?;
    }
    Ok(())
}

fn state(row: Row<'_>, property: Property, measured: Measured, material: &mut Material) -> Result<(), Error> {
    if property == Property::Density {
        let density = density(row, measured)?;
        return once(row, &mut material.density, density);
    }
    match property {
        Property::Hlb => material.hlb.own.push(measured),
        Property::RequiredHlbOilInWater => material.hlb.required_oil_in_water.push(measured),
        Property::RequiredHlbWaterInOil => material.hlb.required_water_in_oil.push(measured),
        Property::Melting => once(row, &mut material.melting, measured)?,
        Property::DropPoint => once(row, &mut material.drop_point, measured)?,
        Property::WaterFresh => once(row, &mut material.water_content_fresh, measured)?,
        Property::WaterDried => once(row, &mut material.water_content_dried, measured)?,
        Property::Water => once(row, &mut material.water_content, measured)?,
        Property::Ethanol => once(row, &mut material.ethanol, measured)?,
        Property::AcidValue => once(row, &mut material.acid_value, measured)?,
        Property::EsterValue => once(row, &mut material.ester_value, measured)?,
        Property::SaponificationValue => once(row, &mut material.saponification_value, measured)?,
        Property::Drops => once(row, &mut material.drops_per_ml, measured)?,
        Property::UseRate => once(row, &mut material.use_rate, measured)?,
        Property::Density => {}
    }
    Ok(())
}

fn once<T>(row: Row<'_>, place: &mut Option<T>, value: T) -> Result<(), Error> {
    if place.replace(value).is_some() {
        return Err(row.refuse(
            "property",
            "an earlier row states this property of this material",
            "Keep the better sourced of the two; only HLB values may differ by source",
        ));
    }
    Ok(())
}

fn measured(row: Row<'_>, property: Property, sources: &Sources) -> Result<Measured, Error> {
    let (source, status) = sources.of(row)?;
    let unit: PropertyUnit = row.parsed("unit")?;
    if !property.units().contains(&unit) {
        let accepted = property.units().iter().map(|unit| unit.word()).collect::<Vec<_>>().join(", ");
        return Err(row.refuse(
            "unit",
            format!("{property} is not stated in {unit}"),
            format!("Write one of: {accepted}"),
        ));
    }
    let ends = (row.optional_number("low")?, row.optional_number("high")?);
    let value = row.optional_number("value")?;
    let (low, value, high) = match (ends, value) {
        ((Some(low), Some(high)), None) => {
            let middle = low.checked_add(high).and_then(|sum| sum.checked_div(Decimal::TWO));
            (low, middle.unwrap_or(low), high)
        }
        ((Some(low), Some(high)), Some(value)) => (low, value, high),
        ((None, None), Some(value)) => (value, value, value),
        _ => {
            return Err(row.refuse(
                "value",
                "neither a value nor a whole range",
                "Write value, or low and high, or all three",
            ));
        }
    };
    if low > value || value > high {
        return Err(row.refuse("value", "the value is outside its range", "Write low <= value <= high"));
    }
    let at_celsius = row.optional_celsius("at_celsius")?;
    Ok(Measured { low, value, high, unit, at_celsius, source, status })
}

/// A relative density carries its temperature in its unit; any other density must state one.
fn density(row: Row<'_>, measured: Measured) -> Result<Density, Error> {
    let (at_celsius, water) = match (measured.unit.relative_to_water(), measured.at_celsius) {
        (Some((at, water)), None) => (at, water),
        (None, Some(at)) => (at, Decimal::ONE),
        (Some(_), Some(_)) => {
            return Err(row.refuse(
                "at_celsius",
                "the unit states the temperature already",
                "Leave it empty",
            ));
        }
        (None, None) => {
            return Err(row.refuse(
                "at_celsius",
                "a density without its temperature",
                "Write degrees Celsius",
            ));
        }
    };
    // As fine as the density of the water that a relative density is compared with.
    let in_grams = |figure: Decimal| {
        figure
            .checked_mul(water)
            .map(|grams| grams.round_dp(6).normalize())
            .filter(|grams| *grams > Decimal::new(5, 1) && *grams < Decimal::from(4))
            .ok_or_else(|| {
                row.refuse("value", "no material of the trade is as light or heavy", "Check the unit")
            })
    };
    let figures = if measured.low == measured.high {
        measured.value.to_string()
    } else {
        format!("{} to {}", measured.low, measured.high)
    };
    Ok(Density {
        g_per_ml: in_grams(measured.value)?,
        low_g_per_ml: in_grams(measured.low)?,
        high_g_per_ml: in_grams(measured.high)?,
        at_celsius,
        as_published: format!("{figures}, {}", measured.unit),
        source: measured.source,
        status: measured.status,
    })
}

pub(crate) fn constituents(
    text: &str,
    sources: &Sources,
    known: &Known,
    materials: &mut [Material],
) -> Result<(), Error> {
    let columns = &["material", "substance", "low", "high", "unit", "source", "place", "status"];
    let table = Table::read("constituents.csv", text, columns)?;
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let substance = row.reference("substance", &known.substances)?;
        if row.optional("unit") != Some(PropertyUnit::PercentByMass.word()) {
            return Err(row.refuse("unit", "the range has no unit that is accepted", "Write % w/w"));
        }
        let ends = (row.optional_number("low")?, row.optional_number("high")?);
        let (Some(low_percent), Some(high_percent)) = ends else {
            return Err(row.refuse(
                "low",
                "the range is not whole",
                "Write low and high, which may be equal",
            ));
        };
        if low_percent > high_percent || high_percent > Decimal::ONE_HUNDRED {
            return Err(row.refuse("high", "this is no range of shares", "Write 0 <= low <= high <= 100"));
        }
        let material = material(row, known, materials)?;
        if material.constituents.iter().any(|constituent| constituent.substance == substance) {
            return Err(row.refuse(
                "substance",
                format!("an earlier row states {substance:?} in this material"),
                "Keep one range",
            ));
        }
        material.constituents.push(Constituent { substance, low_percent, high_percent, source, status });
    }
    Ok(())
}

pub(crate) fn forms(
    text: &str,
    sources: &Sources,
    known: &Known,
    materials: &mut [Material],
) -> Result<(), Error> {
    let table =
        Table::read("forms.csv", text, &["material", "preparation", "ratio", "source", "place", "status"])?;
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let preparation = row.reference("preparation", &known.preparations)?;
        let ratio = row.string("ratio")?;
        let material = material(row, known, materials)?;
        material.usual_forms.push(UsualForm { preparation, ratio, source, status });
    }
    Ok(())
}
