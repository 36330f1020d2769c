//! Strength and dilution: statements of strength, alligation, stock solutions, powders and specific gravity.

use galenics::strength::{
    self, Portion, Strength, add_powder, alligate, alligate_many, diluted_strength, mean_strength,
    stock_needed,
};
use galenics::{
    Decimal, Density, Figure, Fraction, Input, Measure, Quantity, Rule, Source, Sourced, Status, Temperature,
    Unknown, number::dec, units,
};
use store::{Credentials, Result, Store};
use wire::calculations::Calculated;
use wire::calculations::strength::{
    AlligationAlternate, AlligationMedial, AlligationOfMany, MadeUp, PowderIntoBase, Proportion,
    SpecificGravity, StockDilution, StrengthPortion, StrengthQuestion, StrengthStatement,
};

use super::answer::{calculated, calculated_from};
use super::form::{Basis, Form, Read, all};

static OF_AMOUNT: Rule = Rule::definition("share_of_amount", "{share} × {amount} = {=}");
static TOGETHER: Rule = Rule::definition("given_and_added", "{given} + {added} = {=}");
static ENLARGED: Rule = Rule::definition("enlarged_or_reduced", "{amount} × {part} / {whole} = {=}");

/// Answers a question about strengths.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn strength(
    store: &Store,
    credentials: &Credentials,
    question: &StrengthQuestion,
) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            Ok(match question {
                StrengthQuestion::Statement(asked) => statement(&form.within("statement"), asked),
                StrengthQuestion::AlligationAlternate(asked) => {
                    alternate(&form.within("alligation_alternate"), asked)
                }
                StrengthQuestion::AlligationOfMany(asked) => many(&form.within("alligation_of_many"), asked),
                StrengthQuestion::AlligationMedial(asked) => medial(&form.within("alligation_medial"), asked),
                StrengthQuestion::StockDilution(asked) => stock(&form.within("stock_dilution"), asked),
                StrengthQuestion::MadeUp(asked) => made_up(&form.within("made_up"), asked),
                StrengthQuestion::Powder(asked) => powder(&form.within("powder"), asked),
                StrengthQuestion::SpecificGravity(asked) => gravity(&form.within("specific_gravity"), asked),
                StrengthQuestion::Proportion(asked) => proportion(&form.within("proportion"), asked),
            }?)
        })
        .await
}

fn stated(form: &Form, field: &str, text: &str) -> Read<Strength> {
    form.worked_as(&[("strength", field)], Strength::parse(text))
}

fn statement(form: &Form, asked: &StrengthStatement) -> Read<Calculated> {
    let (strength, density) = all((
        stated(form, "strength", &asked.strength),
        form.optional(asked.density.as_ref(), |form, text| form.density("density", text)),
    ))?;
    let said = strength.stated(density.as_ref());
    let mut figures =
        vec![("per cent", &said.percent), ("one in", &said.one_in), ("parts in a million", &said.ppm)];
    figures.extend(said.mg_per_ml.as_ref().map(|figure| ("mg in a mL", figure)));
    figures.extend(said.on_other_basis.as_ref().map(|figure| ("on the other basis", figure)));
    Ok(calculated(&figures))
}

fn alternate(form: &Form, asked: &AlligationAlternate) -> Read<Calculated> {
    let share = |field, text| form.share(field, text, Basis::Any);
    let (one, other, wanted, amount, given) = all((
        share("one", &asked.one),
        share("other", &asked.other),
        share("wanted", &asked.wanted),
        form.optional(asked.amount.as_ref(), |form, text| weighed_or_measured(form, "amount", text)),
        form.optional(asked.amount_of_one.as_ref(), |form, text| {
            weighed_or_measured(form, "amount_of_one", text)
        }),
    ))?;
    if amount.is_some() && given.is_some() {
        return Err(
            form.refuse("amount_of_one", "Enter either the total `amount` or `amount_of_one`, not both.")
        );
    }
    let found = form.worked_as(&[("strengths", "other")], alligate(one, other, wanted))?;
    let mut figures =
        vec![("share of the stronger", &found.stronger), ("share of the weaker", &found.weaker)];
    let amounts = amount.as_ref().map(|amount| (of(&found.stronger, amount), of(&found.weaker, amount)));
    if let Some((stronger, weaker)) = &amounts {
        figures.push(("of the stronger", stronger));
        figures.push(("of the weaker", weaker));
    }
    let (share_of_one, share_of_other) =
        if one > other { (&found.stronger, &found.weaker) } else { (&found.weaker, &found.stronger) };
    let added =
        given.as_ref().map(|given| strength::to_add(given.value, given.unit, share_of_one, share_of_other));
    let added = added.map(|added| form.worked_as(&[("given", "amount_of_one")], added)).transpose()?;
    let whole = given.as_ref().zip(added.as_ref()).map(|(given, added)| together(given, added));
    if let (Some(added), Some(whole)) = (&added, &whole) {
        figures.push(("of the other to add", added));
        figures.push(("made", whole));
    }
    let typed: Vec<&Quantity> = amount.iter().chain(&given).map(|amount| &amount.quantity).collect();
    Ok(calculated_from(&figures, &typed))
}

