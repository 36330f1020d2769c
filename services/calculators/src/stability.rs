//! The likely type of an emulsion, and advice on its stability.

use galenics::emulsion::{Emulsion, EmulsionProfile, EmulsionType, emulsion_of};
use galenics::{Decimal, MaterialKind, Preparation};
use store::{Result, Tx};
use wire::calculations::Calculated;
use wire::calculations::emulsion::EmulsionAdvice;

use super::answer::calculated;
use super::composition::{Composition, composed};
use super::form::{Form, Read, all};
use judgement::emulsion_profile as profile;

/// Evaluates the lines of an emulsion. The inner result holds the refused fields.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn advice(tx: &mut Tx<'_>, form: &Form, asked: &EmulsionAdvice) -> Result<Read<Calculated>> {
    let composition = composed(tx, form, &asked.lines, Preparation::Cream, None).await?;
    Ok(of(form, asked, composition))
}

fn of(form: &Form, asked: &EmulsionAdvice, composition: Read<Composition>) -> Read<Calculated> {
    let (composition, wanted, oil, water, carried) = all((
        composition,
        form.word::<EmulsionType>("emulsion", asked.emulsion.as_deref().unwrap_or("oil-in-water")),
        form.optional(asked.oil_phase.as_ref(), |form, text| form.temperature("oil_phase", text)),
        form.optional(asked.water_phase.as_ref(), |form, text| form.temperature("water_phase", text)),
        form.optional(asked.water_carried.as_ref(), |form, text| form.number("water_carried", text)),
    ))?;
    if oil.is_some() != water.is_some() {
        let missing = if oil.is_some() { "water_phase" } else { "oil_phase" };
        return Err(
            form.refuse(missing, "Enter the temperature of both phases, such as 70 C, or of neither.")
        );
    }
    let profiles: Vec<EmulsionProfile> = composition
        .parts()
        .iter()
        .map(|part| {
            let known = profile(&part.leaf.material.id, part.material);
            carrying(known, part.leaf.material.kind, carried)
        })
        .collect();
    let names =
        [("composition", "lines"), ("acid_value", "lines"), ("oils", "lines"), ("emulsifiers", "lines")];
    let found = emulsion_of(&composition.evaluation, &profiles, wanted, oil.zip(water));
    Ok(said(&composition, &form.worked_as(&names, found)?))
}

/// The profile with the given water capacity, if the material emulsifies.
fn carrying(profile: EmulsionProfile, kind: MaterialKind, carried: Option<Decimal>) -> EmulsionProfile {
    let emulsifies =
        kind == MaterialKind::Emulsifier || profile.hlb.is_some() || profile.not_applicable.is_some();
    let water_carried = if emulsifies { carried } else { None };
    EmulsionProfile { water_carried, ..profile }
}

fn said(composition: &Composition, emulsion: &Emulsion) -> Calculated {
    let mut figures = vec![
        ("likely type", &emulsion.report.likely.figure),
        ("oil", &composition.evaluation.oil),
        ("water", &composition.evaluation.water),
        ("oil to water", &composition.evaluation.oil_to_water),
        ("emulsifier to oil", &composition.evaluation.emulsifier_to_oil),
    ];
    if let Some(required) = &emulsion.required {
        figures.push(("required HLB", &required.hlb));
    }
    if let Some(given) = &emulsion.emulsifiers {
        figures.push(("HLB of the emulsifiers", &given.hlb));
    }
    if let Some(soap) = &emulsion.soap {
        figures.push(("share of the acid neutralised", &soap.neutralised));
    }
    figures.extend(emulsion.report.advice.iter().map(|advice| (advice.remark.as_str(), &advice.figure)));
    calculated(&figures)
}
