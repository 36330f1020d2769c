//! Relations that staff declare to students. Only whoever declared one sees it; it keeps them from marking that student.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{declared_relation, person};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, known_as, page::PageRequest};
use uuid::Uuid;
use wire::ids::{PersonId, RelationId};
use wire::page::{Page, PageQuery};
use wire::people::Role;
use wire::teaching::{NewRelation, Relation};

use crate::claims;
use crate::kept::RELATION;

/// Declares a relation of the caller to a student. Declaring it again changes nothing. Claims of the caller on the student's
/// work end.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::Invalid`] unless the person is a student.
pub async fn relation_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewRelation,
) -> Result<Relation> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.instructor()?.id();
                let role: Option<String> = person::table
                    .find(request.student.0)
                    .select(person::role)
                    .first(tx.conn())
                    .await
                    .optional()?;
                if role.as_deref() != Some(Role::Student.as_str()) {
                    let cure = "No student has this ID. Choose a student of the clinic.";
                    return Err(Error::field("/student", cure));
                }
                let (id, now) = (tx.new_id(), tx.now());
                let made = diesel::insert_into(declared_relation::table)
                    .values((
                        declared_relation::id.eq(id),
                        declared_relation::staff_id.eq(me.0),
                        declared_relation::student_id.eq(request.student.0),
                        declared_relation::declared_at.eq(now),
                    ))
                    .on_conflict_do_nothing()
                    .execute(tx.conn())
                    .await?;
                if made == 0 {
                    return Ok(declared_relation::table
                        .filter(declared_relation::staff_id.eq(me.0))
                        .filter(declared_relation::student_id.eq(request.student.0))
                        .select(declared_relation::id)
                        .first(tx.conn())
                        .await?);
                }
                tx.record(NewEvent::new("declared_relation", id, "declared").keeps(&RELATION, [id]));
                claims::end_all_of(tx, request.student).await?;
                Ok(id)
            },
            async |tx, id| {
                let rows: Vec<Row> = own(tx, 1, Some(id), None).await?;
                shown(tx, rows).await?.pop().ok_or(Error::NotFound("relation"))
            },
        )
        .await
}

type Row = (Uuid, Uuid, DateTime<Utc>);

async fn own(tx: &mut Tx<'_>, limit: i64, one: Option<Uuid>, before: Option<Uuid>) -> Result<Vec<Row>> {
    let me = tx.instructor()?.id();
    let mut rows = declared_relation::table
        .filter(declared_relation::staff_id.eq(me.0))
        .order(declared_relation::id.desc())
        .select((declared_relation::id, declared_relation::student_id, declared_relation::declared_at))
        .limit(limit)
        .into_boxed();
    if let Some(one) = one {
        rows = rows.filter(declared_relation::id.eq(one));
    }
    if let Some(before) = before {
        rows = rows.filter(declared_relation::id.lt(before));
    }
    Ok(rows.load(tx.conn()).await?)
}

async fn shown(tx: &mut Tx<'_>, rows: Vec<Row>) -> Result<Vec<Relation>> {
    let names = known_as::people(tx, rows.iter().map(|row| row.1).collect::<Vec<_>>()).await?;
    let shown = |(id, student, declared_at): Row| Relation {
        id: RelationId(id),
        student: PersonId(student),
        student_name: names.of(student),
        declared_at,
    };
    Ok(rows.into_iter().map(shown).collect())
}

/// The relations that the caller declared, the newest first.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::Invalid`] for a refused cursor.
pub async fn relations(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<Relation>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let rows = own(tx, slice.fetch(), None, slice.after).await?;
            let page = slice.page(rows, |row| row.0)?;
            Ok(Page { items: shown(tx, page.items).await?, next: page.next })
        })
        .await
}
