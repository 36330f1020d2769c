//! Lists of lots: what expires first comes first.

use chrono::{Days, NaiveDate};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Date, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use store::{Credentials, Error, Result, Store, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{LotId, MaterialId, RevisionId};
use wire::page::Page;
use wire::stock::{LotQuery, LotSummary};

use crate::amounts::plain;
use crate::lots::{keeps_stock, today};
use crate::receiving;

/// The furthest day that lots can be asked for by.
const FURTHEST: u16 = 3650;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    number: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    material_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    revision_id: Option<Uuid>,
    #[diesel(sql_type = Text)]
    material_name: String,
    #[diesel(sql_type = Text)]
    state: String,
    #[diesel(sql_type = Text)]
    supplier: String,
    #[diesel(sql_type = Text)]
    supplier_lot: String,
    #[diesel(sql_type = Date)]
    keeps_until: NaiveDate,
    #[diesel(sql_type = Nullable<Date>)]
    opened_on: Option<NaiveDate>,
    #[diesel(sql_type = Numeric)]
    on_hand: Decimal,
}

/// Lots, what expires first before the others. What the clinic made is listed for members of its library and for who keeps
/// the stock. Cost: one statement, whatever the page.
///
/// # Errors
/// Returns [`Error::Forbidden`] for an API client without the scope, and [`Error::Invalid`] for a refused query.
pub async fn lots(store: &Store, credentials: &Credentials, query: &LotQuery) -> Result<Page<LotSummary>> {
    let slice = PageRequest::<(NaiveDate, Uuid)>::parse(query.limit, query.after.as_deref())?;
    let within = query.expiring_within_days;
    if within.is_some_and(|days| days > FURTHEST) {
        return Err(Error::field(
            "?expiring_within_days",
            format!("Send a number of days from 0 to {FURTHEST}."),
        ));
    }
    store
        .read(credentials, async |tx| {
            let counts = keeps_stock(tx)?;
            let me = tx.actor()?.holder();
            let today = today(tx).await?;
            let last = within.and_then(|days| today.checked_add_days(Days::new(days.into())));
            let material = match query.material.as_deref() {
                Some(called) => Some(receiving::material(tx, called, "?material").await?),
                None => None,
            };
            let (keeps, id) = slice.after.map_or((None, Uuid::nil()), |(day, id)| (Some(day), id));
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT l.id, l.number, l.material_id, l.revision_id, coalesce(m.name, r.title) AS material_name,
                     l.state, l.supplier, l.supplier_lot, l.keeps_until, l.opened_on, b.on_hand
                 FROM lot l JOIN lot_balance b ON b.lot_id = l.id LEFT JOIN material m ON m.id = l.material_id
                 LEFT JOIN revision r ON r.id = l.revision_id LEFT JOIN formula f ON f.id = r.formula_id
                 WHERE CASE WHEN $2 IS NOT NULL THEN l.number = $2 WHEN $1 IS NOT NULL THEN l.state = $1
                         ELSE l.state <> 'discarded' END
                     AND ($3 IS NULL OR m.id = $3 OR m.merged_into = $3)
                     AND ($4 IS NULL OR l.keeps_until <= $4 AND b.on_hand > 0)
                     AND ($5 IS NULL OR (l.keeps_until, l.id) > ($5, $6))
                     AND ($8 IS NULL OR l.batch_id = $8)
                     AND (l.revision_id IS NULL OR $9 OR EXISTS (
                         SELECT FROM library_member o WHERE o.library_id = f.library_id AND o.holder_id = $10))
                 ORDER BY l.keeps_until, l.id LIMIT $7",
            )
            .bind::<Nullable<Text>, _>(query.state.map(|state| state.as_str()))
            .bind::<Nullable<Text>, _>(query.number.as_deref().map(|number| number.trim().to_uppercase()))
            .bind::<Nullable<SqlUuid>, _>(material)
            .bind::<Nullable<Date>, _>(last)
            .bind::<Nullable<Date>, _>(keeps)
            .bind::<SqlUuid, _>(id)
            .bind::<BigInt, _>(slice.fetch())
            .bind::<Nullable<SqlUuid>, _>(query.batch.map(|batch| batch.0))
            .bind::<Bool, _>(counts)
            .bind::<SqlUuid, _>(me.0)
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.keeps_until, row.id))?;
            let items = page.items.into_iter().map(|row| {
                Ok(LotSummary {
                    id: LotId(row.id),
                    number: row.number,
                    material: row.material_id.map(MaterialId),
                    revision: row.revision_id.map(RevisionId),
                    material_name: row.material_name,
                    state: word(&row.state)?,
                    supplier: row.supplier,
                    supplier_lot: row.supplier_lot,
                    keeps_until: row.keeps_until,
                    expired: row.keeps_until < today,
                    opened: row.opened_on,
                    used_up: row.on_hand.is_zero(),
                    on_hand_grams: counts.then(|| plain(row.on_hand)),
                })
            });
            Ok(Page { items: items.collect::<Result<_>>()?, next: page.next })
        })
        .await
}
