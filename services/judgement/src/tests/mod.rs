//! The cautions of formulas made from the reference data alone, without a database.

mod every_row;
mod growing;
mod nested;
mod silence;
mod stored;

use std::collections::HashMap;
use std::sync::{Arc, LazyLock};

use materia::{Entry, Materia, Material, TradeStop};
use serde_json::{Value, json};
use uuid::Uuid;
use wire::ids::FormulaId;
use wire::safety::Caution;

use crate::assembled::assemble_and_evaluate;
use crate::cautions::Raised;
use crate::clinic_cautions::ClinicCautions;
use crate::observed::Observed;
use crate::written::{Customary, Ingredient, Written};
use crate::{assessment, cautions};

/// The reference data, read once for all tests, with an entry of a clinic's own for each poison: the reference data keep
/// none.
static REFERENCE: LazyLock<Materia> = LazyLock::new(|| {
    let mut materia = Materia::embedded().unwrap();
    let poisons: Vec<Material> = materia
        .stops
        .iter()
        .filter(|stop| stop.is_of_materials() && !materia.materials.iter().any(|it| stop.concerns(it)))
        .map(|stop| materia.complete(&poison(stop), None).unwrap())
        .collect();
    materia.materials.extend(poisons);
    materia
});

/// A clinic's entry that only its name tells to be what a stop is about.
fn poison(stop: &TradeStop) -> Entry {
    Entry {
        name: format!("{}, bought", stop.plants.names.first().unwrap()),
        kind: "solvent".into(),
        source: "a test".into(),
        status: "from memory".into(),
        ..Entry::default()
    }
}

/// The prefix of the origins that calculations give.
const CALCULATED: &str = "calculated: ";

/// A line of a formula under test.
#[derive(Clone, Debug)]
enum Put {
    /// So many milligrams of the material at this place of the reference data.
    Material(usize, u32),
    /// So many milligrams of another formula.
    Formula(Box<Made>, u32),
}

/// A formula under test, by the keys of the reference data.
#[derive(Clone, Debug)]
struct Made {
    preparation: String,
    route: String,
    regime: &'static str,
    /// The youngest person it is meant for, in completed months.
    youngest: Option<u32>,
    /// Whether nobody has entered what its fresh herbs keep of water once dried, as of a clinic's own.
    dried_water_unknown: bool,
    lines: Vec<Put>,
}

impl Made {
    fn new(preparation: &str, route: &str, regime: &'static str, lines: &[(&str, u32)]) -> Self {
        let lines = lines.iter().map(|(key, grams)| Put::Material(place(key), grams * 1000)).collect();
        Self {
            preparation: preparation.into(),
            route: route.into(),
            regime,
            youngest: None,
            dried_water_unknown: false,
            lines,
        }
    }
}

/// Where a material stands in the reference data.
fn place(key: &str) -> usize {
    let found = REFERENCE.materials.iter().position(|material| material.key == key);
    found.unwrap_or_else(|| panic!("no material {key}"))
}

/// The material of an id made from its place.
fn material_id(place: usize) -> Uuid {
    Uuid::from_u128(u128::try_from(place + 1).unwrap())
}

/// What is nested in a formula at any level, as it was written.
type Nested = HashMap<Uuid, Written>;

/// A formula as the clinic keeps it. What is nested gets an id by its order.
fn written(made: &Made, nested: &mut Nested) -> Written {
    let mut lines: Vec<Value> = Vec::new();
    let mut ingredients = Vec::new();
    for line in &made.lines {
        match line {
            Put::Material(place, milligrams) => {
                let name = &REFERENCE.materials[*place].name;
                lines.push(json!({ "material": name, "amount": format!("{milligrams} mg") }));
                let id = material_id(*place);
                ingredients.push(Ingredient::Material { id, version: 1, name: name.clone() });
            }
            Put::Formula(inner, milligrams) => {
                let inner = written(inner, nested);
                let id = Uuid::from_u128(u128::try_from(1_000_000 + nested.len()).unwrap());
                let title = inner.content.title.clone();
                nested.insert(id, inner);
                lines.push(json!({ "formula": title, "amount": format!("{milligrams} mg") }));
                ingredients.push(Ingredient::Revision { id, formula: id, title, digest: String::new() });
            }
        }
    }
    let mut content = json!({
        "title": format!("Formula {}", nested.len()), "preparation": made.preparation, "route": made.route,
        "regime": made.regime, "phases": [{ "name": "all of it", "lines": lines }], "method": []
    });
    if let Some(months) = made.youngest {
        content["youngest"] = json!(format!("{months} months"));
    }
    Written {
        content: serde_json::from_value(content).unwrap(),
        ingredients: vec![ingredients],
        customary: Customary::Metric,
        dropper: None,
        preparation: made.preparation.clone(),
        route: made.route.clone(),
    }
}

/// The caution set of a formula, worked out as when it is proposed.
fn cautions_of(made: &Made) -> Vec<Caution> {
    raised_by(made, &ClinicCautions::default()).cautions.into_iter().map(|counted| counted.caution).collect()
}

/// The same with what was not raised, under the clinic's amendments.
fn raised_by(made: &Made, own: &ClinicCautions) -> Raised {
    let mut nested = Nested::new();
    let outer = written(made, &mut nested);
    let materials: HashMap<(Uuid, i32), Arc<Material>> = nested
        .values()
        .chain([&outer])
        .flat_map(Written::materials)
        .map(|(id, version)| {
            let place = usize::try_from(id.as_u128()).unwrap() - 1;
            let mut material = REFERENCE.materials[place].clone();
            if made.dried_water_unknown {
                material.water_content_dried = None;
            }
            ((id, version), Arc::new(material))
        })
        .collect();
    let formulas = nested.keys().map(|id| (*id, *id)).collect();
    let id = FormulaId(Uuid::from_u128(u128::MAX));
    let whole = assemble_and_evaluate(id, &outer, nested, &formulas, materials)
        .unwrap_or_else(|error| panic!("{error:?} of {made:?}"));
    let observed = Observed::as_written(&outer.content);
    let judged = assessment::judge(&REFERENCE, &outer, &whole, &whole.evaluation, &observed).unwrap();
    cautions::cautions(&REFERENCE, &outer, &whole, &judged, own).unwrap()
}

/// The origins of a caution that come from what is in the formula, its kind or its route.
fn of_content(caution: &Caution) -> impl Iterator<Item = &String> {
    caution.origins.iter().filter(|origin| !origin.starts_with(CALCULATED))
}
