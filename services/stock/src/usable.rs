//! Lots from which the lines of a revision can be weighed today, that which expires first before the others.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Date, Nullable, Numeric, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use store::{Result, Tx};
use uuid::Uuid;
use wire::ids::{BatchId, LotId, RevisionId};

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
    /// What the line may draw, in g: all that nobody else holds.
    pub free: Decimal,
    /// Whether the batch holds some of it for this line.
    pub reserved: bool,
}

/// For which batch lots are looked for, and when.
#[derive(Clone, Copy, Debug)]
pub struct For {
    /// The batch.
    pub batch: BatchId,
    /// The revision that it makes.
    pub revision: RevisionId,
    /// Today in the clinic.
    pub today: NaiveDate,
    /// Now: a reservation whose time is over holds nothing.
    pub now: DateTime<Utc>,
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
    free: Decimal,
    #[diesel(sql_type = Bool)]
    reserved: bool,
}

/// The usable lots of one line of a batch, or of all its lines, ten at most for each: by date, an open one first among
/// those of one day. Of what others hold there is nothing here. Cost: one statement.
///
/// # Errors
/// Returns the errors of the database.
pub async fn for_lines(tx: &mut Tx<'_>, of: &For, line: Option<&str>) -> Result<Vec<Usable>> {
    let place = line.and_then(place);
    let rows: Vec<Row> = diesel::sql_query(
        "SELECT i.phase, i.line, l.id, l.number, l.made, l.supplier, l.supplier_lot, l.keeps_until, l.opened,
             l.free, l.reserved
         FROM revision_ingredient i LEFT JOIN material m ON m.id = i.material_id
         CROSS JOIN LATERAL (
             SELECT o.id, o.number, o.batch_id IS NOT NULL AS made, o.supplier, o.supplier_lot, o.keeps_until,
                 o.opened_on IS NOT NULL AS opened, b.free,
                 EXISTS (SELECT FROM lot_reservation r WHERE r.batch_id = $5 AND r.lot_id = o.id
                     AND (r.phase, r.line) = (i.phase, i.line) AND r.expires_at > $6) AS reserved
             FROM (
                 SELECT l.* FROM material s JOIN lot l ON l.material_id = s.id
                 WHERE s.id = coalesce(m.merged_into, m.id) OR s.merged_into = coalesce(m.merged_into, m.id)
                 UNION ALL
                 SELECT l.* FROM lot l JOIN revision r ON r.id = l.revision_id
                 WHERE l.revision_id = i.nested_revision_id AND r.state <> 'withdrawn') o
             CROSS JOIN LATERAL (SELECT lot_free(o.id, $5, i.phase, i.line, $6) AS free) b
             WHERE o.state = 'usable' AND o.keeps_until >= $2 AND b.free > 0
             ORDER BY o.keeps_until, o.opened_on IS NULL, o.id LIMIT 10) l
         WHERE i.revision_id = $1 AND ($3 IS NULL OR (i.phase, i.line) = ($3, $4))
         ORDER BY i.phase, i.line, l.keeps_until, NOT l.opened, l.id",
    )
    .bind::<SqlUuid, _>(of.revision.0)
    .bind::<Date, _>(of.today)
    .bind::<Nullable<SmallInt>, _>(place.map(|(phase, _)| phase))
    .bind::<Nullable<SmallInt>, _>(place.map(|(_, line)| line))
    .bind::<SqlUuid, _>(of.batch.0)
    .bind::<Timestamptz, _>(of.now)
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
        free: row.free,
        reserved: row.reserved,
    };
    Ok(rows.into_iter().map(usable).collect())
}

/// Phase and line of a line such as `1.2`.
pub(crate) fn place(line: &str) -> Option<(i16, i16)> {
    let (phase, line) = line.trim().split_once('.')?;
    Some((phase.parse().ok()?, line.parse().ok()?))
}
