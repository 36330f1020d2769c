//! How an amount was read where the trade reads it in more than one way: the ratio of a herb, a bare household measure,
//! drops. Whoever wrote the amount confirms the reading by keeping it.

use super::{herb_ratio, result::LineFigures};
use crate::{AmountKind, Formula, Line, Measure, Text};

/// How the amount of a line was read, such as `1:5 in 45 % is read as 100 g to 500 mL (w/v)`. `None` where it can be read
/// in one way only, and where the mass of a herb is not known.
#[must_use]
pub fn read_as(formula: &Formula, line: &Line, figures: &LineFigures) -> Option<Text> {
    if let AmountKind::Quantity(quantity) = line.amount.kind() {
        return match quantity.measure() {
            Measure::Drops { per_ml: None, .. } => drops(line, figures),
            _ => quantity.taken_as().map(Text::from),
        };
    }
    herb_ratio::reading(formula, line, figures)
}

/// The drops that were taken for a millilitre, with where that comes from.
fn drops(line: &Line, figures: &LineFigures) -> Option<Text> {
    let per_ml = figures.drops_per_ml(line)?.normalize();
    let typed = line.amount.text();
    let source =
        line.drops_per_ml().filter(|known| known.value.normalize() == per_ml).map(|known| &known.source);
    Some(
        match source {
            Some(source) => format!(
                "{typed} is read at {per_ml} drops per mL ({}; {})",
                source.text,
                source.status.as_str()
            ),
            None => format!("{typed} is read at {per_ml} drops per mL"),
        }
        .into(),
    )
}
