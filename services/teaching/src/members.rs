//! Members of a cohort: enrolling, leaving and listing.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::{cohort_member, person};
use serde_json::json;
use store::{
    Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, page::PageRequest, sql::by_bytes, word,
};
use uuid::Uuid;
use wire::ids::{CohortId, PersonId};
use wire::page::{Page, PageQuery};
use wire::people::Role;
use wire::teaching::{CohortMember, CohortRole, Enrol};

use crate::kept::MEMBER;
use crate::seat::{self, fits};

/// Enrols a person, or gives a member another role.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::Invalid`] if there is no such person or the role does not fit theirs, and
/// [`Error::Conflict`] if the cohort would lose its last instructor.
pub async fn enrol(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: CohortId,
    request: &Enrol,
) -> Result<CohortMember> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                lock(tx, Locks::new().cohort(id, Mode::Exclusive)).await?;
                seat::keeper(tx, id).await?;
                may_be(tx, request.person, request.role).await?;
                if request.role != CohortRole::Instructor {
                    keep_an_instructor(tx, id, request.person).await?;
                }
                put(tx, id, request.person, request.role).await?;
                Ok(request.person.0)
            },
            async |tx, person| one(tx, id, PersonId(person)).await,
        )
        .await
}

/// Whether a person can have a role in a cohort.
async fn may_be(tx: &mut Tx<'_>, id: PersonId, role: CohortRole) -> Result<()> {
    let found: Option<String> =
        person::table.find(id.0).select(person::role).first(tx.conn()).await.optional()?;
    let Some(found) = found else {
        return Err(Error::field("/person", "No person has this ID. Check it under `/v1/people`."));
    };
    let of_clinic: Role = word(&found)?;
    if fits(of_clinic, role) {
        return Ok(());
    }
    Err(Error::field("/role", misfit(of_clinic)))
}

/// Why a person's role in the clinic does not fit, with the cure.
pub(crate) const fn misfit(of_clinic: Role) -> &'static str {
    match of_clinic {
        Role::Student => "This person is a student of the clinic. Enrol them as student.",
        Role::Instructor => "This person is an instructor of the clinic. Enrol them as instructor or marker.",
        Role::Administrator => "Administrators join no cohort. Enrol a student or an instructor.",
    }
}

/// Refuses to take the last instructor of a cohort away.
async fn keep_an_instructor(tx: &mut Tx<'_>, id: CohortId, leaves: PersonId) -> Result<()> {
    let instructors: Vec<Uuid> = cohort_member::table
        .filter(cohort_member::cohort_id.eq(id.0))
        .filter(cohort_member::role.eq(CohortRole::Instructor.as_str()))
        .select(cohort_member::person_id)
        .load(tx.conn())
        .await?;
    if instructors == [leaves.0] {
        return Err(Error::Conflict("A cohort keeps one instructor. Enrol another instructor first.".into()));
    }
    Ok(())
}

/// Writes a membership, or changes its role. The caller holds the cohort alone.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put(tx: &mut Tx<'_>, id: CohortId, who: PersonId, role: CohortRole) -> Result<()> {
    let (by, now) = (tx.person()?.id, tx.now());
    let before: Option<String> = cohort_member::table
        .find((id.0, who.0))
        .select(cohort_member::role)
        .first(tx.conn())
        .await
        .optional()?;
    if before.as_deref() == Some(role.as_str()) {
        return Ok(());
    }
    diesel::insert_into(cohort_member::table)
        .values((
            cohort_member::cohort_id.eq(id.0),
            cohort_member::person_id.eq(who.0),
            cohort_member::role.eq(role.as_str()),
            cohort_member::added_by.eq(by.0),
            cohort_member::added_at.eq(now),
        ))
        .on_conflict((cohort_member::cohort_id, cohort_member::person_id))
        .do_update()
        .set(cohort_member::role.eq(role.as_str()))
        .execute(tx.conn())
        .await?;
    let action = if before.is_some() { "member_changed" } else { "member_added" };
    tx.record(
        NewEvent::new("cohort", id.0, action)
            .detail(json!({ "person": who, "role": role }))
            .keeps(&MEMBER, [id.0, who.0]),
    );
    Ok(())
}

