//! Stored results of frozen revisions: adding missing ones, and comparing them with the current calculations.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
pub use galenics::kept::ENGINE;
use galenics::kept::{Difference, KeptEvaluation, compare};
use judgement::Written;
use release::{Exit, content};
use schema::{amendment_effect, gate, revision};
use serde_json::json;
use store::{Error, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::ids::RevisionId;

use crate::assemble::{self, FactsAsOf};
use crate::facts;
use crate::freeze::computed;
use crate::kept::EFFECT;
use crate::present::present;
use crate::sets;

/// What one step over older revisions did.
pub struct Older {
    /// The last revision that was examined.
    pub last: Uuid,
    /// How many results were stored.
    pub stored: usize,
    /// Frozen revisions whose content or facts cannot be read. Verifying the journal says why.
    pub unreadable: Vec<Uuid>,
}

/// Stores what is computed of up to `most` frozen revisions after `after` of which nothing is stored, in the order of
/// their IDs: the result itself, and the digest that the next change of a fact is compared with. Returns `None` if no
/// revision follows. A revision that cannot be read is left out and named, so that it stops no other.
///
/// # Errors
/// Returns the errors of the database.
pub async fn keep_older(tx: &mut Tx<'_>, after: Uuid, most: i64) -> Result<Option<Older>> {
    let frozen: Vec<Uuid> = revision::table
        .filter(revision::digest.is_not_null())
        .filter(revision::id.gt(after))
        .order(revision::id)
        .limit(most)
        .select(revision::id)
        .load(tx.conn())
        .await?;
    let Some(last) = frozen.last().copied() else { return Ok(None) };
    let mut older = Older { last, stored: 0, unreadable: Vec::new() };
    for id in frozen {
        match keep_one(tx, RevisionId(id)).await {
            Ok(stored) => older.stored += usize::from(stored),
            Err(Error::Internal(cause)) => {
                tracing::error!(revision = %id, error = %cause, "a frozen revision cannot be read");
                older.unreadable.push(id);
            }
            Err(other) => return Err(other),
        }
    }
    Ok(Some(older))
}

async fn keep_one(tx: &mut Tx<'_>, id: RevisionId) -> Result<bool> {
    let facts = facts::facts(tx, id).await?;
    let frozen = content::sealed::<Written>(tx, id).await?.exit(Exit::Verifying);
    if let Some(number) = sets::without_evaluation(tx, id).await? {
        let evaluation = present(tx, &facts, &frozen.written, frozen.nested.clone()).await?.evaluation;
        sets::keep_evaluation(tx, id, number, &evaluation).await?;
    }
    if frozen.results.contains_key(&id.0) {
        return Ok(false);
    }
    let whole = assemble::restored(tx, (facts.formula, id.0), &frozen).await?;
    let (_, computed) = computed(tx, whole).await?;
    content::result_insert(tx, id, &computed).await
}

/// The values, units and verdicts in which the current calculations differ from the stored result of a frozen revision.
/// Both use the facts that the revision was saved with.
///
/// # Errors
/// Returns [`Error::Internal`] if the stored result cannot be read.
async fn differences(tx: &mut Tx<'_>, id: RevisionId) -> Result<Vec<Difference>> {
    let unreadable = |problem: galenics::kept::KeptProblem| Error::internal(problem.to_string());
    let facts = facts::facts(tx, id).await?;
    let frozen = content::sealed::<Written>(tx, id).await?.exit(Exit::Verifying);
    let Some(kept) = frozen.results.get(&id.0) else { return Ok(Vec::new()) };
    let kept = kept.clone();
    let nested = frozen.nested.clone();
    let whole = assemble::with_facts(tx, facts.formula, &frozen.written, nested, FactsAsOf::Writing).await?;
    tx.calculate(move || {
        let kept = KeptEvaluation::from_json(&kept).map_err(unreadable)?;
        let now = KeptEvaluation::of(&whole.formula, &whole.evaluation).map_err(unreadable)?;
        Ok(compare(&kept, &now))
    })
    .await
}

/// A frozen revision whose stored result differs from the current calculations, with the number of figures.
pub struct Differs {
    revision: Uuid,
    figures: usize,
}

/// The revisions among these whose stored results differ from the current calculations.
///
/// # Errors
/// Returns [`Error::Internal`] if a stored result cannot be read.
pub async fn differing(tx: &mut Tx<'_>, revisions: &[Uuid]) -> Result<Vec<Differs>> {
    let mut found = Vec::new();
    for id in revisions {
        let figures = differences(tx, RevisionId(*id)).await?.len();
        if figures > 0 {
            found.push(Differs { revision: *id, figures });
        }
    }
    Ok(found)
}

/// Lists differing revisions under an amendment. Their recipes stay as approved, and no acknowledgement ends.
///
/// # Errors
/// Returns the errors of the database.
pub async fn list_differing(tx: &mut Tx<'_>, amendment: Uuid, differing: &[Differs]) -> Result<()> {
    for Differs { revision, figures } in differing {
        let number: i32 = gate::table.find(revision).select(gate::set_number).first(tx.conn()).await?;
        diesel::insert_into(amendment_effect::table)
            .values((
                amendment_effect::amendment_id.eq(amendment),
                amendment_effect::revision_id.eq(revision),
                amendment_effect::set_number.eq(number),
                amendment_effect::cautions_changed.eq(false),
                amendment_effect::evaluation_changed.eq(true),
                amendment_effect::withheld.eq(false),
            ))
            .execute(tx.conn())
            .await?;
        tx.record(
            NewEvent::new("revision", *revision, "would_come_out_otherwise")
                .detail(json!({ "amendment": amendment, "figures": figures.to_string() }))
                .keeps(&EFFECT, [amendment, *revision]),
        );
    }
    Ok(())
}
