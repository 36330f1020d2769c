//! Strength and dilution: the ways to state a strength, one from another; stock dilution; alligation; powder
//! into a base; specific gravity; enlarging and reducing.
//!
//! Shares are exact decimals. Volumes are taken as additive here; where alcohol contracts, use
//! [`crate::alcohol`]. A share by mass and a share by volume are never taken for one another: only a stated
//! density leads from one to the other.

mod alligation;
mod dilution;
mod gravity;
mod statement;

pub use alligation::{Alligation, Portion, alligate, alligate_many, mean_strength, to_add};
pub use dilution::{AddedPowder, StockDilution, add_powder, diluted_strength, stock_needed};
pub use gravity::{mass_of_volume, proportion, specific_gravity, volume_of_mass};
pub use statement::{Statement, Strength};
