//! The clinic's own rules.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::words::words;

words! {
    /// Which cups, spoons and fluid ounces are meant when an amount does not say.
    Customary {
        /// United States customary measures.
        Us = "us",
        /// Imperial measures.
        Imperial = "imperial",
        /// Metric cup of 250 mL and spoons of 5 and 15 mL.
        Metric = "metric",
    }
}

/// A rule set for use-by dates that the clinic has switched off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DatingSetOff {
    /// Its key.
    #[schema(example = "compounding-2014")]
    pub set: String,
    /// Why: 1 to 200 characters.
    #[schema(example = "Not in force in this country.")]
    pub reason: String,
}

/// Drops in a millilitre from the clinic's own dropper, by kind of liquid: 5 to 200. A material's own record goes before it;
/// for what is left out 20 is taken of water (USP <1101>) and of essential oils (common practice), and nothing of the rest.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DropsPerMl {
    /// Of what is mostly water: waters, infusions, decoctions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "20")]
    pub water: Option<String>,
    /// Of spirits and tinctures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "45")]
    pub spirit: Option<String>,
    /// Of fixed oils and infused oils.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "30")]
    pub oil: Option<String>,
    /// Of essential oils.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "25")]
    pub essential_oil: Option<String>,
    /// Of glycerol and glycerites.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "24")]
    pub glycerol: Option<String>,
}

/// The rules that are in force, or a new version of them.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PolicyContent {
    /// The clinic's name, as it stands on labels.
    #[schema(example = "Teaching clinic at the old stillroom")]
    pub clinic_name: String,
    /// The notice that stands on every page and label with a recipe.
    #[schema(
        example = "Ask a doctor or midwife first in pregnancy or with other medicines. Patch-test first."
    )]
    pub notice: String,
    /// The clinic's time zone (IANA name).
    #[schema(example = "Europe/Berlin")]
    pub time_zone: String,
    /// The currency of prices (ISO 4217).
    #[schema(example = "EUR")]
    pub currency: String,
    /// Which household measures are meant when an amount does not say.
    pub customary: Customary,
    /// Whether an approval needs a second person. Switch it off only in a clinic with one instructor.
    pub second_person: bool,
    /// How many days an acknowledgement lasts: 1 to 3650.
    #[schema(example = 180)]
    pub acknowledgement_days: u16,
    /// Audiences for whom a recipe is released only with an instructor's countersignature: `pregnant`,
    /// `breast-feeding`, `under:3y`, `allergy:GROUP`, `condition:WORD`.
    #[serde(default)]
    #[schema(example = json!(["pregnant", "under:3y"]))]
    pub countersign_audiences: Vec<String>,
    /// The tolerance of a weighing, in per cent of the target.
    #[schema(example = "2")]
    pub tolerance_percent: String,
    /// The same for lines whose function is active or preservative.
    #[schema(example = "1")]
    pub active_tolerance_percent: String,
    /// Rule sets for use-by dates that do not date anything in this clinic, each with the recorded reason. Every answer
    /// that dates something repeats them. What is unpreserved and watery keeps its fourteen days all the same.
    #[serde(default)]
    pub dating_sets_off: Vec<DatingSetOff>,
    /// Drops in a millilitre from the clinic's own dropper. A formula keeps those that were in force when it was saved.
    #[serde(default)]
    pub drops_per_ml: DropsPerMl,
    /// Why the rules were changed.
    #[schema(example = "Half a year between acknowledgements is what the teachers agreed on.")]
    pub reason: String,
}

/// A version of the clinic's rules.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Policy {
    /// The version; a batch names the one it was made under.
    pub version: u32,
    /// The rules.
    pub content: PolicyContent,
    /// When they came into force.
    pub made_at: DateTime<Utc>,
}
