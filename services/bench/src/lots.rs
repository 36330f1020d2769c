//! From which lots the lines of a batch can be weighed.

use galenics::Decimal;
use recipes::RecipeCache;
use recipes::stored::{Line, Recipe};
use release::{ForRules, Released};
use stock::{For, Usable};
use store::{Credentials, Error, Result, Store};
use wire::ids::BatchId;
use wire::stock::{BatchLots, LineLots, LotChoice};

use crate::batches;

/// The usable lots for each line of a batch, that which expires first before the others. Whether a lot holds enough is
/// told against what the line asks for, and what is left only where it is less.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such batch or the caller may not see it, and [`Error::GateClosed`] for an
/// instructor who has not acknowledged the cautions of its revision.
pub async fn lots(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
) -> Result<Released<BatchLots>> {
    store
        .read(credentials, async |tx| {
            let record = batches::access(tx, id, false).await?;
            let asked = cache.asked(tx, &record).await?;
            let rules = cache.rules(tx, record.row().policy_version).await?;
            let today = rules.date(tx.now());
            let of = For { batch: id, revision: record.revision(), today, now: tx.now() };
            let usable = stock::for_lines(tx, &of, None).await?;
            asked.try_map(|recipe| Ok::<_, Error>(by_line(&recipe, &usable)))
        })
        .await
}

fn by_line(recipe: &Recipe, usable: &[Usable]) -> BatchLots {
    BatchLots { lines: recipe.lines().map(|line| of_line(recipe, line, usable)).collect() }
}

/// The lots from which one line can be weighed, in the order in which they stand in `usable`.
pub(crate) fn of_line(recipe: &Recipe, line: &Line, usable: &[Usable]) -> LineLots {
    let target = recipe.target(line);
    let lots = usable.iter().filter(|usable| usable.line == line.line);
    LineLots { line: line.line.clone(), lots: lots.map(|usable| choice(recipe, usable, target)).collect() }
}

fn choice(recipe: &Recipe, usable: &Usable, target: Option<Decimal>) -> LotChoice {
    // A line without a target may take any amount, so a lot with something left counts as enough.
    let short = target.is_some_and(|target| usable.free < target);
    let use_by = recipe.use_by.as_ref().and_then(|use_by| use_by.date);
    LotChoice {
        id: usable.id,
        number: usable.number.clone(),
        supplier: usable.supplier.clone(),
        supplier_lot: usable.supplier_lot.clone(),
        keeps_until: usable.keeps_until,
        opened: usable.opened,
        reserved: usable.reserved,
        enough: !short,
        left_grams: short.then(|| usable.free.normalize().to_string()),
        shortens_use_by: use_by.filter(|use_by| usable.keeps_until < *use_by).map(|use_by| {
            let until = usable.keeps_until;
            match usable.made {
                // A watery part ends to matter in what preserves itself; the record of the batch says which.
                true => format!(
                    "This lot keeps until {until}. Unless the product preserves it, the product does too."
                ),
                false => format!("With this lot the product must be used by {until}, instead of {use_by}."),
            }
        }),
    }
}
