//! What to weigh for a wanted quantity: a mass, a volume, so many jars, or what a limiting lot allows.
//!
//! Losses are shares of what is weighed out, so that `gross = net / (1 - loss)`: for 360 g net at 4 % loss,
//! 375 g are weighed. Every line is rounded to the balance and says by how much.

use rust_decimal::Decimal;
use serde::Serialize;
use thiserror::Error;

use crate::{
    Amount, AmountKind, Balance, Dimension, Evaluation, Figure, Formula, Fraction, Ingredient, Input, Line,
    LineFigures, Measure, Quantity, Rule, Text, Unknown,
    number::{HUNDRED, dec},
    units,
};

static NET_WANTED: Rule = Rule::definition("net_wanted", "{wanted} is {=} to be had in the end");
static NET_BY_DENSITY: Rule = Rule::definition("net_by_density", "{wanted} at {density} is {=}");
static NET_JARS: Rule = Rule::definition("net_containers", "{count} of {fill} are {=}");
static NET_FROM_GROSS: Rule = Rule::definition("net_from_gross", "{gross} less {loss} leaves {=}");
static LOSS: Rule = Rule::definition("loss_total", "the losses together are {=} of what is weighed out");
static GROSS: Rule =
    Rule::definition("gross_from_net", "{net} after losing {loss} takes {=} to be weighed out");
static GROSS_BY_LINE: Rule = Rule::definition("gross_by_line", "{factor} times {product} is {=}");
static FACTOR: Rule =
    Rule::definition("factor", "{gross} against {product} of the formula is {=} times the formula");
static FACTOR_BY_LINE: Rule = Rule::definition(
    "factor_by_line",
    "{there} of {line}, where the formula has {written}, is {=} times the formula",
);
static EXACT: Rule = Rule::definition("line_scaled", "{mass} times {factor} is {=}");
static WEIGH: Rule = Rule::definition("line_to_balance", "{exact} to the nearest {step} is {=}");
static ERROR: Rule = Rule::definition("rounding_error", "{weigh} weighed for {exact} is {=} more");
static MAKE_UP: Rule = Rule::definition("line_make_up", "make up to {=}");
static TOTAL: Rule = Rule::definition("total_weighed", "the lines as weighed are {=} together");

/// The most that a recipe is worked out for, in g: 1000 kg.
pub const MOST_GRAMS: Decimal = dec("1000000");

/// The most jars that a recipe is worked out for.
pub const MOST_CONTAINERS: u32 = 100_000;

/// How much is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// So much of what is made, by mass.
    ByMass(Quantity),
    /// So much of what is made, by volume.
    ByVolume(Quantity),
    /// So many containers with so much in each.
    Containers {
        /// How many.
        count: u32,
        /// What each holds.
        fill: Quantity,
    },
    /// As much as a quantity of one line allows: the limiting lot.
    ByLine {
        /// The phase, counted from 0.
        phase: usize,
        /// The line, counted from 0.
        line: usize,
        /// What there is of it.
        quantity: Quantity,
    },
}

/// Losses by kind, each as a share of what is weighed out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Losses {
    /// Water and other volatile matter that leaves; what stays is the stronger for it.
    pub evaporation: Fraction,
    /// What sticks to pots, spoons and filters.
    pub transfer: Fraction,
    /// What the marc holds back.
    pub marc: Fraction,
    /// What is taken for tests and kept samples.
    pub samples: Fraction,
}

impl Losses {
    /// A loss on the way only, the usual single figure.
    #[must_use]
    pub fn transfer(share: Fraction) -> Self {
        Self { transfer: share, ..Self::default() }
    }

