//! The thresholds of cautions, and what one caution may replace.

use std::collections::{BTreeMap, HashSet};

use super::Known;
use super::attach::Written;
use crate::caution::Audience;
use crate::error::Error;
use crate::rule::{Amount, CautionRule, Threshold, ThresholdSubject};
use crate::source::Status;
use crate::table::{Row, Sources, Table};

/// Reads `thresholds.csv`.
pub(crate) fn thresholds(text: &str, sources: &Sources, known: &Known) -> Result<Vec<Threshold>, Error> {
    let columns = &["caution", "subject", "measure", "more_than", "exposure", "source", "place", "status"];
    let table = Table::read("thresholds.csv", text, columns)?;
    let read = |row: Row<'_>| {
        let (source, status) = sources.of(row)?;
        if !matches!(status, Status::Verified | Status::Secondary) {
            return Err(row.refuse(
                "status",
                format!("a threshold that is {status} would silence a caution"),
                "Cite a source that was read, or write not-settled as the amount of the caution",
            ));
        }
        let subject = row.text("subject")?;
        let refuse = || {
            row.refuse(
                "subject",
                format!("{subject:?} is not accepted"),
                "Write material:KEY or substance:KEY",
            )
        };
        let subject = match subject.split_once(':').ok_or_else(refuse)? {
            ("material", key) => {
                ThresholdSubject::Material(row.refers("subject", key, &known.materials)?.to_owned())
            }
            ("substance", key) => {
                ThresholdSubject::Substance(row.refers("subject", key, &known.substances)?.to_owned())
            }
            _ => return Err(refuse()),
        };
        let more_than = row.optional_number("more_than")?.filter(|number| !number.is_zero());
        Ok(Threshold {
            caution: row.string("caution")?,
            subject,
            measure: row.parsed("measure")?,
            more_than: more_than.ok_or_else(|| {
                row.refuse("more_than", "a threshold is missing", "Write a number above zero")
            })?,
            exposure: row.parsed("exposure")?,
            source,
            status,
        })
    };
    table.rows().map(read).collect()
}

/// Every rule by its key, once all that the rules and thresholds refer to is there.
pub(crate) fn whole(
    written: &[Written],
    thresholds: &[Threshold],
) -> Result<BTreeMap<String, CautionRule>, Error> {
    let by_key: BTreeMap<&str, &Written> = written.iter().map(|one| (one.key(), one)).collect();
    let refuse = |file: &str, field: &str, problem: String, cure: &str| Error {
        file: file.to_owned(),
        line: None,
        field: Some(field.to_owned()),
        problem,
        cure: cure.to_owned(),
    };
    for one in written {
        let CautionRule { key, replaces, replaces_for_material, amount, .. } = one.rule();
        for other in replaces.iter().chain(replaces_for_material) {
            let Some(other) = by_key.get(other.as_str()).filter(|it| it.key() != key) else {
                let problem = format!("{key} replaces {other:?}, which is no other caution");
                return Err(refuse("cautions.csv", "replaces", problem, "Write the key of another row"));
            };
            if replaces.iter().any(|it| it == other.key()) && !obeys(one, other) {
                return Err(refuse(
                    "cautions.csv",
                    "replaces",
                    format!("following {key} does not obey {} in full", other.key()),
                    "A caution replaces one of its own level or below whose audiences are all among its own",
                ));
            }
            if !one.audiences().iter().any(|it| other.audiences().iter().any(|of| same_sort(it, of))) {
                return Err(refuse(
                    "cautions.csv",
                    "replaces_for_material",
                    format!("{key} is for other people than {}", other.key()),
                    "A finding replaces what is said to the same people",
                ));
            }
        }
        if let Some(missing) = one.joins().and_then(|of| of.iter().find(|of| !replaces.contains(of))) {
            return Err(refuse(
                "cautions.csv",
                "replaces",
                format!("{key} joins {missing:?} and does not replace it"),
                "Write every key of together:KEY+KEY in replaces too",
            ));
        }
        let settled = thresholds.iter().any(|threshold| threshold.caution == *key);
        if settled != (*amount == Amount::Threshold) {
            return Err(refuse(
                "cautions.csv",
                "amount",
                format!("{key}: the amount is {amount}, and thresholds.csv says otherwise"),
                "Write threshold where thresholds.csv has rows of the caution, and only there",
            ));
        }
    }
    let stray = thresholds.iter().find(|threshold| !by_key.contains_key(threshold.caution.as_str()));
    if let Some(stray) = stray {
        let problem = format!("{:?} is no caution", stray.caution);
        return Err(refuse("thresholds.csv", "caution", problem, "Write a key of cautions.csv"));
    }
    no_circle(&by_key).map_err(|key| {
        let problem = format!("{key} is replaced by what it replaces");
        refuse("cautions.csv", "replaces", problem, "Keep one of the two")
    })?;
    Ok(written.iter().map(|one| (one.key().to_owned(), one.rule().clone())).collect())
}

/// Whether whoever follows one caution obeys the other too, as far as level and audiences tell.
fn obeys(one: &Written, other: &Written) -> bool {
    let everyone = one.audiences().contains(&Audience::Everyone);
    one.level() >= other.level()
        && other.audiences().iter().all(|audience| everyone || covers(one.audiences(), audience))
}

fn covers(audiences: &[Audience], wanted: &Audience) -> bool {
    audiences.iter().any(|audience| match (audience, wanted) {
        (Audience::UnderMonths(limit), Audience::UnderMonths(other)) => limit >= other,
        (Audience::Condition(wide), Audience::Condition(other)) => {
            wide == other || other.wider().contains(wide)
        }
        (one, other) => one == other,
    })
}

fn same_sort(one: &Audience, other: &Audience) -> bool {
    matches!((one, other), (Audience::UnderMonths(_), Audience::UnderMonths(_))) || one == other
}

/// Nothing replaces what replaces it, over however many steps.
fn no_circle<'k>(by_key: &BTreeMap<&'k str, &Written>) -> Result<(), &'k str> {
    for key in by_key.keys() {
        let mut met = HashSet::new();
        let mut open = vec![*key];
        while let Some(next) = open.pop() {
            let Some(rule) = by_key.get(next).map(|one| one.rule()) else { continue };
            for replaced in rule.replaces.iter().chain(&rule.replaces_for_material) {
                if replaced == key {
                    return Err(key);
                }
                if met.insert(replaced.as_str()) {
                    open.push(replaced);
                }
            }
        }
    }
    Ok(())
}
