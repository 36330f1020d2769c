//! Search for formulas: by a part of the title, by what they contain, by kind and by regime.
//!
//! Goes by what every member of a library may see of a formula without acknowledging. Never here: a filter or an order
//! that depends on an amount.

use diesel::sql_types::{Array, BigInt, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::page::PageRequest;
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::formulary::FormulaSummary;
use wire::page::Page;
use wire::people::Scope;

use crate::list::FormulaQuery;
use crate::listing::{APPROVAL, SummaryRow};

/// A library's page, in the order of the list.
const BRANCH: &str = "
    (SELECT f.id, f.library_id, f.title, f.preparation, f.approved_revision_id FROM formula f
     WHERE f.library_id = m.library_id AND (f.title COLLATE \"C\", f.id) > ($3, $4)";

/// The conditions of a query on the approved revision, or on the proposed one where none is approved.
fn conditions(query: &FormulaQuery, approved: bool) -> String {
    let of = if approved {
        "r.id = f.approved_revision_id AND r.state = 'approved'"
    } else {
        "r.formula_id = f.id AND r.state = 'proposed'"
    };
    let mut sql = format!(" AND f.approved_revision_id IS {}NULL", if approved { "NOT " } else { "" });
    if query.title.is_some() {
        sql.push_str(" AND lower(f.title) LIKE lower($6)");
    }
    if query.kind.is_some() {
        sql.push_str(" AND f.preparation = $7");
    }
    if query.regime.is_some() {
        sql.push_str(&format!(" AND EXISTS (SELECT 1 FROM revision r WHERE {of} AND r.regime = $8)"));
    }
    if query.material.is_some() {
        // The approved revision is named by the formula itself, so that the way from the material is one of keys.
        sql.push_str(&if approved {
            " AND EXISTS (SELECT 1 FROM revision_material c
                          WHERE c.revision_id = f.approved_revision_id AND c.material_id = ANY ($9))"
                .to_owned()
        } else {
            format!(
                " AND EXISTS (SELECT 1 FROM revision r JOIN revision_material c ON c.revision_id = r.id
                              WHERE {of} AND c.material_id = ANY ($9))"
            )
        });
    }
    sql
}

/// The formulas of the caller's libraries that meet every condition of the query, by title. A formula is judged by its
/// approved revision; instructors find one without by its title, kind and proposed revision.
///
/// Cost: one statement for the materials, one for the page. The page costs about as much as the least of: the formulas of
/// these libraries between its first and last title, and the formulas of the clinic whose title, material or regime match;
/// by kind alone, as the page of the list. It does not grow with depth.
///
/// # Errors
/// Returns [`Error::Forbidden`] if an API client lacks the scope, and [`Error::Invalid`] for a refused cursor or a value
/// that cannot be searched for.
pub async fn search_formulas(
    store: &Store,
    credentials: &Credentials,
    query: &FormulaQuery,
) -> Result<Page<FormulaSummary>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    let title = query.title.as_deref().map(|part| materials::contains(part, "?title")).transpose()?;
    store
        .read(credentials, async |tx| {
            tx.require_scope(Scope::FormulasRead)?;
            let kind = query.kind.as_deref().map(|kind| known_kind(tx, kind)).transpose()?;
            let materials = match &query.material {
                Some(part) => materials::called(tx, part, "?material").await?,
                None => Vec::new(),
            };
            let actor = tx.actor()?;
            let unapproved = actor.is_instructor() && !query.approved;
            let holder = actor.holder();
            let branch = |approved| {
                let conditions = conditions(query, approved);
                format!("{BRANCH}{conditions} ORDER BY f.title COLLATE \"C\", f.id LIMIT $5)")
            };
            let mut branches = branch(true);
            if unapproved {
                branches.push_str(" UNION ALL ");
                branches.push_str(&branch(false));
            }
            let sql = format!(
                "SELECT f.*, {APPROVAL}
                 FROM library_member m CROSS JOIN LATERAL ({branches}) AS f
                 WHERE m.holder_id = $1 AND ($2 IS NULL OR m.library_id = $2)
                 ORDER BY f.title COLLATE \"C\", f.id LIMIT $5"
            );
            let (after_title, after_id) = slice.after.clone().unwrap_or_default();
            // Boxed, so that it is planned for these very values: a rare material and a common one want other plans.
            let rows: Vec<SummaryRow> = diesel::sql_query(sql)
                .into_boxed()
                .bind::<SqlUuid, _>(holder.0)
                .bind::<Nullable<SqlUuid>, _>(query.library.map(|id| id.0))
                .bind::<Text, _>(after_title)
                .bind::<SqlUuid, _>(after_id)
                .bind::<BigInt, _>(slice.fetch())
                .bind::<Nullable<Text>, _>(title.clone())
                .bind::<Nullable<Text>, _>(kind)
                .bind::<Nullable<Text>, _>(query.regime.map(|regime| regime.as_str()))
                .bind::<Array<SqlUuid>, _>(materials)
                .load(tx.conn())
                .await?;
            let found = rows.into_iter().filter_map(SummaryRow::summary).collect();
            slice.page(found, |one: &FormulaSummary| (one.title.clone(), one.id.0))
        })
        .await
}

/// The name of a kind of preparation, as formulas hold it.
fn known_kind(tx: &Tx<'_>, kind: &str) -> Result<String> {
    if let Some(known) = tx.reference.preparation(kind) {
        return Ok(known.name.clone());
    }
    let names: Vec<&str> = tx.reference.preparations.iter().map(|known| known.name.as_str()).collect();
    Err(Error::field(
        "?kind",
        format!("No kind of preparation is called this. Accepted values: {}.", names.join("; ")),
    ))
}
