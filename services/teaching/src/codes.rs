//! Codes that students join a cohort with. Only their digests are kept.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::cohort_code;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned, page::PageRequest};
use uuid::Uuid;
use wire::ids::{CohortCodeId, CohortId};
use wire::page::{Page, PageQuery};
use wire::people::Role;
use wire::teaching::{Cohort, CohortCode, CohortRole, JoinCohort, NewCohortCode};

use crate::kept::CODE;
use crate::{cohorts, members, seat};

/// The longest that a code can be used.
const LONGEST: Duration = Duration::days(366);

type Row = (Uuid, Uuid, DateTime<Utc>, Option<DateTime<Utc>>, DateTime<Utc>);

const COLUMNS: (
    cohort_code::id,
    cohort_code::cohort_id,
    cohort_code::valid_until,
    cohort_code::closed_at,
    cohort_code::created_at,
) = (
    cohort_code::id,
    cohort_code::cohort_id,
    cohort_code::valid_until,
    cohort_code::closed_at,
    cohort_code::created_at,
);

fn shown((id, of, valid_until, closed_at, created_at): Row) -> CohortCode {
    CohortCode { id: CohortCodeId(id), cohort: CohortId(of), code: None, valid_until, closed_at, created_at }
}

/// Creates a code. Only this answer contains it.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::Invalid`] if it would end in the past or in more than 366 days.
pub async fn code_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: CohortId,
    request: &NewCohortCode,
) -> Result<CohortCode> {
    let (made, code) = store
        .create_with_secret(
            credentials,
            once,
            async |tx| {
                seat::keeper(tx, id).await?;
                let now = tx.now();
                if request.valid_until <= now || request.valid_until > now + LONGEST {
                    return Err(Error::field(
                        "/valid_until",
                        "Enter a time in the future, at most 366 days from now.",
                    ));
                }
                let by = tx.person()?.id;
                let (code_id, code) = (tx.new_id(), people::new_secret(tx, "sk"));
                diesel::insert_into(cohort_code::table)
                    .values((
                        cohort_code::id.eq(code_id),
                        cohort_code::cohort_id.eq(id.0),
                        cohort_code::code_hash.eq(&canonical::secret(&code)[..]),
                        cohort_code::created_by.eq(by.0),
                        cohort_code::created_at.eq(now),
                        cohort_code::valid_until.eq(request.valid_until),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("cohort", id.0, "code_issued").keeps(&CODE, [code_id]));
                Ok((code_id, code))
            },
            async |tx, code_id| {
                let row: Row = cohort_code::table.find(code_id).select(COLUMNS).first(tx.conn()).await?;
                Ok(shown(row))
            },
        )
        .await?;
    Ok(CohortCode { code, ..made })
}

/// The codes of a cohort, the oldest first, without the codes themselves.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::Invalid`] for a refused cursor.
pub async fn codes(
    store: &Store,
    credentials: &Credentials,
    id: CohortId,
    query: &PageQuery,
) -> Result<Page<CohortCode>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            seat::keeper(tx, id).await?;
            let rows: Vec<Row> = cohort_code::table
                .filter(cohort_code::cohort_id.eq(id.0))
                .filter(cohort_code::id.gt(slice.after.unwrap_or_default()))
                .order(cohort_code::id)
                .limit(slice.fetch())
                .select(COLUMNS)
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| row.0)?;
            Ok(Page { items: page.items.into_iter().map(shown).collect(), next: page.next })
        })
        .await
}

/// Closes a code. Closing it again changes nothing.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::NotFound`] if the cohort has no such code.
pub async fn code_close(
    store: &Store,
    credentials: &Credentials,
    id: CohortId,
    code: CohortCodeId,
) -> Result<()> {
    store
        .write(credentials, async |tx| {
            // Whoever joins holds the cohort alone too, so a code that is closed lets nobody in afterwards.
            lock(tx, Locks::new().cohort(id, Mode::Exclusive)).await?;
            seat::keeper(tx, id).await?;
            let now = tx.now();
            let of = cohort_code::table.find(code.0).filter(cohort_code::cohort_id.eq(id.0));
            let found: Option<Uuid> = of.select(cohort_code::id).first(tx.conn()).await.optional()?;
            found.ok_or(Error::NotFound("code"))?;
            let closed = diesel::update(of.filter(cohort_code::closed_at.is_null()))
                .set(cohort_code::closed_at.eq(now))
                .execute(tx.conn())
                .await?;
            if closed == 1 {
                tx.record(NewEvent::new("cohort", id.0, "code_closed").keeps(&CODE, [code.0]));
            }
            Ok(())
        })
        .await
}

/// Joins a cohort with a code, as a student. Joining again changes nothing.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is a student, and [`Error::Invalid`] if the code cannot be used.
pub async fn join(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &JoinCohort,
) -> Result<Versioned<Cohort>> {
    let hash = canonical::secret(request.code.trim());
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.person()?;
                if me.role != Role::Student {
                    return Err(Error::Forbidden(
                        "Codes are for students. Ask an instructor of the cohort to enrol you.".into(),
                    ));
                }
                let id = usable(tx, &hash).await?;
                lock(tx, Locks::new().cohort(id, Mode::Exclusive)).await?;
                // Read again: it may have been closed meanwhile.
                usable(tx, &hash).await?;
                members::put(tx, id, me.id, CohortRole::Student).await?;
                Ok(id.0)
            },
            async |tx, id| cohorts::seen(tx, CohortId(id)).await,
        )
        .await
}

/// The cohort of a code that can be used now.
async fn usable(tx: &mut Tx<'_>, hash: &[u8]) -> Result<CohortId> {
    let now = tx.now();
    let found: Option<Uuid> = cohort_code::table
        .filter(cohort_code::code_hash.eq(hash))
        .filter(cohort_code::closed_at.is_null())
        .filter(cohort_code::valid_until.gt(now))
        .select(cohort_code::cohort_id)
        .first(tx.conn())
        .await
        .optional()?;
    found.map(CohortId).ok_or_else(|| {
        Error::field("/code", "This code is unknown, closed or expired. Ask your instructor for a new one.")
    })
}
