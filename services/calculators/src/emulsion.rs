//! Emulsions: HLB and soap formation.

use galenics::emulsion::{
    Alkali, EmulsifierHlb, EmulsionType, HlbAnswer, NotApplicable, OilHlb, blend, emulsifier_hlb,
    hlb_by_composition, hlb_by_mass, hlb_by_saponification, required_hlb, soap_formed,
};
use galenics::{Decimal, Sourced, Text, number};
use materia::{Emulsifies, Material};
use store::{Credentials, Result, Store, Tx};
use wire::calculations::Calculated;
use wire::calculations::emulsion::{
    EmulsifierBlend, EmulsifierHlb as EmulsifiersAsked, EmulsionQuestion, GriffinByComposition,
    GriffinByMass, GriffinBySaponification, HlbPart, RequiredHlb, SoapQuestion,
};

use super::answer::calculated;
use super::form::{Basis, Form, Read, all};
use super::known::{self, Known, Named, sourced};
use super::stability;
use super::strength::{of, weighed_or_measured};
use judgement::emulsion_profile as profile;

/// The most oils or emulsifiers in a question.
const MOST: usize = 50;

/// Answers a question about emulsions.
///
/// # Errors
/// Returns [`store::Error::Invalid`] with every field that cannot be read or met, and the errors of verifying `claim`.
pub async fn emulsion(
    store: &Store,
    credentials: &Credentials,
    question: &EmulsionQuestion,
) -> Result<Calculated> {
    store
        .read(credentials, async |tx| {
            let form = Form::of(tx).await?;
            Ok(match question {
                EmulsionQuestion::RequiredHlb(asked) => {
                    let form = form.within("required_hlb");
                    required(&form, asked, &named(tx, &asked.oils).await?)
                }
                EmulsionQuestion::EmulsifierHlb(asked) => {
                    let form = form.within("emulsifier_hlb");
                    given(&form, asked, &named(tx, &asked.emulsifiers).await?)
                }
                EmulsionQuestion::Blend(asked) => {
                    let (one, other) = known::two(tx, &asked.one, &asked.other).await?;
                    blended(&form.within("blend"), asked, &one, &other)
                }
                EmulsionQuestion::GriffinByMass(asked) => griffin(&form.within("griffin_by_mass"), asked),
                EmulsionQuestion::GriffinBySaponification(asked) => {
                    saponified(&form.within("griffin_by_saponification"), asked)
                }
                EmulsionQuestion::GriffinByComposition(asked) => {
                    composed(&form.within("griffin_by_composition"), asked)
                }
                EmulsionQuestion::Soap(asked) => {
                    let form = form.within("soap");
                    let wax = known::one(tx, &form, "material", asked.material.as_ref()).await?;
                    wax.and_then(|wax| soap(&form, asked, wax.as_ref()))
                }
                EmulsionQuestion::Advice(asked) => {
                    stability::advice(tx, &form.within("advice"), asked).await?
                }
            }?)
        })
        .await
}

/// Looks up the materials of the parts. An unknown name is accepted later if its HLB was given.
async fn named(tx: &mut Tx<'_>, parts: &[HlbPart]) -> Result<Vec<Named>> {
    let names: Vec<&str> = parts.iter().take(MOST).map(|part| part.material.as_str()).collect();
    known::some(tx, &names).await
}

/// A parsed part: name, mass in g, HLB as given, and the named material.
type Part<'a> = (Text, Decimal, Option<Sourced<Decimal>>, Option<&'a Material>);

fn parts<'a>(form: &Form, field: &str, asked: &[HlbPart], found: &'a [Named]) -> Read<Vec<Part<'a>>> {
    form.count(field, asked.len(), MOST)?;
    let rows: Vec<(&HlbPart, &'a Named)> = asked.iter().zip(found).collect();
    form.each(field, &rows, MOST, |form, (part, found)| {
        let hlb = form.optional(part.hlb.as_ref(), |form, text| form.number("hlb", text));
        let name = match found {
            Ok(known) => Ok(known.facts.name.clone()),
            Err(_) if part.hlb.is_some() && part.material.chars().count() <= 200 => {
                Ok(part.material.trim().to_owned().into())
            }
            Err(unnamed) => Err(form.unnamed("material", unnamed.clone())),
        };
        let (name, mass, hlb) = all((name, form.mass("amount", &part.amount), hlb))?;
        Ok((
            name,
            mass.g(),
            hlb.map(Sourced::entered),
            found.as_ref().ok().map(|known| known.material.as_ref()),
        ))
    })
}

fn required(form: &Form, asked: &RequiredHlb, found: &[Named]) -> Read<Calculated> {
    let (emulsion, parts) = all((
        form.word::<EmulsionType>("emulsion", &asked.emulsion),
        parts(form, "oils", &asked.oils, found),
    ))?;
    let oils: Vec<OilHlb> = parts
        .into_iter()
        .map(|(name, amount, hlb, material)| {
            let published = material.and_then(|material| match emulsion {
                EmulsionType::OilInWater => material.hlb.required_oil_in_water.first(),
                EmulsionType::WaterInOil => material.hlb.required_water_in_oil.first(),
            });
            OilHlb { name, amount, required: hlb.or_else(|| published.map(sourced)) }
        })
        .collect();
    Ok(answer("required HLB", &form.worked(required_hlb(&oils))?))
}

