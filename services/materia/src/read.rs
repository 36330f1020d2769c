//! From the data files to the typed data set.
//!
//! Each part reads the files of one subject; references are checked where they are read, so that whatever is
//! returned is whole. Nothing here does input or output, and nothing guesses: a row that is not understood refuses
//! the whole data set.

mod attach;
mod caution_rule;
mod dating;
mod facts;
mod known;
mod of_cautions;
pub(crate) mod of_kinds;
mod plain;
mod rules;
mod said;
mod target;

use crate::dataset::{Materia, Version};
use crate::error::Error;
use crate::files::Files;
use crate::material::Material;
use crate::table::{Keys, Sources};
use known::Known;
use serde::Deserialize;

use of_kinds::Rules;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Dataset {
    number: u32,
    date: String,
}

impl Materia {
    /// Reads the files built into the crate.
    ///
    /// # Errors
    /// When a file is refused; the crate's own tests keep that from happening.
    pub fn embedded() -> Result<Self, Error> {
        Self::read(&Files::embedded())
    }

    /// Reads a data set.
    ///
    /// # Errors
    /// When any row of any file is refused.
    pub fn read(files: &Files) -> Result<Self, Error> {
        read(files)
    }

    /// Says of a material everything that the rules say of its species, family, kind and constituents, beside what it
    /// says of itself.
    pub(crate) fn apply_rules(&self, material: &mut Material) -> Result<(), Error> {
        let named = attach::Named { groups: &self.allergy_groups, substances: &self.substances };
        let Rules { allergies, evidence, .. } = &self.rules;
        said::allergies_of(allergies.iter().filter(|rule| !rule.is_of_one()), &named, material);
        said::evidence_of(evidence.iter().filter(|rule| !rule.is_of_one()), material);
        attach::to_material(&self.rules.cautions, &named, &self.rules.known, material)?;
        material.prohibited_in = rules::prohibitions(&self.limits, material);
        Ok(())
    }
}

fn keys<'k>(file: &'static str, keys: impl Iterator<Item = &'k String>) -> Keys {
    Keys { file, keys: keys.cloned().collect() }
}

fn read(files: &Files) -> Result<Materia, Error> {
    let dataset: Dataset = toml::from_str(files.text("dataset.toml")).map_err(|error| Error {
        file: "dataset.toml".to_owned(),
        line: None,
        field: None,
        problem: error.message().to_owned(),
        cure: "Write number = 1 and date = \"2024-05-13\", nothing else".to_owned(),
    })?;
    let sources = Sources::read(files.text("sources.csv"))?;
    let regimes = plain::regimes(files.text("regimes.csv"), &sources)?;
    let allergy_groups = plain::allergy_groups(files.text("allergy_groups.csv"), &sources)?;
    let substances = plain::substances(files.text("substances.csv"), &sources)?;
    let mut species = plain::species(files.text("species.csv"), &sources)?;
    plain::look_alikes(files.text("look_alikes.csv"), &sources, &mut species)?;
    let mut preparations = plain::preparations(files.text("preparations.csv"), &sources)?;
    let mut routes = plain::routes(files.text("routes.csv"), &sources)?;
    let mut materials = plain::materials(files.text("materials.csv"), &sources, &species)?;

    let known = Known {
        regimes: keys("regimes.csv", regimes.iter().map(|row| &row.key)),
        groups: keys("allergy_groups.csv", allergy_groups.iter().map(|row| &row.key)),
        substances: keys("substances.csv", substances.iter().map(|row| &row.key)),
        species: keys("species.csv", species.iter().map(|row| &row.key)),
        families: keys("species.csv", species.iter().map(|row| &row.family)),
        preparations: keys("preparations.csv", preparations.iter().map(|row| &row.key)),
        routes: keys("routes.csv", routes.iter().map(|row| &row.key)),
        materials: keys("materials.csv", materials.iter().map(|row| &row.key)),
    };

    facts::properties(files.text("properties.csv"), &sources, &known, &mut materials)?;
    facts::constituents(files.text("constituents.csv"), &sources, &known, &mut materials)?;
    facts::forms(files.text("forms.csv"), &sources, &known, &mut materials)?;
    let named = attach::Named { groups: &allergy_groups, substances: &substances };
    let allergies = said::allergies(files.text("allergies.csv"), &sources, &known)?;
    for material in &mut materials {
        said::allergies_of(&allergies, &named, material);
    }
    let evidence = said::evidence(files.text("evidence.csv"), &sources, &known, &mut materials)?;

    let cautions = attach::read(files.text("cautions.csv"), &sources, &known)?;
    let thresholds = of_cautions::thresholds(files.text("thresholds.csv"), &sources, &known)?;
    let caution_rules = of_cautions::whole(&cautions, &thresholds)?;
    for material in &mut materials {
        attach::to_material(&cautions, &named, &known, material)?;
    }
    for preparation in &mut preparations {
        attach::to_preparation(&cautions, preparation);
    }
    for route in &mut routes {
        attach::to_route(&cautions, route);
    }

    let stops = rules::stops(files.text("stops.csv"), &sources, &known)?;
    let limits = rules::limits(files.text("limits.csv"), &sources, &known)?;
    let allergens = rules::allergens(files.text("allergens.csv"), &sources, &known)?;
    let dating =
        dating::read(files.text("dating_sets.csv"), files.text("dating_rules.csv"), &sources, &known)?;
    for material in &mut materials {
        material.prohibited_in = rules::prohibitions(&limits, material);
    }
    Ok(Materia {
        version: Version { number: dataset.number, date: dataset.date, fingerprint: files.fingerprint() },
        regimes,
        allergy_groups,
        substances,
        species,
        preparations,
        routes,
        materials,
        raised: attach::raised(&cautions),
        joint: attach::joint(&cautions),
        caution_rules,
        thresholds,
        stops,
        limits,
        allergens,
        dating,
        rules: Rules { allergies, evidence, cautions, known },
    })
}
