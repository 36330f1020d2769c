//! The files whose rows stand for themselves: regimes, groups, substances, species, kinds, routes, materials.

use crate::error::Error;
use crate::limit::Regime;
use crate::material::{
    AllergyGroup, Botanical, HlbValues, LookAlike, Material, MaterialKind, Species, State,
};
use crate::preparation::{Preparation, Route};
use crate::source::{Source, Status};
use crate::substance::{AsAcid, Substance};
use crate::table::{Row, Sources, Table};
use rust_decimal::Decimal;
use std::collections::{HashMap, HashSet};

pub(crate) fn regimes(text: &str, sources: &Sources) -> Result<Vec<Regime>, Error> {
    let table = Table::read("regimes.csv", text, &["key", "name", "text", "source", "place", "status"])?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(Regime {
                key: row.key("key", &mut taken)?,
                name: row.string("name")?,
                text: row.string("text")?,
                source,
                status,
            })
        })
        .collect()
}

pub(crate) fn allergy_groups(text: &str, sources: &Sources) -> Result<Vec<AllergyGroup>, Error> {
    let table = Table::read(
        "allergy_groups.csv",
        text,
        &["key", "name", "family", "declared_in_food", "source", "place", "status"],
    )?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(AllergyGroup {
                key: row.key("key", &mut taken)?,
                name: row.string("name")?,
                family: row.optional_string("family"),
                declared_in_food: row.yes_or_no("declared_in_food")?,
                source,
                status,
            })
        })
        .collect()
}

pub(crate) fn substances(text: &str, sources: &Sources) -> Result<Vec<Substance>, Error> {
    let columns =
        &["key", "name", "inci", "cas", "molar_mass", "unit", "pka", "acid", "source", "place", "status"];
    let table = Table::read("substances.csv", text, columns)?;
    let mut taken = HashSet::new();
    let mut substances = Vec::new();
    let mut masses = HashMap::new();
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let key = row.key("key", &mut taken)?;
        let molar_mass = molar_mass(row)?;
        if let Some(mass) = molar_mass {
            masses.insert(key.clone(), mass);
        }
        let cas = row.optional_string("cas");
        if let Some(number) = &cas
            && !cas_number_is_whole(number)
        {
            return Err(row.refuse(
                "cas",
                format!("{number:?} is not a CAS number: its check digit does not fit"),
                "Copy the number again, with both hyphens",
            ));
        }
        let (name, inci) = (row.string("name")?, row.optional_string("inci"));
        let pka = row.optional_number("pka")?;
        substances.push(Substance { key, name, inci, cas, molar_mass, pka, as_acid: None, source, status });
    }
    for (row, substance) in table.rows().zip(&mut substances) {
        let Some(acid) = row.optional("acid") else { continue };
        let factor = match (masses.get(acid), substance.molar_mass) {
            (Some(acid_mass), Some(mass)) => acid_mass.checked_div(mass),
            _ => None,
        };
        let factor = factor.ok_or_else(|| {
            row.refuse(
                "acid",
                format!("{acid:?} and this substance do not both have a molar mass here"),
                "Write the key of a substance in this file, and give both a molar mass",
            )
        })?;
        substance.as_acid = Some(AsAcid { acid: acid.to_owned(), factor });
    }
    Ok(substances)
}

fn molar_mass(row: Row<'_>) -> Result<Option<Decimal>, Error> {
    let mass = row.optional_number("molar_mass")?;
    match mass {
        Some(mass) if mass.is_zero() => {
            Err(row.refuse("molar_mass", "a molar mass of nothing", "Write grams per mole"))
        }
        Some(_) if row.optional("unit") != Some("g/mol") => {
            Err(row.refuse("unit", "the molar mass has no unit", "Write g/mol"))
        }
        _ => Ok(mass),
    }
}

