//! The revisions that a change concerns, found by indexes at every level of nesting.

use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Result, Tx};
use uuid::Uuid;

/// The subject of a change.
#[derive(Clone, Debug)]
pub(crate) enum Reach {
    /// The facts of these materials, or a rule on them.
    Materials(Vec<Uuid>),
    /// The cautions of a rule, by its key.
    Caution(String),
    /// A kind of preparation, by its key.
    Preparation(String),
    /// A route, by its key.
    Route(String),
    /// Every formula.
    Everything,
    /// No formula directly: the calculations have a new version, which stored results are compared with.
    Calculations,
}

/// How long people who made a revision, or held its recipe, are notified of later findings.
pub(super) const A_YEAR: chrono::Duration = chrono::Duration::days(365);

/// The revisions concerned that still matter: proposed or approved ones, those of an open batch, and those that a
/// person made, or held a recipe of, within the last year. Sorted by ID, so that concurrent changes lock them in the
/// same order.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn revisions(tx: &mut Tx<'_>, reach: &[Reach]) -> Result<Vec<Uuid>> {
    let (mut materials, mut rules, mut kinds, mut routes, mut all) = (vec![], vec![], vec![], vec![], false);
    for one in reach {
        match one {
            Reach::Materials(ids) => materials.extend(ids.iter().copied()),
            Reach::Caution(rule) => rules.push(rule.clone()),
            Reach::Preparation(key) => {
                kinds.extend(tx.reference.preparation(key).into_iter().map(|kind| kind.name.to_lowercase()));
            }
            Reach::Route(key) => {
                let route = tx.reference.route(key).into_iter();
                routes.extend(
                    route
                        .flat_map(|it| [&it.name, &it.key].into_iter().chain(&it.synonyms))
                        .map(|name| name.to_lowercase()),
                );
            }
            Reach::Everything => all = true,
            Reach::Calculations => {}
        }
    }
    let since = tx.now() - A_YEAR;
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT r.id FROM revision r
         JOIN gate g ON g.revision_id = r.id
         WHERE (r.state IN ('proposed', 'approved')
             OR EXISTS (SELECT FROM batch b WHERE b.revision_id = r.id
                 AND (b.opened_at > $6 OR b.state NOT IN ('accepted', 'rejected', 'abandoned')))
             OR EXISTS (SELECT FROM acknowledgement a WHERE a.revision_id = r.id AND a.valid_until > $6))
           AND r.id IN (
             SELECT revision_id FROM revision_material WHERE material_id = ANY($1)
             UNION SELECT c.revision_id FROM caution c JOIN gate h ON h.revision_id = c.revision_id
                 AND h.set_number = c.set_number WHERE c.rule = ANY($2)
             UNION SELECT id FROM revision WHERE lower(btrim(preparation)) = ANY($3)
             UNION SELECT n.revision_id FROM revision_nested n JOIN revision k ON k.id = n.nested_id
                 WHERE lower(btrim(k.preparation)) = ANY($3)
             UNION SELECT id FROM revision WHERE lower(btrim(route)) = ANY($4)
             UNION SELECT id FROM revision WHERE $5)
         ORDER BY r.id",
    )
    .bind::<Array<SqlUuid>, _>(materials)
    .bind::<Array<Text>, _>(rules)
    .bind::<Array<Text>, _>(kinds)
    .bind::<Array<Text>, _>(routes)
    .bind::<Bool, _>(all)
    .bind::<Timestamptz, _>(since)
    .load(tx.conn())
    .await?;
    Ok(rows.into_iter().map(|row| row.id).collect())
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}
