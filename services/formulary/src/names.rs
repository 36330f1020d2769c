//! Display names from the reference data.

use judgement::Written;
use store::Tx;

/// The display name of a kind of preparation.
pub(crate) fn preparation_name(tx: &Tx<'_>, written: &Written) -> String {
    tx.reference
        .preparation(&written.preparation)
        .map_or_else(|| written.preparation.clone(), |it| it.name.clone())
}
