//! How closely a record follows its recipe: relative errors, and no amount.

use recipes::RecipeCache;
use release::entries::Entry;
use release::{ForRules, Record};
use rust_decimal::Decimal;
use store::{Result, Tx};
use wire::bench::EntryKind;

use crate::found::of_kind;
use crate::{batches, yields};

/// How closely a record follows its recipe.
#[derive(Clone, Debug)]
pub struct Precision {
    /// Of each line that was weighed, in the order of the recipe: how far all of it is off its target, as a share.
    pub deviations: Vec<Decimal>,
    /// The yield as a share of what was expected; nothing where none was recorded, or what to expect is not known.
    pub yield_share: Option<Decimal>,
}

/// To a hundredth of a per cent: closer than any balance of a clinic weighs, and too coarse to tell an amount.
const PLACES: u32 = 4;

/// Works out how closely a record follows its recipe. What was corrected does not count.
///
/// # Errors
/// Returns the errors of reading the record.
pub async fn precision<'t>(tx: &mut Tx<'t>, cache: &RecipeCache, record: &Record<'t>) -> Result<Precision> {
    let marc = recipes::marc(tx, cache, record).await?;
    let contents = batches::contents(tx, record).await?;
    let within = contents.content();
    let live: Vec<&Entry> =
        within.entries.iter().filter(|entry| entry.shown.corrected_by.is_none()).collect();
    let deviation = |line: &recipes::stored::Line| {
        let of_line = of_kind(&live, EntryKind::Weighing)
            .filter(|entry| entry.shown.line.as_deref() == Some(line.line.as_str()));
        let weighed: Vec<Decimal> = of_line.filter_map(|entry| entry.measured.grams).collect();
        if weighed.is_empty() {
            return None;
        }
        galenics::tolerance::share_off(within.recipe.target(line)?, weighed.iter().sum())
    };
    let last = of_kind(&live, EntryKind::Yield).last().and_then(|entry| entry.measured.grams);
    let expected = yields::expected(&within.recipe, &marc);
    Ok(Precision {
        deviations: within.recipe.lines().filter_map(deviation).map(|share| share.round_dp(PLACES)).collect(),
        yield_share: last
            .zip(expected)
            .and_then(|(came, expected)| came.checked_div(expected))
            .map(|share| share.round_dp(PLACES)),
    })
}