/// What was given and what is added, together.
fn together(given: &Plain, added: &Figure) -> Figure {
    let value = added.known().and_then(|added| {
        added.checked_add(given.value).ok_or_else(|| Unknown::of("an amount within the range of a decimal"))
    });
    let inputs = vec![Input::words("given", given.quantity.typed()), Input::figure("added", added)];
    Figure::from_result(value, given.unit, &TOGETHER, inputs)
}

fn many(form: &Form, asked: &AlligationOfMany) -> Read<Calculated> {
    let (strengths, wanted, amount) = all((
        form.each("strengths", &asked.strengths, 20, |form, text: &String| form.share("", text, Basis::Any)),
        form.share("wanted", &asked.wanted, Basis::Any),
        form.optional(asked.amount.as_ref(), |form, text| weighed_or_measured(form, "amount", text)),
    ))?;
    let found = form.worked(alligate_many(&strengths, wanted))?;
    let named = |what: &str| asked.strengths.iter().map(|text| format!("{what} {}", text.trim())).collect();
    let (parts, shares, amounts): (Vec<String>, Vec<String>, Vec<String>) =
        (named("parts of"), named("share of"), named("of"));
    let mut figures: Vec<(&str, &Figure)> = Vec::new();
    for ((part, share), of) in parts.iter().zip(&shares).zip(&found) {
        figures.push((part, &of.parts));
        figures.push((share, &of.share));
    }
    let of_amount: Vec<Figure> =
        amount.iter().flat_map(|amount| found.iter().map(|it| of(&it.share, amount))).collect();
    figures.extend(amounts.iter().map(String::as_str).zip(&of_amount));
    let typed: Vec<&Quantity> = amount.iter().map(|amount| &amount.quantity).collect();
    Ok(calculated_from(&figures, &typed))
}

/// A mass or a volume.
pub(super) struct Plain {
    /// The quantity as entered.
    pub(super) quantity: Quantity,
    /// Its value in `unit`.
    pub(super) value: Decimal,
    /// g or mL.
    pub(super) unit: &'static str,
}

/// Parses a mass or a volume.
///
/// # Errors
/// Refuses drops.
pub(super) fn weighed_or_measured(form: &Form, field: &str, text: &str) -> Read<Plain> {
    let quantity = form.quantity(field, text)?;
    let (value, unit) = match quantity.measure() {
        Measure::Mass(mass) => (mass.g(), units::GRAM),
        Measure::Volume(volume) => (volume.ml(), units::MILLILITRE),
        Measure::Drops { .. } => {
            return Err(form.refuse(field, "Enter a mass or a volume, such as 80 g or 25 mL."));
        }
    };
    Ok(Plain { quantity, value, unit })
}

/// A share of an amount.
pub(super) fn of(share: &Figure, amount: &Plain) -> Figure {
    let value = share.known().and_then(|share| {
        share.checked_mul(amount.value).ok_or_else(|| Unknown::of("an amount within the range of a decimal"))
    });
    let inputs = vec![Input::figure("share", share), Input::words("amount", amount.quantity.typed())];
    Figure::from_result(value, amount.unit, &OF_AMOUNT, inputs)
}

fn medial(form: &Form, asked: &AlligationMedial) -> Read<Calculated> {
    let portions = form.each("portions", &asked.portions, 50, portion)?;
    if let Some(at) = portions.iter().position(|(amount, _)| Some(amount.unit) != first_unit(&portions)) {
        let list = form.within("portions");
        return Err(list.within(at).refuse("amount", "Enter all portions by mass, or all by volume."));
    }
    let sum: Vec<Portion> = portions
        .iter()
        .map(|(amount, strength)| Portion { amount: amount.value, strength: *strength })
        .collect();
    let mean = form.worked(mean_strength(&sum))?;
    let typed: Vec<&Quantity> = portions.iter().map(|(amount, _)| &amount.quantity).collect();
    Ok(calculated_from(&[("mean strength", &mean)], &typed))
}