fn given(form: &Form, asked: &EmulsifiersAsked, found: &[Named]) -> Read<Calculated> {
    let parts = parts(form, "emulsifiers", &asked.emulsifiers, found)?;
    let emulsifiers: Vec<EmulsifierHlb> = parts
        .into_iter()
        .map(|(name, amount, hlb, material)| {
            let hlb = hlb.map(Ok).or_else(|| material.and_then(hlb_of));
            EmulsifierHlb { name, amount, hlb }
        })
        .collect();
    Ok(answer("HLB of the emulsifiers", &form.worked(emulsifier_hlb(&emulsifiers))?))
}

/// The HLB of a material as an emulsifier, or why it has none that applies.
fn hlb_of(material: &Material) -> Option<std::result::Result<Sourced<Decimal>, NotApplicable>> {
    let profile = profile(&material.key.clone().into(), material);
    match (profile.not_applicable, material.emulsifies) {
        (Some(why), _) => Some(Err(why)),
        (None, Some(Emulsifies::BySoap)) if profile.beeswax => Some(Err(NotApplicable::PlainBeeswax)),
        (None, Some(Emulsifies::BySoap)) => Some(Err(NotApplicable::SoapInPlace)),
        (None, _) => profile.hlb.map(Ok),
    }
}

fn answer(name: &str, found: &HlbAnswer) -> Calculated {
    calculated(&[(name, &found.hlb), ("share of which it is known", &found.known_share)])
}

fn blended(form: &Form, asked: &EmulsifierBlend, one: &Named, other: &Named) -> Read<Calculated> {
    let of_one = |named: &Named, field: &str, text: &str| match number::parse(text) {
        Ok(hlb) => Ok(hlb),
        Err(error) => match named {
            Ok(known) => match hlb_of(&known.material) {
                Some(Ok(hlb)) => Ok(hlb.value),
                Some(Err(why)) => {
                    Err(form.refuse(field, format!("HLB does not apply to {}: {why}", known.facts.name)))
                }
                None => Err(form.refuse(
                    field,
                    format!("The HLB of {} is unknown. Enter it, such as 15.", known.facts.name),
                )),
            },
            Err(_) if text.starts_with(|c: char| c.is_ascii_digit() || c == '-') => {
                Err(form.refuse(field, error))
            }
            Err(unnamed) => Err(form.unnamed(field, unnamed.clone())),
        },
    };
    let (one, other, target, amount) = all((
        of_one(one, "one", &asked.one),
        of_one(other, "other", &asked.other),
        form.number("target", &asked.target),
        form.optional(asked.amount.as_ref(), |form, text| weighed_or_measured(form, "amount", text)),
    ))?;
    let found = form.worked(blend(one, other, target))?;
    let mut figures = vec![("share of the higher", &found.high), ("share of the lower", &found.low)];
    let amounts = amount.as_ref().map(|amount| (of(&found.high, amount), of(&found.low, amount)));
    if let Some((high, low)) = &amounts {
        figures.extend([("of the higher", high), ("of the lower", low)]);
    }
    Ok(calculated(&figures))
}

fn griffin(form: &Form, asked: &GriffinByMass) -> Read<Calculated> {
    let (hydrophilic, whole) =
        all((form.number("hydrophilic", &asked.hydrophilic), form.number("whole", &asked.whole)))?;
    Ok(calculated(&[("HLB", &form.worked(hlb_by_mass(hydrophilic, whole))?)]))
}

fn saponified(form: &Form, asked: &GriffinBySaponification) -> Read<Calculated> {
    let (saponification, acid) =
        all((form.number("saponification", &asked.saponification), form.number("acid", &asked.acid)))?;
    Ok(calculated(&[("HLB", &form.worked(hlb_by_saponification(saponification, acid))?)]))
}

fn composed(form: &Form, asked: &GriffinByComposition) -> Read<Calculated> {
    let (oxyethylene, alcohol) = all((
        form.share("oxyethylene", &asked.oxyethylene, Basis::ByMass),
        form.share("alcohol", &asked.alcohol, Basis::ByMass),
    ))?;
    Ok(calculated(&[("HLB", &form.worked(hlb_by_composition(oxyethylene, alcohol))?)]))
}

fn soap(form: &Form, asked: &SoapQuestion, wax: Option<&Known>) -> Read<Calculated> {
    let acid_value = match (&asked.acid_value, wax) {
        (Some(text), _) => form.number("acid_value", text).map(Sourced::entered),
        (None, Some(known)) => known.material.acid_value.as_ref().map(sourced).ok_or_else(|| {
            form.refuse(
                "acid_value",
                format!("The acid value of {} is unknown. Enter it, such as 20.", known.facts.name),
            )
        }),
        (None, None) => {
            Err(form.refuse("acid_value", "Enter the acid value, such as 20, or name the material."))
        }
    };
    let (wax, acid_value, alkali, mass) = all((
        form.mass("wax", &asked.wax),
        acid_value,
        form.word::<Alkali>("alkali", &asked.alkali),
        form.mass("mass", &asked.mass),
    ))?;
    let formed = form.worked(soap_formed(wax, &acid_value, alkali, mass))?;
    Ok(calculated(&[
        ("share of the acid neutralised", &formed.neutralised),
        ("free acid", &formed.acid),
        ("alkali", &formed.base),
        ("alkali left over", &formed.left_over),
        ("alkali for all of the acid", &formed.for_all),
    ]))
}
