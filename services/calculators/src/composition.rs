//! A composition given as lines of materials and amounts, evaluated as a formula of one phase.

use std::collections::HashMap;

use galenics::{
    Amount, Density, Evaluation, Formula, FormulaProblem, Ingredient as Of, Line, Preparation, Sourced,
    evaluate, maxima,
};
use store::{Result, Tx};
use wire::calculations::Ingredient;

use super::form::{Form, Read, Refused, all};
use super::known::{self, Known, Named};
use judgement::parts::{self, Part};

/// An evaluated composition with the facts of its materials.
pub(super) struct Composition {
    pub(super) evaluation: Evaluation,
    materials: Vec<Known>,
}

impl Composition {
    /// Each leaf with the facts of its material. Leaves without facts, such as the water of a fresh herb, are left out.
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

    /// The materials by the ID that the calculations use.
    pub(super) fn known(&self) -> parts::Known<'_> {
        let by_id = self.materials.iter().map(|known| (known.facts.id.as_str(), known.material.as_ref()));
        by_id.collect::<HashMap<_, _>>()
    }
}

/// Parses the lines and evaluates them as a preparation of the given kind. The inner result holds the refused fields.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn composed(
    tx: &mut Tx<'_>,
    form: &Form,
    lines: &[Ingredient],
    preparation: Preparation,
    density: Option<Sourced<Density>>,
) -> Result<Read<Composition>> {
    if let Err(refused) = form.count("lines", lines.len(), maxima::LINES) {
        return Ok(Err(refused));
    }
    let names: Vec<&str> = lines.iter().map(|line| line.material.as_str()).collect();
    let found = known::some(tx, &names).await?;
    let asked: Vec<(&Ingredient, Named)> = lines.iter().zip(found).collect();
    let read = form.each("lines", &asked, maxima::LINES, |form, (line, found)| {
        let material = found.clone().map_err(|unnamed| form.unnamed("material", unnamed));
        let amount = Amount::parse_with(&line.amount, form.customary());
        all((
            material,
            amount.map_err(|error| {
                form.misread("amount", error, Amount::meant(&line.amount, form.customary()))
            }),
        ))
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

/// The field of the question that a problem of the formula belongs to. The question has lines but no phases.
fn place(problem: &FormulaProblem) -> String {
    match problem.at.line {
        Some(line) => format!("lines/{line}/{}", problem.at.field),
        None => "lines".into(),
    }
}
