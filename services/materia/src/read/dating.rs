//! The files that hold rule sets for dating.

use super::Known;
use crate::dating::{DatingRule, DatingSet};
use crate::error::Error;
use crate::table::{Row, Sources, Table};
use rust_decimal::Decimal;
use std::collections::HashSet;

/// Reads the sets and puts the rules into them, in the order of the file.
pub(crate) fn read(
    sets: &str,
    rules: &str,
    sources: &Sources,
    known: &Known,
) -> Result<Vec<DatingSet>, Error> {
    let mut sets = of_sets(sets, sources, known)?;
    let columns = &[
        "set",
        "key",
        "watery",
        "preserved",
        "routes",
        "liquid",
        "alcohol_at_least",
        "unit",
        "sugar_at_least",
        "sugar_unit",
        "holds",
        "kept",
        "period",
        "storage",
        "source",
        "place",
        "status",
    ];
    let table = Table::read("dating_rules.csv", rules, columns)?;
    for row in table.rows() {
        let key = row.text("set")?;
        let set = sets.iter_mut().find(|set| set.key == key).ok_or_else(|| {
            row.refuse(
                "set",
                format!("{key:?} is not in dating_sets.csv"),
                "Write a key from dating_sets.csv, or add a row to it",
            )
        })?;
        let mut taken = set.rules.iter().map(|rule| rule.key.clone()).collect();
        let rule = rule(row, sources, known, &mut taken)?;
        set.rules.push(rule);
    }
    Ok(sets)
}

fn of_sets(text: &str, sources: &Sources, known: &Known) -> Result<Vec<DatingSet>, Error> {
    let columns =
        &["key", "name", "from", "until", "regimes", "preparations", "counting", "source", "place", "status"];
    let table = Table::read("dating_sets.csv", text, columns)?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            Ok(DatingSet {
                key: row.key("key", &mut taken)?,
                name: row.string("name")?,
                in_force_from: row.optional_day("from")?,
                in_force_until: row.optional_day("until")?,
                regimes: row.references("regimes", &known.regimes)?,
                preparations: row.references("preparations", &known.preparations)?,
                counting: row.parsed("counting")?,
                rules: Vec::new(),
                source,
                status,
            })
        })
        .collect()
}

fn rule(
    row: Row<'_>,
    sources: &Sources,
    known: &Known,
    taken: &mut HashSet<String>,
) -> Result<DatingRule, Error> {
    let (source, status) = sources.of(row)?;
    let least = |field: &'static str, of: &'static str, wanted: &'static str| {
        let percent = row.optional_number(field)?;
        match (percent, row.optional(of)) {
            (None, None) => Ok(None),
            (Some(percent), Some(unit)) if unit == wanted && percent <= Decimal::ONE_HUNDRED => {
                Ok(Some(percent))
            }
            _ => Err(row.refuse(
                of,
                "the share has no unit that is accepted, or is past the whole",
                "Write per cent, 0 to 100, with the unit % v/v for alcohol and % w/w for sugar, or leave both empty",
            )),
        }
    };
    let alcohol_at_least_percent = least("alcohol_at_least", "unit", "% v/v")?;
    let sugar_at_least_percent = least("sugar_at_least", "sugar_unit", "% w/w")?;
    let said = |field: &'static str| match row.optional(field) {
        None => Ok(None),
        Some(_) => row.yes_or_no(field).map(Some),
    };
    Ok(DatingRule {
        key: row.key("key", taken)?,
        watery: said("watery")?,
        preserved: said("preserved")?,
        routes: row.parsed_list("routes")?,
        liquid: said("liquid")?,
        alcohol_at_least_percent,
        sugar_at_least_percent,
        holds: row.references("holds", &known.materials)?,
        kept: row.optional_parsed("kept")?,
        period: row.parsed("period")?,
        storage: row.parsed_list("storage")?,
        source,
        status,
    })
}
