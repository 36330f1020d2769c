//! Cohorts: creating, reading and listing.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Date, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::cohort;
use store::{
    Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned, names, page::PageRequest,
    violates, word,
};
use uuid::Uuid;
use wire::ids::CohortId;
use wire::page::{Page, PageQuery};
use wire::people::Role;
use wire::problem::FieldError;
use wire::teaching::{Cohort, CohortRole, NewCohort};

use crate::kept::COHORT;
use crate::{local, members, seat};

/// Creates a cohort. Its creator becomes its first instructor.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, [`Error::Invalid`] for refused fields, and
/// [`Error::Conflict`] if the name is taken.
pub async fn cohort_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewCohort,
) -> Result<Versioned<Cohort>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.instructor()?.id();
                acceptable(request)?;
                let (id, now) = (tx.new_id(), tx.now());
                diesel::insert_into(cohort::table)
                    .values((
                        cohort::id.eq(id),
                        cohort::name.eq(request.name.trim()),
                        cohort::time_zone.eq(request.time_zone.trim()),
                        cohort::starts_on.eq(request.starts_on),
                        cohort::ends_on.eq(request.ends_on),
                        cohort::version.eq(1_i64),
                        cohort::created_by.eq(me.0),
                        cohort::created_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await
                    .map_err(name_taken)?;
                tx.record(NewEvent::new("cohort", id, "created").keeps(&COHORT, [id]));
                members::put(tx, CohortId(id), me, CohortRole::Instructor).await?;
                Ok(id)
            },
            async |tx, id| seen(tx, CohortId(id)).await,
        )
        .await
}

/// Changes the name and the term of a cohort. Its time zone stays.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::PreconditionFailed`] if `version` is not the current one, [`Error::Invalid`] for
/// refused fields, and [`Error::Conflict`] if the name is taken.
pub async fn cohort_change(
    store: &Store,
    credentials: &Credentials,
    id: CohortId,
    version: i64,
    request: &NewCohort,
) -> Result<Versioned<Cohort>> {
    store
        .write(credentials, async |tx| {
            lock(tx, Locks::new().cohort(id, Mode::Exclusive)).await?;
            seat::keeper(tx, id).await?;
            acceptable(request)?;
            let before = seen(tx, id).await?;
            if before.version != version {
                return Err(Error::PreconditionFailed);
            }
            if before.value.time_zone != request.time_zone.trim() {
                return Err(Error::field(
                    "/time_zone",
                    format!(
                        "The dates of its work are in {}. Enter that time zone, or create another cohort.",
                        before.value.time_zone
                    ),
                ));
            }
            diesel::update(cohort::table.find(id.0))
                .set((
                    cohort::name.eq(request.name.trim()),
                    cohort::starts_on.eq(request.starts_on),
                    cohort::ends_on.eq(request.ends_on),
                    cohort::version.eq(version + 1),
                ))
                .execute(tx.conn())
                .await
                .map_err(name_taken)?;
            tx.record(NewEvent::new("cohort", id.0, "changed").keeps(&COHORT, [id.0]));
            seen(tx, id).await
        })
        .await
}

fn name_taken(error: diesel::result::Error) -> Error {
    if violates(&error, "cohort_name") {
        Error::Conflict("A cohort with this name already exists. Choose another name.".into())
    } else {
        error.into()
    }
}

fn acceptable(request: &NewCohort) -> Result<()> {
    let mut errors = Vec::new();
    if !(1..=200).contains(&request.name.trim().chars().count()) {
        errors.push(FieldError::new("/name", "Enter a name of 1 to 200 characters."));
    }
    errors.extend(names::refusal("/name", request.name.trim()));
    if request.starts_on > request.ends_on {
        errors.push(FieldError::new(
            "/ends_on",
            format!("The term ends before it starts. Enter {} or a later day.", request.starts_on),
        ));
    }
    if request.time_zone.trim().parse::<Tz>().is_err() {
        errors.push(FieldError::new("/time_zone", "Enter an IANA time zone, such as Europe/Berlin."));
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// A cohort as it is stored, for its name and time zone.
pub(crate) struct Class {
    pub(crate) name: String,
    pub(crate) zone: Tz,
}

/// The name and time zone of a cohort.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn class(tx: &mut Tx<'_>, id: CohortId) -> Result<Class> {
    let (name, zone): (String, String) =
        cohort::table.find(id.0).select((cohort::name, cohort::time_zone)).first(tx.conn()).await?;
    Ok(Class { name, zone: local::zone(&zone)? })
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    time_zone: String,
    #[diesel(sql_type = Date)]
    starts_on: NaiveDate,
    #[diesel(sql_type = Date)]
    ends_on: NaiveDate,
    #[diesel(sql_type = Timestamptz)]
    created_at: DateTime<Utc>,
    #[diesel(sql_type = BigInt)]
    version: i64,
    #[diesel(sql_type = Nullable<Text>)]
    role: Option<String>,
}

impl Row {
    fn shown(self) -> Result<Cohort> {
        Ok(Cohort {
            id: CohortId(self.id),
            name: self.name,
            starts_on: self.starts_on,
            ends_on: self.ends_on,
            time_zone: self.time_zone,
            role: self.role.as_deref().map(word).transpose()?,
            created_at: self.created_at,
        })
    }
}

/// One cohort, for its members and administrators.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody else.
pub async fn cohort(store: &Store, credentials: &Credentials, id: CohortId) -> Result<Versioned<Cohort>> {
    store.read(credentials, async |tx| seen(tx, id).await).await
}

/// A cohort as the caller sees it.
///
/// # Errors
/// As [`seat::seat`].
pub(crate) async fn seen(tx: &mut Tx<'_>, id: CohortId) -> Result<Versioned<Cohort>> {
    let seat = seat::seat(tx, id).await?;
    let row: Row = diesel::sql_query(
        "SELECT id, name, time_zone, starts_on, ends_on, created_at, version, NULL::text AS role FROM cohort WHERE id = $1",
    )
    .bind::<SqlUuid, _>(id.0)
    .get_result(tx.conn())
    .await?;
    let version = row.version;
    Ok(Versioned { version, value: Cohort { role: seat.role(), ..row.shown()? } })
}

/// The caller's cohorts, or all of them for an administrator, the newest first.
///
/// # Errors
/// Returns [`Error::Invalid`] for a refused cursor.
pub async fn cohorts(store: &Store, credentials: &Credentials, query: &PageQuery) -> Result<Page<Cohort>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.person()?;
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT c.id, c.name, c.time_zone, c.starts_on, c.ends_on, c.created_at, c.version, m.role
                 FROM cohort c LEFT JOIN cohort_member m ON m.cohort_id = c.id AND m.person_id = $1
                     AND (m.role = 'student') = ($5 = 'student')
                 WHERE ($2 OR m.person_id IS NOT NULL) AND c.id < $3
                 ORDER BY c.id DESC LIMIT $4",
            )
            .bind::<SqlUuid, _>(me.id.0)
            .bind::<Bool, _>(me.role == Role::Administrator)
            .bind::<SqlUuid, _>(slice.after.unwrap_or(Uuid::max()))
            .bind::<BigInt, _>(slice.fetch())
            .bind::<Text, _>(me.role.as_str())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.id)?;
            let items = page.items.into_iter().map(Row::shown).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}
