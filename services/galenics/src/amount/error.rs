//! Why a text is not an amount.

use rust_decimal::Decimal;
use thiserror::Error;

use crate::{number::NumberError, ph::NotATarget, quantity::QuantityError};

/// Why a text is not an amount. The message says what would be accepted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum AmountError {
    /// A quantity with something wrong in it.
    #[error("{0}")]
    Quantity(#[from] QuantityError),
    /// A share that is not between 0 and 100 per cent.
    #[error("{0} % is more than the whole. Write a percentage above 0 and at most 100 %.")]
    PastHundred(Decimal),
    /// A basis that is not one of the three.
    #[error("\"{0}\" is not a basis. Write % w/w, % w/v or % v/v, or % alone for w/w.")]
    Basis(String),
    /// A ratio that is not one in so many.
    #[error("A ratio strength is one part in a larger whole. Write it as 1:5.")]
    Ratio,
    /// A ratio with more herb than extract, which is no ratio to the menstruum.
    #[error(
        "\"{0}\" has more herb than liquid, so it is a drug to extract ratio. Write DER {0}. Write herb to \
         menstruum as 1:5 in 45 %, 1:2 fresh in 95 % or 1:10 in oil."
    )]
    DrugToExtract(String),
    /// A ratio of a herb that cannot be read.
    #[error(
        "\"{0}\" is not a ratio of a herb. Write 1:5 in 45 %, 1:2 fresh in 95 %, 1:10 in oil, 1:5 w/w in \
         vinegar, or DER 4:1 for drug to extract."
    )]
    HerbRatio(String),
    /// A concentration whose lower part is no amount.
    #[error("\"{0}\" is not a concentration. Write one such as 1 mg/5 mL, 250 mcg/mL, 5 mg/g or 1 in 500.")]
    Concentration(String),
    /// "ad 500 g": what is made up to a quantity is written with q.s.
    #[error("\"ad\" alone is not understood. Write q.s. {0}.")]
    AdAlone(String),
    /// From so much to so much.
    #[error("A range cannot be weighed. Enter one amount, such as {0}.")]
    Range(String),
    /// q.s. to a count of drops.
    #[error("A q.s. total must be a mass or a volume. Write q.s. 1000 g or q.s. to 500 mL.")]
    MakeUpToDrops,
    /// q.s. to a pH that is none.
    #[error("{0} Write q.s. pH 4.5-5.0, or q.s. pH for the target pH of the formula.")]
    Ph(#[from] NotATarget),
}

impl AmountError {
    /// A stable word for tools.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Quantity(error) => error.code(),
            Self::PastHundred(_) => "past_hundred_percent",
            Self::Basis(_) => "unknown_basis",
            Self::Ratio => "not_a_ratio",
            Self::DrugToExtract(_) => "drug_to_extract",
            Self::HerbRatio(_) => "not_a_herb_ratio",
            Self::Concentration(_) => "not_a_concentration",
            Self::AdAlone(_) => "ad_without_qs",
            Self::Range(_) => "range_of_amounts",
            Self::MakeUpToDrops => "make_up_to_drops",
            Self::Ph(_) => "not_a_ph",
        }
    }
}

impl From<NumberError> for AmountError {
    fn from(error: NumberError) -> Self {
        Self::Quantity(error.into())
    }
}
