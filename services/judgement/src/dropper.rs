//! Drops in a millilitre: the material's own record first, then the clinic's own dropper by kind of liquid, then what is known
//! of water and usual with essential oils. Never here: a number for a liquid of which nobody recorded one.

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

/// Drops in a millilitre where neither the material nor the clinic's dropper tells them: known of water, and a habit of the trade with
/// essential oils, whose droppers give 20 to 40, so that the mass is not too little. `None` for anything else, since
/// spirit and oil drop otherwise.
pub(crate) fn usual(kind: MaterialKind) -> Option<Sourced<Decimal>> {
    static WATER: Source = Source::fixed(
        "USP <1101>: a drop of water from the official dropper weighs 45 to 55 mg, 20 in a mL",
        Status::Verified,
    );
    static ESSENTIAL: Source =
        Source::fixed("20 drops of essential oil counted as 1 mL; droppers differ", Status::CommonPractice);
    let source = match kind {
        MaterialKind::Water | MaterialKind::WateryBase => &WATER,
        MaterialKind::EssentialOil => &ESSENTIAL,
        _ => return None,
    };
    Some(Sourced::new(Decimal::from(20), source.clone()))
}
