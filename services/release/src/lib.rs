//! The gate. Amounts and method leave the service only as [`Released`], after a proof in the same transaction.
//!
//! There are three ways in, each by acknowledging the current cautions: a grant **to make** an approved revision, one **to
//! decide** about any frozen one, for instructors, and the **record** of a batch. Only the first permits making.
//!
//! Here are the gated tables (`gated`, listed by column in [`columns`]), reading them under proof, creating and deleting
//! grants, and sealing. May use: `store`, `canonical`, `schema`, `wire`. What never happens here: working out a caution
//! set or a recipe, rendering for a reader, bare content handed out, a role that skips the proof. A proof names what it
//! is for, privately, for one transaction; a function that takes one takes no id beside it. What content is made from is
//! read out of it. Where no reader holds a grant, content is read by an [`Exit`], whose uses a test counts.

pub mod acknowledgements;
pub mod columns;
pub mod content;
mod current;
pub mod entries;
#[rustfmt::skip]
mod gated;
pub mod grants;
pub mod kept;
pub mod lookup;
pub mod record;
mod released;
mod sealed;
pub mod verify;

pub use content::{Draft, Frozen};
pub use current::{CurrentSet, lock_current_set};
pub use grants::{AllOpen, EveryLevel, Grant};
pub use record::{Access, Record};
pub use released::{ForRules, Released, ReleasedRecipe, Rendered};
pub use schema::BatchRow;
pub use sealed::{Exit, Opens, Sealed};
