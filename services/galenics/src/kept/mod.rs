//! Results that stay as they were computed: what an evaluation came to on the day a revision was approved, in a
//! form that is stored with it and read back whatever the calculations have become since.
//!
//! # What it is for
//! A revision that was approved must come out the same after the calculations are improved. What was computed
//! is therefore stored, not computed again: [`KeptEvaluation::of`] takes everything of an [`crate::Evaluation`]
//! that later work is derived from, [`KeptEvaluation::restore`] gives it back. Scaling, doses, limits, alcohol,
//! emulsions and cost work on the restored evaluation and find the kept values. Every restored figure explains
//! itself with the sentence, inputs and sources that it had.
//!
//! # When to raise [`ENGINE`]
//! By hand, in the commit that changes what is computed: when for any formula a value, a unit or a verdict of
//! the evaluation differs from what the last engine gave, be it a mended mistake, another rounding, another
//! factor or another rule. Not for other sentences, names or sources, and not for speed. [`compare`] decides
//! in doubt, and the tests over stored results fail until it is done. The stored results of the old engine
//! stay where they are: they prove that it can still be read.
//!
//! # When to raise [`FORMAT`]
//! When the document changes its shape so that a reader of the old one would fail or misread it. The old
//! number must then still be read, since approved revisions are stored in it.
//!
//! # What never happens in it
//! No evaluation, no rounding, and no number that was not in the evaluation.
//!
//! ```
//! use std::sync::Arc;
//! use galenics::{Amount, Formula, Ingredient, Line, MaterialFacts, MaterialKind, Preparation, evaluate};
//! use galenics::kept::{KeptEvaluation, compare};
//!
//! let oil = Arc::new(MaterialFacts::new("oil", "olive oil", MaterialKind::FixedOil));
//! let salve = Formula::new("salve", "Salve", Preparation::Salve)
//!     .with_phase("all", vec![Line::new(Ingredient::Material(oil), Amount::parse("100 g").expect("an amount"))]);
//!
//! // When the revision is approved.
//! let evaluation = evaluate(&salve).expect("nothing is wrong with it");
//! let stored = KeptEvaluation::of(&salve, &evaluation)?.to_json()?;
//!
//! // Whenever it is read.
//! let kept = KeptEvaluation::from_json(&stored)?;
//! let restored = kept.restore(&salve)?;
//! assert_eq!(restored.product.sentence(), evaluation.product.sentence());
//!
//! // To learn whether today's engine would give anything else.
//! assert!(compare(&kept, &KeptEvaluation::of(&salve, &evaluation)?).is_empty());
//! # Ok::<(), galenics::kept::KeptProblem>(())
//! ```

mod compare;
mod document;
mod json;
mod keep;
mod problem;
mod restore;
mod version;

pub use compare::{Difference, compare};
pub use document::KeptEvaluation;
pub use problem::KeptProblem;
pub use version::{ENGINE, FORMAT};
