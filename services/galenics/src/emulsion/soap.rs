//! The soap that an alkali forms in place with the free acids of a wax: beeswax and borax are the old pair.
//!
//! The acid value is mg of potassium hydroxide that neutralise one g, so that the free acid is wax x acid
//! value / 56.106 in mmol. Borax (381.37 g/mol) neutralises two of it for each of its own.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Input, Mass, Refusal, Rule, Source, Sourced, Status,
    number::{dec, divide},
    units,
    words::words,
};

/// Molar mass of potassium hydroxide, g/mol.
const POTASSIUM_HYDROXIDE: Decimal = dec("56.106");

static ACID: Rule = Rule::new(
    "free_acid",
    "free acid in {wax} at an acid value of {acid value}: {=}",
    Source::fixed("acid value: mg of KOH for one g; KOH 56.106 g/mol", Status::Definition),
);
static BASE: Rule = Rule::definition(
    "alkali_equivalents",
    "acid that {alkali} of {molar mass} neutralises: \
     {=}",
);
static SHARE: Rule =
    Rule::definition("share_neutralised", "acid neutralised by {base} of alkali, of {acid}: {=}");
static EXCESS: Rule = Rule::definition("alkali_left_over", "alkali left over: {=}");
static NEEDED: Rule = Rule::definition("alkali_for_all", "{alkali} to neutralise all the acid: {=}");

words! {
    /// An alkali that forms soap in place.
    Alkali, "alkali" {
        /// Sodium tetraborate decahydrate.
        Borax = "borax",
        SodiumHydroxide = "sodium hydroxide",
        PotassiumHydroxide = "potassium hydroxide",
        SodiumBicarbonate = "sodium bicarbonate",
        Triethanolamine = "triethanolamine",
    }
}

impl Alkali {
    /// Molar mass in g/mol and how many of acid one neutralises.
    #[must_use]
    pub const fn equivalents(self) -> (Decimal, Decimal) {
        match self {
            Self::Borax => (dec("381.37"), Decimal::TWO),
            Self::SodiumHydroxide => (dec("39.997"), Decimal::ONE),
            Self::PotassiumHydroxide => (POTASSIUM_HYDROXIDE, Decimal::ONE),
            Self::SodiumBicarbonate => (dec("84.007"), Decimal::ONE),
            Self::Triethanolamine => (dec("149.19"), Decimal::ONE),
        }
    }
}

static MOLAR_MASSES: Source = Source::fixed("molar masses from standard atomic weights", Status::Verified);

/// The soap formed.
#[derive(Debug, Clone, Serialize)]
pub struct Soap {
    /// Free acid in the wax, in mmol.
    pub acid: Figure,
    /// What the alkali can neutralise, in mmol.
    pub base: Figure,
    /// The share of the acid that is neutralised, at most one.
    pub neutralised: Figure,
    /// Alkali that finds no acid, in mmol.
    pub left_over: Figure,
    /// How much of the alkali would neutralise all of the acid, in g.
    pub for_all: Figure,
}

/// The soap that an alkali forms with the free acids of a wax or fat.
///
/// # Errors
/// Refuses an acid value outside 0 to 300 mg KOH/g and a wax without acid to neutralise.
pub fn soap_formed(
    wax: Mass,
    acid_value: &Sourced<Decimal>,
    alkali: Alkali,
    mass: Mass,
) -> Result<Soap, Refusal> {
    if acid_value.value < Decimal::ZERO || acid_value.value > Decimal::from(300) {
        return Err(Refusal::out_of_range(
            "acid_value",
            "An acid value must be 0 to 300 mg KOH/g; beeswax has 17 to 24.",
        ));
    }
    let too_large = || Refusal::too_large("wax");
    let acid = wax
        .g()
        .checked_mul(acid_value.value)
        .and_then(|mg| divide(mg, POTASSIUM_HYDROXIDE))
        .ok_or_else(too_large)?;
    let (molar, each) = alkali.equivalents();
    let base = mass
        .g()
        .checked_mul(each)
        .and_then(|grams| grams.checked_mul(Decimal::ONE_THOUSAND))
        .and_then(|grams| divide(grams, molar))
        .ok_or_else(too_large)?;
    let share = divide(base, acid)
        .ok_or(Refusal::out_of_range(
            "wax",
            "The wax has no free acid. Enter a wax above 0 g with an acid value.",
        ))?
        .min(Decimal::ONE);
    let for_all = acid
        .checked_mul(molar)
        .and_then(|grams| divide(grams, each * Decimal::ONE_THOUSAND))
        .ok_or_else(too_large)?;
    let acid_figure = Figure::number(
        acid,
        "mmol",
        &ACID,
        vec![
            Input::number("wax", wax.g(), units::GRAM),
            Input::constant("acid value", acid_value.value, "mg KOH/g", acid_value.source.clone()),
        ],
    );
    let base_figure = Figure::number(
        base,
        "mmol",
        &BASE,
        vec![
            Input::number("alkali", mass.g(), units::GRAM),
            Input::constant("molar mass", molar, "g/mol", MOLAR_MASSES.clone()),
        ],
    );
    let both = || vec![Input::figure("base", &base_figure), Input::figure("acid", &acid_figure)];
    Ok(Soap {
        neutralised: Figure::number(share, units::SHARE, &SHARE, both()),
        left_over: Figure::number((base - acid).max(Decimal::ZERO), "mmol", &EXCESS, both()),
        for_all: Figure::number(
            for_all,
            units::GRAM,
            &NEEDED,
            vec![Input::words("alkali", alkali.as_str()), Input::figure("acid", &acid_figure)],
        ),
        acid: acid_figure,
        base: base_figure,
    })
}
