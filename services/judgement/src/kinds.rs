//! Properties of a kind of preparation that its dating depends on: water content and state.

use galenics::use_by::WaterActivity;
use galenics::{Decimal, Preparation, Sourced};
use materia::{Holds, Materia};

/// The water activity for dating. A measured activity decides; otherwise the kind does, if it always or never holds
/// water.
#[must_use]
pub fn water(reference: &Materia, preparation: &str, measured: Option<Sourced<Decimal>>) -> WaterActivity {
    if let Some(activity) = measured {
        return WaterActivity::Measured(activity);
    }
    match reference.preparation(preparation).map(|known| known.aqueous) {
        Some(Holds::Always) => WaterActivity::ByClass { watery: true },
        Some(Holds::Never) => WaterActivity::ByClass { watery: false },
        Some(Holds::Depends) | None => WaterActivity::NotKnown,
    }
}

/// Whether a kind that mostly holds water may be made without any, so that its composition decides: a cream of oil and wax.
/// What is drawn out with water never is.
#[must_use]
pub const fn may_hold_none(preparation: Preparation) -> bool {
    matches!(preparation, Preparation::Cream | Preparation::Lotion | Preparation::Gel)
}

/// Whether a kind of preparation is liquid by default.
#[must_use]
pub const fn is_liquid(preparation: Preparation) -> bool {
    match preparation {
        Preparation::Lotion
        | Preparation::Liniment
        | Preparation::InfusedOil
        | Preparation::Tincture
        | Preparation::Succus
        | Preparation::Glycerite
        | Preparation::Infusion
        | Preparation::Decoction
        | Preparation::AromaticWater
        | Preparation::Syrup
        | Preparation::Oxymel
        | Preparation::Acetum
        | Preparation::Gargle => true,
        Preparation::Cream
        | Preparation::Ointment
        | Preparation::Salve
        | Preparation::Balm
        | Preparation::Compress
        | Preparation::Poultice
        | Preparation::TeaBlend
        | Preparation::Powder
        | Preparation::Capsule
        | Preparation::Lozenge
        | Preparation::Electuary
        | Preparation::Gel
        | Preparation::LipBalm
        | Preparation::Bath
        | Preparation::Steam => false,
    }
}
