//! What something costs.

use galenics::cost::{Cost, Draw, Extra, Price, cost as work_out};
use galenics::scale::MOST_CONTAINERS;
use galenics::{Decimal, Text};
use wire::calculations::cost::{CostAnswer, CostQuestion, DrawPriced, ExtraCost};
use wire::figure::Figure;

use super::form::{Form, Read, all};
use crate::error::Result;
use crate::figures::figure;
use crate::policy;
use crate::tx::{Claim, Clinic};

/// Currencies whose smallest unit is not a hundredth (ISO 4217), with their decimals.
const OTHER_THAN_TWO: [(&str, u32); 23] = [
    ("BIF", 0),
    ("CLP", 0),
    ("DJF", 0),
    ("GNF", 0),
    ("ISK", 0),
    ("JPY", 0),
    ("KMF", 0),
    ("KRW", 0),
    ("PYG", 0),
    ("RWF", 0),
    ("UGX", 0),
    ("VND", 0),
    ("VUV", 0),
    ("XAF", 0),
    ("XOF", 0),
    ("XPF", 0),
    ("BHD", 3),
    ("IQD", 3),
    ("JOD", 3),
    ("KWD", 3),
    ("LYD", 3),
    ("OMR", 3),
    ("TND", 3),
];

/// What draws and extras cost, exact and rounded once.
///
/// # Errors
/// When the claim does not hold or a field cannot be read.
pub async fn cost(clinic: &Clinic, claim: &Claim, question: &CostQuestion) -> Result<CostAnswer> {
    clinic
        .read(claim, async |tx| {
            let form = Form::of(tx).await?;
            let own = policy::rules(tx).await?.currency;
            Ok(answer(&form, question, question.currency.as_ref().unwrap_or(&own))?)
        })
        .await
}

fn answer(form: &Form, asked: &CostQuestion, currency: &str) -> Read<CostAnswer> {
    if currency.len() != 3 || !currency.bytes().all(|byte| byte.is_ascii_uppercase()) {
        return Err(form.refuse("currency", "three capital letters of ISO 4217 such as EUR"));
    }
    if asked.containers.is_some_and(|count| count > MOST_CONTAINERS) {
        return Err(form.refuse("containers", format!("at most {MOST_CONTAINERS}, as one batch can fill")));
    }
    let of: Text = currency.to_owned().into();
    let extras =
        if asked.extras.is_empty() { Ok(Vec::new()) } else { form.each("extras", &asked.extras, 200, extra) };
    let (draws, extras) =
        all((form.each("draws", &asked.draws, 200, |form, asked| draw(form, asked, &of)), extras))?;
    let found = form.worked(work_out(&draws, &extras, &of, minor_digits(currency), asked.containers))?;
    Ok(cost_said(&found))
}

/// The decimals of a currency's smallest unit.
pub(crate) fn minor_digits(currency: &str) -> u32 {
    OTHER_THAN_TWO.iter().find(|(code, _)| *code == currency).map_or(2, |(_, digits)| *digits)
}

/// A cost as it travels.
pub(crate) fn cost_said(found: &Cost) -> CostAnswer {
    let mut figures = vec![figure("total", &found.total)];
    figures.extend(found.each.as_ref().map(|each| figure("each container", each)));
    figures.extend(found.draws.iter().map(|draw| figure(draw.name.to_string(), &draw.figure)));
    figures.iter_mut().for_each(|figure| in_currency(figure, &found.currency));
    CostAnswer { currency: found.currency.to_string(), figures }
}

/// A calculation knows only of money: the sentences for people name the currency.
fn in_currency(figure: &mut Figure, currency: &str) {
    if figure.unknown.is_none() {
        figure.sentence = figure.sentence.replace(" money", &format!(" {currency}"));
    }
    let inputs = figure.inputs.iter_mut().filter_map(|input| input.figure.as_deref_mut());
    inputs.for_each(|inner| in_currency(inner, currency));
}

fn draw(form: &Form, asked: &DrawPriced, currency: &Text) -> Read<Draw> {
    let price = match (&asked.price, &asked.per) {
        (Some(amount), Some(per)) => all((form.number("price", amount), form.quantity("per", per)))
            .map(|(amount, per)| Some(Price { amount, currency: currency.clone(), per })),
        (Some(_), None) => Err(form.refuse("per", "say for how much the price is, like 1 kg")),
        (None, Some(_)) => Err(form.refuse("price", "give the price, like 8.90, or leave out per as well")),
        (None, None) => Ok(None),
    };
    let (name, quantity, price, density) = all((
        name(form, &asked.name),
        form.quantity("quantity", &asked.quantity),
        price,
        form.optional(asked.density.as_ref(), |form, text| form.density("density", text)),
    ))?;
    Ok(Draw { name, quantity, price, density })
}

fn extra(form: &Form, asked: &ExtraCost) -> Read<Extra> {
    let (name, amount): (Text, Decimal) =
        all((name(form, &asked.name), form.number("amount", &asked.amount)))?;
    Ok(Extra { name, amount })
}

fn name(form: &Form, text: &str) -> Read<Text> {
    let name = text.trim();
    if !(1..=200).contains(&name.chars().count()) {
        return Err(form.refuse("name", "1 to 200 characters"));
    }
    Ok(name.to_owned().into())
}
