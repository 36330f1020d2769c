//! What helps whoever weighs: how far a weighing may be off, and the lot of the last time.
//!
//! Reads only. Findings are judged in `findings`, against the exact target; the range here is for a sentence at the bench
//! and lies within what is judged to be within.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use recipes::stored::{Line, Recipe};
use release::{Access, ForRules, Released, record};
use rust_decimal::RoundingStrategy;
use schema::batch;
use stock::Usable;
use store::{Credentials, Error, Result, Store};
use uuid::Uuid;
use wire::bench::{EntryKind, LineAid};
use wire::ids::BatchId;

use crate::batches::{Stored, access, contents};
use crate::lots::of_line;
use policy::Rules;

/// For each line of a batch's recipe: the range that is within tolerance, the lot that the maker used last time, and the
/// lots of the shelf.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such batch or the caller may not see it, and [`Error::GateClosed`] for an
/// instructor who has not acknowledged the cautions of its revision.
pub async fn aids(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Released<Vec<LineAid>>> {
    store
        .read(credentials, async |tx| {
            let record = access(tx, id, false).await?;
            let rules = policy::rules_of(tx, record.row().policy_version).await?;
            let (maker, revision) = (record.row().maker_id, record.row().revision_id);
            let own = contents(tx, &record).await?;
            // Of the same revision, so that a line's number means the same line.
            let before: Option<Uuid> = batch::table
                .filter(batch::maker_id.eq(maker))
                .filter(batch::revision_id.eq(revision))
                .filter(batch::id.lt(id.0))
                .order(batch::id.desc())
                .select(batch::id)
                .first(tx.conn())
                .await
                .optional()?;
            let today = rules.date(tx.now());
            let usable = stock::for_lines(tx, record.revision(), None, today).await?;
            let mut aids = own.try_map(|own| Ok::<_, Error>(lines(&own, &rules, &usable)))?;
            if let Some(before) = before
                && let Access::Open(record) = record::access(tx, BatchId(before), false).await?
            {
                let earlier = contents(tx, &record).await?;
                let lots = lots(earlier.content());
                aids = aids.try_map(|aids| Ok::<_, Error>(with_lots(aids, lots)))?;
            }
            Ok(aids)
        })
        .await
}

fn lines(own: &Stored, rules: &Rules, usable: &[Usable]) -> Vec<LineAid> {
    let aid =
        |line| LineAid { lots: of_line(&own.recipe, line, usable).lots, ..range(&own.recipe, line, rules) };
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
    let inward =
        |factor: Decimal, strategy| (target * factor).round_dp_with_strategy(places, strategy).to_string();
    aid.low = Some(inward(Decimal::ONE - share, RoundingStrategy::ToPositiveInfinity));
    aid.high = Some(inward(Decimal::ONE + share, RoundingStrategy::ToNegativeInfinity));
    aid.percent = Some((share * Decimal::ONE_HUNDRED).normalize().to_string());
    aid
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
