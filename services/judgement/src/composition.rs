//! The composition of a preparation on a chosen basis. Shares on one basis are never added to shares on another: a list
//! has one basis, and says which.

use std::collections::HashMap;

use galenics::{Decimal, Evaluation, Figure, Input, Rule, Unknown, units};
use uuid::Uuid;
use wire::recipe::{Component, CompositionBasis};

use crate::assembled::Assembled;
use crate::error::Result;
use crate::figures::Detail;
use crate::written::{Ingredient, Written};

static SHARE: Rule = Rule::definition("share_as_extract", "{part} of {whole}: {=}");

/// What stands in a list of extracts and other ingredients.
#[derive(Clone)]
struct Part {
    id: Uuid,
    name: String,
    /// In g, or as a share of the nested formula.
    amount: std::result::Result<Decimal, Unknown>,
}

/// The composition on a basis, the largest share first.
///
/// # Errors
/// Returns [`Error::Internal`](crate::Error::Internal) if a nested revision cannot be evaluated.
pub fn on_basis(
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
    basis: CompositionBasis,
    detail: Detail,
) -> Result<Vec<Component>> {
    let mut out: Vec<(String, Figure)> = match basis {
        CompositionBasis::Materials => evaluation
            .composition
            .iter()
            .map(|leaf| (leaf.material.name.to_string(), leaf.share.clone()))
            .collect(),
        CompositionBasis::DriedHerb => evaluation
            .herbs
            .iter()
            .map(|herb| (herb.material.name.to_string(), herb.per_gram.clone()))
            .collect(),
        CompositionBasis::NativeExtracts => native_extracts(written, whole, evaluation)?,
    };
    out.sort_by_key(|(_, share)| std::cmp::Reverse(share.value()));
    Ok(out
        .into_iter()
        .map(|(name, share)| Component { name, share: detail.figure("share", &share) })
        .collect())
}

/// Extracts as they are put in, and everything else as materials.
fn native_extracts(
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
) -> Result<Vec<(String, Figure)>> {
    let mut known: HashMap<Uuid, Vec<Part>> = HashMap::new();
    for (id, inner) in whole.nested.innermost_first() {
        let of = whole.evaluation_of(id)?;
        let parts = parts(inner, whole, of, &known)?;
        let sum = total(&parts, of);
        let share = |part: Part| Part { amount: divided(&part.amount, &sum), ..part };
        known.insert(id, parts.into_iter().map(share).collect());
    }
    let parts = parts(written, whole, evaluation, &known)?;
    let sum = total(&parts, evaluation);
    Ok(parts
        .into_iter()
        .map(|part| {
            let mut inputs = Vec::new();
            inputs.extend(part.amount.as_ref().ok().map(|mass| Input::number("part", *mass, units::GRAM)));
            inputs.extend(sum.as_ref().ok().map(|sum| Input::number("whole", *sum, units::GRAM)));
            let share = divided(&part.amount, &sum);
            (part.name, Figure::from_result(share, units::SHARE_OF_MASS, &SHARE, inputs))
        })
        .collect())
}

/// What a formula puts in and keeps, in g; a nested one that is no extract by its own parts.
fn parts(
    written: &Written,
    whole: &Assembled,
    evaluation: &Evaluation,
    known: &HashMap<Uuid, Vec<Part>>,
) -> Result<Vec<Part>> {
    let mut out: Vec<Part> = Vec::new();
    let mut put = |id: Uuid, name: &str, amount: std::result::Result<Decimal, Unknown>| match out
        .iter_mut()
        .find(|part| part.id == id)
    {
        Some(part) => part.amount = together(&part.amount, &amount, Decimal::checked_add),
        None => out.push(Part { id, name: name.to_owned(), amount }),
    };
    for (ingredients, phase) in written.ingredients.iter().zip(&evaluation.phases) {
        for (ingredient, line) in ingredients.iter().zip(&phase.lines).filter(|(_, line)| line.stays) {
            let mass = line.mass.known();
            match ingredient {
                Ingredient::Material { id, name, .. } => put(*id, name, mass),
                Ingredient::Revision { id, title, .. } => {
                    if whole.evaluation_of(*id)?.preparation.leaves_marc() {
                        put(*id, title, mass);
                        continue;
                    }
                    for part in known.get(id).into_iter().flatten() {
                        put(part.id, &part.name, together(&mass, &part.amount, Decimal::checked_mul));
                    }
                }
            }
        }
    }
    Ok(out)
}

/// What all parts weigh; where one of them is not known, what the product weighs.
fn total(parts: &[Part], evaluation: &Evaluation) -> std::result::Result<Decimal, Unknown> {
    let sum = parts.iter().try_fold(Decimal::ZERO, |sum, part| sum.checked_add(*part.amount.as_ref().ok()?));
    sum.map_or_else(|| evaluation.product.known(), Ok)
}

fn divided(
    part: &std::result::Result<Decimal, Unknown>,
    whole: &std::result::Result<Decimal, Unknown>,
) -> std::result::Result<Decimal, Unknown> {
    together(part, whole, Decimal::checked_div)
}

fn together(
    one: &std::result::Result<Decimal, Unknown>,
    other: &std::result::Result<Decimal, Unknown>,
    with: impl Fn(Decimal, Decimal) -> Option<Decimal>,
) -> std::result::Result<Decimal, Unknown> {
    match (one, other) {
        (Ok(one), Ok(other)) => {
            with(*one, *other).ok_or_else(|| Unknown::of("an amount within the range of a decimal"))
        }
        (Err(one), Err(other)) => Err(one.and(other)),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
    }
}
