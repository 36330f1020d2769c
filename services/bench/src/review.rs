//! Review of a submitted batch record: returned with comments, accepted or rejected.

use recipes::RecipeCache;
use release::entries::{self, review_insert};
use release::{ForRules, Record};
use store::{Error, NewEvent, Result, Tx, word};
use wire::bench::{BatchState, NewReview, Verdict};
use wire::ids::{BatchId, EntryId, ReviewId};
use wire::problem::FieldError;

use crate::batches;
use crate::beside::Beside;
use crate::findings::findings;
use crate::kept::BATCH;
use crate::records::{advance, check};
use crate::yields::unexplained;

/// Reviews a submitted batch record within a transaction. Answers the review.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] unless the caller is an instructor, and for the maker
/// while the policy demands a second person. Returns [`Error::State`] if the record is not submitted, and
/// [`Error::Invalid`] for refused fields.
pub async fn review(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    id: BatchId,
    request: &NewReview,
) -> Result<ReviewId> {
    let record = batches::access_unnamed(tx, id, true).await?;
    let me = tx.instructor()?;
    if record.is_made_by_caller() && policy::rules(tx).await?.second_person {
        return Err(Error::Forbidden("You may not review your own batch. Ask another instructor.".into()));
    }
    let to = state_after(request.verdict);
    check(word(&record.row().state)?, to)?;
    acceptable(request)?;
    of_this_record(tx, &record, request).await?;
    if request.verdict == Verdict::Accept {
        explained(tx, cache, &record, request).await?;
    }
    let decided = NewEvent::new("batch", id.0, to.as_str()).keeps(&BATCH, [id.0]);
    let review = review_insert(tx, &record, me, request, decided).await?;
    advance(tx, &record, to).await?;
    Ok(review)
}

const fn state_after(verdict: Verdict) -> BatchState {
    match verdict {
        Verdict::Return => BatchState::Returned,
        Verdict::Accept => BatchState::Accepted,
        Verdict::Reject => BatchState::Rejected,
    }
}

/// Refuses to accept a record whose yield is more than went in, until its maker or the reviewer explains it: every strength
/// of such a jar is in doubt.
async fn explained<'t>(
    tx: &mut Tx<'t>,
    cache: &RecipeCache,
    record: &Record<'t>,
    request: &NewReview,
) -> Result<()> {
    let contents = batches::contents(tx, record).await?;
    let within = contents.content();
    let rules = policy::rules_of(tx, record.row().policy_version).await?;
    let made_on = batches::made_on(record.row(), &within.recipe, &rules);
    let marc = recipes::marc(tx, cache, record).await?;
    let beside = Beside::of(tx, record).await?;
    let found = findings(&within.recipe, &within.entries, &rules, made_on, (&marc, &beside));
    if unexplained(&found, &within.entries, &request.comments).is_some() {
        return Err(Error::field(
            "/comments",
            "The recorded yield exceeds the input. Explain it in a comment on its entry, or return the record \
             so that its maker corrects it.",
        ));
    }
    Ok(())
}

/// Refuses comments on entries of another record.
async fn of_this_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>, request: &NewReview) -> Result<()> {
    let entries = entries::all(tx, record).await?;
    let known = |id: EntryId| entries.content().iter().any(|entry| entry.shown.id == id);
    let comments = request.comments.iter().enumerate();
    let errors: Vec<_> = comments
        .filter(|(_, comment)| comment.entry.is_some_and(|entry| !known(entry)))
        .map(|(i, _)| {
            FieldError::new(format!("/comments/{i}/entry"), "This batch record has no entry with this ID.")
        })
        .collect();
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

fn acceptable(request: &NewReview) -> Result<()> {
    let mut errors = Vec::new();
    if !(1..=4000).contains(&request.summary.trim().chars().count()) {
        errors.push(FieldError::new("/summary", "Enter 1 to 4000 characters."));
    }
    if request.comments.len() > 200 {
        errors.push(FieldError::new("/comments", "Send at most 200 comments."));
    }
    for (i, comment) in request.comments.iter().enumerate() {
        if !(1..=4000).contains(&comment.text.trim().chars().count()) {
            errors.push(FieldError::new(format!("/comments/{i}/text"), "Enter 1 to 4000 characters."));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}
