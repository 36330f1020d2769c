//! How a caution set is read, in the database: group, stage and label text of its cautions, and what was not raised.
//!
//! A set from before readings has none: group and stage then follow from level and audiences.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::written::{Group, Level, Stage};
use schema::caution_reading;
use serde::{Deserialize, Serialize};
use store::{Error, Result, Tx};
use wire::ids::RevisionId;
use wire::safety::{Caution, CautionSet, LookedAt, NotRaised};

use crate::present::Present;

/// A reading as it is stored.
#[derive(Serialize, Deserialize)]
struct Reading {
    format: u8,
    /// In the order of the cautions.
    cautions: Vec<ReadAs>,
    not_raised: Vec<LeftOut>,
    judged: Vec<String>,
    not_judged: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    youngest_months: Option<u32>,
}

/// How one caution is read.
#[derive(Serialize, Deserialize)]
struct ReadAs {
    group: Group,
    stage: Stage,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    label: Option<String>,
}

/// A caution that was looked at and not raised.
#[derive(Serialize, Deserialize)]
struct LeftOut {
    key: String,
    text: String,
    level: Level,
    audiences: Vec<String>,
    because: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    source: Option<String>,
    origins: Vec<String>,
}

const FORMAT: u8 = 1;

/// Stores how a set is read, beside its cautions.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put(tx: &mut Tx<'_>, (id, number): (RevisionId, i32), present: &Present) -> Result<()> {
    let read_as = |caution: &Caution| ReadAs {
        group: caution.group.into(),
        stage: caution.stage.into(),
        label: caution.label.clone(),
    };
    let left_out = |one: &NotRaised| LeftOut {
        key: one.key.clone(),
        text: one.text.clone(),
        level: one.level.into(),
        audiences: one.audiences.clone(),
        because: one.because.clone(),
        source: one.source.clone(),
        origins: one.origins.clone(),
    };
    let reading = Reading {
        format: FORMAT,
        cautions: present.cautions.iter().map(|counted| read_as(&counted.caution)).collect(),
        not_raised: present.not_raised.iter().map(left_out).collect(),
        judged: present.looked_at.judged.clone(),
        not_judged: present.looked_at.not_judged.clone(),
        youngest_months: present.looked_at.youngest_months,
    };
    diesel::insert_into(caution_reading::table)
        .values((
            caution_reading::revision_id.eq(id.0),
            caution_reading::set_number.eq(number),
            caution_reading::reading.eq(serde_json::to_value(reading)?),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Adds to a set how it is read.
///
/// # Errors
/// Returns [`Error::Internal`] if the reading cannot be read or is of another set.
pub(crate) fn complete(set: &mut CautionSet, reading: serde_json::Value) -> Result<()> {
    let reading: Reading = serde_json::from_value(reading)?;
    if reading.format != FORMAT || reading.cautions.len() != set.cautions.len() {
        return Err(Error::internal(format!(
            "the reading of a caution set of {} does not fit it",
            set.revision.0
        )));
    }
    for (caution, read) in set.cautions.iter_mut().zip(reading.cautions) {
        caution.group = read.group.into();
        caution.stage = read.stage.into();
        caution.label = read.label;
    }
    set.not_raised = reading.not_raised.into_iter().map(told).collect();
    set.looked_at = Some(LookedAt {
        judged: reading.judged,
        not_judged: reading.not_judged,
        youngest_months: reading.youngest_months,
    });
    Ok(())
}

fn told(left_out: LeftOut) -> NotRaised {
    let LeftOut { key, text, level, audiences, because, source, origins } = left_out;
    NotRaised { key, text, level: level.into(), audiences, because, source, origins }
}
