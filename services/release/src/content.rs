//! The only reader and writer of what lies behind the gate.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::formulary::RevisionComment;
use wire::ids::{BatchId, PersonId, RevisionId};

use judgement::Written;

#[rustfmt::skip]
#[path = "gated.rs"]
mod gated;

use gated::{batch_recipe, revision_comment, revision_content};

/// What was written of a revision. For the clinic's own rules; to a caller it goes only through a door.
pub(crate) async fn written(tx: &mut Tx<'_>, id: RevisionId) -> Result<Written> {
    let text: Option<String> = revision_content::table
        .find(id.0)
        .select(revision_content::content)
        .first(tx.conn())
        .await
        .optional()?;
    let text = text.ok_or_else(|| Error::internal("a revision without content"))?;
    Ok(serde_json::from_str(&text)?)
}

/// What was written of several revisions, in one statement.
pub(super) async fn all_written(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<HashMap<Uuid, Written>> {
    let rows: Vec<(Uuid, String)> = revision_content::table
        .filter(revision_content::revision_id.eq_any(ids))
        .select((revision_content::revision_id, revision_content::content))
        .load(tx.conn())
        .await?;
    rows.into_iter().map(|(id, text)| Ok((id, serde_json::from_str(&text)?))).collect()
}

pub(super) async fn insert(tx: &mut Tx<'_>, id: RevisionId, written: &Written) -> Result<()> {
    diesel::insert_into(revision_content::table)
        .values((
            revision_content::revision_id.eq(id.0),
            revision_content::content.eq(serde_json::to_string(written)?),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}

pub(super) async fn replace(tx: &mut Tx<'_>, id: RevisionId, written: &Written) -> Result<()> {
    diesel::update(revision_content::table.find(id.0))
        .set(revision_content::content.eq(serde_json::to_string(written)?))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Keeps the random part of the digest and the evaluation beside the content that freezes now.
pub(super) async fn seal(tx: &mut Tx<'_>, id: RevisionId, salt: &[u8; 16], evaluation: &str) -> Result<()> {
    diesel::update(revision_content::table.find(id.0))
        .set((revision_content::salt.eq(&salt[..]), revision_content::evaluation.eq(evaluation)))
        .execute(tx.conn())
        .await?;
    Ok(())
}

pub(super) async fn comment_insert(
    tx: &mut Tx<'_>,
    id: RevisionId,
    by: PersonId,
    decision: &str,
    comment: &str,
) -> Result<()> {
    let comment_id = tx.new_id();
    let now = tx.now;
    diesel::insert_into(revision_comment::table)
        .values((
            revision_comment::id.eq(comment_id),
            revision_comment::revision_id.eq(id.0),
            revision_comment::by_id.eq(by.0),
            revision_comment::decision.eq(decision),
            revision_comment::comment.eq(comment),
            revision_comment::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}

pub(super) async fn comments(tx: &mut Tx<'_>, id: RevisionId) -> Result<Vec<RevisionComment>> {
    let rows: Vec<(Uuid, DateTime<Utc>, String, String)> = revision_comment::table
        .filter(revision_comment::revision_id.eq(id.0))
        .order(revision_comment::id)
        .select((
            revision_comment::by_id,
            revision_comment::at,
            revision_comment::decision,
            revision_comment::comment,
        ))
        .load(tx.conn())
        .await?;
    Ok(rows
        .into_iter()
        .map(|(by, at, decision, comment)| RevisionComment { by: PersonId(by), at, decision, comment })
        .collect())
}

pub(super) async fn asked_for_insert(tx: &mut Tx<'_>, id: BatchId, recipe: &str) -> Result<()> {
    diesel::insert_into(batch_recipe::table)
        .values((batch_recipe::batch_id.eq(id.0), batch_recipe::recipe.eq(recipe)))
        .execute(tx.conn())
        .await?;
    Ok(())
}

pub(super) async fn asked_for(tx: &mut Tx<'_>, id: BatchId) -> Result<String> {
    Ok(batch_recipe::table.find(id.0).select(batch_recipe::recipe).first(tx.conn()).await?)
}
