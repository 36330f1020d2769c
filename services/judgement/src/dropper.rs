//! Drops in a millilitre from the clinic's own dropper, by kind of liquid. A material's own record goes before them, and what
//! is published or usual stands behind them ([`crate::facts`]). Never here: a number for a liquid that the clinic did not count.

use galenics::{Decimal, MaterialKind, Preparation, Source, Sourced, Status};
use materia::Material;

use crate::facts;
use crate::written::Dropper;

impl Dropper {
    /// The clinic's drops of a material; `None` where the material has a record of its own, or the clinic counted none.
    #[must_use]
    pub fn of_material(&self, material: &Material) -> Option<Sourced<Decimal>> {
        if material.drops_per_ml.is_some() {
            return None;
        }
        let counted = match facts::kind(material) {
            _ if material.key == "glycerol" => &self.glycerol,
            MaterialKind::Water | MaterialKind::WateryBase => &self.water,
            MaterialKind::Ethanol => &self.spirit,
            MaterialKind::FixedOil => &self.oil,
            MaterialKind::EssentialOil => &self.essential_oil,
            _ => return None,
        };
        self.counted(counted.as_ref())
    }

    /// The clinic's drops of what a kind of preparation makes; `None` where the kind does not tell which liquid it is.
    #[must_use]
    pub fn of_preparation(&self, preparation: Preparation) -> Option<Sourced<Decimal>> {
        let counted = match preparation {
            Preparation::Tincture => &self.spirit,
            Preparation::InfusedOil => &self.oil,
            Preparation::Glycerite => &self.glycerol,
            Preparation::Infusion | Preparation::Decoction | Preparation::AromaticWater => &self.water,
            _ => return None,
        };
        self.counted(counted.as_ref())
    }

    fn counted(&self, counted: Option<&String>) -> Option<Sourced<Decimal>> {
        let drops: Decimal = counted?.parse().ok()?;
        let source = format!("the clinic's own dropper, policy version {}", self.policy);
        Some(Sourced::new(drops, Source::new(source, Status::Entered)))
    }
}
