//! Weighing from a lot of the shelf: what the entry says of the lot comes from the lot, and what it weighed is drawn from it.

use std::borrow::Cow;
use std::collections::HashMap;

use policy::Rules;
use recipes::stored::Recipe;
use release::Record;
use release::entries::Measured;
use stock::{Draw, Taken};
use store::{Result, Tx};
use wire::bench::{EntryKind, NewEntry};
use wire::ids::{BatchId, EntryId, LotId};

/// Prepares the draw of an entry that was checked: the entry as it is to be written, and the lot. A correction gives back
/// what the corrected entry had drawn, whether it names a lot or not.
///
/// # Errors
/// Returns [`store::Error::Invalid`] at `/lot_id`, if the lot may not be used for the line or does not hold enough.
pub(crate) async fn take<'r>(
    tx: &mut Tx<'_>,
    record: &Record<'_>,
    recipe: &Recipe,
    rules: &Rules,
    request: &'r NewEntry,
    measured: &Measured,
) -> Result<(Cow<'r, NewEntry>, Option<Taken>)> {
    let written = Cow::Borrowed(request);
    let draws = request.lot_id.is_some() || request.corrects.is_some();
    if request.kind != EntryKind::Weighing || !draws {
        return Ok((written, None));
    }
    let name = request.line.as_deref().unwrap_or_default().trim();
    let line = recipe.lines().find(|line| line.line == name);
    let draw = Draw {
        lot: request.lot_id,
        corrects: request.corrects,
        batch: record.batch(),
        revision: record.revision(),
        line: name,
        grams: measured.grams.unwrap_or_default(),
        target: line.and_then(|line| recipe.target(line)),
        today: rules.date(tx.now()),
        currency: &rules.currency,
    };
    let Some(taken) = stock::take(tx, &draw).await? else { return Ok((written, None)) };
    let entry = NewEntry {
        lot: Some(taken.text.clone()),
        lot_expires: Some(taken.expires.to_string()),
        assay: taken.assay.clone(),
        price: taken.price.clone(),
        ..request.clone()
    };
    Ok((Cow::Owned(entry), Some(taken)))
}

/// The lots that the entries of a batch were weighed from.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn lots_of(tx: &mut Tx<'_>, batch: BatchId) -> Result<HashMap<EntryId, LotId>> {
    let drawn = stock::drawn_by(tx, batch).await?;
    Ok(drawn.into_iter().map(|drawn| (drawn.entry, drawn.lot)).collect())
}

/// The lot that one entry was weighed from.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn lot_of(tx: &mut Tx<'_>, batch: BatchId, entry: EntryId) -> Result<Option<LotId>> {
    Ok(lots_of(tx, batch).await?.remove(&entry))
}
