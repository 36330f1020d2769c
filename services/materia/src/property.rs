//! Measured properties of materials, each with its unit, temperature and source.

use crate::source::{Source, Status};
use crate::words::words;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

words! {
    /// A property that a row of `properties.csv` may state.
    pub enum Property {
        /// Mass of a volume.
        Density = "density",
        /// Range within which the solid melts.
        Melting = "melting",
        /// Temperature at which a molten drop falls, by the pharmacopoeial method.
        DropPoint = "drop-point",
        /// Water in the fresh herb.
        WaterFresh = "water-fresh",
        /// Water that a fresh herb keeps once it is dried.
        WaterDried = "water-dried",
        /// Water in the material as supplied.
        Water = "water",
        /// Ethanol in the material as supplied.
        Ethanol = "ethanol",
        /// Hydrophilic-lipophilic balance of an emulsifier.
        Hlb = "hlb",
        /// Balance that an oil phase asks for in an oil-in-water emulsion.
        RequiredHlbOilInWater = "required-hlb-ow",
        /// Balance that an oil phase asks for in a water-in-oil emulsion.
        RequiredHlbWaterInOil = "required-hlb-wo",
        /// Free acid, as potassium hydroxide.
        AcidValue = "acid-value",
        /// Bound acid, as potassium hydroxide.
        EsterValue = "ester-value",
        /// Free and bound acid, as potassium hydroxide.
        SaponificationValue = "saponification-value",
        /// Share of the whole that the trade uses.
        UseRate = "use-rate",
        /// Drops in a millilitre, from a stated dropper.
        Drops = "drops",
    }
}

words! {
    /// A unit that a property may be stated in.
    pub enum PropertyUnit {
        /// Grams per millilitre.
        GramsPerMillilitre = "g/mL",
        /// Relative density, material and water both at 15.5 °C.
        RelativeAt15_5 = "SG 15.5/15.5",
        /// Relative density, material and water both at 20 °C.
        RelativeAt20 = "SG 20/20",
        /// Relative density, material and water both at 25 °C.
        RelativeAt25 = "SG 25/25",
        /// Relative density, material at 40 °C and water at 20 °C.
        Relative40To20 = "SG 40/20",
        /// Degrees Celsius.
        Celsius = "C",
        /// Per cent by mass.
        PercentByMass = "% w/w",
        /// Per cent by volume at 20 °C.
        PercentByVolume = "% v/v",
        /// A number on the HLB scale.
        Hlb = "HLB",
        /// Drops in a millilitre.
        DropsPerMillilitre = "drops/mL",
        /// Milligrams of potassium hydroxide per gram.
        MilligramsKohPerGram = "mg KOH/g",
    }
}

impl Property {
    /// The units that this property may be stated in.
    #[must_use]
    pub const fn units(self) -> &'static [PropertyUnit] {
        use PropertyUnit as U;
        match self {
            Self::Density => &[
                U::GramsPerMillilitre,
                U::RelativeAt15_5,
                U::RelativeAt20,
                U::RelativeAt25,
                U::Relative40To20,
            ],
            Self::Melting | Self::DropPoint => &[U::Celsius],
            Self::WaterFresh | Self::WaterDried | Self::Water | Self::UseRate => &[U::PercentByMass],
            Self::Drops => &[U::DropsPerMillilitre],
            Self::Ethanol => &[U::PercentByVolume],
            Self::Hlb | Self::RequiredHlbOilInWater | Self::RequiredHlbWaterInOil => &[U::Hlb],
            Self::AcidValue | Self::EsterValue | Self::SaponificationValue => &[U::MilligramsKohPerGram],
        }
    }
}

/// A property as published: a range, a single value (then both ends are equal) or both.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Measured {
    /// Lower end of the published range.
    pub low: Decimal,
    /// The value to calculate with: the published one, or the middle of the published range.
    pub value: Decimal,
    /// Upper end of the published range.
    pub high: Decimal,
    /// Unit of all three.
    pub unit: PropertyUnit,
    /// Temperature of the material in °C, where the property depends on it.
    pub at_celsius: Option<Decimal>,
    /// Where it was published.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

/// A density ready to calculate with, beside the figure as published.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Density {
    /// Grams per millilitre at `at_celsius`. A published relative density has been multiplied by the density of
    /// water at its reference temperature.
    pub g_per_ml: Decimal,
    /// Lower end of the published range, g/mL.
    pub low_g_per_ml: Decimal,
    /// Upper end of the published range, g/mL.
    pub high_g_per_ml: Decimal,
    /// Temperature of the material in °C.
    pub at_celsius: Decimal,
    /// The figure as published, with its unit: `0.910 to 0.915, SG 25/25`.
    pub as_published: String,
    /// Where it was published.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}

impl PropertyUnit {
    /// Temperature of the material and density of water at the reference temperature, g/mL, for a relative
    /// density; `None` for any other unit.
    ///
    /// Water: M. Tanaka and others, Metrologia 38 (2001) 301, the formula recommended by the CIPM, at 15.556,
    /// 20 and 25 °C, rounded to six decimals.
    #[must_use]
    pub fn relative_to_water(self) -> Option<(Decimal, Decimal)> {
        match self {
            Self::RelativeAt15_5 => Some((Decimal::new(156, 1), Decimal::new(999_017, 6))),
            Self::RelativeAt20 => Some((Decimal::new(20, 0), Decimal::new(998_207, 6))),
            Self::RelativeAt25 => Some((Decimal::new(25, 0), Decimal::new(997_047, 6))),
            Self::Relative40To20 => Some((Decimal::new(40, 0), Decimal::new(998_207, 6))),
            Self::GramsPerMillilitre
            | Self::Celsius
            | Self::PercentByMass
            | Self::PercentByVolume
            | Self::Hlb
            | Self::DropsPerMillilitre
            | Self::MilligramsKohPerGram => None,
        }
    }
}
