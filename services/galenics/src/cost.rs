//! What a batch and a jar cost, from the prices of the lots that went in, losses and all.
//!
//! Lines are added exactly and the sum is rounded once, half a minor unit up, to the minor units of the
//! currency (two for most). Currencies are never mixed.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;

use crate::{Figure, Input, Measure, Named, Quantity, Refusal, Rule, Sourced, Text, Unknown, units};

static LINE: Rule = Rule::definition("cost_of_draw", "{drawn} at {price} for {per}: {=}");
static TOTAL: Rule =
    Rule::definition("cost_total", "total cost of materials and extras, rounded half up: {=}");
static EACH: Rule = Rule::definition(
    "cost_per_container",
    "cost per container, for {count} containers, rounded half up: {=}",
);

/// A price: so much money for so much.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Price {
    /// The money.
    pub amount: Decimal,
    /// Its currency, three letters.
    pub currency: Text,
    /// For how much.
    pub per: Quantity,
}

/// What was taken of a lot.
#[derive(Debug, Clone)]
pub struct Draw {
    /// The lot or material.
    pub name: Text,
    /// How much was taken, losses and all.
    pub quantity: Quantity,
    /// The lot's price, where it is known.
    pub price: Option<Price>,
    /// The density, needed only where one is a mass and the other a volume.
    pub density: Option<Sourced<crate::Density>>,
}

/// What else costs money: jars, labels, hours.
#[derive(Debug, Clone)]
pub struct Extra {
    /// What.
    pub name: Text,
    /// How much money.
    pub amount: Decimal,
}

/// What a batch costs.
#[derive(Debug, Clone, Serialize)]
pub struct Cost {
    /// The currency of all figures.
    pub currency: Text,
    /// The draws, unrounded.
    pub draws: Vec<Named>,
    /// Everything together, rounded to the minor unit.
    pub total: Figure,
    /// For one container, rounded to the minor unit.
    pub each: Option<Figure>,
}

/// Works out what a batch costs. `minor_digits` are the decimals of the currency, two for most and none for some.
///
/// # Errors
/// Refuses negative prices, mixed currencies, no containers, and more than four decimals. A price that is not
/// known makes the total unknown.
/// ```
/// use galenics::{Quantity, cost::{Draw, Price, cost}, number::dec};
/// let price = Price { amount: dec("18.50"), currency: "EUR".into(), per: Quantity::parse("1 kg")? };
/// let wax = Draw { name: "beeswax".into(), quantity: Quantity::parse("75 g")?, price: Some(price), density: None };
/// let cost = cost(&[wax], &[], &"EUR".into(), 2, Some(12)).expect("one currency");
/// assert_eq!(cost.total.value(), Some(dec("1.39")));
/// # Ok::<(), galenics::QuantityError>(())
/// ```
pub fn cost(
    draws: &[Draw],
    extras: &[Extra],
    currency: &Text,
    minor_digits: u32,
    containers: Option<u32>,
) -> Result<Cost, Refusal> {
    cost_so_far(draws, extras, &[], currency, minor_digits, containers)
}

