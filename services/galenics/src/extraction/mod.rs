//! Extraction: ratios with their convention named, dried-herb equivalents, pressing, repeated maceration,
//! fresh herbs, and decoctions reduced and made up.
//!
//! "1:5" means one part of drug to five of *solvent* in one pharmacopoeia and to five of *product* in another;
//! the two are never mixed here, and a ratio without its convention is refused. Whatever the way, what is
//! made never carries more herb than went in.

mod decoction;
mod fresh;
mod maceration;
mod ratio;

pub use decoction::{Decoction, decoction};
pub use fresh::{FreshMenstruum, Poured, dried_for_fresh, fresh_for_dried, menstruum_for_fresh};
pub use maceration::{Maceration, macerate, macerate_by_volume, press_yield, press_yield_by_volume};
pub use ratio::{
    Convention, ExtractRatio, PressedRatio, dried_equivalent, extract_for_dried, pressed_ratio,
    pressed_ratio_by_volume,
};
