//! Lots from which the lines of a revision can be weighed today, that which expires first before the others.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Bool, Date, Nullable, Numeric, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use store::{Result, Tx};
use uuid::Uuid;
use wire::ids::{LotId, RevisionId};

/// A lot from which a line can be weighed. What is left of it is for who may be told: see `LotChoice`.
#[derive(Clone, Debug)]
pub struct Usable {
    /// The line, such as `1.2`.
    pub line: String,
    /// The lot.
    pub id: LotId,
    /// What the clinic writes on the container.
    pub number: String,
    /// Whether a batch of the clinic made it.
    pub made: bool,
    /// Who supplied it.
    pub supplier: String,
    /// The supplier's lot.
    pub supplier_lot: String,
    /// The last day on which it may be used.
    pub keeps_until: NaiveDate,
    /// Whether it is open already.
    pub opened: bool,
    /// What is left, in g.
    pub on_hand: Decimal,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SmallInt)]
    phase: i16,
    #[diesel(sql_type = SmallInt)]
    line: i16,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Bool)]
    made: bool,
    #[diesel(sql_type = Text)]
    supplier: String,
    #[diesel(sql_type = Text)]
    supplier_lot: String,
    #[diesel(sql_type = Date)]
    keeps_until: NaiveDate,
    #[diesel(sql_type = Bool)]
    opened: bool,
    #[diesel(sql_type = Numeric)]
    on_hand: Decimal,
}

/// The usable lots of one line of a revision, or of all its lines, ten at most for each: by date, an open one first among
/// those of one day. Cost: one statement.
///
/// # Errors
/// Returns the errors of the database.
pub async fn for_lines(
    tx: &mut Tx<'_>,
    revision: RevisionId,
    line: Option<&str>,
    today: NaiveDate,
) -> Result<Vec<Usable>> {
    let place = line.and_then(place);
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT i.phase, i.line, l.id, l.number, l.made, l.supplier, l.supplier_lot, l.keeps_until, l.opened, l.on_hand
         FROM revision_ingredient i LEFT JOIN material m ON m.id = i.material_id
         CROSS JOIN LATERAL (
             SELECT o.id, o.number, o.batch_id IS NOT NULL AS made, o.supplier, o.supplier_lot, o.keeps_until,
                 o.opened_on IS NOT NULL AS opened, b.on_hand
             FROM (
                 SELECT l.* FROM material s JOIN lot l ON l.material_id = s.id
                 WHERE s.id = coalesce(m.merged_into, m.id) OR s.merged_into = coalesce(m.merged_into, m.id)
                 UNION ALL
                 SELECT l.* FROM lot l JOIN revision r ON r.id = l.revision_id
                 WHERE l.revision_id = i.nested_revision_id AND r.state <> 'withdrawn') o
             JOIN lot_balance b ON b.lot_id = o.id
             WHERE o.state = 'usable' AND o.keeps_until >= $2 AND b.on_hand > 0
             ORDER BY o.keeps_until, o.opened_on IS NULL, o.id LIMIT 10) l
         WHERE i.revision_id = $1 AND ($3 IS NULL OR (i.phase, i.line) = ($3, $4))
         ORDER BY i.phase, i.line, l.keeps_until, NOT l.opened, l.id",
    )
    .bind::<SqlUuid, _>(revision.0)
    .bind::<Date, _>(today)
    .bind::<Nullable<SmallInt>, _>(place.map(|(phase, _)| phase))
    .bind::<Nullable<SmallInt>, _>(place.map(|(_, line)| line))
    .load(tx.conn())
    .await?;
    let usable = |row: Row| Usable {
        line: format!("{}.{}", row.phase, row.line),
        id: LotId(row.id),
        number: row.number,
        made: row.made,
        supplier: row.supplier,
        supplier_lot: row.supplier_lot,
        keeps_until: row.keeps_until,
        opened: row.opened,
        on_hand: row.on_hand,
    };
    Ok(rows.into_iter().map(usable).collect())
}

/// Phase and line of a line such as `1.2`.
pub(crate) fn place(line: &str) -> Option<(i16, i16)> {
    let (phase, line) = line.trim().split_once('.')?;
    Some((phase.parse().ok()?, line.parse().ok()?))
}
