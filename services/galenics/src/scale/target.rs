//! How much is wanted, what is lost on the way, and why a formula cannot be worked out for it.

use rust_decimal::Decimal;
use serde::Serialize;
use thiserror::Error;

use crate::{Fraction, Quantity, Text, Unknown, number::dec};

/// The most that a recipe is worked out for, in g: 1000 kg.
pub const MOST_GRAMS: Decimal = dec("1000000");

/// The most jars that a recipe is worked out for.
pub const MOST_CONTAINERS: u32 = 100_000;

/// How much is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// The formula's own quantity, also where it is not known what that weighs.
    AsWritten,
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
    #[error("The number of containers is 0. Enter at least 1.")]
    NoContainers,
    /// More jars than make sense.
    #[error("{0} containers are too many for one batch. Request at most {MOST_CONTAINERS}.")]
    TooManyContainers(u32),
    /// More than a batch can be.
    #[error("{0} g is too much for one batch. Request at most {MOST_GRAMS} g (1000 kg).")]
    TooLarge(Decimal),
    /// Less than a decimal can hold apart.
    #[error("The quantity is too small. Request at least 0.001 g.")]
    TooSmall,
    /// Everything is lost.
    #[error("The losses total {0} %. They must total less than 100 %.")]
    AllLost(Decimal),
    /// A line that is not there.
    #[error("The formula has no line {line} in phase {phase}.")]
    NoSuchLine {
        /// The phase, counted from 0.
        phase: usize,
        /// The line, counted from 0.
        line: usize,
    },
    /// A volume where a mass is wanted, or the other way round, or drops.
    #[error("{given} is not {wanted}. Write it as {like}.")]
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
        "The quantity cannot be calculated: {0}. Request a mass in g, or enter the measured density of the \
         product."
    )]
    Unknown(Unknown),
    /// The formula and its evaluation are not one another's.
    #[error("The evaluation belongs to another formula.")]
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
