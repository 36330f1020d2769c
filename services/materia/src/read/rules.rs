//! The files that hold rules: stops of the trade, limits, prohibitions, allergens to declare.

use super::Known;
use crate::binding::{Basis, Prohibition};
use crate::botany::phrase_of;
use crate::caution::{Audience, Level};
use crate::error::Error;
use crate::limit::{Allergen, Bound, Limit, Subject};
use crate::material::Material;
use crate::plant::Plants;
use crate::preparation::TradeStop;
use crate::table::{Row, Sources, Table};
use rust_decimal::Decimal;
use std::collections::HashSet;

pub(crate) fn stops(text: &str, sources: &Sources, known: &Known) -> Result<Vec<TradeStop>, Error> {
    let columns = &[
        "key",
        "preparations",
        "routes",
        "materials",
        "genera",
        "species",
        "names",
        "unless",
        "kinds",
        "except_kinds",
        "states",
        "meant_for",
        "text",
        "source",
        "place",
        "status",
    ];
    let table = Table::read("stops.csv", text, columns)?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            let meant_for_under_months = match row.optional_parsed::<Audience>("meant_for")? {
                None => None,
                Some(Audience::UnderMonths(months)) => Some(months),
                Some(_) => {
                    return Err(row.refuse("meant_for", "only an age is held against it", "Write under:12m"));
                }
            };
            let stop = TradeStop {
                key: row.key("key", &mut taken)?,
                preparations: row.references("preparations", &known.preparations)?,
                routes: row.references("routes", &known.routes)?,
                materials: row.references("materials", &known.materials)?,
                plants: Plants {
                    genera: phrases(row, "genera"),
                    species: phrases(row, "species"),
                    names: phrases(row, "names"),
                    unless: phrases(row, "unless"),
                    kinds: row.parsed_list("kinds")?,
                    except_kinds: row.parsed_list("except_kinds")?,
                },
                states: row.parsed_list("states")?,
                meant_for_under_months,
                level: Level::Stop,
                text: row.string("text")?,
                source,
                status,
            };
            if stop.preparations.is_empty() && stop.routes.is_empty() && !stop.is_of_materials() {
                return Err(row.refuse(
                    "routes",
                    "this would stop every formula",
                    "Name a preparation, a route, a material or a plant",
                ));
            }
            Ok(stop)
        })
        .collect()
}

/// The names of plants in a field, as plain words.
fn phrases(row: Row<'_>, field: &str) -> Vec<String> {
    row.items(field).map(phrase_of).collect()
}

fn subject(row: Row<'_>, known: &Known) -> Result<Subject, Error> {
    let text = row.text("subject")?;
    let refuse = || {
        row.refuse(
            "subject",
            format!("{text:?} is not accepted"),
            "Write substance:KEY, material:KEY, species:KEY or genus:Name",
        )
    };
    let (sort, key) = text.split_once(':').ok_or_else(refuse)?;
    let refers = |to| row.refers("subject", key, to).map(str::to_owned);
    match sort {
        "substance" => refers(&known.substances).map(Subject::Substance),
        "material" => refers(&known.materials).map(Subject::Material),
        "species" => refers(&known.species).map(Subject::Species),
        "genus" if !key.is_empty() => Ok(Subject::Genus(key.to_owned())),
        _ => Err(refuse()),
    }
}

fn percent(row: Row<'_>, field: &str) -> Result<Decimal, Error> {
    row.optional_number(field)?
        .filter(|percent| *percent <= Decimal::ONE_HUNDRED)
        .ok_or_else(|| row.refuse(field, "a share is missing or past the whole", "Write per cent, 0 to 100"))
}

pub(crate) fn limits(text: &str, sources: &Sources, known: &Known) -> Result<Vec<Limit>, Error> {
    let columns = &[
        "key",
        "regime",
        "jurisdiction",
        "force",
        "subject",
        "kinds",
        "exposure",
        "site",
        "purpose",
        "audience",
        "bound",
        "unit",
        "basis",
        "group",
        "note",
        "source",
        "place",
        "status",
    ];
    let table = Table::read("limits.csv", text, columns)?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(Limit {
                key: row.key("key", &mut taken)?,
                regime: row.reference("regime", &known.regimes)?,
                jurisdiction: jurisdiction(row)?,
                force: row.parsed("force")?,
                subject: subject(row, known)?,
                kinds: row.parsed_list("kinds")?,
                exposure: row.parsed("exposure")?,
                site: row.parsed("site")?,
                purpose: row.parsed("purpose")?,
                audience: row.parsed("audience")?,
                bound: bound(row)?,
                basis: row.parsed("basis")?,
                group: row.optional_string("group"),
                note: row.optional_string("note"),
                source,
                status,
            })
        })
        .collect()
}

