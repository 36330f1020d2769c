//! The calculations of the trade: pure functions, no input or output.
//!
//! # What it is for
//! What a trained compounder works out on paper: what a formula comes to, what to weigh for twelve jars, how
//! much water brings a spirit to strength, whether a share of an essential oil may stay on the skin, how long
//! a jar may be kept. Every result explains itself ([`explain`]): the rule that made it, what went in, and
//! where the rule and its constants come from.
//!
//! # What it may use
//! Decimals, dates, and JSON as text. It knows no other crate of the house; everyone above may use it.
//!
//! # What never happens in it
//! No files, network, database, clock, randomness or logging. No panic, and no number that is not a number:
//! constructors refuse what cannot be, and every operation is checked. No guess: a missing density, limit or
//! assay makes the figures that need it *unknown*, with the name of what is missing.
//!
//! # How it is laid out
//! | module | noun |
//! |---|---|
//! | [`quantity`], [`amount`] | what people type, kept as typed beside its meaning |
//! | [`measure`], [`mod@unit`] | grams, millilitres, degrees, shares, densities; exact factors |
//! | [`material`], [`preparation`], [`formula`] | what a formula is |
//! | [`evaluation`] | what a formula comes to |
//! | [`mod@scale`], [`balance`], [`weighing`] | what to weigh, and how to weigh very little |
//! | [`strength`], [`alcohol`], [`extraction`], [`emulsion`] | the arithmetic of the workshop |
//! | [`limits`], [`mod@use_by`] | what may go on the skin, and for how long |
//! | [`mod@as_made`], [`tolerance`], [`mod@cost`], [`mod@dose`] | what was really made, what it cost, what a spoonful brings |
//! | [`agreement`] | how far two markers agree |
//! | [`questions`] | what learners are asked, and the judgement of their answers |
//! | [`kept`] | what was computed, stored and read back as it was |
//! | [`explain`], [`refusal`] | a figure that can explain itself; a refusal that says what would be possible |
//!
//! ```
//! use std::sync::Arc;
//! use galenics::{Amount, Formula, Ingredient, Line, MaterialFacts, MaterialKind, Preparation, evaluate};
//!
//! let line = |name: &'static str, kind, amount: &str| {
//!     let facts = MaterialFacts::new(name, name, kind);
//!     Amount::parse(amount).map(|amount| Line::new(Ingredient::Material(Arc::new(facts)), amount))
//! };
//! let salve = Formula::new("salve", "Plain salve", Preparation::Salve).with_phase(
//!     "oil phase",
//!     vec![
//!         line("yellow beeswax", MaterialKind::Wax, "1 oz")?,
//!         line("olive oil", MaterialKind::FixedOil, "200 g")?,
//!     ],
//! );
//! let evaluation = evaluate(&salve).expect("nothing is wrong with it");
//! assert_eq!(evaluation.product.sentence(), "total of all lines: 228.3 g");
//! # Ok::<(), galenics::AmountError>(())
//! ```

pub mod agreement;
pub mod alcohol;
pub mod alcohol_content;
pub mod amount;
pub mod as_made;
pub mod balance;
pub mod control;
pub mod cost;
mod digits;
pub mod dose;
pub mod emulsion;
pub mod evaluation;
pub mod explain;
pub mod explained;
pub mod extraction;
pub mod formula;
pub mod graph;
pub mod interrupt;
pub mod kept;
pub mod limits;
pub mod material;
pub mod maxima;
pub mod measure;
pub mod number;
pub mod ph;
pub mod preparation;
pub mod quantity;
pub mod questions;
pub mod refusal;
pub mod scale;
pub mod shown;
pub mod strength;
mod text;
pub mod tolerance;
pub mod unit;
pub mod units;
pub mod use_by;
pub mod weighing;
mod words;

pub use amount::{Amount, AmountError, AmountKind, Basis, HerbRatio};
pub use balance::Balance;
pub use evaluation::{
    Contained, Evaluated, Evaluation, HerbEquivalent, Leaf, LineFigures, PhaseTotal, evaluate, evaluate_each,
    read_as,
};
pub use explain::{Figure, Input, Named, Rule, RuleRef, Source, Sourced, Status, Unknown, Value};
pub use formula::{
    ExtractBasis, Fate, Formula, FormulaProblem, Ingredient, Line, Location, Nested, Phase, ProblemKind,
    Yield,
};
pub use graph::Graph;
pub use material::{Function, HerbState, MaterialFacts, MaterialKind, Solution};
pub use measure::{Density, Fraction, Mass, MeasureError, Temperature, Volume};
pub use number::NumberError;
pub use ph::TargetPh;
pub use preparation::Preparation;
pub use quantity::{Measure, Part, Quantity, QuantityError};
pub use refusal::{Reason, Refusal};
pub use rust_decimal::Decimal;
pub use scale::{Losses, ScaleProblem, Target, Worked, WorkedLine, WorkedPhase, scale};
pub use text::Text;
pub use unit::{Customary, Dimension, Unit};
pub use words::UnknownWord;
