//! What one application or one spoonful brings: dried herb, alcohol, and restricted constituents at the top of
//! their ranges. It says what is in it, and never what anybody should take.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Evaluation, Figure, Input, Mass, Named, Refusal, Rule, Text, Unknown, Volume,
    alcohol_content::alcohol_content, limits::Profile, units,
};

static AS_WEIGHED: Rule = Rule::definition("application", "one application: {=}");
static FILM: Rule = Rule::definition("application_by_area", "{area} of skin at {film}: {=}");
static SPOON: Rule = Rule::definition("application_by_volume", "{volume} at {density}: {=}");
static PER_DAY: Rule = Rule::definition("application_per_day", "{times} applications a day: {=}");
static HERB: Rule = Rule::definition("herb_in_application", "{application} at {strength}: {=} of dried herb");
static ALCOHOL: Rule =
    Rule::definition("alcohol_in_application", "{application} at {strength}: {=} of ethanol");
static CONSTITUENT: Rule =
    Rule::definition("constituent_in_application", "{application} at {strength}: at most {=}");

/// How much is used at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Application {
    /// So much.
    Weighed(Mass),
    /// An area in cm2 under a film in mg/cm2.
    Film {
        /// In cm2.
        area: Decimal,
        /// In mg/cm2.
        film: Decimal,
    },
    /// A spoon or a measure.
    Measured(Volume),
}

/// What one application and one day bring.
#[derive(Debug, Clone, Serialize)]
pub struct Dose {
    /// One application, in g.
    pub application: Figure,
    /// One day, in g.
    pub per_day: Figure,
    /// Dried herb in one application, in mg.
    pub herbs: Vec<Named>,
    /// Ethanol in one application, in mg.
    pub ethanol: Figure,
    /// Restricted constituents in one application, in mg, at the top of their ranges.
    pub constituents: Vec<Named>,
}

/// What one application brings.
///
/// # Errors
/// Refuses areas outside 0.1 to 20000 cm2, films outside 0.01 to 100 mg/cm2, and times a day outside 1 to 48.
pub fn dose(
    evaluation: &Evaluation,
    profiles: &[Profile],
    at_once: Application,
    times_a_day: u32,
) -> Result<Dose, Refusal> {
    if !(1..=48).contains(&times_a_day) {
        return Err(Refusal::out_of_range("times_a_day", "Enter 1 to 48 applications a day."));
    }
    let application = application(evaluation, at_once)?;
    let times = Decimal::from(times_a_day);
    let per_day = product(&application.known(), &Ok(times));
    let inputs =
        vec![Input::number("times", times, units::RATIO), Input::figure("application", &application)];
    let per_day = Figure::from_result(per_day, units::GRAM, &PER_DAY, inputs);
    let bring = |strength: &Figure, by: Decimal, rule| {
        let value = product(&product(&application.known(), &strength.known()), &Ok(by));
        let inputs = vec![Input::figure("application", &application), Input::figure("strength", strength)];
        Figure::from_result(value, units::MILLIGRAM, rule, inputs)
    };
    let herbs = evaluation
        .herbs
        .iter()
        .map(|herb| Named {
            name: herb.material.name.clone(),
            figure: bring(&herb.per_gram, Decimal::ONE, &HERB),
        })
        .collect();
    let ethanol = bring(&alcohol_content(evaluation).by_mass, Decimal::ONE_THOUSAND, &ALCOHOL);
    Ok(Dose {
        constituents: constituents(evaluation, profiles, &application),
        herbs,
        ethanol,
        application,
        per_day,
    })
}

fn application(evaluation: &Evaluation, at_once: Application) -> Result<Figure, Refusal> {
    let within = |value: Decimal, least: Decimal, most: u32| value >= least && value <= Decimal::from(most);
    Ok(match at_once {
        Application::Weighed(mass) => Figure::number(mass.g(), units::GRAM, &AS_WEIGHED, Vec::new()),
        Application::Film { area, .. } if !within(area, Decimal::new(1, 1), 20_000) => {
            return Err(Refusal::out_of_range("area", "The area of skin must be 0.1 to 20000 cm2."));
        }
        Application::Film { film, .. } if !within(film, Decimal::new(1, 2), 100) => {
            return Err(Refusal::out_of_range(
                "film",
                "The film must be 0.01 to 100 mg/cm2; 1 to 2 is usual.",
            ));
        }
        Application::Film { area, film } => {
            let inputs = vec![Input::number("area", area, "cm2"), Input::number("film", film, "mg/cm2")];
            let value = area.checked_mul(film).ok_or(Refusal::too_large("area"))? / Decimal::ONE_THOUSAND;
            Figure::number(value, units::GRAM, &FILM, inputs)
        }
        Application::Measured(volume) => {
            let value = product(&Ok(volume.ml()), &evaluation.density.known());
            let inputs = vec![
                Input::number("volume", volume.ml(), units::MILLILITRE),
                Input::figure("density", &evaluation.density),
            ];
            Figure::from_result(value, units::GRAM, &SPOON, inputs)
        }
    })
}

/// Each constituent summed over all materials that hold it.
fn constituents(evaluation: &Evaluation, profiles: &[Profile], application: &Figure) -> Vec<Named> {
    let mut sums: Vec<(Text, Result<Decimal, Unknown>)> = Vec::new();
    for leaf in &evaluation.composition {
        let Some(profile) = profiles.iter().find(|profile| profile.material == leaf.material.id) else {
            continue;
        };
        for held in profile.constituents.iter().filter(|held| !held.as_acid) {
            let part = product(&leaf.share.known(), &Ok(held.most.get()));
            match sums.iter_mut().find(|(name, _)| *name == held.name) {
                Some((_, sum)) => {
                    *sum = match (&*sum, part) {
                        (Ok(a), Ok(b)) => a.checked_add(b).ok_or_else(|| Unknown::of("sum of the shares")),
                        (Err(a), Err(b)) => Err(a.and(&b)),
                        (Err(unknown), Ok(_)) => Err(unknown.clone()),
                        (Ok(_), Err(unknown)) => Err(unknown),
                    };
                }
                None => sums.push((held.name.clone(), part)),
            }
        }
    }
    sums.into_iter()
        .map(|(name, share)| {
            let value = product(&product(&application.known(), &share), &Ok(Decimal::ONE_THOUSAND));
            let mut inputs = vec![Input::figure("application", application)];
            if let Ok(share) = share {
                inputs.push(Input::number("strength", share, units::SHARE_OF_MASS));
            }
            Named { name, figure: Figure::from_result(value, units::MILLIGRAM, &CONSTITUENT, inputs) }
        })
        .collect()
}

fn product(a: &Result<Decimal, Unknown>, b: &Result<Decimal, Unknown>) -> Result<Decimal, Unknown> {
    match (a, b) {
        (Ok(a), Ok(b)) => {
            a.checked_mul(*b).ok_or_else(|| Unknown::of("an amount within the range of a decimal"))
        }
        (Err(a), Err(b)) => Err(a.and(b)),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown.clone()),
    }
}
