//! How a rule binds: its force, and the use, part of the body, purpose and basis that it distinguishes.

use crate::caution::Audience;
use crate::source::{Source, Status};
use crate::words::words;
use serde::{Deserialize, Serialize};

words! {
    /// How binding a limit is.
    pub enum Force {
        /// The law of the jurisdiction named.
        Law = "law",
        /// The opinion or monograph of an official body; not law in itself.
        Opinion = "opinion",
        /// A figure of textbooks or of the trade.
        Convention = "convention",
        /// The strength that a monograph speaks of: beyond it lies what nobody has described, not a known harm.
        Dosage = "dosage",
    }
}

words! {
    /// How the product meets the body, as limits distinguish it.
    pub enum Exposure {
        /// Every product.
        Any = "any",
        /// Stays on the skin.
        LeaveOn = "leave-on",
        /// Stays on the skin and is meant for the sun: protection or bronzing.
        SunProduct = "sun-product",
        /// Is washed off.
        RinseOff = "rinse-off",
        /// Is swallowed or held in the mouth.
        ByMouth = "by-mouth",
        /// Is breathed in, sprayed or added to steam.
        Inhaled = "inhaled",
        /// Is held against mucous membranes other than the mouth.
        Mucosa = "mucosa",
    }
}

words! {
    /// The part of the body, as limits distinguish it.
    pub enum Site {
        /// Anywhere.
        Any = "any",
        /// Skin other than the face.
        Body = "body",
        /// The face.
        Face = "face",
        /// The lips.
        Lips = "lips",
        /// Hair and scalp.
        Hair = "hair",
        /// The eyelids and around the eyes.
        Eyes = "eyes",
        /// The armpits.
        Armpits = "armpits",
        /// The hands.
        Hands = "hands",
    }
}

words! {
    /// What the substance is put in for, as limits distinguish it.
    pub enum Purpose {
        /// For whatever reason.
        Any = "any",
        /// To preserve the product.
        Preservative = "preservative",
        /// For any reason but to preserve the product.
        OtherThanPreservative = "other-than-preservative",
    }
}

words! {
    /// What a maximum counts.
    pub enum Basis {
        /// The substance or material as it is weighed.
        AsIs = "as-is",
        /// The acid that it and its salts hold: a limit on the acid sums them all, a limit on one salt or ester
        /// counts that one, each multiplied by its [`crate::AsAcid::factor`].
        AsAcid = "as-acid",
        /// The dried herb that the product represents.
        AsDriedHerb = "as-dried-herb",
        /// Any trace of the substance in any material, a herb that is drawn out among them.
        AnyTrace = "any-trace",
        /// The substance put in as such; what plants hold of it by nature is not meant.
        AsSuch = "as-such",
    }
}

/// A material that a regime prohibits, as the material carries it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Prohibition {
    /// Key of the limit row.
    pub key: String,
    /// Key of the regime.
    pub regime: String,
    /// Where it binds.
    pub jurisdiction: String,
    /// How binding it is there.
    pub force: Force,
    /// The kind of product that is meant.
    pub exposure: Exposure,
    /// Whom it protects; `Everyone` for a plain prohibition.
    pub audience: Audience,
    /// What else the rule says.
    pub note: Option<String>,
    /// The rule, with its entry.
    pub source: Source,
    /// How far it was checked.
    pub status: Status,
}
