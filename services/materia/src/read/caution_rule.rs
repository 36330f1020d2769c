//! The rule of a caution, as one row of `cautions.csv` states it.

use super::Known;
use crate::caution::{Audience, Level};
use crate::error::Error;
use crate::rule::{CautionRule, Group, OnlyAs, Stage};
use crate::table::Row;

/// The rule of one row of `cautions.csv`.
pub(crate) fn rule(
    row: Row<'_>,
    key: &str,
    level: Level,
    audiences: &[Audience],
    known: &Known,
) -> Result<CautionRule, Error> {
    let group = row.parsed("group")?;
    let stage = row.parsed("stage")?;
    let fits = match group {
        Group::ForTheMaker => stage == Stage::Making,
        Group::HowToKeep => stage == Stage::Keeping,
        Group::MustNot => stage != Stage::Keeping,
        Group::AskFirst | Group::HowToUse => stage == Stage::Use,
    };
    if !fits {
        return Err(row.refuse(
            "stage",
            format!("{stage} does not go with the group {group}"),
            "Write making for for-the-maker, keeping for how-to-keep, use for the others",
        ));
    }
    // A warning that somebody's health hangs on is never for the maker alone.
    if group == Group::ForTheMaker && (level > Level::Caution || audiences != [Audience::Everyone]) {
        return Err(row.refuse(
            "group",
            "for-the-maker would keep a warning from the label",
            "Choose another group; only a note or caution for everyone may be for the maker",
        ));
    }
    Ok(CautionRule {
        key: key.to_owned(),
        group,
        stage,
        regimes: row.references("regimes", &known.regimes)?,
        only_as: match row.optional("only_as") {
            None => OnlyAs::Any,
            Some("pure") => OnlyAs::Pure,
            Some(_) => OnlyAs::In(row.references("only_as", &known.preparations)?),
        },
        amount: row.parsed("amount")?,
        replaces: row.list("replaces"),
        replaces_for_material: row.list("replaces_for_material"),
        label: row.optional_string("label"),
    })
}
