//! The reference data of the trade and its typed reader.
//!
//! The data are plain files in `data/`, one fact a row, each row with its source, the date of that source and how
//! far it was checked. They are built into the crate. [`Materia::embedded`] reads them; [`Materia::read`] reads any
//! other [`Files`] in the same way. A row without a source or unit, or with a reference to something that does not
//! exist, refuses the whole data set with an [`Error`] that names file, line, field and cure.
//!
//! May use: serde, csv, toml, decimals, and `canonical` for which characters a name may hold. Never happens here: input or output, a clock, a calculation about a formula,
//! a guess for a value that is missing.
//!
//! ```
//! let materia = materia::Materia::embedded()?;
//! let wax = materia.material("beeswax-yellow").ok_or("missing")?;
//! assert!(wax.is_in_allergy_group("bee-products"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod binding;
mod botany;
mod caution;
mod dataset;
mod dating;
mod entry;
mod error;
mod files;
mod limit;
mod material;
mod plant;
mod preparation;
mod property;
mod read;
mod rule;
mod source;
mod substance;
mod table;
mod words;

pub use binding::{Basis, Exposure, Force, Prohibition, Purpose, Site};
pub use caution::{Audience, Caution, Condition, Evidence, Finding, Level, Origin, UnknownAudience};
pub use dataset::{Materia, Version};
pub use dating::{DatingPeriod, DatingRoute, DatingRule, DatingSet, DayCounting, Kept};
pub use entry::{Entry, EntryCaution, EntryConstituent, EntryRefusal};
pub use error::{Error, UnknownWord};
pub use files::Files;
pub use limit::{Allergen, Bound, Limit, Regime, Subject};
pub use material::{
    AllergyGroup, AllergyMembership, Botanical, Cut, Emulsifies, HlbValues, LookAlike, Material,
    MaterialKind, Nature, Species, State, UsualForm,
};
pub use plant::{Called, Plants};
pub use preparation::{Holds, Preparation, Route, Situation, TradeStop};
pub use property::{Density, Measured, Property, PropertyUnit};
pub use rule::{
    Amount, CautionRule, Group, JointCaution, Measure, OnlyAs, Stage, Threshold, ThresholdSubject,
};
pub use source::{DateIs, Source, Status};
pub use substance::{AsAcid, Constituent, Substance};