    /// The kinds with their words.
    #[must_use]
    pub const fn kinds(&self) -> [(&'static str, Fraction); 4] {
        [
            ("evaporation", self.evaporation),
            ("transfer", self.transfer),
            ("marc", self.marc),
            ("samples", self.samples),
        ]
    }

    /// All kinds together.
    #[must_use]
    pub fn total(&self) -> Decimal {
        self.kinds().iter().map(|(_, share)| share.get()).sum()
    }
}

/// Why a formula cannot be worked out for what is wanted. The message says what could be.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ScaleProblem {
    /// No jars.
    #[error("no containers to fill; ask for at least 1")]
    NoContainers,
    /// More jars than make sense.
    #[error("{0} containers are more than one batch can fill; at most {MOST_CONTAINERS}")]
    TooManyContainers(u32),
    /// More than a batch can be.
    #[error("{0} g is more than one batch can be; at most {MOST_GRAMS} g (1000 kg)")]
    TooLarge(Decimal),
    /// Less than a decimal can hold apart.
    #[error("so small a quantity cannot be worked out; ask for at least 0.001 g")]
    TooSmall,
    /// Everything is lost.
    #[error("losses of {0} % leave nothing; together they must be below 100 %")]
    AllLost(Decimal),
    /// A line that is not there.
    #[error("the formula has no line {line} in phase {phase}")]
    NoSuchLine {
        /// The phase, counted from 0.
        phase: usize,
        /// The line, counted from 0.
        line: usize,
    },
    /// A volume where a mass is wanted, or the other way round, or drops.
    #[error("{given} is not {wanted}; write it like {like}")]
    WrongDimension {
        /// As given.
        given: Text,
        /// What was wanted.
        wanted: &'static str,
        /// An example.
        like: &'static str,
    },
    /// What is missing to work it out.
    #[error("this cannot be worked out, {0}")]
    Unknown(Unknown),
    /// The formula and its evaluation are not one another's.
    #[error("the evaluation is not of this formula")]
    NotItsEvaluation,
}

impl ScaleProblem {
    /// A stable word for tools.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoContainers => "no_containers",
            Self::TooManyContainers(_) => "too_many_containers",
            Self::TooLarge(_) => "too_large",
            Self::TooSmall => "too_small",
            Self::AllLost(_) => "all_lost",
            Self::NoSuchLine { .. } => "no_such_line",
            Self::WrongDimension { .. } => "wrong_dimension",
            Self::Unknown(_) => "unknown",
            Self::NotItsEvaluation => "not_its_evaluation",
        }
    }

    /// The part of the request that it concerns.
    #[must_use]
    pub const fn field(&self) -> &'static str {
        match self {
            Self::NoContainers | Self::TooManyContainers(_) => "containers",
            Self::AllLost(_) => "losses",
            Self::NoSuchLine { .. } => "line",
            Self::TooLarge(_) | Self::TooSmall | Self::WrongDimension { .. } | Self::Unknown(_) => "quantity",
            Self::NotItsEvaluation => "formula",
        }
    }
}

/// A formula worked out for a quantity.
#[derive(Debug, Clone, Serialize)]
pub struct Worked {
    /// What is to be had in the end, in g; in mL where only the volume of what is made is known.
    pub net: Figure,
    /// The losses together, as a share of what is weighed out.
    pub loss: Figure,
    /// What is to be weighed out, in the unit of the net.
    pub gross: Figure,
    /// How many times the formula.
    pub factor: Figure,
    /// The phases with what to weigh.
    pub phases: Vec<WorkedPhase>,
    /// The lines as weighed, in g.
    pub total: Figure,
}

/// A phase with what to weigh.
#[derive(Debug, Clone, Serialize)]
pub struct WorkedPhase {
    /// Its name.
    pub name: Text,
    /// Its lines.
    pub lines: Vec<WorkedLine>,
}

/// What to weigh or measure of one line.
#[derive(Debug, Clone, Serialize)]
pub struct WorkedLine {
    /// The material or nested formula.
    pub name: Text,
    /// The amount in the formula, as typed.
    pub written: Text,
    /// In the unit in which the formula has it, unrounded, where it has a single one.
    pub in_written_unit: Option<Figure>,
    /// In g, unrounded.
    pub exact: Figure,
    /// In g, to the balance.
    pub weigh: Figure,
    /// What is weighed less what was asked for, in g.
    pub error: Figure,
    /// In mL, where the formula measures it.
    pub volume: Option<Figure>,
    /// Of a q.s. line, what to make up to.
    pub make_up: Option<Figure>,
    /// Whether half a step of the balance is past the tolerance of this amount.
    pub too_small: bool,
    /// Whether it is more than the balance takes at once.
    pub over_capacity: bool,
}

