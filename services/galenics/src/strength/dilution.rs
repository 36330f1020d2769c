//! Stock dilution, `C1 V1 = C2 V2`, and powder rubbed into a base. Amounts are all masses or all volumes, in
//! the unit of the strength's basis.

use rust_decimal::Decimal;
use serde::Serialize;

use super::statement::Strength;
use crate::{Dimension, Figure, Input, Measure, Quantity, Refusal, Rule, number::significant, units};

static STOCK: Rule = Rule::definition("stock_needed", "stock of {stock} for {wanted} of {strength}: {=}");
static DILUENT: Rule =
    Rule::definition("diluent_needed", "diluent, volumes and masses taken as additive: {=}");
static DILUTED: Rule =
    Rule::definition("diluted_strength", "{stock amount} of {stock} made up to {whole}: {=}");
static POWDER: Rule = Rule::definition(
    "powder_added",
    "powder to add to {base} of {present}: {=}, from base × (wanted − present) / (1 − wanted)",
);
static WHOLE: Rule = Rule::definition("powder_and_base", "total: {=}");

/// What to take of a stock.
#[derive(Debug, Clone, Serialize)]
pub struct StockDilution {
    /// The stock.
    pub stock: Figure,
    /// What makes up to the wanted amount.
    pub diluent: Figure,
}

/// The number of a quantity with its unit, refusing drops.
fn amount(quantity: &Quantity, field: &'static str) -> Result<(Decimal, &'static str), Refusal> {
    match quantity.measure() {
        Measure::Mass(mass) => Ok((mass.g(), units::GRAM)),
        Measure::Volume(volume) => Ok((volume.ml(), units::MILLILITRE)),
        Measure::Drops { .. } => {
            Err(Refusal::out_of_range(field, "Enter the amount as a mass or a volume, such as 500 mL."))
        }
    }
}

fn same_basis(a: &Strength, b: &Strength) -> Result<(), Refusal> {
    if a.basis() == b.basis() {
        return Ok(());
    }
    Err(Refusal::out_of_range(
        "strength",
        format!("State both strengths on one basis. {} and {} differ.", a.text(), b.text()),
    ))
}

/// How much stock makes a wanted amount of a lower strength.
///
/// # Errors
/// Refuses strengths on different bases and a strength above the stock's, and says what would be possible.
pub fn stock_needed(
    wanted: &Quantity,
    strength: &Strength,
    stock: &Strength,
) -> Result<StockDilution, Refusal> {
    same_basis(strength, stock)?;
    let (whole, unit) = amount(wanted, "wanted")?;
    if strength.fraction() > stock.fraction() {
        return Err(Refusal::impossible(
            "strength",
            format!(
                "A stock of {} gives at most that strength, not {}. Use a stronger stock.",
                stock.text(),
                strength.text()
            ),
        ));
    }
    let needed = whole
        .checked_mul(strength.fraction())
        .and_then(|pure| pure.checked_div(stock.fraction()))
        .ok_or(Refusal::too_large("wanted"))?;
    let inputs = || {
        vec![
            Input::words("wanted", wanted.typed()),
            Input::words("strength", strength.text().to_owned()),
            Input::words("stock", stock.text().to_owned()),
        ]
    };
    Ok(StockDilution {
        stock: Figure::number(needed, unit, &STOCK, inputs()),
        diluent: Figure::number(whole - needed, unit, &DILUENT, inputs()),
    })
}

/// What strength a stock has when it is made up to a larger amount.
///
/// # Errors
/// Refuses a mass made up to a volume and the other way round, and an end below the start.
pub fn diluted_strength(stock: &Strength, of: &Quantity, to: &Quantity) -> Result<Figure, Refusal> {
    let ((there, unit), (whole, whole_unit)) = (amount(of, "stock_amount")?, amount(to, "whole")?);
    if unit != whole_unit || of.dimension() == Dimension::Drops {
        return Err(Refusal::out_of_range(
            "whole",
            format!("Enter both in {unit}, or both as a mass or a volume."),
        ));
    }
    if whole < there {
        return Err(Refusal::impossible(
            "whole",
            format!("The amount is already {}. Make up to at least that.", of.text()),
        ));
    }
    let value = stock
        .fraction()
        .checked_mul(there)
        .and_then(|pure| pure.checked_div(whole))
        .ok_or(Refusal::too_large("whole"))?;
    let inputs = vec![
        Input::words("stock amount", of.typed()),
        Input::words("stock", stock.text().to_owned()),
        Input::words("whole", to.typed()),
    ];
    Ok(Figure::number(value, units::SHARE, &DILUTED, inputs))
}

/// Powder to rub into a base.
#[derive(Debug, Clone, Serialize)]
pub struct AddedPowder {
    /// The powder, in g.
    pub powder: Figure,
    /// Powder and base together, in g.
    pub whole: Figure,
}

/// How much pure powder brings a base to a share by mass of the whole; `present` is what it has already.
///
/// # Errors
/// Refuses a wanted share that the base has already or that only powder without base has.
pub fn add_powder(base: &Quantity, present: Decimal, wanted: Decimal) -> Result<AddedPowder, Refusal> {
    let Measure::Mass(mass) = base.measure() else {
        return Err(Refusal::out_of_range("base", "Enter the base as a mass, such as 60 g."));
    };
    if wanted >= Decimal::ONE || wanted < Decimal::ZERO || present < Decimal::ZERO || present > Decimal::ONE {
        return Err(Refusal::out_of_range("wanted", "The share in a base must be 0 to below 100 %."));
    }
    if wanted < present {
        let percent = significant(present * crate::number::HUNDRED, 6);
        return Err(Refusal::impossible(
            "wanted",
            format!("The base already has {percent} %. Powder can only raise it: enter a higher share."),
        ));
    }
    let powder = mass
        .g()
        .checked_mul(wanted - present)
        .and_then(|above| above.checked_div(Decimal::ONE - wanted))
        .ok_or(Refusal::too_large("base"))?;
    let inputs = vec![
        Input::words("base", base.typed()),
        Input::number("present", present, units::SHARE_OF_MASS),
        Input::number("wanted", wanted, units::SHARE_OF_MASS),
    ];
    let whole = mass.g().checked_add(powder).ok_or(Refusal::too_large("base"))?;
    Ok(AddedPowder {
        powder: Figure::number(powder, units::GRAM, &POWDER, inputs),
        whole: Figure::number(whole, units::GRAM, &WHOLE, Vec::new()),
    })
}