fn jurisdiction(row: Row<'_>) -> Result<String, Error> {
    let text = row.string("jurisdiction")?;
    let letters = text.len() == 2 && text.chars().all(|c| c.is_ascii_uppercase());
    if letters || text == "any" {
        return Ok(text);
    }
    Err(row.refuse(
        "jurisdiction",
        format!("{text:?} is not accepted"),
        "Write two capital letters, EU or a country's, or any for a convention",
    ))
}

/// How a bound begins that is too much itself.
const BELOW: &str = "below ";

fn below(row: Row<'_>) -> Result<Decimal, Error> {
    row.text("bound")?
        .strip_prefix(BELOW)
        .and_then(|figure| Decimal::from_str_exact(figure).ok())
        .filter(|percent| *percent > Decimal::ZERO && *percent <= Decimal::ONE_HUNDRED)
        .ok_or_else(|| row.refuse("bound", "a share is missing or past the whole", "Write below 0.0001"))
}

fn bound(row: Row<'_>) -> Result<Bound, Error> {
    if row.text("bound")? == "prohibited" {
        return Ok(Bound::Prohibited);
    }
    match row.optional("unit") {
        Some("% w/w") if row.text("bound")?.starts_with(BELOW) => {
            Ok(Bound::BelowPercent { percent: below(row)? })
        }
        Some("% w/w") => Ok(Bound::MaximumPercent { percent: percent(row, "bound")? }),
        Some("ug/day") => Ok(Bound::MaximumDaily { micrograms: micrograms(row)? }),
        Some("ug/kg/day") => Ok(Bound::MaximumDailyPerKilogram { micrograms: micrograms(row)? }),
        _ => Err(row.refuse(
            "unit",
            "the figure has no unit that is accepted",
            "Write % w/w, ug/day or ug/kg/day; leave the unit empty only where the bound is prohibited",
        )),
    }
}

fn micrograms(row: Row<'_>) -> Result<Decimal, Error> {
    row.optional_number("bound")?
        .ok_or_else(|| row.refuse("bound", "there is no figure", "Write micrograms a day, or prohibited"))
}

pub(crate) fn allergens(text: &str, sources: &Sources, known: &Known) -> Result<Vec<Allergen>, Error> {
    let columns = &[
        "subject",
        "regime",
        "label_name",
        "extract_of",
        "leave_on",
        "rinse_off",
        "unit",
        "source",
        "place",
        "status",
    ];
    let table = Table::read("allergens.csv", text, columns)?;
    let mut seen = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            if row.optional("unit") != Some("% w/w") {
                return Err(row.refuse(
                    "unit",
                    "the thresholds have no unit that is accepted",
                    "Write % w/w",
                ));
            }
            let subject = subject(row, known)?;
            if !seen.insert(subject.clone()) {
                return Err(row.refuse("subject", "an earlier row declares it", "Keep one row a subject"));
            }
            Ok(Allergen {
                subject,
                regime: row.reference("regime", &known.regimes)?,
                label_name: row.string("label_name")?,
                extract_of: row.list("extract_of"),
                leave_on_above_percent: percent(row, "leave_on")?,
                rinse_off_above_percent: percent(row, "rinse_off")?,
                source,
                status,
            })
        })
        .collect()
}

/// The prohibitions that a material carries: those of itself, of its species and genus, and of a substance that it
/// consists of to nine tenths or more, or holds at all where any trace is prohibited.
pub(crate) fn prohibitions(limits: &[Limit], of: &Material) -> Vec<Prohibition> {
    let holds = |limit: &Limit, key: &str| {
        of.constituents.iter().filter(|held| held.substance == key).any(|held| match limit.basis {
            Basis::AnyTrace => !held.high_percent.is_zero(),
            _ => held.low_percent >= Decimal::from(90),
        })
    };
    let meant = |limit: &Limit| match &limit.subject {
        Subject::Substance(key) => limit.is_of_kind(of) && holds(limit, key),
        _ => limit.is_about(of),
    };
    limits
        .iter()
        .filter(|limit| limit.bound == Bound::Prohibited && meant(limit))
        .map(|limit| Prohibition {
            key: limit.key.clone(),
            regime: limit.regime.clone(),
            jurisdiction: limit.jurisdiction.clone(),
            force: limit.force,
            exposure: limit.exposure,
            audience: limit.audience.clone(),
            note: limit.note.clone(),
            source: limit.source.clone(),
            status: limit.status,
        })
        .collect()
}
