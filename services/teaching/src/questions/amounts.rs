//! Questions that galenics works out: filling jars and bottles, and diluting spirit.

use galenics::number::significant;
use galenics::questions::{Asked, Bottles, CommonError as Mistaken, Dilution, Expected, Jars};
use galenics::{Decimal, Density, Fraction, Mass, Temperature, Volume};
use store::{Error, Result};
use wire::teaching::{AnswerForm, CommonError};

use crate::numbers::Draw;
use crate::stored::{Given, Mistake, Part, Question};

pub(super) fn given(name: impl Into<String>, value: impl Into<String>) -> Given {
    Given { name: name.into(), value: value.into() }
}

fn tenth(value: u32) -> Decimal {
    Decimal::new(value.into(), 1)
}

fn nonsense(error: impl std::error::Error + Send + Sync + 'static) -> Error {
    Error::Internal(error.into())
}

fn percent(value: u32) -> Result<Fraction> {
    Fraction::percent(tenth(value)).map_err(nonsense)
}

/// The unit of an answer, and how it is asked for.
pub(super) const fn form(asked: Asked) -> (AnswerForm, &'static str) {
    match asked {
        Asked::Mass => (AnswerForm::Mass, " g"),
        Asked::Volume => (AnswerForm::Volume, " mL"),
        Asked::Percent => (AnswerForm::Percent, " %"),
        Asked::Number => (AnswerForm::Number, ""),
    }
}

/// The common error by its word in the API.
pub(crate) const fn named(error: Mistaken) -> CommonError {
    match error {
        Mistaken::LossAsMarkup => CommonError::LossAsMarkup,
        Mistaken::LossForgotten => CommonError::LossForgotten,
        Mistaken::OneForgotten => CommonError::OneForgotten,
        Mistaken::OneOnly => CommonError::OneOnly,
        Mistaken::TareCounted => CommonError::TareCounted,
        Mistaken::WeightInVolume => CommonError::WeightInVolume,
        Mistaken::VolumesAdded => CommonError::VolumesAdded,
        Mistaken::Swapped => CommonError::Swapped,
        Mistaken::VolumeForMass => CommonError::VolumeForMass,
        Mistaken::MassForVolume => CommonError::MassForVolume,
        Mistaken::DecimalPoint => CommonError::DecimalPoint,
    }
}

/// A part that is answered with a number.
pub(super) fn number(part: &str, text: String, expected: &Expected) -> Part {
    let (form, unit) = form(expected.asked);
    let shown = significant(expected.value, 4).normalize();
    let mistake = |(error, value): &(Mistaken, Decimal)| Mistake {
        error: named(*error),
        value: value.normalize().to_string(),
    };
    Part {
        part: part.into(),
        text,
        form,
        options: Vec::new(),
        right: vec![format!("{shown}{unit}")],
        value: Some(expected.value.normalize().to_string()),
        tolerance_percent: Some(expected.tolerance_percent.normalize().to_string()),
        mistakes: expected.mistakes.iter().map(mistake).collect(),
    }
}

/// Said wherever a share stands: the recipe is not open yet.
const FOR_PRACTICE: &str = "The figures are yours alone, for practice. They are not those of the recipe.";

/// A question about jars, where these numbers can be asked.
pub(super) fn jars(draw: &mut Draw, title: &str, ingredient: &str) -> Result<Option<Question>> {
    let net = draw.of(15, 120, 5);
    let empty = draw.of(41, 149, 1);
    let jars = Jars {
        jars: draw.of(5, 24, 1),
        full: Mass::grams((net + empty).into()).map_err(nonsense)?,
        empty: Mass::grams(empty.into()).map_err(nonsense)?,
        loss: percent(draw.of(80, 150, 5))?,
        share: percent(draw.of(15, 245, 5))?,
    };
    let Some(expected) = jars.expected() else { return Ok(None) };
    Ok(Some(Question {
        text: format!("You fill jars of {title:?}. How much {ingredient} do you weigh? {FOR_PRACTICE}"),
        given: vec![
            given("number of jars", jars.jars.to_string()),
            given("mass of a full jar", format!("{} g", jars.full.g())),
            given("mass of an empty jar", format!("{} g", jars.empty.g())),
            given("loss in the pot, of the whole amount", shown(jars.loss)),
            given(format!("share of {ingredient}, by mass (w/w)"), shown(jars.share)),
        ],
        parts: vec![number("mass", format!("How much {ingredient} do you weigh?"), &expected)],
        steps: jars.steps(),
    }))
}

fn shown(share: Fraction) -> String {
    format!("{} %", (share.get() * Decimal::ONE_HUNDRED).normalize())
}

/// A question about bottles, where these numbers can be asked.
pub(super) fn bottles(draw: &mut Draw, title: &str, ingredient: &str) -> Result<Option<Question>> {
    let density = Decimal::new(draw.of(875, 970, 5).into(), 3);
    let bottles = Bottles {
        bottles: draw.of(4, 20, 1),
        fill: Volume::millilitres(draw.of(30, 250, 10).into()).map_err(nonsense)?,
        density: Density::new(density, Temperature::TWENTY).map_err(nonsense)?,
        loss: percent(draw.of(80, 150, 5))?,
        share: percent(draw.of(15, 245, 5))?,
    };
    let Some(expected) = bottles.expected() else { return Ok(None) };
    Ok(Some(Question {
        text: format!("You fill bottles of {title:?}. How much {ingredient} do you weigh? {FOR_PRACTICE}"),
        given: vec![
            given("number of bottles", bottles.bottles.to_string()),
            given("contents of a bottle", format!("{} mL", bottles.fill.ml())),
            given("density of the product at 20 °C", format!("{} g/mL", density.normalize())),
            given("loss in the pot, of the whole amount", shown(bottles.loss)),
            given(format!("share of {ingredient}, by mass (w/w)"), shown(bottles.share)),
        ],
        parts: vec![number("mass", format!("How much {ingredient} do you weigh?"), &expected)],
        steps: bottles.steps(),
    }))
}

/// A question about spirit and water, where these numbers can be asked.
pub(super) fn dilution(draw: &mut Draw) -> Result<Option<Question>> {
    let dilution = Dilution {
        wanted: Volume::millilitres(draw.of(100, 1000, 10).into()).map_err(nonsense)?,
        strength: percent(draw.of(250, 700, 10))?,
        stock: percent(draw.of(850, 960, 5))?,
    };
    let Some((spirit, water)) = dilution.expected() else { return Ok(None) };
    Ok(Some(Question {
        text: "You dilute spirit with water. What do you measure, at 20 °C?".into(),
        given: vec![
            given("volume to make", format!("{} mL", dilution.wanted.ml())),
            given("strength to make, by volume", shown(dilution.strength)),
            given("strength of the spirit, by volume", shown(dilution.stock)),
        ],
        parts: vec![
            number("spirit", "How much spirit?".into(), &spirit),
            number("water", "How much water?".into(), &water),
        ],
        steps: dilution.steps(),
    }))
}
