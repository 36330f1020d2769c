//! A material as a clinic writes it: one flat entry, as it stands in a row of a table, made whole by what the
//! reference data say of its species, family, kind and constituents.

mod reader;

use crate::caution::{Audience, Evidence, OWN, Origin};
use crate::material::Material;
use crate::property::Measured;
use serde::{Deserialize, Serialize};

/// What a clinic says of a material. Every field is text as it was typed; an empty one says nothing.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Entry {
    /// English name, unique.
    pub name: String,
    /// A word of [`MaterialKind`](crate::MaterialKind).
    pub kind: String,
    /// Other names.
    pub synonyms: Vec<String>,
    /// Name on a cosmetic's list of ingredients.
    pub inci: Option<String>,
    /// Botanical name without author.
    pub botanical_name: Option<String>,
    /// Author of the botanical name; needed for a species that the reference data do not hold.
    pub botanical_author: Option<String>,
    /// Botanical family; needed for a species that the reference data do not hold.
    pub family: Option<String>,
    /// Part of the plant.
    pub part: Option<String>,
    /// A word of [`State`](crate::State); needed for a herb.
    pub state: Option<String>,
    /// Grams per millilitre.
    pub density_g_per_ml: Option<String>,
    /// The temperature of that density, degrees Celsius.
    pub density_at_celsius: Option<String>,
    /// Water in the material as supplied, per cent by mass.
    pub water_percent: Option<String>,
    /// Water in the fresh herb, per cent by mass.
    pub fresh_water_percent: Option<String>,
    /// Water that the fresh herb keeps once it is dried, per cent by mass.
    pub dried_water_percent: Option<String>,
    /// Ethanol in the material as supplied, per cent by volume at 20 °C.
    pub ethanol_percent_by_volume: Option<String>,
    /// Drops in a millilitre, counted with the clinic's dropper.
    pub drops_per_ml: Option<String>,
    /// The emulsifier's balance.
    pub hlb: Option<String>,
    /// The balance that it asks for in an oil-in-water emulsion.
    pub required_hlb: Option<String>,
    /// Keys of allergy groups that it belongs to of itself.
    pub allergy_groups: Vec<String>,
    /// A word of [`Finding`](crate::Finding); nothing said counts as `no-data`.
    pub pregnancy: Option<String>,
    /// A word of [`Finding`](crate::Finding); nothing said counts as `no-data`.
    pub breast_feeding: Option<String>,
    /// What it holds.
    pub constituents: Vec<EntryConstituent>,
    /// Cautions of its own.
    pub cautions: Vec<EntryCaution>,
    /// Where all of this comes from.
    pub source: String,
    /// A word of [`Status`](crate::Status), with spaces or underscores.
    pub status: String,
}

/// How much of a substance a material holds, per cent by mass.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct EntryConstituent {
    /// Key of the substance.
    pub substance: String,
    /// Lower end of the range.
    pub low_percent: String,
    /// Upper end of the range.
    pub high_percent: String,
}

/// A caution of a material's own.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct EntryCaution {
    /// A word of [`Level`](crate::Level).
    pub level: String,
    /// Whom it is for.
    pub audiences: Vec<String>,
    /// What it says, without any figure of a formula.
    pub text: String,
}

/// A field of an entry that was not accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryRefusal {
    /// The field, as a JSON pointer within the entry.
    pub field: String,
    /// What is accepted.
    pub detail: String,
}

impl Entry {
    /// The entry that a material would be written as: what [`Materia::complete`](crate::Materia::complete) reads back without a change.
    #[must_use]
    pub fn of(material: &Material) -> Self {
        let number =
            |measured: &Option<Measured>| measured.as_ref().map(|it| it.value.normalize().to_string());
        let first = |values: &[Measured]| values.first().map(|it| it.value.normalize().to_string());
        let species = material.botanical.as_ref().map(|botanical| &botanical.species);
        let said =
            |audience: Audience| general(&material.evidence, &audience).map(|it| it.finding.to_string());
        Self {
            name: material.name.clone(),
            kind: material.kind.to_string(),
            synonyms: material.synonyms.clone(),
            inci: material.inci.clone(),
            botanical_name: species.map(|species| species.name.clone()),
            botanical_author: species.map(|species| species.author.clone()),
            family: species.map(|species| species.family.clone()),
            part: material.botanical.as_ref().map(|botanical| botanical.part.clone()),
            state: material.botanical.as_ref().and_then(|botanical| botanical.state).map(|it| it.to_string()),
            density_g_per_ml: material.density.as_ref().map(|it| it.g_per_ml.normalize().to_string()),
            density_at_celsius: material.density.as_ref().map(|it| it.at_celsius.normalize().to_string()),
            water_percent: number(&material.water_content),
            fresh_water_percent: number(&material.water_content_fresh),
            dried_water_percent: number(&material.water_content_dried),
            ethanol_percent_by_volume: number(&material.ethanol),
            drops_per_ml: number(&material.drops_per_ml),
            hlb: first(&material.hlb.own),
            required_hlb: first(&material.hlb.required_oil_in_water),
            allergy_groups: material
                .allergy_groups
                .iter()
                .filter(|membership| membership.origin == Origin::Itself)
                .map(|membership| membership.group.clone())
                .collect(),
            pregnancy: said(Audience::Pregnant),
            breast_feeding: said(Audience::BreastFeeding),
            constituents: material
                .constituents
                .iter()
                .map(|held| EntryConstituent {
                    substance: held.substance.clone(),
                    low_percent: held.low_percent.normalize().to_string(),
                    high_percent: held.high_percent.normalize().to_string(),
                })
                .collect(),
            cautions: material
                .cautions
                .iter()
                .filter(|caution| caution.key.starts_with(OWN))
                .map(|caution| EntryCaution {
                    level: caution.level.to_string(),
                    audiences: caution.audiences.iter().map(ToString::to_string).collect(),
                    text: caution.text.clone(),
                })
                .collect(),
            source: material.source.text.clone(),
            status: material.status.word().replace('_', " "),
        }
    }
}

fn general<'e>(evidence: &'e [Evidence], audience: &Audience) -> Option<&'e Evidence> {
    evidence.iter().find(|it| it.audience == *audience && it.routes.is_empty())
}
