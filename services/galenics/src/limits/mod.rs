//! Limits on the skin: how much of each substance and each oil is in what is made, summed over everything that
//! holds it, against a set of limits that is handed in as data.
//!
//! Shares are exact decimals and so is the comparison: at the limit is allowed, past it is not. A range of a
//! constituent is counted at its top. What is not known is never counted as nothing: it makes the verdict
//! *unknown*, which is not a pass. Every limit keeps its source and status, so that a remembered one is never
//! shown as law.
//!
//! # Which limit binds
//! A limit binds where everything that it says of a use is so: regime, exposure, part of the body, age. Where two
//! limits of the same authority on the same subject and for the same purpose bind, and one says more of the use than
//! the other (it names the part of the body or the exposure where the other names none, and leaves out nothing that
//! the other names), the more particular one takes the other's place, be it stricter or laxer: 3 % of salicylic acid
//! in what is rinsed off the hair, where 2 % hold for everything else. Limits of which neither is the more particular
//! bind together, and so do those of different authorities: the opinion of one body lifts no law of another. A limit
//! for an age comes on top of the others and takes no other's place.

mod acid;
mod allergens;
mod check;
mod daily;
mod held;
mod herb;
mod limit;
mod profile;

pub use acid::as_acid;
pub use allergens::{Allergen, Declaration, declare_allergens};
pub use check::{Finding, GroupUse, LimitReport, check_limits};
pub use daily::{DailyCheck, DailyExposure, Holder, check_daily};
pub use herb::{Driest, HerbCheck, HerbPart, check_herb};
pub use limit::{Bound, Exposure, Limit, LimitBasis, Purpose, Subject, Use, Verdict};
pub use profile::{Constituent, Profile};