/// Works out what a batch costs of which these lines have not been weighed yet: the total is unknown until they are.
///
/// # Errors
/// As [`cost`].
pub fn cost_so_far(
    draws: &[Draw],
    extras: &[Extra],
    not_weighed: &[Text],
    currency: &Text,
    minor_digits: u32,
    containers: Option<u32>,
) -> Result<Cost, Refusal> {
    if minor_digits > 4 {
        return Err(Refusal::out_of_range("minor_digits", "A currency has 0 to 4 decimals."));
    }
    if containers == Some(0) {
        return Err(Refusal::out_of_range("containers", "Enter at least 1 container, or omit the number."));
    }
    let too_large = || Refusal::too_large("draws");
    let mut sum: Result<Decimal, Unknown> = Ok(Decimal::ZERO);
    for line in not_weighed {
        let unknown = Unknown::of(format!("weighing of {line}"));
        sum = Err(sum.map_or_else(|others| others.and(&unknown), |_| unknown.clone()));
    }
    let mut figures = Vec::with_capacity(draws.len());
    for draw in draws {
        let figure = cost_of(draw, currency)?;
        sum = match (sum, figure.known()) {
            (Ok(sum), Ok(part)) => Ok(sum.checked_add(part).ok_or_else(too_large)?),
            (Err(a), Err(b)) => Err(a.and(&b)),
            (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
        };
        figures.push(Named { name: draw.name.clone(), figure });
    }
    for extra in extras {
        if extra.amount < Decimal::ZERO {
            return Err(Refusal::out_of_range(
                "extras",
                format!("The cost of {} must not be negative.", extra.name),
            ));
        }
        sum = match sum {
            Ok(sum) => Ok(sum.checked_add(extra.amount).ok_or_else(too_large)?),
            Err(unknown) => Err(unknown),
        };
    }
    let round =
        |money: Decimal| money.round_dp_with_strategy(minor_digits, RoundingStrategy::MidpointAwayFromZero);
    let total = sum.clone().map(round);
    let each = containers.map(|count| {
        let each = sum.and_then(|sum| {
            sum.checked_div(Decimal::from(count))
                .map(round)
                .ok_or_else(|| Unknown::of("number of containers"))
        });
        Figure::from_result(
            each,
            units::MONEY,
            &EACH,
            vec![Input::number("count", Decimal::from(count), units::RATIO)],
        )
    });
    let inputs = figures.iter().map(|draw: &Named| Input::figure(draw.name.clone(), &draw.figure));
    let inputs = inputs
        .chain(extras.iter().map(|extra| Input::number(extra.name.clone(), extra.amount, units::MONEY)));
    Ok(Cost {
        currency: currency.clone(),
        total: Figure::from_result(total, units::MONEY, &TOTAL, inputs.collect()),
        each,
        draws: figures,
    })
}

fn cost_of(draw: &Draw, currency: &Text) -> Result<Figure, Refusal> {
    let Some(price) = &draw.price else {
        let unknown = Unknown::of(format!("price of {}", draw.name));
        return Ok(Figure::unknown_for(unknown, units::MONEY, &LINE, Vec::new()));
    };
    if price.amount < Decimal::ZERO {
        return Err(Refusal::out_of_range(
            "price",
            format!("The price of {} must not be negative.", draw.name),
        ));
    }
    if price.currency != *currency {
        return Err(Refusal::out_of_range(
            "price",
            format!(
                "{} is priced in {}, the batch in {currency}. Enter all prices in one currency.",
                draw.name, price.currency
            ),
        ));
    }
    let mut inputs = vec![
        Input::words("drawn", draw.quantity.typed()),
        Input::number("price", price.amount, units::MONEY),
        Input::words("per", price.per.typed()),
    ];
    let density = draw.density.as_ref().map(|density| density.value.g_per_ml());
    let share = match (draw.quantity.measure(), price.per.measure()) {
        (Measure::Mass(drawn), Measure::Mass(per)) => Some((drawn.g(), per.g())),
        (Measure::Volume(drawn), Measure::Volume(per)) => Some((drawn.ml(), per.ml())),
        (Measure::Mass(drawn), Measure::Volume(per)) => {
            density.and_then(|density| Some((drawn.g(), per.ml().checked_mul(density)?)))
        }
        (Measure::Volume(drawn), Measure::Mass(per)) => {
            density.and_then(|density| Some((drawn.ml().checked_mul(density)?, per.g())))
        }
        _ => {
            return Err(Refusal::out_of_range(
                "draws",
                "Drops cannot be priced. Enter the price and the amount as a mass or a volume.",
            ));
        }
    };
    let Some((drawn, per)) = share else {
        let unknown = Unknown::of(format!("density of {}", draw.name));
        return Ok(Figure::unknown_for(unknown, units::MONEY, &LINE, inputs));
    };
    if let Some(density) = &draw.density {
        inputs.push(Input::constant(
            "density",
            density.value.g_per_ml(),
            units::GRAM_PER_ML,
            density.source.clone(),
        ));
    }
    let value = price
        .amount
        .checked_mul(drawn)
        .and_then(|above| above.checked_div(per))
        .ok_or(Refusal::too_large("price"))?;
    Ok(Figure::number(value, units::MONEY, &LINE, inputs))
}
