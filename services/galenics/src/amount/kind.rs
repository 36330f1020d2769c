//! What an amount means.

use rust_decimal::Decimal;

use super::{basis::Basis, herb_ratio::HerbRatio};
use crate::{TargetPh, quantity::Quantity};

/// The meaning of an amount.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AmountKind {
    /// So much.
    Quantity(Quantity),
    /// A share of the whole preparation.
    Percent {
        /// The share, from 0 to 1; of mass in volume in g to the mL.
        fraction: Decimal,
        /// Of what.
        basis: Basis,
    },
    /// So many parts by mass, of as many as all lines have together.
    Parts(Decimal),
    /// So many parts by volume, of as many as all lines have together.
    VolumeParts(Decimal),
    /// Ratio strength: so many in so many of the whole. On a herb that is drawn out, a ratio of herb to menstruum.
    Ratio {
        /// The part.
        part: Decimal,
        /// The whole.
        whole: Decimal,
        /// Of what.
        basis: Basis,
    },
    /// A ratio of herb to what it is drawn out with, or to the extract.
    HerbRatio(HerbRatio),
    /// Enough to make up to a quantity.
    MakeUpTo(Quantity),
    /// Enough to make up to the yield that the formula states, or to 100 %.
    MakeUp,
    /// Enough to bring what is made to a pH; without one, to the target pH of the formula. Nobody can say beforehand how
    /// much that takes.
    ToPh(Option<TargetPh>),
}

impl AmountKind {
    /// The ratio of a herb to what it is drawn out with. A bare ratio is one on a herb that is drawn out, and a ratio
    /// strength anywhere else.
    #[must_use]
    pub fn herb_ratio(&self, drawn_out: bool) -> Option<HerbRatio> {
        match self {
            Self::HerbRatio(ratio) => Some(ratio.clone()),
            Self::Ratio { part, whole, basis } if drawn_out => {
                let basis = Some(*basis).filter(|basis| *basis != Basis::Unstated);
                Some(HerbRatio::bare(*part, *whole, basis))
            }
            _ => None,
        }
    }
}
