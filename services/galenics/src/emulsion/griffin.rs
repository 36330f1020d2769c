//! HLB of a single emulsifier from what it is made of, after Griffin and after Davies.

use rust_decimal::Decimal;

use crate::{Figure, Fraction, Input, Refusal, Rule, Source, Status, number::HUNDRED, units};

static BY_MASS: Rule = Rule::new(
    "hlb_by_mass",
    "HLB: 20 × {hydrophilic} hydrophilic / {whole} = {=}",
    Source::fixed("Griffin 1954, nonionic emulsifiers: HLB = 20 Mh/M", Status::Verified),
);
static BY_SAPONIFICATION: Rule = Rule::new(
    "hlb_by_saponification",
    "HLB: 20 × (1 − {saponification} / {acid}) = {=}",
    Source::fixed("Griffin, fatty esters of polyhydric alcohols: HLB = 20 (1 - S/A)", Status::Verified),
);
static BY_COMPOSITION: Rule = Rule::new(
    "hlb_by_composition",
    "HLB: ({oxyethylene} oxyethylene + {alcohol} polyhydric alcohol, each as a percentage) / 5 = {=}",
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
            "The hydrophilic part must be 0 up to the whole molecule.",
        ));
    }
    let value = Decimal::from(20)
        .checked_mul(hydrophilic)
        .and_then(|above| above.checked_div(whole))
        .ok_or(Refusal::out_of_range("whole", "The molar mass must be above 0."))?;
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
            "The saponification number of the ester must be 0 up to the acid number of its acid.",
        ));
    }
    let share = saponification
        .checked_div(acid)
        .ok_or(Refusal::out_of_range("acid", "The acid number of the acid must be above 0."))?;
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
        return Err(Refusal::out_of_range("alcohol", "The two shares must total at most 100 %."));
    }
    let value = sum * HUNDRED / Decimal::from(5);
    let inputs = vec![
        Input::number("oxyethylene", oxyethylene.get(), units::SHARE),
        Input::number("alcohol", alcohol.get(), units::SHARE),
    ];
    Ok(Figure::number(value, units::RATIO, &BY_COMPOSITION, inputs))
}

static BY_GROUPS: Rule = Rule::new(
    "hlb_by_groups",
    "HLB: 7 + {hydrophilic} of hydrophilic groups − 0.475 for each of {carbons} carbons = {=}",
    Source::fixed("Davies: HLB = 7 + sum of hydrophilic groups - 0.475 n", Status::Verified),
);

/// `7 + sum - 0.475 n`, from the group numbers of the hydrophilic groups and the carbons of the lipophilic part.
///
/// # Errors
/// Refuses group numbers outside 0 to 100 together and more than 200 carbons.
///
/// ```
/// use galenics::{emulsion::hlb_by_groups, number::dec};
/// // An ester group counts 2.4; seventeen carbons take 8.075.
/// assert_eq!(hlb_by_groups(dec("2.4"), 17)?.value(), Some(dec("1.325")));
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn hlb_by_groups(hydrophilic: Decimal, carbons: u32) -> Result<Figure, Refusal> {
    if hydrophilic < Decimal::ZERO || hydrophilic > HUNDRED {
        return Err(Refusal::out_of_range("hydrophilic", "The group numbers must total 0 to 100."));
    }
    if carbons > 200 {
        return Err(Refusal::out_of_range("carbons", "The lipophilic part may have at most 200 carbons."));
    }
    let value = Decimal::from(7) + hydrophilic - Decimal::new(475, 3) * Decimal::from(carbons);
    let inputs = vec![
        Input::number("hydrophilic", hydrophilic, units::RATIO),
        Input::number("carbons", Decimal::from(carbons), units::RATIO),
    ];
    Ok(Figure::number(value, units::RATIO, &BY_GROUPS, inputs))
}
