//! What to weigh for a wanted quantity: a mass, a volume, so many jars, or what a limiting lot allows.
//!
//! Losses are shares of what is weighed out, so that `gross = net / (1 - loss)`: for 360 g net at 4 % loss,
//! 375 g are weighed. Every line is rounded to the balance and says by how much.

mod line;
mod whole;

use rust_decimal::Decimal;
use serde::Serialize;
use thiserror::Error;

use crate::{
    Balance, Evaluation, Figure, Formula, Fraction, Input, Quantity, Rule, Text, Unknown,
    number::{HUNDRED, dec},
    units,
};
use line::work_line;
use whole::{by_line, by_net, net};

static LOSS: Rule = Rule::definition("loss_total", "the losses together are {=} of what is weighed out");
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
    #[error(
        "this cannot be worked out, {0}; instead of a volume ask for a mass, in g, or give the density of what is made, as measured"
    )]
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
    /// In g, to the balance; unrounded where the balance shows too little of it.
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
/// ```
/// use std::sync::Arc;
/// use galenics::{
///     Amount, Balance, Formula, Fraction, Ingredient, Line, Losses, Mass, MaterialFacts, MaterialKind, Preparation, Quantity,
///     Target, evaluate, number::dec, scale,
/// };
/// let oil = Arc::new(MaterialFacts::new("oil", "olive oil", MaterialKind::FixedOil));
/// let salve = Formula::new("salve", "Salve", Preparation::Salve)
///     .with_phase("all", vec![Line::new(Ingredient::Material(oil), Amount::parse("100 g").expect("an amount"))]);
/// let evaluation = evaluate(&salve).expect("nothing is wrong with it");
/// let jars = Target::Containers { count: 12, fill: Quantity::parse("30 g").expect("a quantity") };
/// let losses = Losses::transfer(Fraction::percent(dec("4")).expect("a share"));
/// let balance = Balance::reading(Mass::grams(dec("0.1")).expect("a mass")).expect("a balance");
/// let worked = scale(&salve, &evaluation, &jars, &losses, &balance)?;
/// assert_eq!(worked.gross.sentence(), "360 g after losing 4 % takes 375 g to be weighed out");
/// # Ok::<(), galenics::ScaleProblem>(())
/// ```
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
