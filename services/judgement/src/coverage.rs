//! What limits do not reach: materials on which none is recorded, and constituents of which nothing is.
//!
//! Never here: a limit, or a verdict.

use std::collections::HashSet;

use galenics::Text;
use materia::{Materia, Material, MaterialKind, Subject};

use crate::parts::Part;

/// The materials of a kind that is ordinarily limited on which none of the limits `judged` is: neither on them, nor on
/// their plant, nor on anything that they hold.
pub(crate) fn uncovered<'p>(
    reference: &Materia,
    parts: &'p [Part<'p>],
    judged: &HashSet<&str>,
) -> impl Iterator<Item = &'p Part<'p>> {
    use MaterialKind::{AromaticSubstance, EssentialOil, Preservative};
    let judged: Vec<&Subject> = reference
        .limits
        .iter()
        .filter(|limit| judged.contains(limit.key.as_str()))
        .map(|limit| &limit.subject)
        .collect();
    parts
        .iter()
        .filter(|part| matches!(part.material.kind, EssentialOil | AromaticSubstance | Preservative))
        .filter(move |part| !judged.iter().any(|subject| concerns(reference, subject, part.material)))
}

fn concerns(reference: &Materia, subject: &Subject, material: &Material) -> bool {
    match subject {
        Subject::Material(key) => material.key == *key,
        Subject::Species(key) => material.botanical.as_ref().is_some_and(|it| it.species.key == *key),
        Subject::Genus(genus) => material.is_of_genus(genus),
        Subject::Substance(key) => material.constituents.iter().any(|held| {
            let acid = reference.substance(&held.substance).and_then(|it| it.as_acid.as_ref());
            held.substance == *key || acid.is_some_and(|acid| acid.acid == *key)
        }),
    }
}

/// Groups of substances, such as furocoumarins, that a plant's kin are known to hold in the same part and of which nothing
/// is recorded for this essential oil. A row that says 0 is a record.
pub(crate) fn untested(reference: &Materia, material: &Material) -> Vec<Text> {
    let plant = |material: &Material| {
        let botanical = material.botanical.as_ref()?;
        let genus = botanical.species.name.split(' ').next()?.to_owned();
        Some((genus, botanical.part.clone()))
    };
    let oil = |material: &Material| material.kind == MaterialKind::EssentialOil;
    let Some(of) = plant(material).filter(|_| oil(material)) else { return Vec::new() };
    let holds = |material: &Material, substance: &str| {
        material.constituents.iter().any(|held| held.substance == substance)
    };
    let kin: Vec<&Material> =
        reference.materials.iter().filter(|other| oil(other) && plant(other).as_ref() == Some(&of)).collect();
    let groups = reference.substances.iter().filter(|substance| substance.cas.is_none());
    groups
        .filter(|group| !holds(material, &group.key) && kin.iter().any(|other| holds(other, &group.key)))
        .map(|group| group.key.clone().into())
        .collect()
}
