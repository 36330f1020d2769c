//! Cost of a batch from its draws and extras.

use galenics::cost::{Draw, Extra, Price, cost as work_out};
use galenics::scale::MOST_CONTAINERS;
use galenics::{Decimal, Text};
use store::{Credentials, Result, Store};
use wire::calculations::cost::{CostAnswer, CostQuestion, DrawPriced, ExtraCost};

use super::form::{Form, Read, all};

/// The cost of draws and extras, calculated exactly and rounded once. Without a currency, that of the policy applies.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn cost(store: &Store, credentials: &Credentials, question: &CostQuestion) -> Result<CostAnswer> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            let own = policy::rules(tx).await?.currency;
            Ok(answer(&form, question, question.currency.as_ref().unwrap_or(&own))?)
        })
        .await
}

fn answer(form: &Form, asked: &CostQuestion, currency: &str) -> Read<CostAnswer> {
    if currency.len() != 3 || !currency.bytes().all(|byte| byte.is_ascii_uppercase()) {
        return Err(form
            .refuse("currency", "Enter a currency code of three capital letters (ISO 4217), such as EUR."));
    }
    if asked.containers.is_some_and(|count| count > MOST_CONTAINERS) {
        return Err(form.refuse(
            "containers",
            format!("One batch can fill at most {MOST_CONTAINERS} containers. Enter a smaller number."),
        ));
    }
    let of: Text = currency.to_owned().into();
    let extras =
        if asked.extras.is_empty() { Ok(Vec::new()) } else { form.each("extras", &asked.extras, 200, extra) };
    let (draws, extras) =
        all((form.each("draws", &asked.draws, 200, |form, asked| draw(form, asked, &of)), extras))?;
    let found = form.worked(work_out(
        &draws,
        &extras,
        &of,
        judgement::currency::minor_digits(currency),
        asked.containers,
    ))?;
    Ok(judgement::answers::cost_said(&found, judgement::figures::Detail::Explained))
}

fn draw(form: &Form, asked: &DrawPriced, currency: &Text) -> Read<Draw> {
    let price = match (&asked.price, &asked.per) {
        (Some(amount), Some(per)) => all((form.number("price", amount), form.quantity("per", per)))
            .map(|(amount, per)| Some(Price { amount, currency: currency.clone(), per })),
        (Some(_), None) => Err(form.refuse("per", "Enter the quantity that the price is for, such as 1 kg.")),
        (None, Some(_)) => Err(form.refuse("price", "Enter the price, such as 8.90, or omit per.")),
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
        return Err(form.refuse("name", "Enter 1 to 200 characters."));
    }
    Ok(name.to_owned().into())
}
