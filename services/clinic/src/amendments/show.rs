//! Reads of amendments, and of the people they concern. For instructors and administrators.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{amendment, amendment_effect, amendment_material};
use serde_json::Value;
use store::known_as::{self, Names};
use store::{Credentials, Error, Result, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::amendments::{AffectedRevision, Amendment, AmendmentKind, AmendmentQuery, Reached, ReachedHolder};
use wire::ids::{AmendmentId, FormulaId, HolderId, LibraryId, MaterialId, PersonId, RevisionId};
use wire::page::{Page, PageQuery};
use wire::people::Role;

use ::formulary::change::StoredChange;

use super::reach::A_YEAR;
use crate::Clinic;

#[derive(Queryable, Selectable)]
#[diesel(table_name = amendment, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    kind: String,
    state: String,
    change: Value,
    reason: String,
    created_by: Option<Uuid>,
    created_at: DateTime<Utc>,
    decided_by: Option<Uuid>,
    decided_at: Option<DateTime<Utc>>,
    own_decision: bool,
}

/// Amendments with what they touched. Three statements, however many there are.
async fn render_all(tx: &mut Tx<'_>, rows: Vec<Row>) -> Result<Vec<Amendment>> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let touched: Vec<(Uuid, Uuid)> = amendment_material::table
        .filter(amendment_material::amendment_id.eq_any(&ids))
        .order((amendment_material::amendment_id, amendment_material::material_id))
        .select((amendment_material::amendment_id, amendment_material::material_id))
        .load(tx.conn())
        .await?;
    let mut materials = HashMap::<Uuid, Vec<MaterialId>>::new();
    for (amendment, material) in touched {
        materials.entry(amendment).or_default().push(MaterialId(material));
    }
    let affected: HashMap<Uuid, i64> = amendment_effect::table
        .filter(amendment_effect::amendment_id.eq_any(&ids))
        .group_by(amendment_effect::amendment_id)
        .select((amendment_effect::amendment_id, diesel::dsl::count_star()))
        .load::<(Uuid, i64)>(tx.conn())
        .await?
        .into_iter()
        .collect();
    let people = rows.iter().flat_map(|row| [row.created_by, row.decided_by]).flatten();
    let names = known_as::people(tx, people).await?;
    rows.into_iter()
        .map(|row| {
            let of = materials.remove(&row.id).unwrap_or_default();
            let affected = affected.get(&row.id).copied().unwrap_or_default();
            rendered(row, of, affected, &names)
        })
        .collect()
}

fn rendered(row: Row, materials: Vec<MaterialId>, affected: i64, names: &Names) -> Result<Amendment> {
    let kind: AmendmentKind = word(&row.kind)?;
    Ok(Amendment {
        id: AmendmentId(row.id),
        kind,
        state: word(&row.state)?,
        reason: row.reason,
        change: match kind {
            AmendmentKind::ReferenceData | AmendmentKind::Engine => None,
            _ => Some(serde_json::from_value::<StoredChange>(row.change)?.change.into()),
        },
        made_by: row.created_by.map(PersonId),
        made_by_name: names.of(row.created_by),
        made_at: row.created_at,
        decided_by: row.decided_by.map(PersonId),
        decided_by_name: names.of(row.decided_by),
        decided_at: row.decided_at,
        note: row.own_decision.then(|| match row.state.as_str() {
            "refused" => "taken back by its author".to_owned(),
            _ => "decided by its author".to_owned(),
        }),
        materials,
        affected: affected.unsigned_abs(),
    })
}

/// An amendment, within a transaction.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such amendment.
pub(super) async fn one(tx: &mut Tx<'_>, id: Uuid) -> Result<Amendment> {
    let row: Option<Row> =
        amendment::table.find(id).select(Row::as_select()).first(tx.conn()).await.optional()?;
    let rows = vec![row.ok_or(Error::NotFound("amendment"))?];
    render_all(tx, rows).await?.pop().ok_or_else(|| Error::internal("an amendment that was not rendered"))
}

/// One amendment.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor or administrator, and [`Error::NotFound`] if there
/// is no such amendment.
pub async fn amendment(clinic: &Clinic, credentials: &Credentials, id: AmendmentId) -> Result<Amendment> {
    clinic
        .store
        .read(credentials, async |tx| {
            tx.staff()?;
            one(tx, id.0).await
        })
        .await
}

