//! Amounts and method of revisions: writing them, freezing them, and reading them sealed or under proof.
//!
//! What was frozen is checked against its digest whenever it is read from the database. Content that does not match is
//! not handed out: the read fails and the log names the revision.

use std::collections::{BTreeMap, HashMap};

use canonical::{Form, Salt, Sha};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::revision;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use store::actor::Brand;
use store::journal::prove_row;
use store::{Error, Instructor, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::formulary::{RevisionComment, RevisionState};
use wire::ids::{PersonId, RevisionId};

use crate::gated::{revision_comment, revision_content, revision_result};
use crate::grants::{AllOpen, Grant};
use crate::kept::{COMMENT, RESULT};
use crate::released::Released;
use crate::sealed::{Sealed, sha};

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
/// When the draft has content already.
pub async fn draft_insert<'t>(tx: &mut Tx<'t>, draft: &Draft<'t>, content: &impl Serialize) -> Result<()> {
    insert(tx, draft.revision, serde_json::to_string(content)?).await
}

async fn insert(tx: &mut Tx<'_>, id: RevisionId, text: String) -> Result<()> {
    diesel::insert_into(revision_content::table)
        .values((
            revision_content::revision_id.eq(id.0),
            revision_content::content.eq(text),
            revision_content::form.eq(Form::NEW.number()),
        ))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Begins a draft with the content of the revision that was returned to the same author. Nobody reads it on the way.
///
/// # Errors
/// [`Error::Internal`] when `from` was not returned, or `to` is no draft of the same formula and author.
pub async fn draft_copy(tx: &mut Tx<'_>, from: RevisionId, to: RevisionId) -> Result<()> {
    let of = |id: RevisionId, state: RevisionState| {
        revision::table
            .filter(revision::id.eq(id.0))
            .filter(revision::state.eq(state.as_str()))
            .select((revision::formula_id, revision::author_id))
    };
    let returned: (Uuid, Uuid) = of(from, RevisionState::Returned).first(tx.conn()).await?;
    let draft: (Uuid, Uuid) = of(to, RevisionState::Draft).first(tx.conn()).await?;
    if returned != draft {
        return Err(Error::internal("content was to be copied into another author's draft"));
    }
    let text: String =
        revision_content::table.find(from.0).select(revision_content::content).first(tx.conn()).await?;
    insert(tx, to, text).await
}

/// Replaces a draft's content.
///
/// # Errors
/// When the database refuses it.
pub async fn draft_replace<'t>(tx: &mut Tx<'t>, draft: &Draft<'t>, content: &impl Serialize) -> Result<()> {
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
pub async fn draft_content<'t, T: DeserializeOwned>(
    tx: &mut Tx<'t>,
    draft: &Draft<'t>,
) -> Result<Released<T>> {
    let content = revision_content::table.find(draft.revision.0).select(revision_content::content);
    let text: String = content.first(tx.conn()).await?;
    Ok(Released::new(serde_json::from_str(&text)?, None))
}

/// What was computed of a revision, with the version of the calculations that computed it.
pub struct Computed {
    /// The version of the calculations.
    pub engine: i32,
    /// The result, in a form of its own.
    pub result: String,
}

/// Freezes a draft: keeps its content in canonical form with the salt of its digest and what was computed of it, and
/// answers the digest: SHA-256 over the canonical form and the salt, so that nobody can find content by trying.
///
/// # Errors
/// When the database refuses it.
pub async fn freeze<'t>(
    tx: &mut Tx<'t>,
    draft: &Draft<'t>,
    content: &impl Serialize,
    computed: &Computed,
) -> Result<Sha> {
    let salt: Salt = tx.rng.bytes();
    let value = serde_json::to_value(content)?;
    let digest = canonical::salted(&value, &salt);
    diesel::update(revision_content::table.find(draft.revision.0))
        .set((
            revision_content::content.eq(Form::NEW.text(&value)),
            revision_content::form.eq(Form::NEW.number()),
            revision_content::salt.eq(&salt[..]),
        ))
        .execute(tx.conn())
        .await?;
    if !result_insert(tx, draft.revision, computed).await? {
        return Err(Error::internal("a draft had a result before it was frozen"));
    }
    Ok(digest)
}

