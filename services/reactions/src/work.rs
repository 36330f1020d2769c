//! Working on a case: what was found out, and removing words that name somebody.

use diesel::dsl::max;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, lock};
use schema::{reaction_case, reaction_note, reaction_report, reaction_words};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::ReactionCaseId;
use wire::reactions::{NewErasure, NewReactionNote, ReactionCase, ReactionCaseState};

use crate::kept::{CASE, NOTE};
use crate::read;
use crate::telling::LONGEST;

/// Notes what was found out about a case. For instructors of its libraries.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless an instructor is calling, [`Error::NotFound`] if no case of the caller's libraries has
/// this id, [`Error::State`] once it has ended, and [`Error::Invalid`] for a text that cannot be kept.
pub async fn note(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewReactionNote,
) -> Result<ReactionCase> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                open(tx, &[id]).await?;
                let text = text("/text", &request.text)?;
                let last: Option<i32> = reaction_note::table
                    .filter(reaction_note::case_id.eq(id.0))
                    .select(max(reaction_note::number))
                    .first(tx.conn())
                    .await?;
                let noted = tx.new_id();
                diesel::insert_into(reaction_note::table)
                    .values((
                        reaction_note::id.eq(noted),
                        reaction_note::case_id.eq(id.0),
                        reaction_note::number.eq(last.unwrap_or(0) + 1),
                        reaction_note::text.eq(text),
                        reaction_note::by_id.eq(tx.person()?.id.0),
                        reaction_note::at.eq(tx.now()),
                    ))
                    .execute(tx.conn())
                    .await?;
                raised(tx, id).await?;
                let event = NewEvent::new("reaction_case", id.0, "noted");
                tx.record(event.keeps(&CASE, [id.0]).keeps(&NOTE, [noted]));
                Ok(noted)
            },
            async |tx, _| read::seen(tx, id).await,
        )
        .await
}

/// Removes the words of a report, since they name somebody. That the report came, about which jar and how it ended stays. For
/// instructors of the libraries of the case, also of one that has ended.
///
/// # Errors
/// As [`note`]; returns [`Error::Invalid`] for a report of another case, and [`Error::State`] where the words are gone.
pub async fn erase(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ReactionCaseId,
    request: &NewErasure,
) -> Result<ReactionCase> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                lock(tx, Locks::new().reactions([id])).await?;
                read::summary(tx, id).await?;
                let report: Option<Uuid> = reaction_report::table
                    .find(request.report.0)
                    .filter(reaction_report::case_id.eq(id.0))
                    .select(reaction_report::id)
                    .first(tx.conn())
                    .await
                    .optional()?;
                let report = report.ok_or_else(|| {
                    Error::field(
                        "/report",
                        "This case has no such report. Send the `id` of one of its reports.",
                    )
                })?;
                let gone = diesel::delete(reaction_words::table.find(report)).execute(tx.conn()).await?;
                if gone == 0 {
                    return Err(Error::state("erased", "The words of this report were removed before."));
                }
                raised(tx, id).await?;
                let detail = NewEvent::new("reaction_case", id.0, "words_removed");
                tx.record(detail.keeps(&CASE, [id.0]));
                Ok(report)
            },
            async |tx, _| read::seen(tx, id).await,
        )
        .await
}

/// A text about a case, without space around it.
///
/// # Errors
/// Returns [`Error::Invalid`] at `pointer` for one that is empty or too long.
pub(crate) fn text<'a>(pointer: &str, typed: &'a str) -> Result<&'a str> {
    let typed = typed.trim();
    match typed.chars().count() {
        1..=LONGEST => Ok(typed),
        length => Err(Error::field(
            pointer,
            format!("Enter 1 to {LONGEST} characters, without a name. These are {length}."),
        )),
    }
}

/// Locks cases that are open, and that the caller may read.
///
/// # Errors
/// Returns [`Error::NotFound`] and [`Error::State`].
pub(crate) async fn open(tx: &mut Tx<'_>, cases: &[ReactionCaseId]) -> Result<()> {
    lock(tx, Locks::new().reactions(cases.iter().copied())).await?;
    for id in cases {
        let state = read::summary(tx, *id).await?.state;
        if state != ReactionCaseState::Open {
            let cure = "A new report opens a new case.";
            return Err(Error::state(state, format!("This case is {state}. {cure}")));
        }
    }
    Ok(())
}

/// The case has another version.
pub(crate) async fn raised(tx: &mut Tx<'_>, id: ReactionCaseId) -> Result<()> {
    diesel::update(reaction_case::table.find(id.0))
        .set(reaction_case::version.eq(reaction_case::version + 1))
        .execute(tx.conn())
        .await?;
    Ok(())
}
