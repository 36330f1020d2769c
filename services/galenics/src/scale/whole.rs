//! Net, gross and factor of a recipe: from what is wanted in the end, or from what there is of one line.

use rust_decimal::Decimal;

use super::target::{MOST_CONTAINERS, MOST_GRAMS, ScaleProblem, Target};
use crate::{
    Dimension, Evaluation, Figure, Formula, Input, LineFigures, Measure, Quantity, Rule, Unknown,
    evaluation::AsWritten, units,
};

static NET_WANTED: Rule = Rule::definition("net_wanted", "{wanted} of finished product: {=}");
static NET_BY_DENSITY: Rule = Rule::definition("net_by_density", "{wanted} at {density}: {=}");
static NET_JARS: Rule = Rule::definition("net_containers", "{count} containers of {fill}: {=}");
static NET_FROM_GROSS: Rule = Rule::definition("net_from_gross", "{gross} less {loss} of losses: {=}");
static GROSS: Rule = Rule::definition("gross_from_net", "amount before losses of {loss}, for {net}: {=}");
static GROSS_BY_LINE: Rule = Rule::definition("gross_by_line", "{factor} × {product} = {=}");
static FACTOR: Rule =
    Rule::definition("factor", "{gross} / {product} of the formula = {=} times the formula");
static FACTOR_BY_LINE: Rule = Rule::definition(
    "factor_by_line",
    "{there} of {line}, against {written} in the formula: {=} times the formula",
);

static ONCE: Rule = Rule::definition("factor_as_written", "the quantity of the formula itself: {=} times");

/// Net, gross and factor of a recipe.
pub(super) struct Whole {
    pub(super) net: Figure,
    pub(super) gross: Figure,
    pub(super) factor: Figure,
}

/// What is wanted in the end, in g; in mL where only the volume of what is made is known.
pub(super) fn net(evaluation: &Evaluation, target: &Target) -> Result<Figure, ScaleProblem> {
    let (quantity, count) = match target {
        Target::ByMass(quantity) if quantity.dimension() != Dimension::Mass => {
            return Err(wrong(quantity, "a mass", "500 g"));
        }
        Target::ByVolume(quantity) if quantity.dimension() != Dimension::Volume => {
            return Err(wrong(quantity, "a volume", "500 mL"));
        }
        Target::Containers { count: 0, .. } => return Err(ScaleProblem::NoContainers),
        Target::Containers { count, .. } if *count > MOST_CONTAINERS => {
            return Err(ScaleProblem::TooManyContainers(*count));
        }
        Target::Containers { count, fill } => (fill, Some(Decimal::from(*count))),
        Target::ByMass(quantity) | Target::ByVolume(quantity) | Target::ByLine { quantity, .. } => {
            (quantity, None)
        }
        Target::AsWritten => return Ok(evaluation.product.clone()),
    };
    let mut inputs = vec![Input::words("wanted", quantity.typed())];
    let mut unit = units::GRAM;
    let (amount, rule) = match quantity.measure() {
        Measure::Mass(mass) => (mass.g(), &NET_WANTED),
        Measure::Volume(volume) if evaluation.density.value().is_none() => {
            // A preparation made up to a volume scales by volume, also where its mass is unknown.
            evaluation.volume.known().map_err(ScaleProblem::Unknown)?;
            unit = units::MILLILITRE;
            (volume.ml(), &NET_WANTED)
        }
        Measure::Volume(volume) => {
            let density = evaluation.density.known().map_err(ScaleProblem::Unknown)?;
            inputs.push(Input::figure("density", &evaluation.density));
            (volume.ml().checked_mul(density).ok_or(ScaleProblem::TooLarge(MOST_GRAMS))?, &NET_BY_DENSITY)
        }
        Measure::Drops { .. } => return Err(wrong(quantity, "a mass or a volume", "30 g or 30 mL")),
    };
    let figure = Figure::number(amount, unit, rule, inputs);
    let Some(count) = count else { return Ok(figure) };
    let all = amount.checked_mul(count).ok_or(ScaleProblem::TooLarge(MOST_GRAMS))?;
    let fill = if rule.key == NET_WANTED.key {
        Input::words("fill", quantity.typed())
    } else {
        Input::figure("fill", &figure)
    };
    Ok(Figure::number(all, unit, &NET_JARS, vec![Input::number("count", count, units::RATIO), fill]))
}

fn wrong(quantity: &Quantity, wanted: &'static str, like: &'static str) -> ScaleProblem {
    ScaleProblem::WrongDimension { given: quantity.typed(), wanted, like }
}

