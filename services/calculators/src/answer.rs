//! The answer of a calculator: named figures and notes.

use judgement::figures::Detail;
use wire::calculations::Calculated;

/// An answer of figures, each with the name that the API documents.
pub(super) fn calculated(figures: &[(&str, &galenics::Figure)]) -> Calculated {
    Calculated {
        figures: figures.iter().map(|(name, of)| Detail::Explained.figure(*name, of)).collect(),
        notes: Vec::new(),
    }
}

/// As [`calculated`], with a note on each household measure in `typed` that states the size assumed for it.
pub(super) fn calculated_from(
    figures: &[(&str, &galenics::Figure)],
    typed: &[&galenics::Quantity],
) -> Calculated {
    let notes = typed.iter().filter_map(|quantity| quantity.taken_as()).collect();
    Calculated { notes, ..calculated(figures) }
}
