//! What is left of each material, whether it runs low, and what it cost.

use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Date, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::{Decimal, RoundingStrategy};
use store::{Credentials, Result, Store, page::PageRequest};
use uuid::Uuid;
use wire::ids::MaterialId;
use wire::page::Page;
use wire::stock::{MaterialStock, StockCost, StockQuery};

use crate::amounts::plain;
use crate::lots::today;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = BigInt)]
    lots: i64,
    #[diesel(sql_type = Numeric)]
    usable: Decimal,
    #[diesel(sql_type = Numeric)]
    other: Decimal,
    #[diesel(sql_type = Nullable<Text>)]
    least: Option<String>,
    #[diesel(sql_type = Bool)]
    low: bool,
    #[diesel(sql_type = Array<Text>)]
    currencies: Vec<String>,
    #[diesel(sql_type = Array<Numeric>)]
    costs: Vec<Decimal>,
    #[diesel(sql_type = BigInt)]
    unpriced: i64,
}

/// Materials with what is left of them: `$1` today, `$2` and `$3` the name and id after which the page begins, `$4` only
/// those that run low, `$5` how many. A merged material counts with what it was merged into.
const STOCKS: &str = "
    SELECT m.id, m.name, coalesce(s.lots, 0) AS lots, coalesce(s.usable, 0) AS usable, coalesce(s.other, 0) AS other,
        t.least, coalesce(coalesce(s.usable, 0) < t.grams, false) AS low,
        coalesce(c.currencies, '{}') AS currencies, coalesce(c.costs, '{}') AS costs,
        coalesce(s.unpriced, 0) AS unpriced
    FROM material m LEFT JOIN stock_threshold t ON t.material_id = m.id
    LEFT JOIN LATERAL (
        SELECT count(*) AS lots, count(*) FILTER (WHERE l.price_per_gram IS NULL) AS unpriced,
            sum(b.on_hand) FILTER (WHERE l.state = 'usable' AND l.keeps_until >= $1) AS usable,
            sum(b.on_hand) FILTER (WHERE l.state = 'quarantine' OR l.keeps_until < $1) AS other
        FROM material o JOIN lot l ON l.material_id = o.id JOIN lot_balance b ON b.lot_id = l.id
        WHERE (o.id = m.id OR o.merged_into = m.id) AND l.state <> 'discarded' AND b.on_hand > 0) s ON true
    LEFT JOIN LATERAL (
        SELECT array_agg(p.currency ORDER BY p.currency) AS currencies, array_agg(p.cost ORDER BY p.currency) AS costs
        FROM (SELECT l.currency, sum(b.on_hand * l.price_per_gram) AS cost
              FROM material o JOIN lot l ON l.material_id = o.id JOIN lot_balance b ON b.lot_id = l.id
              WHERE (o.id = m.id OR o.merged_into = m.id) AND l.state <> 'discarded' AND b.on_hand > 0
                  AND l.price_per_gram IS NOT NULL
              GROUP BY l.currency) p) c ON true
    WHERE m.merged_into IS NULL AND (m.name COLLATE \"C\", m.id) > ($2, $3)
        AND m.id IN (SELECT coalesce(o.merged_into, o.id) FROM lot l JOIN lot_balance b ON b.lot_id = l.id
                     JOIN material o ON o.id = l.material_id WHERE l.state <> 'discarded' AND b.on_hand > 0
                     UNION SELECT material_id FROM stock_threshold WHERE grams IS NOT NULL)
        AND (NOT $4 OR coalesce(s.usable, 0) < t.grams)
    ORDER BY m.name COLLATE \"C\", m.id LIMIT $5";

/// The materials with something left or a threshold, by name. Cost: one statement, whatever the page.
///
/// # Errors
/// Returns [`store::Error::Forbidden`] for students and API clients, and [`store::Error::Invalid`] for a refused query.
pub async fn stocks(
    store: &Store,
    credentials: &Credentials,
    query: &StockQuery,
) -> Result<Page<MaterialStock>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            tx.staff()?;
            let today = today(tx).await?;
            let (name, id) = slice.after.clone().unwrap_or_default();
            let rows: Vec<Row> = diesel::sql_query(STOCKS)
                .bind::<Date, _>(today)
                .bind::<Text, _>(name)
                .bind::<SqlUuid, _>(id)
                .bind::<Bool, _>(query.low.unwrap_or_default())
                .bind::<BigInt, _>(slice.fetch())
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            Ok(Page { items: page.items.into_iter().map(Row::shown).collect(), next: page.next })
        })
        .await
}

impl Row {
    fn shown(self) -> MaterialStock {
        let count = |value: i64| u32::try_from(value).unwrap_or(u32::MAX);
        let cost = self.currencies.into_iter().zip(self.costs).map(|(currency, cost)| {
            let mut amount = cost.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero);
            amount.rescale(2);
            StockCost { currency, amount: amount.to_string() }
        });
        MaterialStock {
            material: MaterialId(self.id),
            material_name: self.name,
            lots: count(self.lots),
            usable_grams: plain(self.usable),
            other_grams: plain(self.other),
            least: self.least,
            low: self.low,
            cost: cost.collect(),
            lots_without_cost: count(self.unpriced),
        }
    }
}