/// Keeps what was computed of a frozen revision, where nothing is kept yet; `false` where something is.
///
/// # Errors
/// When the database refuses it.
pub async fn result_insert(tx: &mut Tx<'_>, id: RevisionId, computed: &Computed) -> Result<bool> {
    let now = tx.now();
    let new = diesel::insert_into(revision_result::table)
        .values((
            revision_result::revision_id.eq(id.0),
            revision_result::engine.eq(computed.engine),
            revision_result::result.eq(&computed.result),
            revision_result::at.eq(now),
        ))
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    if new == 1 {
        tx.record(NewEvent::new("revision", id.0, "result_kept").keeps(&RESULT, [id.0]));
    }
    Ok(new == 1)
}

/// Content as it is stored.
#[derive(Queryable, Selectable)]
#[diesel(table_name = revision_content, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) revision_id: Uuid,
    content: String,
    salt: Option<Vec<u8>>,
    form: i16,
}

impl Row {
    /// Its digest: the stored text is parsed and brought into the digest's own form.
    pub(crate) fn digest(&self) -> Result<Sha> {
        let salt = self.salt.as_deref().ok_or_else(|| Error::internal("frozen content without its salt"))?;
        let form = Form::numbered(self.form).map_err(|error| Error::Internal(error.into()))?;
        let bytes = form.text(&serde_json::from_str::<Value>(&self.content)?);
        Ok(match form {
            Form::One => form.digest([bytes.as_bytes(), salt]),
            Form::Two => form.digest([salt, bytes.as_bytes()]),
        })
    }
}

