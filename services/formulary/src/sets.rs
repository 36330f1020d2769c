//! Caution sets in the database: reading, and adding the next one.
//!
//! Never here: a change of a stored set. A changed set gets the next number.

use std::collections::HashMap;

use canonical::Sha;
use diesel::dsl::sql;
use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Integer, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use judgement::cautions::{self, Counted};
use judgement::written::Level;
use schema::{caution, caution_reading, caution_set, gate, older_evaluation};
use serde::{Deserialize, Serialize};
use store::{Error, NewEvent, Result, Tx, word};
use uuid::Uuid;
use wire::ids::{AmendmentId, RevisionId};
use wire::safety::{Caution, CautionGroup, CautionSet, ChangedLevel};

use crate::kept::OLDER_EVALUATION;
use crate::present::Present;
use crate::readings;

#[derive(Queryable, Selectable)]
#[diesel(table_name = caution, check_for_backend(diesel::pg::Pg))]
struct Row {
    key: String,
    text_version: i32,
    level: String,
    language: String,
    text: String,
    source: String,
    status: String,
    audiences: serde_json::Value,
    origins: serde_json::Value,
    changed: Option<serde_json::Value>,
}

/// A level that the clinic changed, as it is stored.
#[derive(Serialize, Deserialize)]
struct Changed {
    was: Level,
    set_aside: bool,
    reason: String,
    amendment: Uuid,
}

impl From<ChangedLevel> for Changed {
    fn from(ChangedLevel { was, set_aside, reason, amendment }: ChangedLevel) -> Self {
        Self { was: was.into(), set_aside, reason, amendment: amendment.0 }
    }
}

impl From<Changed> for ChangedLevel {
    fn from(Changed { was, set_aside, reason, amendment }: Changed) -> Self {
        Self { was: was.into(), set_aside, reason, amendment: AmendmentId(amendment) }
    }
}

impl Row {
    fn into_wire(self) -> Result<Caution> {
        let level = word(&self.level)?;
        let audiences: Vec<String> = serde_json::from_value(self.audiences)?;
        let (group, stage) = CautionGroup::unstated(level, &audiences);
        Ok(Caution {
            group,
            stage,
            label: None,
            key: self.key,
            text_version: self.text_version.unsigned_abs(),
            level,
            language: self.language,
            text: self.text,
            source: self.source,
            status: self.status,
            audiences,
            origins: serde_json::from_value(self.origins)?,
            changed: self.changed.map(serde_json::from_value::<Changed>).transpose()?.map(Into::into),
        })
    }
}

/// Form of the evaluation digest: over values, units and verdicts, without sentences.
const EVALUATION_FORM: i16 = 2;

/// Stores a caution set under `number`, makes it the current one and returns its digest.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put(tx: &mut Tx<'_>, id: RevisionId, number: i32, present: &Present) -> Result<Sha> {
    let all = &present.cautions;
    let digest = cautions::digest(all);
    let now = tx.now();
    diesel::insert_into(caution_set::table)
        .values((
            caution_set::revision_id.eq(id.0),
            caution_set::number.eq(number),
            caution_set::digest.eq(&digest[..]),
            caution_set::evaluation_digest.eq(&present.evaluation[..]),
            caution_set::evaluation_form.eq(EVALUATION_FORM),
            caution_set::created_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let mut rows = Vec::with_capacity(all.len());
    for (i, Counted { rule, caution: one }) in all.iter().enumerate() {
        rows.push((
            caution::revision_id.eq(id.0),
            caution::set_number.eq(number),
            caution::position.eq(i16::try_from(i).map_err(|_| Error::internal("too many cautions"))?),
            caution::key.eq(&one.key),
            caution::rule.eq(rule),
            caution::text_version.eq(i32::try_from(one.text_version).unwrap_or(i32::MAX)),
            caution::level.eq(one.level.as_str()),
            caution::language.eq(&one.language),
            caution::text.eq(&one.text),
            caution::source.eq(&one.source),
            caution::status.eq(&one.status),
            caution::audiences.eq(serde_json::to_value(&one.audiences)?),
            caution::origins.eq(serde_json::to_value(&one.origins)?),
            caution::changed.eq(one
                .changed
                .clone()
                .map(|it| serde_json::to_value(Changed::from(it)))
                .transpose()?),
        ));
    }
    diesel::insert_into(caution::table).values(rows).execute(tx.conn()).await?;
    readings::put(tx, (id, number), present).await?;
    let current = (gate::set_number.eq(number), gate::caution_digest.eq(digest.to_vec()));
    diesel::insert_into(gate::table)
        .values((gate::revision_id.eq(id.0), current.clone()))
        .on_conflict(gate::revision_id)
        .do_update()
        .set(current)
        .execute(tx.conn())
        .await?;
    Ok(digest)
}

/// The current caution set of a frozen revision.
///
/// # Errors
/// Returns [`Error::Internal`] if the revision has none, as a draft has.
pub async fn current(tx: &mut Tx<'_>, id: RevisionId) -> Result<CautionSet> {
    let number = current_number(tx, id).await?;
    numbered(tx, id, number).await
}

/// Which caution set of a frozen revision is the current one.
///
/// # Errors
/// As [`current`].
pub(crate) async fn current_number(tx: &mut Tx<'_>, id: RevisionId) -> Result<i32> {
    Ok(gate::table.find(id.0).select(gate::set_number).first(tx.conn()).await?)
}

/// The digest of the evaluation that a set was computed with. `None` for sets from before these digests were stored.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn evaluation_digest(tx: &mut Tx<'_>, id: RevisionId, number: i32) -> Result<Option<Sha>> {
    let (digest, form): (Option<Vec<u8>>, i16) = caution_set::table
        .find((id.0, number))
        .select((caution_set::evaluation_digest, caution_set::evaluation_form))
        .first(tx.conn())
        .await?;
    let digest = if form == EVALUATION_FORM {
        digest
    } else {
        let older = older_evaluation::table.find((id.0, number)).select(older_evaluation::digest);
        older.first(tx.conn()).await.optional()?
    };
    digest
        .map(|digest: Vec<u8>| digest.try_into().map_err(|_| Error::internal("a digest of the wrong length")))
        .transpose()
}