fn first_unit(portions: &[(Plain, Fraction)]) -> Option<&'static str> {
    portions.first().map(|(amount, _)| amount.unit)
}

fn portion(form: &Form, asked: &StrengthPortion) -> Read<(Plain, Fraction)> {
    all((
        weighed_or_measured(form, "amount", &asked.amount),
        form.share("strength", &asked.strength, Basis::Any),
    ))
}

fn stock(form: &Form, asked: &StockDilution) -> Read<Calculated> {
    let (wanted, strength, stock) = all((
        form.quantity("wanted", &asked.wanted),
        stated(form, "strength", &asked.strength),
        stated(form, "stock", &asked.stock),
    ))?;
    let made = form.worked(stock_needed(&wanted, &strength, &stock))?;
    Ok(calculated_from(&[("stock", &made.stock), ("made up with", &made.diluent)], &[&wanted]))
}

fn made_up(form: &Form, asked: &MadeUp) -> Read<Calculated> {
    let (stock, amount, whole) = all((
        stated(form, "stock", &asked.stock),
        form.quantity("stock_amount", &asked.stock_amount),
        form.quantity("whole", &asked.whole),
    ))?;
    let strength = form.worked(diluted_strength(&stock, &amount, &whole))?;
    Ok(calculated_from(&[("strength", &strength)], &[&amount, &whole]))
}

fn powder(form: &Form, asked: &PowderIntoBase) -> Read<Calculated> {
    let (base, present, wanted) = all((
        form.quantity("base", &asked.base),
        form.optional(asked.present.as_ref(), |form, text| form.share("present", text, Basis::ByMass)),
        form.share("wanted", &asked.wanted, Basis::ByMass),
    ))?;
    let added = form.worked(add_powder(&base, present.unwrap_or_default().get(), wanted.get()))?;
    Ok(calculated_from(&[("powder", &added.powder), ("powder and base", &added.whole)], &[&base]))
}

fn gravity(form: &Form, asked: &SpecificGravity) -> Read<Calculated> {
    let (mass, volume, water) = all((
        form.mass("mass", &asked.mass),
        form.volume("volume", &asked.volume),
        form.optional(asked.water.as_ref(), |form, text| form.density("water", text)),
    ))?;
    let water = match water {
        Some(water) => water,
        None => water_at_25().map_err(|error| form.refuse("water", error))?,
    };
    let gravity = form.worked(strength::specific_gravity(mass, volume, &water))?;
    Ok(calculated(&[("specific gravity", &gravity)]))
}

/// The density of water at 25 °C, the default reference of a specific gravity.
fn water_at_25() -> std::result::Result<Sourced<Density>, galenics::MeasureError> {
    let at = Temperature::celsius(Decimal::from(25))?;
    let source = Source::fixed("Tanaka et al. 2001, Metrologia 38, 301: water at 25 C", Status::Verified);
    Ok(Sourced::new(Density::new(dec("0.9970470"), at)?, source))
}

fn proportion(form: &Form, asked: &Proportion) -> Read<Calculated> {
    let (amount, whole, part) = all((
        weighed_or_measured(form, "amount", &asked.amount),
        weighed_or_measured(form, "whole", &asked.whole),
        weighed_or_measured(form, "part", &asked.part),
    ))?;
    if whole.unit != part.unit {
        return Err(form.refuse(
            "part",
            format!(
                "Enter the part in the unit of the whole, {}, or in a unit that converts to it.",
                whole.unit
            ),
        ));
    }
    let proportion = form.worked(strength::proportion(amount.value, part.value, whole.value))?;
    let inputs = vec![
        Input::words("amount", amount.quantity.typed()),
        Input::words("whole", whole.quantity.typed()),
        Input::words("part", part.quantity.typed()),
        Input::figure("proportion", &proportion),
    ];
    let figure = Figure::from_result(proportion.known(), amount.unit, &ENLARGED, inputs);
    Ok(calculated_from(&[("amount", &figure)], &[&amount.quantity, &whole.quantity, &part.quantity]))
}
