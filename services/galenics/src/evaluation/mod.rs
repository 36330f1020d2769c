//! What a formula comes to: the mass of every line, the composition of what is made through every nested
//! level, the dried herb behind it, oil to water, and what cannot be known.
//!
//! # Conventions
//! - A per cent without a basis is mass in mass, of all that is put in; beside a q.s. it is of the total that
//!   the q.s. names.
//! - A strained or pressed preparation is what stays when the marc is gone. Its composition is that of its
//!   menstruum; what the herb gave off is not counted as mass. It carries *dried-herb equivalent*: by
//!   default each gram of menstruum carries herb/menstruum, whether it is pressed out or stays in the marc,
//!   so that 850 g pressed from 100 g of herb and 1000 g of oil carry 85 g of the herb. With the basis "drug
//!   to product" the product carries the whole herb. Never does a product carry more herb than went in.
//! - A decoction with a stated yield is boiled down to it: what is missing of all that went in, beside what the marc keeps,
//!   has evaporated, and what stays is the stronger for it.
//! - Where the density of the whole was not measured, ethanol and water contract by OIML R 22, through every nested
//!   level, and all else counts with its own volume. [`crate::Formula::density`] is the place for a measured value.
//! - Water is that of watery bases and of every solution: spirits, vinegar, honey, syrups, fresh plant. What a dried
//!   herb or a powder keeps is bound in it and does not count.
//! - Oil, water and emulsifier are shares of the whole; what is an emulsifier by its function is not counted
//!   as oil beside itself.

use crate::{Formula, FormulaProblem};

mod concentrate;
mod content;
mod contraction;
mod done;
mod figures;
mod herb_ratio;
mod herbs;
mod masses;
mod maybe_gone;
mod ratio;
mod reading;
mod reduced;
mod result;
mod solids;
mod sums;
mod walk;
mod weigh;
mod written;
mod yields;

pub use reading::read_as;
pub use result::{Contained, Evaluated, Evaluation, HerbEquivalent, Leaf, LineFigures, PhaseTotal};
pub(crate) use result::{Evaporated, MakeUp};
pub(crate) use written::{AsWritten, Written};

/// Works out what a formula comes to. Every nested formula is visited once, however many ways lead to it.
///
/// # Errors
/// Every problem found, each with the place where it lies and how to mend it. A density or yield that is not
/// known is no problem: the figures that need it are unknown and say so. What passes one of the [`crate::maxima`] is
/// refused, and what is stopped [from outside](crate::interrupt) answers that it was.
pub fn evaluate(formula: &Formula) -> Result<Evaluation, Vec<FormulaProblem>> {
    evaluate_each(formula).map(|evaluated| evaluated.whole)
}

/// As [`evaluate`], with what everything nested in the formula comes to: it is worked out anyway.
///
/// # Errors
/// As [`evaluate`].
pub fn evaluate_each(formula: &Formula) -> Result<Evaluated, Vec<FormulaProblem>> {
    walk::whole(formula)
}
