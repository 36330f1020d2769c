//! What something is made of, as lines of materials and amounts: evaluated as a formula of one phase.

use std::collections::HashMap;

use galenics::{
    Amount, Density, Evaluation, Formula, FormulaProblem, Ingredient as Of, Line, Preparation, Sourced,
    evaluate,
};
use store::{Result, Tx};
use wire::calculations::Ingredient;

use super::form::{Form, Read, Refused, all};
use super::known::{self, Known, Named};
use judgement::parts::{self, Part};

/// The most lines.
const MOST: usize = 200;

/// What something is made of, worked out.
pub(super) struct Composition {
    pub(super) evaluation: Evaluation,
    materials: Vec<Known>,
}

impl Composition {
    /// Each leaf with the facts of its material.
    pub(super) fn parts(&self) -> Vec<Part<'_>> {
        let known = self.known();
        let leaves = self.evaluation.composition.iter();
        leaves
            .filter_map(|leaf| {
                let material = known.get(leaf.material.id.as_str())?;
                Some(Part { leaf, material })
            })
            .collect()
    }

    /// The materials by the id under which the calculations know them.
    pub(super) fn known(&self) -> parts::Known<'_> {
        let by_id = self.materials.iter().map(|known| (known.facts.id.as_str(), known.material.as_ref()));
        by_id.collect::<HashMap<_, _>>()
    }
}

/// Reads lines and works out what they come to as a preparation of a kind.
///
/// # Errors
/// When the database does not answer; lines that cannot be read or worked out are fields that were refused.
pub(super) async fn composed(
    tx: &mut Tx<'_>,
    form: &Form,
    lines: &[Ingredient],
    preparation: Preparation,
    density: Option<Sourced<Density>>,
) -> Result<Read<Composition>> {
    if let Err(refused) = form.count("lines", lines.len(), MOST) {
        return Ok(Err(refused));
    }
    let names: Vec<&str> = lines.iter().map(|line| line.material.as_str()).collect();
    let found = known::some(tx, &names).await?;
    let asked: Vec<(&Ingredient, Named)> = lines.iter().zip(found).collect();
    let read = form.each("lines", &asked, MOST, |form, (line, found)| {
        let material = found.clone().map_err(|nowhere| form.refuse("material", nowhere));
        let amount = Amount::parse_with(&line.amount, form.customary());
        all((material, amount.map_err(|error| form.refuse("amount", error))))
    });
    Ok(read.and_then(|read| work_out(form, read, preparation, density)))
}

fn work_out(
    form: &Form,
    read: Vec<(Known, Amount)>,
    preparation: Preparation,
    density: Option<Sourced<Density>>,
) -> Read<Composition> {
    let lines = read
        .iter()
        .map(|(known, amount)| Line::new(Of::Material(known.facts.clone()), amount.clone()))
        .collect();
    let mut formula = Formula::new("asked", "what was asked", preparation).with_phase("all", lines);
    formula.density = density;
    let evaluation = evaluate(&formula).map_err(|problems| {
        Refused::together(problems.iter().map(|problem| form.refuse(&place(problem), problem)))
    })?;
    Ok(Composition { evaluation, materials: read.into_iter().map(|(known, _)| known).collect() })
}

/// Where a problem of the formula stands in the question, which has lines and no phases.
fn place(problem: &FormulaProblem) -> String {
    match problem.at.line {
        Some(line) => format!("lines/{line}/{}", problem.at.field),
        None => "lines".into(),
    }
}
