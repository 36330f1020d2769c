//! Emulsions: the HLB that an oil phase requires and that emulsifiers have, the blend of two that meets it,
//! the soap that an alkali forms with a wax's acids, the likely type, and advice on stability.
//!
//! HLB is a scale for nonionic emulsifiers and a guide, not a law. It does not apply to soaps formed in place,
//! lecithin, egg, emulsifying waxes that are dosed by use rate, or plain beeswax; then the answer says so. A
//! required HLB is stated for a type of emulsion. Published lists disagree, so that every value keeps its
//! source.

mod advice;
mod blend;
mod griffin;
mod of_evaluation;
mod required;
mod soap;

pub use advice::{Advice, EmulsionFacts, EmulsionReport, LikelyType, Remark, likely_type, report};
pub use blend::{Blend, blend};
pub use griffin::{hlb_by_composition, hlb_by_groups, hlb_by_mass, hlb_by_saponification};
pub use of_evaluation::{Emulsion, EmulsionProfile, emulsion_of};
pub use required::{
    EmulsifierHlb, EmulsionType, HlbAnswer, NotApplicable, OilHlb, emulsifier_hlb, required_hlb,
};
pub use soap::{Alkali, Soap, soap_formed};
