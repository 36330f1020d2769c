//! What the calculations need to know of a material. The caller fills it from its own records; whatever is
//! left out makes the figures that need it unknown, never guessed.

use rust_decimal::Decimal;

use crate::{Density, Fraction, Sourced, Text, words::words};

words! {
    /// What a material is, as far as calculations care.
    MaterialKind, "kind of material" {
        Herb = "herb",
        FixedOil = "fixed oil",
        Butter = "butter",
        /// Soft and liquid paraffin and the like.
        Hydrocarbon = "hydrocarbon",
        Wax = "wax",
        FattyAlcohol = "fatty alcohol",
        FattyAcid = "fatty acid",
        Emulsifier = "emulsifier",
        EssentialOil = "essential oil",
        Water = "water",
        /// Mostly water: aromatic waters, juices, vinegar.
        WateryBase = "watery base",
        Ethanol = "ethanol",
        /// Solvents other than water and ethanol.
        Solvent = "solvent",
        Humectant = "humectant",
        Sugar = "sugar",
        Preservative = "preservative",
        Antioxidant = "antioxidant",
        Salt = "salt",
        Acid = "acid",
        Alkali = "alkali",
        Resin = "resin",
        Gum = "gum",
        Powder = "powder",
        /// Wool fat, spermaceti, egg and the like.
        AnimalProduct = "animal product",
        Other = "other",
    }
}

impl MaterialKind {
    /// Whether it counts into the oil of an emulsion: oils, butters, paraffins, waxes, fatty alcohols and
    /// acids, and essential oils.
    #[must_use]
    pub const fn is_oil(self) -> bool {
        matches!(
            self,
            Self::FixedOil
                | Self::Butter
                | Self::Hydrocarbon
                | Self::Wax
                | Self::FattyAlcohol
                | Self::FattyAcid
                | Self::EssentialOil
        )
    }

    /// Whether it counts into the water of an emulsion.
    #[must_use]
    pub const fn is_water(self) -> bool {
        matches!(self, Self::Water | Self::WateryBase)
    }
}

words! {
    /// What a line of a formula is for.
    Function, "function" {
        Active = "active",
        Vehicle = "vehicle",
        Solvent = "solvent",
        Emulsifier = "emulsifier",
        Emollient = "emollient",
        StiffeningAgent = "stiffening agent",
        Thickener = "thickener",
        Humectant = "humectant",
        Preservative = "preservative",
        Antioxidant = "antioxidant",
        Acidifier = "acidifier",
        Alkali = "alkali",
        Sweetener = "sweetener",
        Fragrance = "fragrance",
        Colour = "colour",
        Other = "other",
    }
}

/// Whether a herb is dried or fresh.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HerbState {
    /// Dried: it counts as it is weighed.
    Dried,
    /// Fresh: it counts as m (1 - water) / (1 - water of the dried herb).
    Fresh {
        /// The water of the fresh herb, w/w.
        water: Option<Sourced<Fraction>>,
        /// The water that the dried herb keeps, w/w.
        dried_water: Option<Sourced<Fraction>>,
    },
}

/// What the calculations need to know of a material.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaterialFacts {
    /// The caller's id, the same wherever the material is used.
    pub id: Text,
    /// The name shown in explanations.
    pub name: Text,
    /// What it is.
    pub kind: MaterialKind,
    /// Its density.
    pub density: Option<Sourced<Density>>,
    /// Drops in a millilitre, counted with the clinic's own dropper.
    pub drops_per_ml: Option<Sourced<Decimal>>,
    /// Of a herb, whether it is dried or fresh; a herb without it counts as dried.
    pub herb: Option<HerbState>,
    /// Ethanol by volume at 20 °C, of a spirit or tincture bought in.
    pub ethanol_by_volume: Option<Sourced<Fraction>>,
}

impl MaterialFacts {
    /// A material of which only id, name and kind are known.
    pub fn new(id: impl Into<Text>, name: impl Into<Text>, kind: MaterialKind) -> Self {
        Self {
            id: id.into(),
            name: name.into(),
            kind,
            density: None,
            drops_per_ml: None,
            herb: None,
            ethanol_by_volume: None,
        }
    }

    /// The same with a density.
    #[must_use]
    pub fn with_density(mut self, density: Sourced<Density>) -> Self {
        self.density = Some(density);
        self
    }
}
