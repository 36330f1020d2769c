//! Emulsions.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Ingredient, questions};

questions! {
    /// A question about emulsions: name one.
    #[schema(example = json!({ "required_hlb": { "emulsion": "oil-in-water", "oils": [
    { "material": "white beeswax", "amount": "15 g" },
    { "material": "isopropyl myristate", "amount": "75 g", "hlb": "11.5" }] } }))]
    EmulsionQuestion {
        /// The HLB that an oil phase requires.
        RequiredHlb(RequiredHlb) = required_hlb,
        /// The HLB that emulsifiers have together.
        EmulsifierHlb(EmulsifierHlb) = emulsifier_hlb,
        /// The blend of two emulsifiers that has a wanted HLB.
        Blend(EmulsifierBlend) = blend,
        /// The HLB of one emulsifier, from the molar masses of its hydrophilic part and of the whole (Griffin).
        GriffinByMass(GriffinByMass) = griffin_by_mass,
        /// The HLB of one emulsifier, from saponification and acid number (Griffin).
        GriffinBySaponification(GriffinBySaponification) = griffin_by_saponification,
        /// The HLB of one emulsifier, from its oxyethylene and polyhydric alcohol (Griffin).
        GriffinByComposition(GriffinByComposition) = griffin_by_composition,
        /// The soap that an alkali forms with the acids of a wax.
        Soap(SoapQuestion) = soap,
        /// The likely type of an emulsion, and what to look at for its stability.
        Advice(EmulsionAdvice) = advice,
    }
}

/// An oil phase.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RequiredHlb {
    /// `oil-in-water` or `water-in-oil`: what is required differs between them.
    #[schema(example = "oil-in-water")]
    pub emulsion: String,
    /// The oils, waxes and butters; from 1 to 50.
    pub oils: Vec<HlbPart>,
}

/// Emulsifiers.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EmulsifierHlb {
    /// The emulsifiers; from 1 to 50.
    #[schema(example = json!([
        { "material": "polysorbate 80", "amount": "30 g" }, { "material": "sorbitan oleate", "amount": "20 g" }]))]
    pub emulsifiers: Vec<HlbPart>,
}

/// One oil or emulsifier: a material whose value the materia medica has, or any name with its value.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HlbPart {
    /// A material of the materia medica, or any name where `hlb` is given.
    #[schema(example = "white beeswax")]
    pub material: String,
    /// How much of it, by mass.
    #[schema(example = "15 g")]
    pub amount: String,
    /// Its value, where the materia medica has none or another is to be taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "12")]
    pub hlb: Option<String>,
}

/// Two emulsifiers and the HLB wanted of them.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EmulsifierBlend {
    /// One emulsifier: its HLB, or its name in the materia medica.
    #[schema(example = "polysorbate 80")]
    pub one: String,
    /// The other, in the same way.
    #[schema(example = "4.3")]
    pub other: String,
    /// The HLB wanted of the two together.
    #[schema(example = "10")]
    pub target: String,
    /// How much of the two is wanted in all, by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "50 g")]
    pub amount: Option<String>,
}

/// Molar masses in g/mol.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GriffinByMass {
    /// Of the hydrophilic part.
    #[schema(example = "880")]
    pub hydrophilic: String,
    /// Of the whole molecule.
    #[schema(example = "1310")]
    pub whole: String,
}

/// Saponification and acid number in mg KOH/g.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GriffinBySaponification {
    /// The saponification number of the ester.
    #[schema(example = "45.5")]
    pub saponification: String,
    /// The acid number of its fatty acid.
    #[schema(example = "276")]
    pub acid: String,
}

/// Shares by mass.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GriffinByComposition {
    /// Of oxyethylene.
    #[schema(example = "65.1 %")]
    pub oxyethylene: String,
    /// Of polyhydric alcohol.
    #[schema(example = "6.7 %")]
    pub alcohol: String,
}

/// A wax and an alkali.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SoapQuestion {
    /// The wax, by mass.
    #[schema(example = "120 g")]
    pub wax: String,
    /// Its acid value in mg KOH/g; where it is left out, name the material.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "20")]
    pub acid_value: Option<String>,
    /// Instead of the acid value: the material, whose acid value the materia medica may know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub material: Option<String>,
    /// `borax`, `sodium hydroxide`, `potassium hydroxide`, `sodium bicarbonate` or `triethanolamine`.
    #[schema(example = "borax")]
    pub alkali: String,
    /// How much alkali, by mass.
    #[schema(example = "5 g")]
    pub mass: String,
}

/// The composition of an emulsion.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EmulsionAdvice {
    /// The ingredients; from 1 to 200.
    #[schema(example = json!([
        { "material": "white beeswax", "amount": "120 g" }, { "material": "sweet almond oil", "amount": "560 g" },
        { "material": "borax", "amount": "5 g" }, { "material": "purified water", "amount": "q.s. 1000 g" }]))]
    pub lines: Vec<Ingredient>,
    /// The type that is wanted, `oil-in-water` or `water-in-oil`: what the oils require differs; oil-in-water where it
    /// is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "oil-in-water")]
    pub emulsion: Option<String>,
    /// How warm the oil phase is when the two are put together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "70 C")]
    pub oil_phase: Option<String>,
    /// How warm the water phase is when the two are put together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "62 C")]
    pub water_phase: Option<String>,
    /// How many g of water a g of the emulsifiers carries, by their maker or by trial.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub water_carried: Option<String>,
}