/// The last digit of a CAS number is the sum of the others, each times its place from the right, modulo ten.
fn cas_number_is_whole(number: &str) -> bool {
    let parts: Vec<&str> = number.split('-').collect();
    let [first, second, check] = parts.as_slice() else { return false };
    if !(2..=7).contains(&first.len()) || second.len() != 2 || check.len() != 1 {
        return false;
    }
    let digits: Option<Vec<u32>> =
        [first, second].into_iter().flat_map(|part| part.chars()).map(|c| c.to_digit(10)).collect();
    let sum = digits
        .map(|digits| digits.iter().rev().zip(1_u32..).map(|(digit, place)| digit * place).sum::<u32>());
    sum.map(|sum| sum % 10) == check.chars().next().and_then(|c| c.to_digit(10))
}

pub(crate) fn species(text: &str, sources: &Sources) -> Result<Vec<Species>, Error> {
    let columns =
        &["key", "name", "author", "synonyms", "family", "common_names", "source", "place", "status"];
    let table = Table::read("species.csv", text, columns)?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(Species {
                key: row.key("key", &mut taken)?,
                name: row.string("name")?,
                author: row.string("author")?,
                synonyms: row.list("synonyms"),
                family: row.string("family")?,
                common_names: row.list("common_names"),
                look_alikes: Vec::new(),
                source,
                status,
            })
        })
        .collect()
}

pub(crate) fn look_alikes(text: &str, sources: &Sources, species: &mut [Species]) -> Result<(), Error> {
    let columns = &["species", "name", "poisonous", "text", "source", "place", "status"];
    let table = Table::read("look_alikes.csv", text, columns)?;
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let poisonous = row.yes_or_no("poisonous")?;
        let key = row.text("species")?;
        let name = row.string("name")?;
        let text = row.string("text")?;
        let found = species.iter_mut().find(|species| species.key == key).ok_or_else(|| {
            row.refuse("species", format!("{key:?} is not in species.csv"), "Write a key from species.csv")
        })?;
        found.look_alikes.push(LookAlike { name, poisonous, text, source, status });
    }
    Ok(())
}

pub(crate) fn preparations(text: &str, sources: &Sources) -> Result<Vec<Preparation>, Error> {
    let columns =
        &["key", "name", "also", "text", "aqueous", "emulsion", "alcoholic", "source", "place", "status"];
    let table = Table::read("preparations.csv", text, columns)?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(Preparation {
                key: row.key("key", &mut taken)?,
                name: row.string("name")?,
                synonyms: row.list("also"),
                text: row.string("text")?,
                aqueous: row.parsed("aqueous")?,
                emulsion: row.parsed("emulsion")?,
                alcoholic: row.parsed("alcoholic")?,
                cautions: Vec::new(),
                source,
                status,
            })
        })
        .collect()
}

pub(crate) fn routes(text: &str, sources: &Sources) -> Result<Vec<Route>, Error> {
    let table =
        Table::read("routes.csv", text, &["key", "name", "also", "exposure", "source", "place", "status"])?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(Route {
                key: row.key("key", &mut taken)?,
                name: row.string("name")?,
                synonyms: row.list("also"),
                exposure: row.parsed("exposure")?,
                cautions: Vec::new(),
                source,
                status,
            })
        })
        .collect()
}

pub(crate) fn materials(text: &str, sources: &Sources, species: &[Species]) -> Result<Vec<Material>, Error> {
    let columns = &[
        "key",
        "name",
        "kind",
        "species",
        "part",
        "state",
        "cut",
        "inci",
        "also",
        "nature",
        "emulsifies",
        "source",
        "place",
        "status",
    ];
    let table = Table::read("materials.csv", text, columns)?;
    let (mut taken, mut names) = (HashSet::new(), HashSet::new());
    let more_than_herbs: HashSet<&str> = table
        .rows()
        .filter(|row| row.optional("kind") != Some(MaterialKind::Herb.word()))
        .filter_map(|row| row.optional("species"))
        .collect();
    let ambiguous: HashSet<&str> = species
        .iter()
        .filter(|species| more_than_herbs.contains(species.key.as_str()))
        .flat_map(|species| &species.common_names)
        .map(String::as_str)
        .collect();
    table
        .rows()
        .map(|row| {
            let material = material(row, sources.of(row)?, species, &ambiguous, &mut taken)?;
            if !names.insert(material.name.to_lowercase()) {
                return Err(row.refuse(
                    "name",
                    format!("{:?} is the name of an earlier row too", material.name),
                    "Give each material its own name. Put a shared name in the column also",
                ));
            }
            Ok(material)
        })
        .collect()
}

