//! Amounts and method of revisions: writing them, freezing them, and reading them sealed or under proof.
//!
//! What was frozen is checked against its digest whenever it is read from the database. Content that does not match is
//! not handed out: the read fails and the log names the revision.

use std::collections::HashMap;

use canonical::{Form, Salt, Sha};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::revision;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use store::actor::Brand;
use store::{Error, Instructor, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::formulary::{RevisionComment, RevisionState};
use wire::ids::{PersonId, RevisionId};

use crate::gated::{revision_comment, revision_content};
use crate::grants::{AllOpen, Grant, sha};
use crate::kept::COMMENT;
use crate::released::Released;
use crate::sealed::Sealed;

/// Proof that the caller is the author of a draft, looked up in this transaction.
pub struct Draft<'t> {
    revision: RevisionId,
    _brand: Brand<'t>,
}

impl Draft<'_> {
    /// The draft.
    #[must_use]
    pub const fn revision(&self) -> RevisionId {
        self.revision
    }
}

/// The draft of this id, if it is one of the caller's own.
///
/// # Errors
/// When the database does not answer.
pub async fn draft<'t>(tx: &mut Tx<'t>, author: Instructor<'t>, id: RevisionId) -> Result<Option<Draft<'t>>> {
    let own: Option<Uuid> = revision::table
        .filter(revision::id.eq(id.0))
        .filter(revision::author_id.eq(author.id().0))
        .filter(revision::state.eq(RevisionState::Draft.as_str()))
        .select(revision::id)
        .first(tx.conn())
        .await
        .optional()?;
    Ok(own.map(|_| Draft { revision: id, _brand: Brand::default() }))
}

