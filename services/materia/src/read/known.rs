//! The keys of the data set.

use crate::table::Keys;

/// The keys that rows of other files may refer to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Known {
    pub(crate) regimes: Keys,
    pub(crate) groups: Keys,
    pub(crate) substances: Keys,
    pub(crate) species: Keys,
    pub(crate) families: Keys,
    pub(crate) preparations: Keys,
    pub(crate) routes: Keys,
    pub(crate) materials: Keys,
}