fn material(
    row: Row<'_>,
    (source, status): (Source, Status),
    species: &[Species],
    ambiguous: &HashSet<&str>,
    taken: &mut HashSet<String>,
) -> Result<Material, Error> {
    let kind: MaterialKind = row.parsed("kind")?;
    let botanical = botanical(row, kind, species)?;
    let name = row.string("name")?;
    let mut synonyms = row.list("also");
    if let Some(botanical) = &botanical {
        for spoken in spoken_names(&name, kind, botanical, ambiguous) {
            if !synonyms.contains(&spoken) {
                synonyms.push(spoken);
            }
        }
    }
    Ok(Material {
        key: row.key("key", taken)?,
        name,
        kind,
        nature: row.optional_parsed("nature")?,
        emulsifies: row.optional_parsed("emulsifies")?,
        botanical,
        inci: row.optional_string("inci"),
        synonyms,
        density: None,
        melting: None,
        drop_point: None,
        water_content_fresh: None,
        water_content_dried: None,
        water_content: None,
        ethanol: None,
        hlb: HlbValues::default(),
        acid_value: None,
        ester_value: None,
        saponification_value: None,
        drops_per_ml: None,
        use_rate: None,
        constituents: Vec::new(),
        usual_forms: Vec::new(),
        allergy_groups: Vec::new(),
        evidence: Vec::new(),
        cautions: Vec::new(),
        prohibited_in: Vec::new(),
        source,
        status,
    })
}

fn botanical(row: Row<'_>, kind: MaterialKind, species: &[Species]) -> Result<Option<Botanical>, Error> {
    let state: Option<State> = row.optional_parsed("state")?;
    let Some(key) = row.optional("species") else {
        if matches!(kind, MaterialKind::Herb | MaterialKind::EssentialOil) {
            return Err(row.refuse(
                "species",
                format!("a {kind} without its species"),
                "Write a key from species.csv",
            ));
        }
        return Ok(None);
    };
    let found = species.iter().find(|species| species.key == key).ok_or_else(|| {
        row.refuse(
            "species",
            format!("{key:?} is not in species.csv"),
            "Write a key from species.csv, or add the species",
        )
    })?;
    if kind == MaterialKind::Herb && state.is_none() {
        return Err(row.refuse("state", "a herb without its state", "Write fresh, wilted or dried"));
    }
    Ok(Some(Botanical {
        species: found.clone(),
        part: row.string("part")?,
        state,
        cut: row.optional_parsed("cut")?,
    }))
}

/// The names by which a herb is asked for besides the one in the file: `calendula flower, dried` and `calendula
/// flower` for `dried calendula flower`, the common names with the part, and the botanical name. The common name by
/// itself only where nothing but herbs comes from what is called so: `lavender` may mean the flower, the oil or the water.
fn spoken_names(
    name: &str,
    kind: MaterialKind,
    botanical: &Botanical,
    ambiguous: &HashSet<&str>,
) -> Vec<String> {
    let species = &botanical.species;
    let mut names: Vec<String> = species.names().map(str::to_owned).collect();
    if kind == MaterialKind::Herb {
        let state = botanical.state.map_or("", State::word);
        if let Some(plain) = name.strip_prefix(state).map(str::trim) {
            names.push(format!("{plain}, {state}"));
            names.push(plain.to_owned());
        }
        for common in &species.common_names {
            if !ambiguous.contains(common.as_str()) {
                names.push(common.clone());
            }
            names.push(format!("{common} {}", botanical.part));
        }
    }
    let mut told = HashSet::from([name.to_owned()]);
    names.retain(|spoken| told.insert(spoken.clone()));
    names
}