/// Keeps the first content of a draft.
///
/// # Errors
/// When the revision has content already.
pub async fn draft_insert(tx: &mut Tx<'_>, id: RevisionId, content: &impl Serialize) -> Result<()> {
    diesel::insert_into(revision_content::table)
        .values((
            revision_content::revision_id.eq(id.0),
            revision_content::content.eq(serde_json::to_string(content)?),
            revision_content::form.eq(Form::NEW.number()),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Begins a draft with the content of a revision that was returned to its author. Nobody reads it on the way.
///
/// # Errors
/// When the draft has content already.
pub async fn draft_copy(tx: &mut Tx<'_>, from: RevisionId, to: RevisionId) -> Result<()> {
    let text: String =
        revision_content::table.find(from.0).select(revision_content::content).first(tx.conn()).await?;
    diesel::insert_into(revision_content::table)
        .values((
            revision_content::revision_id.eq(to.0),
            revision_content::content.eq(text),
            revision_content::form.eq(Form::NEW.number()),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Replaces a draft's content.
///
/// # Errors
/// When the database refuses it.
pub async fn draft_replace(tx: &mut Tx<'_>, draft: &Draft<'_>, content: &impl Serialize) -> Result<()> {
    diesel::update(revision_content::table.find(draft.revision.0))
        .set(revision_content::content.eq(serde_json::to_string(content)?))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// What a draft holds, for its author.
///
/// # Errors
/// When the stored text cannot be read.
pub async fn draft_content<T: DeserializeOwned>(tx: &mut Tx<'_>, draft: &Draft<'_>) -> Result<Released<T>> {
    let text: String = revision_content::table
        .find(draft.revision.0)
        .select(revision_content::content)
        .first(tx.conn())
        .await?;
    Ok(Released::new(serde_json::from_str(&text)?))
}

/// Freezes a draft: keeps its content in canonical form with the salt of its digest and what was computed of it, and
/// answers the digest: SHA-256 over the canonical form and the salt, so that nobody can find content by trying.
///
/// # Errors
/// When the database refuses it.
pub async fn freeze(
    tx: &mut Tx<'_>,
    draft: &Draft<'_>,
    content: &impl Serialize,
    evaluation: &str,
) -> Result<Sha> {
    let salt: Salt = tx.rng.bytes();
    let value = serde_json::to_value(content)?;
    let digest = canonical::salted(&value, &salt);
    diesel::update(revision_content::table.find(draft.revision.0))
        .set((
            revision_content::content.eq(Form::NEW.text(&value)),
            revision_content::form.eq(Form::NEW.number()),
            revision_content::salt.eq(&salt[..]),
            revision_content::evaluation.eq(evaluation),
        ))
        .execute(tx.conn())
        .await?;
    Ok(digest)
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = revision_content, check_for_backend(diesel::pg::Pg))]
struct Row {
    revision_id: Uuid,
    content: String,
    salt: Option<Vec<u8>>,
    form: i16,
}

/// The digest of content as it is stored: the stored text is parsed and brought into the digest's own form.
///
/// # Errors
/// When the text is no JSON, or the form is unknown.
pub(crate) fn digest_of(text: &str, salt: &[u8], form: i16) -> Result<Sha> {
    let value: Value = serde_json::from_str(text)?;
    let form = Form::numbered(form).map_err(|error| Error::Internal(error.into()))?;
    let bytes = form.text(&value);
    Ok(match form {
        Form::One => form.digest([bytes.as_bytes(), salt]),
        Form::Two => form.digest([salt, bytes.as_bytes()]),
    })
}

/// Frozen content, what was computed of it when it froze, and the digest that both go by.
pub struct Frozen<T> {
    /// What was written.
    pub written: T,
    /// What was computed of it when it froze; none where only another form of it was kept.
    pub evaluation: Option<String>,
}

/// A frozen revision's content, sealed under its digest.
///
/// # Errors
/// [`Error::Internal`] when the content does not match the digest.
pub async fn sealed<T: DeserializeOwned>(tx: &mut Tx<'_>, id: RevisionId) -> Result<Sealed<Frozen<T>>> {
    let digest: Option<Vec<u8>> =
        revision::table.find(id.0).select(revision::digest).first(tx.conn()).await?;
    let digest = sha(digest.ok_or_else(|| Error::internal("a draft was read as frozen"))?)?;
    let (row, evaluation): (Row, Option<String>) = revision_content::table
        .find(id.0)
        .select((Row::as_select(), revision_content::evaluation))
        .first(tx.conn())
        .await?;
    let written = checked(&row, &digest)?;
    Ok(Sealed::new(digest, Frozen { written, evaluation }))
}

fn checked<T: DeserializeOwned>(row: &Row, digest: &Sha) -> Result<T> {
    let salt = row.salt.as_deref().ok_or_else(|| Error::internal("frozen content without its salt"))?;
    if digest_of(&row.content, salt, row.form)? != *digest {
        tracing::error!(revision = %row.revision_id, "the content of a frozen revision does not match its digest");
        return Err(Error::internal("frozen content that does not match its digest"));
    }
    Ok(serde_json::from_str(&row.content)?)
}

/// What something is made from, by id, each checked against its own digest, and sealed under the digest of what it is
/// part of. `under` is all zeros for a draft, which no proof names.
///
/// # Errors
/// [`Error::Internal`] when one does not match its digest.
pub async fn nested_sealed<T: DeserializeOwned>(
    tx: &mut Tx<'_>,
    under: Sha,
    ids: &[Uuid],
) -> Result<Sealed<HashMap<Uuid, T>>> {
    Ok(Sealed::new(under, contents(tx, ids).await?))
}

/// What an author's formula is made from, by id, where every one of them is released to the author.
///
/// # Errors
/// [`Error::Internal`] when one does not match its digest.
pub async fn nested_released<T: DeserializeOwned>(
    tx: &mut Tx<'_>,
    open: &AllOpen<'_>,
) -> Result<Released<HashMap<Uuid, T>>> {
    Ok(Released::new(contents(tx, open.ids()).await?))
}

async fn contents<T: DeserializeOwned>(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<HashMap<Uuid, T>> {
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let digests: HashMap<Uuid, Option<Vec<u8>>> = revision::table
        .filter(revision::id.eq_any(ids))
        .select((revision::id, revision::digest))
        .load::<(Uuid, Option<Vec<u8>>)>(tx.conn())
        .await?
        .into_iter()
        .collect();
    let rows: Vec<Row> = revision_content::table
        .filter(revision_content::revision_id.eq_any(ids))
        .select(Row::as_select())
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .map(|row| {
            let digest = digests.get(&row.revision_id).cloned().flatten();
            let digest = sha(digest.ok_or_else(|| Error::internal("a draft was read as frozen"))?)?;
            Ok((row.revision_id, checked(&row, &digest)?))
        })
        .collect()
}

/// Keeps a comment given with a decision. Free text about a formula may name amounts, so it is read through the gate.
///
/// # Errors
/// When the database refuses it.
pub async fn comment_insert(
    tx: &mut Tx<'_>,
    id: RevisionId,
    by: Instructor<'_>,
    decision: &str,
    comment: &str,
) -> Result<()> {
    let comment_id = tx.new_id();
    let now = tx.now;
    diesel::insert_into(revision_comment::table)
        .values((
            revision_comment::id.eq(comment_id),
            revision_comment::revision_id.eq(id.0),
            revision_comment::by_id.eq(by.id().0),
            revision_comment::decision.eq(decision),
            revision_comment::comment.eq(comment),
            revision_comment::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(NewEvent::new("revision", id.0, "commented").keeps(&COMMENT, [comment_id]));
    Ok(())
}

/// The comments given with decisions about a revision, for whoever holds a grant for it.
///
/// # Errors
/// When the database does not answer.
pub async fn comments(tx: &mut Tx<'_>, grant: &Grant<'_>) -> Result<Released<Vec<RevisionComment>>> {
    read_comments(tx, grant.revision()).await
}

/// The comments given with decisions about a revision, for its author; none where the caller is not the author.
///
/// # Errors
/// When the database does not answer.
pub async fn comments_for_author(
    tx: &mut Tx<'_>,
    id: RevisionId,
) -> Result<Option<Released<Vec<RevisionComment>>>> {
    let me = tx.person()?.id;
    let author: Uuid = revision::table.find(id.0).select(revision::author_id).first(tx.conn()).await?;
    if author == me.0 { read_comments(tx, id).await.map(Some) } else { Ok(None) }
}

async fn read_comments(tx: &mut Tx<'_>, id: RevisionId) -> Result<Released<Vec<RevisionComment>>> {
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
    let comments = rows
        .into_iter()
        .map(|(by, at, decision, comment)| RevisionComment { by: PersonId(by), at, decision, comment })
        .collect();
    Ok(Released::new(comments))
}