/// Ends a membership. The person sees nothing of the cohort from their next request on, and no assignment of it holds a
/// recipe of theirs. Nobody leaves by themselves: a student would get past the questions so.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::NotFound`] if the person is no member, and
/// [`Error::Conflict`] if the cohort would lose its last instructor.
pub async fn remove(store: &Store, credentials: &Credentials, id: CohortId, who: PersonId) -> Result<()> {
    store
        .write(credentials, async |tx| {
            // Whoever answers a question or draws one holds the cohort for share, and is finished before.
            lock(tx, Locks::new().cohort(id, Mode::Exclusive)).await?;
            seat::keeper(tx, id).await?;
            keep_an_instructor(tx, id, who).await?;
            let removed = diesel::delete(cohort_member::table.find((id.0, who.0))).execute(tx.conn()).await?;
            if removed == 0 {
                return Err(Error::NotFound("member"));
            }
            tx.record(
                NewEvent::new("cohort", id.0, "member_removed")
                    .detail(json!({ "person": who }))
                    .keeps(&MEMBER, [id.0, who.0]),
            );
            Ok(())
        })
        .await
}

type Row = (Uuid, String, String, DateTime<Utc>);

fn shown((person, name, role, added_at): Row) -> Result<CohortMember> {
    Ok(CohortMember { person: PersonId(person), name, role: word(&role)?, added_at })
}

async fn one(tx: &mut Tx<'_>, id: CohortId, who: PersonId) -> Result<CohortMember> {
    some(tx, id, &[who.0]).await?.pop().ok_or(Error::NotFound("member"))
}

/// Those of these people who are members, in the order in which they are named.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn some(tx: &mut Tx<'_>, id: CohortId, people: &[Uuid]) -> Result<Vec<CohortMember>> {
    let rows: Vec<Row> = cohort_member::table
        .inner_join(person::table.on(person::id.eq(cohort_member::person_id)))
        .filter(cohort_member::cohort_id.eq(id.0))
        .filter(cohort_member::person_id.eq_any(people))
        .select((cohort_member::person_id, person::name, cohort_member::role, cohort_member::added_at))
        .load(tx.conn())
        .await?;
    let mut members = rows.into_iter().map(shown).collect::<Result<Vec<_>>>()?;
    members.sort_by_key(|member| people.iter().position(|id| *id == member.person.0));
    Ok(members)
}

/// The members of a cohort by name. Cost: one statement for each page.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member or an administrator, [`Error::Forbidden`] for students, and
/// [`Error::Invalid`] for a refused cursor.
pub async fn members(
    store: &Store,
    credentials: &Credentials,
    id: CohortId,
    query: &PageQuery,
) -> Result<Page<CohortMember>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            if seat::seat(tx, id).await?.role() == Some(CohortRole::Student) {
                return Err(Error::Forbidden(
                    "Only the cohort's instructors and markers, and administrators, may list its members."
                        .into(),
                ));
            }
            let mut rows = cohort_member::table
                .inner_join(person::table.on(person::id.eq(cohort_member::person_id)))
                .filter(cohort_member::cohort_id.eq(id.0))
                .select((
                    cohort_member::person_id,
                    person::name,
                    cohort_member::role,
                    cohort_member::added_at,
                ))
                .order((by_bytes(person::name), person::id))
                .limit(slice.fetch())
                .into_boxed();
            if let Some((name, after)) = &slice.after {
                rows = rows.filter(
                    by_bytes(person::name)
                        .gt(name.clone())
                        .or(person::name.eq(name.clone()).and(person::id.gt(*after))),
                );
            }
            let rows: Vec<Row> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |row| (row.1.clone(), row.0))?;
            let items = page.items.into_iter().map(shown).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}
