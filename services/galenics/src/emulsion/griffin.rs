//! HLB of a single nonionic emulsifier from what it is made of, after Griffin.

use rust_decimal::Decimal;

use crate::{Figure, Fraction, Input, Refusal, Rule, Source, Status, number::HUNDRED, units};

static BY_MASS: Rule = Rule::new(
    "hlb_by_mass",
    "20 times {hydrophilic} hydrophilic over {whole} is {=}",
    Source::fixed("Griffin 1954, nonionic emulsifiers: HLB = 20 Mh/M", Status::Verified),
);
static BY_SAPONIFICATION: Rule = Rule::new(
    "hlb_by_saponification",
    "20 times (1 less {saponification} over {acid}) is {=}",
    Source::fixed("Griffin, fatty esters of polyhydric alcohols: HLB = 20 (1 - S/A)", Status::Verified),
);
static BY_COMPOSITION: Rule = Rule::new(
    "hlb_by_composition",
    "({oxyethylene} oxyethylene and {alcohol} polyhydric alcohol, in the hundred) over 5 is {=}",
    Source::fixed(
        "Griffin, where there is no usable saponification number: HLB = (E + P)/5",
        Status::Verified,
    ),
);

/// `20 Mh/M`, from the molar mass of the hydrophilic part and of the whole.
///
/// # Errors
/// Refuses a part above the whole and a whole of zero.
pub fn hlb_by_mass(hydrophilic: Decimal, whole: Decimal) -> Result<Figure, Refusal> {
    if hydrophilic < Decimal::ZERO || hydrophilic > whole {
        return Err(Refusal::out_of_range(
            "hydrophilic",
            "the hydrophilic part lies from 0 to the whole molecule",
        ));
    }
    let value = Decimal::from(20)
        .checked_mul(hydrophilic)
        .and_then(|above| above.checked_div(whole))
        .ok_or(Refusal::out_of_range("whole", "the molar mass lies above 0"))?;
    let inputs =
        vec![Input::number("hydrophilic", hydrophilic, "g/mol"), Input::number("whole", whole, "g/mol")];
    Ok(Figure::number(value, units::RATIO, &BY_MASS, inputs))
}

/// `20 (1 - S/A)`, from the saponification number of the ester and the acid number of the acid.
///
/// # Errors
/// Refuses a saponification number above the acid number, since an ester has less acid than its acid.
pub fn hlb_by_saponification(saponification: Decimal, acid: Decimal) -> Result<Figure, Refusal> {
    if saponification < Decimal::ZERO || saponification > acid {
        return Err(Refusal::out_of_range(
            "saponification",
            "the saponification number of the ester lies from 0 to the acid number of its acid",
        ));
    }
    let share = saponification
        .checked_div(acid)
        .ok_or(Refusal::out_of_range("acid", "the acid number of the acid lies above 0"))?;
    let value = Decimal::from(20) * (Decimal::ONE - share);
    let inputs = vec![
        Input::number("saponification", saponification, "mg KOH/g"),
        Input::number("acid", acid, "mg KOH/g"),
    ];
    Ok(Figure::number(value, units::RATIO, &BY_SAPONIFICATION, inputs))
}

/// `(E + P)/5`, from the shares by mass of oxyethylene and of polyhydric alcohol.
///
/// # Errors
/// Refuses shares that pass the whole together.
pub fn hlb_by_composition(oxyethylene: Fraction, alcohol: Fraction) -> Result<Figure, Refusal> {
    let sum = oxyethylene.get() + alcohol.get();
    if sum > Decimal::ONE {
        return Err(Refusal::out_of_range("alcohol", "the two shares together are at most 100 per cent"));
    }
    let value = sum * HUNDRED / Decimal::from(5);
    let inputs = vec![
        Input::number("oxyethylene", oxyethylene.get(), units::SHARE),
        Input::number("alcohol", alcohol.get(), units::SHARE),
    ];
    Ok(Figure::number(value, units::RATIO, &BY_COMPOSITION, inputs))
}