/// Works a formula out for a quantity.
///
/// # Errors
/// Says what is wrong with the request and what would be possible. A density that is missing is only an error
/// where the quantity cannot be worked out without it.
pub fn scale(
    formula: &Formula,
    evaluation: &Evaluation,
    target: &Target,
    losses: &Losses,
    balance: &Balance,
) -> Result<Worked, ScaleProblem> {
    if formula.id != evaluation.id
        || !formula.phases.iter().map(|p| p.lines.len()).eq(evaluation.phases.iter().map(|p| p.lines.len()))
    {
        return Err(ScaleProblem::NotItsEvaluation);
    }
    let loss = losses.total();
    if loss >= Decimal::ONE {
        return Err(ScaleProblem::AllLost((loss * HUNDRED).normalize()));
    }
    let kept = Decimal::ONE - loss;
    let loss = Figure::number(
        loss,
        units::SHARE,
        &LOSS,
        losses.kinds().iter().map(|(kind, share)| Input::number(*kind, share.get(), units::SHARE)).collect(),
    );
    let whole = if let Target::ByLine { phase, line, quantity } = target {
        by_line(formula, evaluation, (*phase, *line), quantity, (&loss, kept))?
    } else {
        by_net(evaluation, net(evaluation, target)?, (&loss, kept))?
    };
    let factor = whole.factor.known().map_err(ScaleProblem::Unknown)?;

    let mut phases = Vec::with_capacity(formula.phases.len());
    let mut total = Ok(Decimal::ZERO);
    for (phase, figures) in formula.phases.iter().zip(&evaluation.phases) {
        let mut lines = Vec::with_capacity(phase.lines.len());
        for (line, figures) in phase.lines.iter().zip(&figures.lines) {
            let worked = work_line(formula, line, figures, factor, balance).ok_or(ScaleProblem::TooSmall)?;
            total = match (total, worked.weigh.known()) {
                (Ok(sum), Ok(weigh)) => {
                    Ok(sum.checked_add(weigh).ok_or(ScaleProblem::TooLarge(MOST_GRAMS))?)
                }
                (Err(a), Err(b)) => Err(a.and(&b)),
                (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
            };
            lines.push(worked);
        }
        phases.push(WorkedPhase { name: phase.name.clone(), lines });
    }
    let total = Figure::from_result(total, units::GRAM, &TOTAL, Vec::new());
    Ok(Worked { net: whole.net, loss, gross: whole.gross, factor: whole.factor, phases, total })
}

struct Whole {
    net: Figure,
    gross: Figure,
    factor: Figure,
}

/// What is wanted in the end, in g; in mL where only the volume of what is made is known.
fn net(evaluation: &Evaluation, target: &Target) -> Result<Figure, ScaleProblem> {
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

fn by_net(
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

fn by_line(
    formula: &Formula,
    evaluation: &Evaluation,
    (phase, line): (usize, usize),
    quantity: &Quantity,
    (loss, kept): (&Figure, Decimal),
) -> Result<Whole, ScaleProblem> {
    let missing = ScaleProblem::NoSuchLine { phase, line };
    let of = formula.phases.get(phase).and_then(|phase| phase.lines.get(line)).ok_or(missing.clone())?;
    let figures = evaluation.phases.get(phase).and_then(|phase| phase.lines.get(line)).ok_or(missing)?;
    let factor = line_factor(of, figures, quantity)?;
    if factor.is_zero() {
        return Err(ScaleProblem::TooSmall);
    }
    let inputs = vec![
        Input::words("there", quantity.typed()),
        Input::words("line", figures.name.clone()),
        Input::words("written", of.amount.typed()),
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
fn line_factor(line: &Line, figures: &LineFigures, quantity: &Quantity) -> Result<Decimal, ScaleProblem> {
    let too_small = ScaleProblem::TooSmall;
    let drops = match &line.ingredient {
        Ingredient::Material(facts) => facts.drops_per_ml.as_ref().map(|drops| drops.value),
        Ingredient::Nested(_) => None,
    };
    let mass = figures.mass.known().map_err(ScaleProblem::Unknown);
    if let Measure::Mass(there) = quantity.measure() {
        return there.g().checked_div(mass?).ok_or(too_small);
    }
    let there =
        quantity.volume(drops).ok_or_else(|| wrong(quantity, "a mass or a volume", "30 g or 30 mL"))?;
    let written = match figures.volume.as_ref().map(Figure::known) {
        Some(volume) => volume.map_err(ScaleProblem::Unknown)?,
        None => {
            let density = line_density(line).map_err(ScaleProblem::Unknown)?;
            mass?.checked_div(density).ok_or(too_small.clone())?
        }
    };
    there.ml().checked_div(written).ok_or(too_small)
}

fn line_density(line: &Line) -> Result<Decimal, Unknown> {
    match &line.ingredient {
        Ingredient::Material(facts) => match &facts.density {
            Some(density) => Ok(density.value.g_per_ml()),
            None => Err(Unknown::of(format!("density of {}", facts.name))),
        },
        Ingredient::Nested(inner) => match crate::evaluate(inner) {
            Ok(nested) => nested.density.known(),
            Err(_) => Err(Unknown::of(format!("density of {}", inner.title))),
        },
    }
}

fn work_line(
    formula: &Formula,
    line: &Line,
    figures: &LineFigures,
    factor: Decimal,
    balance: &Balance,
) -> Option<WorkedLine> {
    let times = |value: Decimal, unit: &'static str| {
        let scaled = value.checked_mul(factor)?;
        let inputs = vec![Input::number("mass", value, unit), Input::number("factor", factor, units::RATIO)];
        Some(Figure::number(scaled, unit, &EXACT, inputs))
    };
    let (exact, weigh, error, too_small, over_capacity) = match figures.mass.known() {
        Ok(mass) => {
            let exact = times(mass, units::GRAM)?;
            let grams = exact.value()?;
            let rounded = balance.round(grams)?;
            let asked = Input::number("exact", grams, units::GRAM);
            let step = Input::number("step", balance.readability().g(), units::GRAM);
            let weigh = Figure::number(rounded.weigh, units::GRAM, &WEIGH, vec![asked.clone(), step]);
            let weighed = Input::number("weigh", rounded.weigh, units::GRAM);
            let error = Figure::number(rounded.error, units::GRAM, &ERROR, vec![weighed, asked]);
            (exact, weigh, error, rounded.too_small, rounded.over_capacity)
        }
        Err(unknown) => {
            let missing = |rule| Figure::unknown_for(unknown.clone(), units::GRAM, rule, Vec::new());
            (missing(&EXACT), missing(&WEIGH), missing(&ERROR), false, false)
        }
    };
    let volume = match &figures.volume {
        Some(volume) => match volume.value() {
            Some(value) => Some(times(value, units::MILLILITRE)?),
            None => Some(volume.clone()),
        },
        None => None,
    };
    Some(WorkedLine {
        name: figures.name.clone(),
        written: line.amount.typed(),
        in_written_unit: match single_part(&line.amount) {
            Some((number, unit)) => Some(times(number, unit)?),
            None => None,
        },
        exact,
        weigh,
        error,
        volume,
        make_up: make_up(formula, &line.amount, factor),
        too_small,
        over_capacity,
    })
}

fn single_part(amount: &Amount) -> Option<(Decimal, &'static str)> {
    match amount.kind() {
        AmountKind::Quantity(quantity) => match quantity.parts() {
            [part] => Some((part.number, part.unit.symbol())),
            _ => None,
        },
        _ => None,
    }
}

fn make_up(formula: &Formula, amount: &Amount, factor: Decimal) -> Option<Figure> {
    let quantity = match amount.kind() {
        AmountKind::MakeUpTo(quantity) => quantity,
        AmountKind::MakeUp => formula.yields.as_ref()?.quantity(),
        _ => return None,
    };
    let (value, unit) = match quantity.measure() {
        Measure::Mass(mass) => (mass.g(), units::GRAM),
        Measure::Volume(volume) => (volume.ml(), units::MILLILITRE),
        Measure::Drops { .. } => return None,
    };
    let inputs = vec![Input::words("written", amount.typed()), Input::number("factor", factor, units::RATIO)];
    Some(Figure::number(value.checked_mul(factor)?, unit, &MAKE_UP, inputs))
}