pub(crate) async fn stored(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<Vec<Row>> {
    let rows = revision_content::table.filter(revision_content::revision_id.eq_any(ids));
    Ok(rows.select(Row::as_select()).load(tx.conn()).await?)
}

/// Frozen content, what it is made from, and what was computed of it when it froze.
pub struct Frozen<T> {
    /// What was written.
    pub written: T,
    /// What it is made from at every level, by id.
    pub nested: HashMap<Uuid, T>,
    /// What was computed of it and of what it is made from, by id, where that was kept.
    pub results: HashMap<Uuid, String>,
}

/// A frozen revision's content with what it is made from, sealed under its digest.
///
/// # Errors
/// [`Error::Internal`] when content does not match its digest.
pub async fn sealed<T: DeserializeOwned>(tx: &mut Tx<'_>, id: RevisionId) -> Result<Sealed<Frozen<T>>> {
    let (row, digest) =
        rows(tx, &[id.0]).await?.pop().ok_or_else(|| Error::internal("a revision without content"))?;
    let written = checked(&row, &digest)?;
    let nested = nested(tx, &row.content).await?;
    let ids: Vec<Uuid> = nested.keys().copied().chain([id.0]).collect();
    let results = revision_result::table.filter(revision_result::revision_id.eq_any(ids));
    let results = results.select((revision_result::revision_id, revision_result::result));
    let results: Vec<(Uuid, String)> = results.load(tx.conn()).await?;
    for (id, _) in &results {
        prove_row(tx, &RESULT, [id]).await?;
    }
    Ok(Sealed::new(digest, Frozen { written, nested, results: results.into_iter().collect() }))
}

fn checked<T: DeserializeOwned>(row: &Row, digest: &Sha) -> Result<T> {
    if row.digest()? != *digest {
        tracing::error!(revision = %row.revision_id, "the content of a frozen revision does not match its digest");
        return Err(Error::internal("frozen content that does not match its digest"));
    }
    Ok(serde_json::from_str(&row.content)?)
}

/// The part of every content that names, by id and digest, what it is made from.
#[derive(Deserialize)]
struct MadeFrom {
    ingredients: Vec<Vec<Part>>,
}

#[derive(Deserialize)]
struct Part {
    id: Uuid,
    /// Of a revision; a material has none.
    digest: Option<String>,
}

/// What content is made from, as it says itself: revisions by id, each with its digest.
fn made_from(text: &str) -> Result<BTreeMap<Uuid, String>> {
    let parts = serde_json::from_str::<MadeFrom>(text)?.ingredients.into_iter().flatten();
    Ok(parts.filter_map(|part| Some((part.id, part.digest?))).collect())
}

/// What content is made from at every level, by id. Each level names the next by digest, so that a digest speaks for
/// everything below it: what is read is exactly what is named.
async fn nested<T: DeserializeOwned>(tx: &mut Tx<'_>, text: &str) -> Result<HashMap<Uuid, T>> {
    let (mut level, mut found) = (made_from(text)?, HashMap::new());
    while !level.is_empty() {
        let ids: Vec<Uuid> = level.keys().copied().collect();
        let (rows, mut below) = (rows(tx, &ids).await?, BTreeMap::new());
        if rows.len() != level.len() {
            return Err(Error::internal("content is made from a revision that is not there"));
        }
        for (row, digest) in rows {
            if level.get(&row.revision_id) != Some(&hex::encode(digest)) {
                return Err(Error::internal("content is made from another revision than the one it names"));
            }
            found.insert(row.revision_id, checked(&row, &digest)?);
            below.extend(made_from(&row.content)?);
        }
        below.retain(|id, _| !found.contains_key(id));
        level = below;
    }
    Ok(found)
}

/// What an author's formula is made from, by id, where every one of them is released to the author.
///
/// # Errors
/// [`Error::Internal`] when one does not match its digest.
pub async fn nested_released<'t, T: DeserializeOwned>(
    tx: &mut Tx<'t>,
    open: &AllOpen<'t>,
) -> Result<Released<HashMap<Uuid, T>>> {
    let rows = if open.ids.is_empty() { Vec::new() } else { rows(tx, &open.ids).await? };
    let contents = rows.iter().map(|(row, digest)| Ok((row.revision_id, checked(row, digest)?)));
    Ok(Released::new(contents.collect::<Result<_>>()?, None))
}

/// Frozen content by ids, with the digests of the revisions.
async fn rows(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<Vec<(Row, Sha)>> {
    let digests: HashMap<Uuid, Option<Vec<u8>>> = revision::table
        .filter(revision::id.eq_any(ids))
        .select((revision::id, revision::digest))
        .load::<(Uuid, Option<Vec<u8>>)>(tx.conn())
        .await?
        .into_iter()
        .collect();
    stored(tx, ids)
        .await?
        .into_iter()
        .map(|row| {
            let digest = digests.get(&row.revision_id).cloned().flatten();
            let digest = sha(digest.ok_or_else(|| Error::internal("a draft was read as frozen"))?)?;
            Ok((row, digest))
        })
        .collect()
}

/// Keeps a comment given with a decision. Free text about a formula may name amounts, so it is read through the gate.
///
/// # Errors
/// When the database refuses it.
pub async fn comment_insert<'t>(
    tx: &mut Tx<'t>,
    id: RevisionId,
    by: Instructor<'t>,
    decision: &str,
    comment: &str,
) -> Result<()> {
    let (comment_id, now) = (tx.new_id(), tx.now());
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
pub async fn comments<'t>(tx: &mut Tx<'t>, grant: &Grant<'t>) -> Result<Released<Vec<RevisionComment>>> {
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
        .map(|(by, at, decision, comment)| {
            let by = PersonId(by);
            RevisionComment { by, by_name: None, at, decision, comment }
        })
        .collect();
    Ok(Released::new(comments, None))
}