/// The number of a revision's current caution set, if it is older than digests of values and has none yet.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn without_evaluation(tx: &mut Tx<'_>, id: RevisionId) -> Result<Option<i32>> {
    let (number, form): (i32, i16) =
        gate::table
            .inner_join(caution_set::table.on(
                caution_set::revision_id.eq(gate::revision_id).and(caution_set::number.eq(gate::set_number)),
            ))
            .filter(gate::revision_id.eq(id.0))
            .select((gate::set_number, caution_set::evaluation_form))
            .first(tx.conn())
            .await?;
    let kept = older_evaluation::table.find((id.0, number));
    let kept: bool = diesel::select(diesel::dsl::exists(kept)).get_result(tx.conn()).await?;
    Ok((form != EVALUATION_FORM && !kept).then_some(number))
}

/// Stores the digest of values for a caution set that is older than such digests.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn keep_evaluation(
    tx: &mut Tx<'_>,
    id: RevisionId,
    number: i32,
    evaluation: &Sha,
) -> Result<()> {
    diesel::insert_into(older_evaluation::table)
        .values((
            older_evaluation::revision_id.eq(id.0),
            older_evaluation::set_number.eq(number),
            older_evaluation::digest.eq(&evaluation[..]),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(
        NewEvent::new("revision", id.0, "evaluation_kept")
            .keeps(&OLDER_EVALUATION, [id.0.to_string(), number.to_string()]),
    );
    Ok(())
}

/// Which caution set of which revision.
pub(crate) type SetKey = (RevisionId, i32);

/// Current or former caution sets, in three statements however many there are.
///
/// # Errors
/// Returns the errors of the database. A set that never was is left out.
pub(crate) async fn all_numbered(tx: &mut Tx<'_>, keys: &[SetKey]) -> Result<HashMap<SetKey, CautionSet>> {
    let ids: Vec<Uuid> = keys.iter().map(|(id, _)| id.0).collect();
    let numbers: Vec<i32> = keys.iter().map(|(_, number)| *number).collect();
    let asked = || sql::<Bool>("(revision_id, ");
    let digests: Vec<(Uuid, i32, Vec<u8>, Option<serde_json::Value>)> = caution_set::table
        .left_join(
            caution_reading::table.on(caution_reading::revision_id
                .eq(caution_set::revision_id)
                .and(caution_reading::set_number.eq(caution_set::number))),
        )
        .filter(
            sql::<Bool>("(caution_set.revision_id, caution_set.number) IN (SELECT * FROM unnest(")
                .bind::<Array<SqlUuid>, _>(ids.clone())
                .sql(", ")
                .bind::<Array<Integer>, _>(numbers.clone())
                .sql("))"),
        )
        .select((
            caution_set::revision_id,
            caution_set::number,
            caution_set::digest,
            caution_reading::reading.nullable(),
        ))
        .load(tx.conn())
        .await?;
    let rows: Vec<(Uuid, i32, Row)> = caution::table
        .filter(
            asked()
                .sql("set_number) IN (SELECT * FROM unnest(")
                .bind::<Array<SqlUuid>, _>(ids)
                .sql(", ")
                .bind::<Array<Integer>, _>(numbers)
                .sql("))"),
        )
        .order((caution::revision_id, caution::set_number, caution::position))
        .select((caution::revision_id, caution::set_number, Row::as_select()))
        .load(tx.conn())
        .await?;
    let notice = policy::rules(tx).await?.notice;
    let (mut sets, mut read_as) = (HashMap::with_capacity(keys.len()), Vec::new());
    for (id, number, digest, reading) in digests {
        let key: SetKey = (RevisionId(id), number);
        let set = CautionSet {
            revision: key.0,
            digest: hex::encode(digest),
            cautions: Vec::new(),
            not_raised: Vec::new(),
            offers: Vec::new(),
            looked_at: None,
            notice: notice.clone(),
        };
        sets.insert(key, set);
        read_as.extend(reading.map(|reading| (key, reading)));
    }
    for (id, number, row) in rows {
        if let Some(set) = sets.get_mut(&(RevisionId(id), number)) {
            set.cautions.push(row.into_wire()?);
        }
    }
    for (key, reading) in read_as {
        if let Some(set) = sets.get_mut(&key) {
            readings::complete(set, reading)?;
        }
    }
    Ok(sets)
}

/// A current or former caution set of a revision.
///
/// # Errors
/// Returns [`Error::Internal`] if the revision never had a set of this number.
pub async fn numbered(tx: &mut Tx<'_>, id: RevisionId, number: i32) -> Result<CautionSet> {
    let key = (id, number);
    let set = all_numbered(tx, &[key]).await?.remove(&key);
    set.ok_or_else(|| Error::internal("a caution set that was never made"))
}

/// Whether `digest` is that of the current caution set.
///
/// # Errors
/// Returns the errors of the database.
pub async fn is_current(tx: &mut Tx<'_>, id: RevisionId, digest: &[u8]) -> Result<bool> {
    let found: Option<Uuid> = gate::table
        .filter(gate::revision_id.eq(id.0))
        .filter(gate::caution_digest.eq(digest))
        .select(gate::revision_id)
        .first(tx.conn())
        .await
        .optional()?;
    Ok(found.is_some())
}
