//! The kinds of preparation, and which of them are strained or pressed from their herbs.

use crate::words::words;

words! {
    /// The kind of a preparation.
    Preparation, "preparation" {
        Cream = "cream",
        Ointment = "ointment",
        Salve = "salve",
        Balm = "balm",
        Lotion = "lotion",
        Liniment = "liniment",
        InfusedOil = "infused oil",
        Tincture = "tincture",
        Succus = "succus",
        Glycerite = "glycerite",
        Infusion = "infusion",
        Decoction = "decoction",
        AromaticWater = "aromatic water",
        Syrup = "syrup",
        Oxymel = "oxymel",
        Compress = "compress",
        Poultice = "poultice",
        /// Dry herbs mixed by parts, from which a tea is made.
        TeaBlend = "tea blend",
        Powder = "powder",
        Capsule = "capsule",
        /// A lozenge or pastille.
        Lozenge = "lozenge",
        /// Powdered herb in honey or syrup.
        Electuary = "electuary",
        /// A herb drawn out with vinegar.
        Acetum = "acetum",
        Gel = "gel",
        LipBalm = "lip balm",
        /// What is put into a bath.
        Bath = "bath",
        /// A gargle or mouthwash.
        Gargle = "gargle",
        /// What is put into hot water, to breathe its steam.
        Steam = "steam",
    }
}

impl Preparation {
    /// Whether herbs in it are taken out again by straining, pressing or distilling: what is made holds what
    /// they gave off, and the marc is left behind. A poultice, a salve or a cream keeps what is put in.
    #[must_use]
    pub const fn leaves_marc(self) -> bool {
        matches!(
            self,
            Self::InfusedOil
                | Self::Tincture
                | Self::Succus
                | Self::Glycerite
                | Self::Infusion
                | Self::Decoction
                | Self::AromaticWater
                | Self::Syrup
                | Self::Oxymel
                | Self::Compress
                | Self::Acetum
                | Self::Gargle
        )
    }

    /// Whether it may be dry and loose, so that air fills part of its volume.
    #[must_use]
    pub const fn may_be_loose(self) -> bool {
        matches!(
            self,
            Self::TeaBlend | Self::Powder | Self::Capsule | Self::Lozenge | Self::Bath | Self::Steam
        )
    }

    /// Whether its marc is pressed, so that part of the menstruum stays in it.
    #[must_use]
    pub const fn is_pressed(self) -> bool {
        matches!(self, Self::InfusedOil | Self::Tincture | Self::Glycerite | Self::Oxymel)
    }

    /// Whether the menstruum is oil, so that a fresh herb's own water does not join it.
    #[must_use]
    pub const fn extracts_with_oil(self) -> bool {
        matches!(self, Self::InfusedOil)
    }
}
