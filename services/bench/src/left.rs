//! What is left of a batch's yield. The database holds the same (`batch_left`).

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use release::entries::Entry;
use schema::jar_filling;
use store::{Error, Result, Tx};
use wire::bench::EntryKind;
use wire::ids::BatchId;

/// The yield of a batch and where it went, in g.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Left {
    /// The last yield that was not corrected.
    pub(crate) yielded: Decimal,
    /// What was lost in pots, spilt or kept as a sample after the yield was weighed. What was before is not in it.
    pub(crate) lost: Decimal,
    /// What the lots came in with.
    pub(crate) shelved: Decimal,
    /// What the jars hold.
    pub(crate) filled: Decimal,
}

impl Left {
    /// Where the yield of a batch went; nothing where none is recorded.
    ///
    /// # Errors
    /// Returns the errors of the database.
    pub(crate) async fn of(tx: &mut Tx<'_>, batch: BatchId, entries: &[Entry]) -> Result<Option<Self>> {
        let Some((yielded, lost)) = recorded(entries) else { return Ok(None) };
        let shelved = stock::shelved(tx, batch).await?;
        let fillings: Vec<(i32, Decimal)> = jar_filling::table
            .filter(jar_filling::batch_id.eq(batch.0))
            // What was decanted stands in its first jar.
            .filter(jar_filling::decanted_from.is_null())
            .select((jar_filling::jars, jar_filling::grams))
            .load(tx.conn())
            .await?;
        let filled = fillings.into_iter().map(|(jars, grams)| Decimal::from(jars) * grams).sum();
        Ok(Some(Self { yielded, lost, shelved, filled }))
    }

    /// What is neither filled, nor on the shelf, nor lost, in g; nothing where more is.
    pub(crate) fn grams(&self) -> Decimal {
        (self.yielded - self.lost - self.shelved - self.filled).max(Decimal::ZERO)
    }

    /// Where the yield went, for a refusal.
    pub(crate) fn told(&self) -> String {
        let gone = [
            (self.lost, "was lost or kept as a sample"),
            (self.shelved, "is on the shelf"),
            (self.filled, "is in jars"),
        ];
        let gone = gone.iter().filter(|(grams, _)| !grams.is_zero());
        let gone: Vec<String> = gone.map(|(grams, word)| format!("{} g {word}", plain(*grams))).collect();
        let (yielded, left) = (plain(self.yielded), plain(self.grams()));
        match gone.is_empty() {
            true => format!("The recorded yield is {yielded} g."),
            false => format!("Of the recorded yield of {yielded} g, {}; {left} g is left.", gone.join(", ")),
        }
    }
}

pub(crate) fn plain(grams: Decimal) -> String {
    grams.normalize().to_string()
}

/// That no yield is recorded.
pub(crate) fn unknown() -> Error {
    Error::Conflict("The record has no yield, so it does not say how much there is.".into())
}

/// The recorded yield, and what was lost or kept after it was weighed.
fn recorded(entries: &[Entry]) -> Option<(Decimal, Decimal)> {
    let mut live = entries.iter().filter(|entry| entry.shown.corrected_by.is_none());
    let last = live.clone().rfind(|entry| entry.shown.kind == EntryKind::Yield)?;
    let later = |entry: &&Entry| {
        entry.shown.number > last.shown.number
            && matches!(entry.shown.kind, EntryKind::TransferLoss | EntryKind::SpillLoss | EntryKind::Sample)
    };
    let lost = live.by_ref().filter(later).filter_map(|entry| entry.measured.grams).sum();
    Some((last.measured.grams?, lost))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_names_where_the_yield_went() {
        let grams = |number| Decimal::from(number);
        let whole = Left { yielded: grams(360), lost: grams(0), shelved: grams(0), filled: grams(0) };
        assert_eq!(whole.told(), "The recorded yield is 360 g.");
        let some = Left { lost: grams(20), shelved: grams(120), filled: grams(200), ..whole };
        assert_eq!(
            some.told(),
            "Of the recorded yield of 360 g, 20 g was lost or kept as a sample, 120 g is on the shelf, 200 g is in \
             jars; 20 g is left."
        );
        assert_eq!(Left { lost: grams(400), ..whole }.grams(), grams(0));
    }
}
