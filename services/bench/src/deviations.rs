//! Deviations: the reason of a weighing outside its tolerance, what else went otherwise than the method asks, and who
//! authorised it. What it was and why stands in the entry alone; here stands who authorised which entry.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Decimal, number};
use policy::Rules;
use recipes::stored::{Line, Recipe};
use release::Record;
use release::entries::Entry;
use schema::batch_authorisation;
use store::known_as::Names;
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::bench::{EntryKind, Finding, FindingKind, NewEntry};
use wire::deviations::Authorisation;
use wire::ids::{EntryId, PersonId};

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = batch_authorisation, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) entry_id: Uuid,
    pub(crate) batch_id: Uuid,
    pub(crate) maker_id: Uuid,
    pub(crate) by_id: Uuid,
    pub(crate) own_authorisation: bool,
    pub(crate) at: DateTime<Utc>,
}

impl From<Row> for Authorisation {
    fn from(row: Row) -> Self {
        Self {
            entry: EntryId(row.entry_id),
            by: PersonId(row.by_id),
            by_name: None,
            at: row.at,
            note: row.own_authorisation.then(|| "authorised by its maker".to_owned()),
        }
    }
}

/// The deviations of a record that were authorised, without names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Authorisation>> {
    let rows: Vec<Row> = batch_authorisation::table
        .filter(batch_authorisation::batch_id.eq(record.batch().0))
        .order(batch_authorisation::at)
        .select(Row::as_select())
        .load(tx.conn())
        .await?;
    Ok(rows.into_iter().map(Into::into).collect())
}

/// The authorisation with the name of who gave it.
pub(crate) fn named(one: Authorisation, names: &Names) -> Authorisation {
    Authorisation { by_name: names.of(one.by.0), ..one }
}

/// By entry, with names.
pub(crate) fn by_entry(all: Vec<Authorisation>, names: &Names) -> HashMap<EntryId, Authorisation> {
    all.into_iter().map(|one| (one.entry, named(one, names))).collect()
}

/// Asks for the reason of a weighing that takes its line above the tolerance: what is in the vessel is not taken out again, and
/// the reason is known now. Below the tolerance a line may be weighed on, so its reason is asked for by a finding alone.
///
/// # Errors
/// Returns [`Error::Invalid`] at `/deviation`.
pub(crate) fn reason_given(
    recipe: &Recipe,
    request: &NewEntry,
    weighed: Decimal,
    rules: &Rules,
) -> Result<()> {
    if request.kind != EntryKind::Weighing || request.deviation.is_some() || request.reason_later {
        return Ok(());
    }
    let name = request.line.as_deref().unwrap_or_default().trim();
    let line = recipe.lines().find(|line| line.line == name);
    match line.filter(|line| is_above(recipe, line, weighed, rules)) {
        None => Ok(()),
        Some(line) => Err(Error::field(
            "/deviation",
            format!(
                "This weighing takes {} (line {name}) above its tolerance. Enter the reason, such as \"The oil poured faster \
                 than expected\"; or weigh again and enter the new weight.",
                line.name
            ),
        )),
    }
}

/// Whether what was weighed of a line is above its tolerance, and more than the recipe shows.
pub(crate) fn is_above(recipe: &Recipe, line: &Line, weighed: Decimal, rules: &Rules) -> bool {
    let above = |target: &Decimal| weighed > *target && shown(line).is_none_or(|shown| weighed > shown);
    let compared = |target| rules.tolerances().compare(line.function(), target, weighed);
    recipe.target(line).filter(above).and_then(compared).is_some_and(|found| !found.within)
}

/// What the recipe shows for a line, in g. Where the balance rounds it, this can be outside the tolerance of the exact target;
/// a maker who weighed what was shown has no reason to give.
pub(crate) fn shown(line: &Line) -> Option<Decimal> {
    number::parse(line.weigh.value.as_deref()?).ok().filter(|_| line.weigh.unit == "g")
}

/// What is found of the reason of a line that is outside its tolerance.
pub(crate) fn without_reason(line: &Line, off: &Finding, of_line: &[&Entry]) -> Option<Finding> {
    let weighed: Decimal = of_line.iter().filter_map(|entry| entry.measured.grams).sum();
    let given = of_line.iter().any(|entry| entry.shown.deviation.is_some()) || shown(line) == Some(weighed);
    (!given).then(|| Finding {
        entry: off.entry,
        line: Some(line.line.clone()),
        sentence: format!(
            "{} (line {}) is outside its tolerance, and no reason is recorded. Its maker gives it by a correction.",
            line.name, line.line
        ),
        ..of("the reason of a deviation must be recorded")
    })
}

/// The deviations that nobody has authorised. A weighing is one while its line is among those that are `off`: a correction may
/// have brought it back.
pub(crate) fn unauthorised(
    live: &[&Entry],
    authorisations: &[Authorisation],
    off: &[String],
) -> Vec<Finding> {
    let is_off = |entry: &Entry| entry.shown.line.as_ref().is_some_and(|line| off.contains(line));
    let is_one = |entry: &&&Entry| {
        matches!(entry.shown.kind, EntryKind::Deviation | EntryKind::Adjustment)
            || entry.shown.deviation.is_some() && is_off(entry)
    };
    let authorised = |entry: &Entry| authorisations.iter().any(|one| one.entry == entry.shown.id);
    live.iter()
        .filter(is_one)
        .filter(|entry| !authorised(entry))
        .map(|entry| Finding {
            entry: Some(entry.shown.id),
            line: entry.shown.line.clone(),
            step: entry.shown.step,
            sentence: match entry.shown.kind {
                EntryKind::Adjustment => format!(
                    "The adjustment of entry {} awaits authorisation by a second person. Until then the batch is judged by the \
                     amounts from before it.",
                    entry.shown.number
                ),
                _ => format!(
                    "The deviation of entry {} awaits authorisation by a second person.",
                    entry.shown.number
                ),
            },
            ..of("a second person must authorise a deviation")
        })
        .collect()
}

fn of(rule: &str) -> Finding {
    Finding {
        kind: FindingKind::Deviation,
        line: None,
        step: None,
        entry: None,
        asked: None,
        recorded: None,
        sentence: String::new(),
        rule: rule.to_owned(),
    }
}
