//! What helps whoever weighs: how far a weighing may be off, and the lot of the last time.
//!
//! Reads only. Findings are judged in `findings`, against the exact target; the range here is for a sentence at the bench
//! and lies within what is judged to be within.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Decimal, number};
use judgement::figures::Detail;
use policy::Rules;
use recipes::RecipeCache;
use recipes::stored::{Line, Recipe};
use release::{Access, ForRules, Record, Released, record};
use rust_decimal::RoundingStrategy;
use schema::batch;
use stock::{For, Usable};
use store::{Credentials, Result, Store, Tx, word};
use uuid::Uuid;
use wire::bench::{AtBench, EntryKind, LineAid, LineRest};
use wire::ids::{BatchId, RevisionId};

use crate::adjusting::{could_be, weighed};
use crate::batches::{Reading, Stored, access_unnamed, contents};
use crate::deviations::shown;
use crate::lots::of_line;

/// A record as [`crate::batch()`] tells it, explained, with what helps whoever weighs its lines. Cost: that of the record and three
/// to six statements more, in the same transaction.
///
/// # Errors
/// As [`crate::batch()`].
pub async fn at_bench(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<AtBench>> {
    store
        .read(credentials, async |tx| {
            let record = access_unnamed(tx, id, false).await?;
            let levels = record::every_level(tx, &record).await?.ok();
            let reading = Reading::of(tx, &record).await?;
            let own = reading.contents.content();
            let aids = aids(tx, &record, own, &reading.rules).await?;
            let adjustable = could_be(word(&record.row().state)?, &own.recipe, &own.entries, &reading.rules);
            let shown = reading.shown(tx, cache, &record, levels.as_ref(), Detail::Explained).await?;
            Ok(shown.map(|record| AtBench { record, aids, adjustable }))
        })
        .await
}

/// For each line of a batch's recipe: the range that is within tolerance, the lot that the maker used last time, and the
/// lots of the shelf.
async fn aids(tx: &mut Tx<'_>, record: &Record<'_>, own: &Stored, rules: &Rules) -> Result<Vec<LineAid>> {
    let row = record.row();
    // Of the same revision, so that a line's number means the same line.
    let before: Option<Uuid> = batch::table
        .filter(batch::maker_id.eq(row.maker_id))
        .filter(batch::revision_id.eq(row.revision_id))
        .filter(batch::id.lt(row.id))
        .order(batch::id.desc())
        .select(batch::id)
        .first(tx.conn())
        .await
        .optional()?;
    let of = For {
        batch: record.batch(),
        revision: RevisionId(row.revision_id),
        today: rules.date(tx.now()),
        now: tx.now(),
    };
    let usable = stock::for_lines(tx, &of, None).await?;
    let aids = lines(own, rules, &usable);
    if let Some(before) = before
        && let Access::Open(record) = record::access(tx, BatchId(before), false).await?
    {
        let earlier = contents(tx, &record).await?;
        return Ok(with_lots(aids, lots(earlier.content())));
    }
    Ok(aids)
}

fn lines(own: &Stored, rules: &Rules, usable: &[Usable]) -> Vec<LineAid> {
    let aid = |line| {
        let range = range(&own.recipe, line, rules);
        let rest = rest(&own.recipe, line, &range, weighed(line, &own.entries).0);
        LineAid { lots: of_line(&own.recipe, line, usable).lots, rest, ..range }
    };
    own.recipe.lines().map(aid).collect()
}

fn range(recipe: &Recipe, line: &Line, rules: &Rules) -> LineAid {
    let tolerance = rules.tolerances().of(line.function());
    let mut aid = LineAid { line: line.line.clone(), ..LineAid::default() };
    let Some(target) = recipe.target(line) else { return aid };
    let places = line
        .weigh
        .value
        .as_deref()
        .and_then(|value| value.split_once('.'))
        .map_or(0, |(_, behind)| behind.len());
    let places = u32::try_from(places.max(1)).unwrap_or(1);
    let share = tolerance.get();
    if let Some((low, high)) = within(target, share, places) {
        (aid.low, aid.high) = (Some(low.to_string()), Some(high.to_string()));
    }
    aid.percent = Some((share * Decimal::ONE_HUNDRED).normalize().to_string());
    aid
}

/// What is still to be weighed of a line of which less than the least was.
fn rest(recipe: &Recipe, line: &Line, range: &LineAid, weighed: Decimal) -> Option<LineRest> {
    let read = |text: &Option<String>| number::parse(text.as_deref()?).ok();
    let (low, high) = (read(&range.low)?, read(&range.high)?);
    let whole = shown(line).or_else(|| recipe.target(line))?;
    let left = |of: Decimal| (of - weighed).normalize().to_string();
    (weighed > Decimal::ZERO && weighed < low).then(|| LineRest {
        weighed: weighed.normalize().to_string(),
        more: left(whole),
        low: left(low),
        high: left(high),
    })
}

/// The least and the most that are within a tolerance, both rounded inward to so many decimal places; to more of them where
/// no weight with so few is within. Nothing where none with six more is.
fn within(target: Decimal, share: Decimal, places: u32) -> Option<(Decimal, Decimal)> {
    (places..=places + 6).find_map(|places| {
        let inward = |factor: Decimal, strategy| (target * factor).round_dp_with_strategy(places, strategy);
        let low = inward(Decimal::ONE - share, RoundingStrategy::ToPositiveInfinity);
        let high = inward(Decimal::ONE + share, RoundingStrategy::ToNegativeInfinity);
        (low <= high).then_some((low, high))
    })
}

/// The last lot of each line, as it was typed.
fn lots(earlier: &Stored) -> Vec<LineAid> {
    let written = earlier.entries.iter().map(|entry| &entry.shown);
    let live = written.filter(|entry| {
        entry.kind == EntryKind::Weighing && entry.corrected_by.is_none() && entry.lot.is_some()
    });
    live.map(|entry| LineAid {
        line: entry.line.clone().unwrap_or_default(),
        lot: entry.lot.clone(),
        lot_expires: entry.lot_expires.clone(),
        assay: entry.assay.clone(),
        price: entry.price.clone(),
        ..LineAid::default()
    })
    .collect()
}

fn with_lots(aids: Vec<LineAid>, lots: Vec<LineAid>) -> Vec<LineAid> {
    let mut aids = aids;
    for used in lots {
        if let Some(aid) = aids.iter_mut().find(|aid| aid.line == used.line) {
            let LineAid { lot, lot_expires, assay, price, .. } = used;
            *aid = LineAid { lot, lot_expires, assay, price, ..std::mem::take(aid) };
        }
    }
    aids
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn dec(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    #[test]
    fn a_band_narrower_than_the_step_of_the_balance_is_told_to_more_places() {
        // 1 % of 1.75 g on a balance of 0.1 g: neither 1.7 nor 1.8 g is within.
        let found = within(dec("1.75"), dec("0.01"), 1);
        assert_eq!(found, Some((dec("1.74"), dec("1.76"))));
        assert_eq!(within(dec("35"), dec("0.02"), 1), Some((dec("34.3"), dec("35.7"))));
    }

    proptest! {
        #[test]
        fn what_is_told_is_within_and_in_order(target in 1_u32..1_000_000, share in 1_u32..200) {
            let (target, share) = (Decimal::new(target.into(), 3), Decimal::new(share.into(), 3));
            let (low, high) = within(target, share, 1).unwrap();
            prop_assert!(low <= high);
            prop_assert!(low >= target * (Decimal::ONE - share) && high <= target * (Decimal::ONE + share));
        }
    }
}
