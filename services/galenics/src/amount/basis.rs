//! What a share is a share of.

use crate::words::words;

words! {
    /// What a share is a share of.
    Basis, "basis" {
        /// Mass in mass.
        MassInMass = "w/w",
        /// Grams in 100 mL.
        MassInVolume = "w/v",
        /// Volume in volume.
        VolumeInVolume = "v/v",
        /// Not stated: taken as mass in mass, and the explanation says so.
        Unstated = "not stated",
    }
}