/// Amendments, the oldest first.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor or administrator, and [`Error::Invalid`] for a
/// refused cursor.
pub async fn amendments(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &AmendmentQuery,
) -> Result<Page<Amendment>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    clinic
        .store
        .read(credentials, async |tx| {
            tx.staff()?;
            let mut rows = amendment::table
                .select(Row::as_select())
                .order(amendment::id)
                .limit(slice.fetch())
                .into_boxed();
            if let Some(state) = query.state {
                rows = rows.filter(amendment::state.eq(state.as_str()));
            }
            if let Some(material) = query.material {
                let touching = amendment_material::table
                    .filter(amendment_material::material_id.eq(material))
                    .select(amendment_material::amendment_id);
                rows = rows.filter(amendment::id.eq_any(touching));
            }
            if let Some(after) = slice.after {
                rows = rows.filter(amendment::id.gt(after));
            }
            let rows: Vec<Row> = rows.load(tx.conn()).await?;
            let page = slice.page(rows, |row| row.id)?;
            Ok(Page { items: render_all(tx, page.items).await?, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct Effect {
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    formula_id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = SqlUuid)]
    library_id: Uuid,
    #[diesel(sql_type = Bool)]
    cautions_changed: bool,
    #[diesel(sql_type = Bool)]
    evaluation_changed: bool,
    #[diesel(sql_type = Bool)]
    withheld: bool,
    #[diesel(sql_type = Bool)]
    still_withheld: bool,
}

/// The revisions that an amendment changed, each with everybody who made it or read its recipe in the year before.
/// Administrators may see all, instructors those of their libraries.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor or administrator, and [`Error::NotFound`] if there
/// is no such amendment.
pub async fn affected(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AmendmentId,
    query: &PageQuery,
) -> Result<Page<AffectedRevision>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    clinic
        .store
        .read(credentials, async |tx| {
            let me = tx.staff()?;
            one(tx, id.0).await?;
            let rows: Vec<Effect> = diesel::sql_query(
                "SELECT e.revision_id, r.formula_id, r.title, f.library_id, e.cautions_changed,
                     e.evaluation_changed, e.withheld, w.revision_id IS NOT NULL AS still_withheld
                 FROM amendment_effect e
                 JOIN revision r ON r.id = e.revision_id JOIN formula f ON f.id = r.formula_id
                 LEFT JOIN withholding w ON w.revision_id = e.revision_id
                 WHERE e.amendment_id = $1 AND e.revision_id > $2
                   AND ($3 OR EXISTS (SELECT FROM library_member m
                        WHERE m.library_id = f.library_id AND m.holder_id = $4))
                 ORDER BY e.revision_id LIMIT $5",
            )
            .bind::<SqlUuid, _>(id.0)
            .bind::<SqlUuid, _>(slice.after.unwrap_or_default())
            .bind::<Bool, _>(me.role() == Role::Administrator)
            .bind::<SqlUuid, _>(me.id().0)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.revision_id)?;
            let ids: Vec<Uuid> = page.items.iter().map(|row| row.revision_id).collect();
            let reached = reached(tx, id.0, &ids).await?;
            let items = page.items.into_iter().map(|row| shown(row, &reached)).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

fn shown(row: Effect, reached: &[Person]) -> Result<AffectedRevision> {
    let of_it = reached.iter().filter(|person| person.revision_id == row.revision_id);
    let reached = of_it
        .map(|person| {
            Ok(ReachedHolder {
                holder: HolderId(person.holder_id),
                name: person.name.clone(),
                how: word::<Reached>(&person.how)?,
                batch: person.batch.clone(),
                at: person.at,
            })
        })
        .collect::<Result<_>>()?;
    Ok(AffectedRevision {
        revision: RevisionId(row.revision_id),
        formula: FormulaId(row.formula_id),
        title: row.title,
        library: LibraryId(row.library_id),
        cautions_changed: row.cautions_changed,
        evaluation_changed: row.evaluation_changed,
        withheld: row.withheld,
        still_withheld: row.still_withheld,
        reached,
    })
}

#[derive(QueryableByName)]
struct Person {
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    holder_id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    how: String,
    #[diesel(sql_type = Nullable<Text>)]
    batch: Option<String>,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
}

/// Everybody who made one of these revisions, or read its recipe, in the year before the amendment came into force. A
/// recipe read earlier counts if its acknowledgement was still valid in that year.
async fn reached(tx: &mut Tx<'_>, id: Uuid, revisions: &[Uuid]) -> Result<Vec<Person>> {
    let decided: Option<DateTime<Utc>> =
        amendment::table.find(id).select(amendment::decided_at).first(tx.conn()).await?;
    let until = decided.unwrap_or(tx.now());
    let since = until - A_YEAR;
    Ok(diesel::sql_query(
        "SELECT b.revision_id, m.person_id AS holder_id, p.name, 'made' AS how, b.number AS batch, b.opened_at AS at
         FROM batch b JOIN maker_of_batch m ON m.batch_id = b.id JOIN person p ON p.id = m.person_id
         WHERE b.revision_id = ANY($1) AND b.opened_at > $2 AND b.opened_at <= $3
         UNION ALL
         SELECT a.revision_id, a.holder_id, coalesce(p.name, c.name), 'pulled', NULL, min(u.at)
         FROM acknowledgement a JOIN recipe_pull u ON u.acknowledgement_id = a.id
         LEFT JOIN person p ON p.id = a.holder_id LEFT JOIN api_client c ON c.id = a.holder_id
         WHERE a.revision_id = ANY($1) AND a.valid_until > $2 AND u.at <= $3
         GROUP BY a.revision_id, a.holder_id, coalesce(p.name, c.name)
         ORDER BY 1, 6, 2",
    )
    .bind::<Array<SqlUuid>, _>(revisions)
    .bind::<Timestamptz, _>(since)
    .bind::<Timestamptz, _>(until)
    .load(tx.conn())
    .await?)
}