pub(super) fn by_net(
    evaluation: &Evaluation,
    net: Figure,
    (loss, kept): (&Figure, Decimal),
) -> Result<Whole, ScaleProblem> {
    let wanted = net.known().map_err(ScaleProblem::Unknown)?;
    let gross = wanted.checked_div(kept).ok_or(ScaleProblem::TooLarge(MOST_GRAMS))?;
    if gross > MOST_GRAMS {
        return Err(ScaleProblem::TooLarge(gross.round_dp(0)));
    }
    let unit = net.unit();
    let made = if unit == units::GRAM { &evaluation.product } else { &evaluation.volume };
    let product = made.known().map_err(ScaleProblem::Unknown)?;
    let factor = gross.checked_div(product).ok_or(ScaleProblem::TooSmall)?;
    if factor.is_zero() {
        return Err(ScaleProblem::TooSmall);
    }
    let inputs = vec![Input::figure("net", &net), Input::figure("loss", loss)];
    let gross = Figure::number(gross, unit, &GROSS, inputs);
    let inputs = vec![Input::figure("gross", &gross), Input::figure("product", made)];
    let factor = Figure::number(factor, units::RATIO, &FACTOR, inputs);
    Ok(Whole { net, gross, factor })
}

/// The formula as it is written: once, whatever it weighs.
pub(super) fn as_written(evaluation: &Evaluation, (loss, kept): (&Figure, Decimal)) -> Whole {
    let gross = evaluation.product.clone();
    let inputs = vec![Input::figure("gross", &gross), Input::figure("loss", loss)];
    let net =
        Figure::from_result(gross.known().map(|gross| gross * kept), units::GRAM, &NET_FROM_GROSS, inputs);
    Whole { net, gross, factor: Figure::number(Decimal::ONE, units::RATIO, &ONCE, Vec::new()) }
}

pub(super) fn by_line(
    formula: &Formula,
    evaluation: &Evaluation,
    (phase, line): (usize, usize),
    quantity: &Quantity,
    (loss, kept): (&Figure, Decimal),
) -> Result<Whole, ScaleProblem> {
    let missing = ScaleProblem::NoSuchLine { phase, line };
    let of = formula.phases.get(phase).and_then(|phase| phase.lines.get(line)).ok_or(missing.clone())?;
    let figures = evaluation.phases.get(phase).and_then(|phase| phase.lines.get(line)).ok_or(missing)?;
    let written = figures.written.of(of);
    let factor = line_factor(figures, &written, quantity)?;
    if factor.is_zero() {
        return Err(ScaleProblem::TooSmall);
    }
    let inputs = vec![
        Input::words("there", quantity.typed()),
        Input::words("line", figures.name.clone()),
        Input::words("written", written.amount.clone()),
    ];
    let factor_figure = Figure::number(factor, units::RATIO, &FACTOR_BY_LINE, inputs);
    let gross = match evaluation.product.known() {
        Ok(product) => {
            let gross = product.checked_mul(factor).ok_or(ScaleProblem::TooLarge(MOST_GRAMS))?;
            if gross > MOST_GRAMS {
                return Err(ScaleProblem::TooLarge(gross.round_dp(0)));
            }
            Ok(gross)
        }
        Err(unknown) => Err(unknown),
    };
    let inputs = vec![Input::figure("factor", &factor_figure), Input::figure("product", &evaluation.product)];
    let gross_figure = Figure::from_result(gross.clone(), units::GRAM, &GROSS_BY_LINE, inputs);
    let net = gross.map(|gross| gross * kept);
    let inputs = vec![Input::figure("gross", &gross_figure), Input::figure("loss", loss)];
    let net = Figure::from_result(net, units::GRAM, &NET_FROM_GROSS, inputs);
    Ok(Whole { net, gross: gross_figure, factor: factor_figure })
}

/// How many times the formula a quantity of one line allows. Volumes are compared with volumes directly, so
/// that 2.5 cups for 1 cup is 2.5 whatever the density.
fn line_factor(
    figures: &LineFigures,
    as_written: &AsWritten,
    quantity: &Quantity,
) -> Result<Decimal, ScaleProblem> {
    let too_small = ScaleProblem::TooSmall;
    let mass = figures.mass.known().map_err(ScaleProblem::Unknown);
    if let Measure::Mass(there) = quantity.measure() {
        return there.g().checked_div(mass?).ok_or(too_small);
    }
    let there = quantity
        .volume(as_written.drops_per_ml)
        .ok_or_else(|| wrong(quantity, "a mass or a volume", "30 g or 30 mL"))?;
    let written = match figures.volume.as_ref().map(Figure::known) {
        Some(volume) => volume.map_err(ScaleProblem::Unknown)?,
        None => {
            let density = density(figures, as_written).map_err(ScaleProblem::Unknown)?;
            mass?.checked_div(density).ok_or(too_small.clone())?
        }
    };
    there.ml().checked_div(written).ok_or(too_small)
}

fn density(figures: &LineFigures, as_written: &AsWritten) -> Result<Decimal, Unknown> {
    let missing =
        |of: Option<Unknown>| of.unwrap_or_else(|| Unknown::of(format!("density of {}", figures.name)));
    as_written.density.clone().map_err(missing)
}
