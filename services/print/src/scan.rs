//! The code on a jar that a camera reads: the address of the jar's page as a QR code (ISO/IEC 18004), and where it stands on
//! a label. Its modules are never smaller than a telephone reads, and nothing else enters its quiet zone.

use qrcodegen::{QrCode, QrCodeEcc};
use serde_json::{Value, json};

use crate::size::Size;

/// The smallest side of a module, in mm: what telephones read from a hand's breadth. Common practice, no source.
const LEAST_MODULE: f64 = 0.33;
/// Light modules around the symbol (ISO/IEC 18004, quiet zone; from memory).
const QUIET: i32 = 4;
/// Millimetres in an inch.
const INCH: f64 = 25.4;
/// What a label keeps free along its edges, in mm.
pub(crate) const MARGIN: f64 = 1.5;
/// A hundredth of a dot is nothing to a printer.
const NOTHING: f64 = 0.01;

/// A symbol.
pub(crate) struct Scan {
    modules: QrCode,
}

impl Scan {
    /// The symbol of an address, with the error correction of level M (about 15 % may be lost) or better; `None` for an address
    /// that no symbol holds.
    #[must_use]
    pub(crate) fn of(address: &str) -> Option<Self> {
        QrCode::encode_text(address, QrCodeEcc::Medium).ok().map(|modules| Self { modules })
    }

    /// How many modules a side has, with the quiet zone.
    fn across(&self) -> i32 {
        self.modules.size() + 2 * QUIET
    }

    /// Its dark modules, row by row: the row, the first column, and the column after the last.
    #[must_use]
    pub(crate) fn runs(&self) -> Value {
        let size = self.modules.size();
        let mut runs = Vec::new();
        for row in 0..size {
            let mut from = None;
            for column in 0..=size {
                // Outside of the symbol everything is light.
                match (self.modules.get_module(column, row), from) {
                    (true, None) => from = Some(column),
                    (false, Some(first)) => {
                        runs.push(json!([row, first, column]));
                        from = None;
                    }
                    _ => {}
                }
            }
        }
        Value::Array(runs)
    }
}

/// Where a code stands on a label, and what is left for the letters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Place {
    /// The side of a module, in mm.
    pub(crate) module: f64,
    /// From the left edge of the label to the first dark module, in mm.
    pub(crate) left: f64,
    /// From the upper edge of the label to the first dark module, in mm.
    pub(crate) top: f64,
    /// The room of the letters within the margin, in mm.
    pub(crate) room: Size,
}

/// The room of the letters where no code takes any.
#[must_use]
pub(crate) fn whole(label: Size) -> Size {
    Size { wide: label.wide - 2.0 * MARGIN, high: label.high - 2.0 * MARGIN }
}

/// The least side of a module on a printer of so many dots an inch: whole dots, so that all modules are alike.
fn module(dots_per_inch: Option<u16>) -> f64 {
    let Some(dots) = dots_per_inch else { return LEAST_MODULE };
    let dot = INCH / f64::from(dots);
    let enough = (1_u16..=u16::MAX).map(|many| f64::from(many) * dot).find(|side| *side >= LEAST_MODULE);
    enough.unwrap_or(LEAST_MODULE)
}

/// Finds the place of a code: at the lower right, beside the letters on a broad label and below them on a high one.
///
/// # Errors
/// Returns the side in mm that the code needs with its quiet zone, where the label has no room for it.
pub(crate) fn place(scan: &Scan, label: Size, dots_per_inch: Option<u16>) -> Result<Place, f64> {
    let module = module(dots_per_inch);
    let (side, quiet) = (f64::from(scan.across()) * module, f64::from(QUIET) * module);
    let all = whole(label);
    if side > all.wide + NOTHING || side > all.high + NOTHING {
        return Err(side);
    }
    let dot = dots_per_inch.map(|dots| INCH / f64::from(dots));
    // A module that begins between two dots would be drawn as grey.
    let at = |length: f64| dot.map_or(length, |dot| ((length + NOTHING * dot) / dot).floor() * dot);
    let (left, top) = (at(label.wide - MARGIN - side + quiet), at(label.high - MARGIN - side + quiet));
    let room = match label.wide >= label.high {
        true => Size { wide: left - quiet - MARGIN, high: all.high },
        false => Size { wide: all.wide, high: top - quiet - MARGIN },
    };
    Ok(Place { module, left, top, room })
}

#[cfg(test)]
mod tests {
    use super::*;

    const ADDRESS: &str = "https://clinic.example/jars/4t6qk0x9w2m8n5c7r3h1vjzb0e";

    #[test]
    fn a_code_has_modules_of_whole_dots_that_begin_on_a_dot() {
        let scan = Scan::of(ADDRESS).unwrap();
        // 54 bytes at level M are a symbol of version 4: 33 modules, and four light ones on either side.
        assert_eq!(scan.across(), 41);
        let label = Size { wide: 60.0, high: 40.0 };
        for dots in [100, 150, 203, 300, 305, 600] {
            let found = place(&scan, label, Some(dots)).unwrap();
            let dot = INCH / f64::from(dots);
            for length in [found.module, found.left, found.top] {
                let many = length / dot;
                assert!((many - many.round()).abs() < 1e-6, "{dots} dots: {length} mm are {many}");
            }
            assert!(found.module >= LEAST_MODULE && found.module < LEAST_MODULE + dot);
            // The quiet zone ends within the margin, and the letters before it.
            assert!(found.left + 37.0 * found.module <= label.wide - MARGIN + 1e-6);
            assert!(MARGIN + found.room.wide <= found.left - 4.0 * found.module + 1e-6);
        }
    }

    #[test]
    fn a_label_without_room_for_its_code_says_how_much_it_needs() {
        let scan = Scan::of(ADDRESS).unwrap();
        let needed = 41.0 * LEAST_MODULE;
        for (wide, high) in [(60.0, 16.0), (16.0, 60.0)] {
            let side = place(&scan, Size { wide, high }, None).unwrap_err();
            assert!((side - needed).abs() < 1e-9, "{side}");
        }
        assert!(place(&scan, Size { wide: 60.0, high: needed + 3.0 }, None).is_ok());
        assert!(Scan::of(&"a".repeat(3000)).is_none());
    }

    #[test]
    fn the_runs_are_the_dark_modules() {
        let scan = Scan::of(ADDRESS).unwrap();
        let runs: Vec<[i32; 3]> = serde_json::from_value(scan.runs()).unwrap();
        let dark = |x: i32, y: i32| runs.iter().any(|[row, from, to]| *row == y && (*from..*to).contains(&x));
        for y in 0..33 {
            for x in 0..33 {
                assert_eq!(dark(x, y), scan.modules.get_module(x, y), "{x}, {y}");
            }
        }
    }
}
