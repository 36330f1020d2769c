//! The use-by date: rule sets as data, each with its scope, held against what is known of a preparation; the
//! strictest that applies wins, and the answer lists what every rule said.
//!
//! # Conventions
//! - A preparation is *watery* when its measured water activity is 0.60 or more, or, unmeasured, when its
//!   class is; not knowing means watery. Little water is not low activity.
//! - *Preserved* is earned in the watery phase ([`preservation`]); what is not shown is unpreserved.
//! - What a preparation is now dates it, not what it was made of. The date of a watery part, such as an infusion, ends to
//!   matter where the part goes, still in date, into something that preserves itself or is not watery; that of a part
//!   which keeps by itself, such as an oil, binds wherever it goes.
//! - Evidence of stability binds like a rule where it is shorter than the others.
//! - The sugar of a syrup counts with alcohol in the water that it leaves free, that of an oxymel with its vinegar, and that of
//!   an electuary only where nothing moist but honey or syrup is in it.
//! - An unpreserved watery preparation never passes 14 days, refrigerated, unless evidence of its stability is
//!   filed; no rule set lifts that. The day of making is day 1 of the 14, as the published rules count.
//! - What it is made of binds it: a nested preparation's own use-by date and every lot's expiry. An expiry by
//!   month alone is the last day of that month.
//! - How days are counted belongs to the rule set: the day of making may be day 1, or the days may follow it.
//!   Every date says which. A period in months is a calendar period and not so many days; the days of evidence
//!   that was filed, and those of an opened jar, follow the day of making or opening.

mod dating;
mod facts;
mod preservation;
mod rules;
mod watery_phase;

pub use dating::use_by;
pub use facts::{DatedPart, DatingFacts, RuleAnswer, RuleOutcome, UseBy, WaterActivity};
pub use preservation::{
    AcidPreservative, GROWTH, Preservation, PreservationFacts, PreservationRules, SugarCounts, preservation,
    undissociated_share,
};
pub use rules::{Conditions, DatingRule, DayCounting, Expiry, Period, RouteClass, RuleSet, Scope, Storage};
pub use watery_phase::{WateryPhase, watery_phase};
