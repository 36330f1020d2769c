//! Libraries and their members, formulas, revisions and their caution sets.
//!
//! Decides who may see and change a formula, moves a revision through its states, computes and renews caution sets, and
//! takes acknowledgements. May use `release`, `materials`, `judgement`, `policy`, `store`. Never here: a gated table,
//! or content read without a proof or a named exit of `release`.

mod acknowledge;
mod acknowledgement;
pub mod assemble;
mod awaiting;
mod cautions;
pub mod change;
mod changes;
pub mod clinic_cautions;
mod countersign;
mod decide;
mod draft;
mod facts;
mod formulas;
mod freeze;
mod frozen;
pub mod gate;
mod held;
pub mod kept;
mod libraries;
mod list;
mod listing;
mod members;
mod names;
mod present;
mod read_cautions;
mod readings;
mod renew;
mod resolve;
pub mod results;
mod revisions;
mod search;
mod self_check;
pub mod sets;
mod signing;
mod suitability;
mod turns;
pub mod typed;
pub mod withholding;

pub use acknowledge::acknowledge;
pub use acknowledgement::{acknowledgement, acknowledgements};
pub use cautions::cautions;
pub use changes::changes;
pub use countersign::{awaited, countersign};
pub use decide::{decide, propose, withdraw};
pub use draft::{draft, draft_change, draft_evaluation, evaluate, evaluate_dated};
pub use facts::{Facts, facts, visible};
pub use formulas::{formula_create, revision_create};
pub use frozen::{FrozenRevision, load as load_frozen};
pub use libraries::{libraries, library, library_change, library_create, member_add, member_remove, members};
pub use list::{FormulaPage, FormulaQuery, formulas};
pub use listing::{OneFormula, formula, formula_seen};
pub use members::membership;
pub use read_cautions::{CautionCache, CurrentCautions, current_cautions};
pub use renew::recompute_caution_sets;
pub use revisions::{revision, show as shown};
pub use search::search_formulas;
pub use self_check::{self_check, self_check_choices};
pub use signing::close_unsigned;
pub use suitability::{suitability, suiting};
pub use turns::settle;
pub use withholding::reinstate;
