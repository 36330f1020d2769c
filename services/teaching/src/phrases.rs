//! Phrases that instructors keep for their comments. Only their author reads them; what is used of one stands in the comment
//! of the review, behind the gate.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::kept_phrase;
use store::{Credentials, Error, IdempotencyKey, Result, Store, Tx, page::PageRequest};
use uuid::Uuid;
use wire::ids::PhraseId;
use wire::page::{Page, PageQuery};
use wire::teaching::{KeptPhrase, NewPhrase};

/// The most characters of a phrase.
const LONGEST: usize = 400;

/// The most phrases of one person: as many as can be chosen from without looking for long.
const MOST: i64 = 50;

type Row = (Uuid, String, DateTime<Utc>);

const COLUMNS: (kept_phrase::id, kept_phrase::text, kept_phrase::added_at) =
    (kept_phrase::id, kept_phrase::text, kept_phrase::added_at);

fn shown((id, text, added_at): Row) -> KeptPhrase {
    KeptPhrase { id: PhraseId(id), text, added_at }
}

/// Keeps a phrase of the caller's own. The same words again are the phrase that is kept already.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::Invalid`] for a text that is empty or too
/// long, and where the caller keeps as many phrases as there may be.
pub async fn phrase_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewPhrase,
) -> Result<KeptPhrase> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.instructor()?.id();
                let text = request.text.trim();
                if !(1..=LONGEST).contains(&text.chars().count()) {
                    let cure = format!("Enter a phrase of 1 to {LONGEST} characters.");
                    return Err(Error::field("/text", cure));
                }
                if let Some(kept) = called(tx, text).await? {
                    return Ok(kept);
                }
                let kept: i64 = kept_phrase::table
                    .filter(kept_phrase::person_id.eq(me.0))
                    .count()
                    .get_result(tx.conn())
                    .await?;
                if kept >= MOST {
                    let cure = format!("You keep {MOST} phrases already. Remove one, then keep this one.");
                    return Err(Error::field("/text", cure));
                }
                let (id, now) = (tx.new_id(), tx.now());
                let made = diesel::insert_into(kept_phrase::table)
                    .values((
                        kept_phrase::id.eq(id),
                        kept_phrase::person_id.eq(me.0),
                        kept_phrase::text.eq(text),
                        kept_phrase::added_at.eq(now),
                    ))
                    .on_conflict_do_nothing()
                    .execute(tx.conn())
                    .await?;
                match made {
                    1 => Ok(id),
                    // Another window kept it meanwhile.
                    _ => called(tx, text).await?.ok_or(Error::Contended("the phrase was removed".into())),
                }
            },
            async |tx, id| {
                let me = tx.instructor()?.id();
                let found: Option<Row> = kept_phrase::table
                    .find(id)
                    .filter(kept_phrase::person_id.eq(me.0))
                    .select(COLUMNS)
                    .first(tx.conn())
                    .await
                    .optional()?;
                found.map(shown).ok_or(Error::NotFound("phrase"))
            },
        )
        .await
}

async fn called(tx: &mut Tx<'_>, text: &str) -> Result<Option<Uuid>> {
    let me = tx.person()?.id;
    Ok(kept_phrase::table
        .filter(kept_phrase::person_id.eq(me.0))
        .filter(kept_phrase::text.eq(text))
        .select(kept_phrase::id)
        .first(tx.conn())
        .await
        .optional()?)
}

/// The phrases that the caller keeps, the oldest first, so that each stays where it was.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::Invalid`] for a refused cursor.
pub async fn phrases(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<KeptPhrase>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let mut rows = kept_phrase::table
                .filter(kept_phrase::person_id.eq(me.0))
                .order(kept_phrase::id)
                .select(COLUMNS)
                .limit(slice.fetch())
                .into_boxed();
            if let Some(after) = slice.after {
                rows = rows.filter(kept_phrase::id.gt(after));
            }
            let rows: Vec<Row> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |row| row.0)?;
            Ok(Page { items: page.items.into_iter().map(shown).collect(), next: page.next })
        })
        .await
}

/// Removes a phrase of the caller's own. Comments in which it was used stay.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::NotFound`] unless the phrase is the
/// caller's.
pub async fn phrase_remove(store: &Store, credentials: &Credentials, id: PhraseId) -> Result<()> {
    store
        .write(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let own = kept_phrase::table.find(id.0).filter(kept_phrase::person_id.eq(me.0));
            match diesel::delete(own).execute(tx.conn()).await? {
                0 => Err(Error::NotFound("phrase")),
                _ => Ok(()),
            }
        })
        .await
}
