//! The fragrance allergens that a label must name: substances, oils as such, and extracts of herbs that are drawn out.
//!
//! Never here: an extract whose share is not known counted as below the threshold.

use galenics::limits::{Allergen, Declaration, Subject, Use, declare_allergens};
use galenics::{Decimal, Evaluation, Figure, Fraction, HerbEquivalent, Input, Rule, Unknown, units};
use materia::{Materia, Material};

use crate::facts;
use crate::limits::profiles;
use crate::parts::{Known, Part};

static EXTRACT: Rule = Rule::definition("share_of_extract", "extract of {herb} in the product: {=}");

/// The allergens in the composition, each with whether the label must name it at exposure `of`.
#[must_use]
pub fn allergens(
    reference: &Materia,
    of: &Use,
    evaluation: &Evaluation,
    parts: &[Part<'_>],
    known: &Known<'_>,
) -> Vec<Declaration> {
    let percent = |value: Decimal| Fraction::percent(value).unwrap_or(Fraction::ONE);
    let wanted: Vec<Allergen> = reference
        .allergens
        .iter()
        .filter(|allergen| allergen.regime.replace('-', "_") == of.regime.as_str())
        .flat_map(|allergen| {
            let subjects: Vec<Subject> = match &allergen.subject {
                materia::Subject::Substance(key) => vec![Subject::Substance(key.clone().into())],
                materia::Subject::Material(key) => parts
                    .iter()
                    .filter(|part| part.material.key == *key)
                    .map(|part| Subject::Material(part.leaf.material.id.clone()))
                    .collect(),
                materia::Subject::Species(key) => parts
                    .iter()
                    .filter(|part| names_its_oil(part.material) && part.material.is_of_species(key))
                    .map(|part| Subject::Material(part.leaf.material.id.clone()))
                    .collect(),
                materia::Subject::Genus(genus) => parts
                    .iter()
                    .filter(|part| names_its_oil(part.material) && part.material.is_of_genus(genus))
                    .map(|part| Subject::Material(part.leaf.material.id.clone()))
                    .collect(),
            };
            subjects.into_iter().map(move |subject| Allergen {
                subject,
                label_name: allergen.label_name.clone().into(),
                leave_on_above: percent(allergen.leave_on_above_percent),
                rinse_off_above: percent(allergen.rinse_off_above_percent),
                source: facts::source(&allergen.source.text, allergen.status),
            })
        })
        .collect();
    let profiles = profiles(reference, parts);
    let mut declared = declare_allergens(&evaluation.composition, &profiles, &wanted, of.exposure);
    let of_regime = |allergen: &&materia::Allergen| allergen.regime.replace('-', "_") == of.regime.as_str();
    for allergen in reference.allergens.iter().filter(of_regime) {
        let is_extract = |herb: &&HerbEquivalent| {
            known.get(herb.material.id.as_str()).is_some_and(|material| extract_bears(allergen, material))
        };
        if let Some(herb) = evaluation.herbs.iter().find(is_extract) {
            declare_extract(&mut declared, allergen, herb);
        }
    }
    declared
}

/// Whether an extract of this herb bears the allergen's name on a label.
fn extract_bears(allergen: &materia::Allergen, herb: &Material) -> bool {
    let Some(botanical) = &herb.botanical else { return false };
    let of_plant = match &allergen.subject {
        materia::Subject::Species(key) => herb.is_of_species(key),
        materia::Subject::Genus(genus) => herb.is_of_genus(genus),
        materia::Subject::Substance(_) | materia::Subject::Material(_) => false,
    };
    of_plant && allergen.extract_of.contains(&botanical.part)
}

/// Adds the extract of a herb to what a label must name. How much of a herb goes over is not known, so that the share of
/// the extract is not either: the label names it.
fn declare_extract(declared: &mut Vec<Declaration>, allergen: &materia::Allergen, herb: &HerbEquivalent) {
    let missing = Unknown::of(format!("share of the extract of {}", herb.material.name));
    let inputs = vec![Input::words("herb", herb.material.name.clone())];
    let share = Figure::unknown_for(missing, units::SHARE_OF_MASS, &EXTRACT, inputs);
    match declared.iter_mut().find(|one| one.label_name.as_str() == allergen.label_name) {
        Some(one) if one.declare == Some(false) => {
            one.declare = None;
            one.share = share;
        }
        Some(_) => {}
        None => declared.push(Declaration {
            label_name: allergen.label_name.clone().into(),
            share,
            declare: None,
            source: facts::source(&allergen.source.text, allergen.status),
        }),
    }
}

/// Whether a material is an oil or an extract of its plant, which a label names when the plant is a declarable allergen.
const fn names_its_oil(material: &Material) -> bool {
    matches!(material.kind, materia::MaterialKind::EssentialOil | materia::MaterialKind::Resin)
}
