//! What the calculations need to know of a material. The caller fills it from its own records; whatever is
//! left out makes the figures that need it unknown, never guessed.

use rust_decimal::Decimal;

use crate::{
    Density, Fraction, Sourced, Text, Unknown, alcohol,
    number::{from_f64, to_f64},
    words::words,
};

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
    /// Of a solid that dissolves, such as sugar, its density in the solution: what it weighs over what it adds to the volume.
    /// A spoonful of it is never weighed by this, since there is air in it.
    pub dissolved: Option<Sourced<Density>>,
    /// Drops in a millilitre, counted with the clinic's own dropper.
    pub drops_per_ml: Option<Sourced<Decimal>>,
    /// Of a herb, whether it is dried or fresh; a herb without it counts as dried.
    pub herb: Option<HerbState>,
    /// Ethanol by volume at 20 °C, of a spirit or tincture bought in.
    pub ethanol_by_volume: Option<Sourced<Fraction>>,
    /// Water by mass, of what is a solution: vinegar, honey, syrup, milk. A herb's stands in [`HerbState`].
    pub water: Option<Sourced<Fraction>>,
}

/// How much of a material is ethanol and how much is water, by mass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Solution {
    /// Ethanol.
    pub ethanol: Decimal,
    /// Water.
    pub water: Decimal,
}

impl MaterialFacts {
    /// A material of which only id, name and kind are known.
    pub fn new(id: impl Into<Text>, name: impl Into<Text>, kind: MaterialKind) -> Self {
        Self {
            id: id.into(),
            name: name.into(),
            kind,
            density: None,
            dissolved: None,
            drops_per_ml: None,
            herb: None,
            ethanol_by_volume: None,
            water: None,
        }
    }

    /// How much of it is ethanol and how much is water.
    ///
    /// The rest of a spirit is water. The tenth of water that a dried herb, a powder or a wax keeps is bound in it and
    /// is no solution.
    ///
    /// # Errors
    /// The strength of a spirit, or the water of a fresh herb, that is not known.
    pub fn solution(&self) -> Result<Solution, Unknown> {
        if let Some(strength) = &self.ethanol_by_volume {
            let by_mass = alcohol::by_mass(to_f64(strength.value.get()), 20.0).ok().and_then(from_f64);
            let ethanol = by_mass.ok_or_else(|| Unknown::of(format!("strength of {}", self.name)))?;
            return Ok(Solution { ethanol, water: Decimal::ONE - ethanol });
        }
        let water = match (self.kind, &self.herb, &self.water) {
            (MaterialKind::Ethanol, ..) => return Err(Unknown::of(format!("strength of {}", self.name))),
            (kind, ..) if kind.is_water() => Decimal::ONE,
            (_, Some(HerbState::Fresh { water: Some(water), .. }), _) => water.value.get(),
            (_, Some(HerbState::Fresh { water: None, .. }), _) => {
                return Err(Unknown::of(format!("water content of {}, fresh", self.name)));
            }
            (_, Some(HerbState::Dried), _) | (MaterialKind::Herb, None, _) | (_, None, None) => Decimal::ZERO,
            (_, None, Some(water)) => water.value.get(),
        };
        Ok(Solution { ethanol: Decimal::ZERO, water })
    }

    /// Whether it is nothing but ethanol and water, which take less room together than apart.
    #[must_use]
    pub const fn contracts(&self) -> bool {
        self.ethanol_by_volume.is_some() || self.kind.is_water() || matches!(self.kind, MaterialKind::Ethanol)
    }

    /// The same with the water of a solution.
    #[must_use]
    pub fn with_water(mut self, water: Sourced<Fraction>) -> Self {
        self.water = Some(water);
        self
    }

    /// The same with a density.
    #[must_use]
    pub fn with_density(mut self, density: Sourced<Density>) -> Self {
        self.density = Some(density);
        self
    }
}
