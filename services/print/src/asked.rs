//! What was asked to be printed: lengths and counts as they are typed. Every fault is named with its cure, all at once.

use clinic::{Error, Result};
use wire::label::{JarLabelQuery, LabelImageQuery, LabelPrintQuery};
use wire::problem::FieldError;

use crate::labels::{Labels, Paper, Sheet};
use crate::size::Size;

/// The smallest and the longest side of a label.
const SIDES: (f64, f64) = (10.0, 300.0);
/// The longest offset or gap.
const OFFSET: f64 = 100.0;
/// The most labels in one document.
const COPIES: u32 = 500;
/// What a sheet keeps free where nothing is said.
const EDGE: f64 = 10.0;
/// Dots per inch: what label printers have.
const DOTS: (u16, u16) = (100, 600);
/// The size of a label where nothing is said: one for a small jar. Common practice, no source.
const USUAL: Size = Size { wide: 60.0, high: 40.0 };
/// ISO 216.
const A4: Size = Size { wide: 210.0, high: 297.0 };
/// ANSI/ASME Y14.1, size A: 8.5 by 11 inches.
const LETTER: Size = Size { wide: 215.9, high: 279.4 };

type Read<T> = std::result::Result<T, FieldError>;

/// Takes the value of a field, or keeps its fault.
fn taken<T>(faults: &mut Vec<FieldError>, read: Read<T>) -> Option<T> {
    read.map_err(|fault| faults.push(fault)).ok()
}

fn length(text: &str) -> Option<f64> {
    let number = text.trim().trim_end_matches("mm").trim();
    number.replace(',', ".").parse().ok().filter(|length: &f64| length.is_finite())
}

fn size(text: Option<&str>) -> Read<Size> {
    let Some(text) = text else { return Ok(USUAL) };
    let sides = text.split_once(['x', '\u{d7}']);
    let sides = sides.and_then(|(wide, high)| Some((length(wide)?, length(high)?)));
    let within = |side: f64| (SIDES.0..=SIDES.1).contains(&side);
    match sides {
        Some((wide, high)) if within(wide) && within(high) => Ok(Size { wide, high }),
        _ => Err(FieldError::new(
            "?size",
            "Enter the width and the height of a label, each from 10 to 300 mm, such as 60 x 40 mm.",
        )),
    }
}

fn offset(field: &str, text: Option<&str>, usual: f64) -> Read<f64> {
    let Some(text) = text else { return Ok(usual) };
    length(text).filter(|length| (0.0..=OFFSET).contains(length)).ok_or_else(|| {
        FieldError::new(format!("?{field}"), "Enter a length from 0 to 100 mm, such as 10 mm.")
    })
}

fn copies(asked: Option<u32>) -> Read<u32> {
    let copies = asked.unwrap_or(1);
    if (1..=COPIES).contains(&copies) {
        return Ok(copies);
    }
    Err(FieldError::new("?copies", "Enter how many labels, from 1 to 500."))
}

fn sheet_size(asked: Option<&str>) -> Read<Option<Size>> {
    match asked.map(str::trim) {
        None | Some("a4") => Ok(Some(A4)),
        Some("letter") => Ok(Some(LETTER)),
        Some("roll") => Ok(None),
        Some(_) => Err(FieldError::new("?paper", "Choose a4, letter or roll.")
            .or(["a4", "letter", "roll"].map(str::to_owned))),
    }
}

/// Reads how labels are to be printed.
///
/// # Errors
/// Returns [`Error::Invalid`] with every field that cannot be read, or with the size or the number of used labels where no
/// label finds place on the sheet.
pub(crate) fn labels(query: &LabelPrintQuery) -> Result<Labels> {
    let faults = &mut Vec::new();
    let size = taken(faults, size(query.size.as_deref()));
    let copies = taken(faults, copies(query.copies));
    let paper = taken(faults, sheet_size(query.paper.as_deref()));
    let top = taken(faults, offset("top", query.top.as_deref(), EDGE));
    let left = taken(faults, offset("left", query.left.as_deref(), EDGE));
    let across = taken(faults, offset("gap_across", query.gap_across.as_deref(), 0.0));
    let down = taken(faults, offset("gap_down", query.gap_down.as_deref(), 0.0));
    let whole = (|| {
        let (size, copies) = (size?, copies?);
        let Some(sheet) = paper? else { return Some(Labels { size, copies, paper: Paper::Roll }) };
        let sheet = Sheet { size: sheet, top: top?, left: left?, gap_across: across?, gap_down: down? };
        Some(Labels { size, copies, paper: Paper::Sheet(sheet, query.used.unwrap_or(0)) })
    })();
    if let Some(Labels { size, paper: Paper::Sheet(sheet, used), .. }) = whole {
        let (across, down) = sheet.holds(size);
        if across * down == 0 {
            faults.push(FieldError::new(
                "?size",
                "No label of this size finds place on the sheet. Enter a smaller label or smaller offsets.",
            ));
        } else if used >= across * down {
            faults.push(FieldError::new(
                "?used",
                format!(
                    "The sheet holds {} labels. Enter fewer as used, or take a new sheet.",
                    across * down
                ),
            ));
        }
    }
    match whole {
        Some(asked) if faults.is_empty() => Ok(asked),
        _ => Err(Error::Invalid(std::mem::take(faults))),
    }
}

/// Numbers of jars: ranges with their ends, none for all jars.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Numbers(Vec<(u32, u32)>);

/// The most ranges of numbers in one question.
const RANGES: usize = 100;

impl Numbers {
    pub(crate) fn one(number: u32) -> Self {
        Self(vec![(number, number)])
    }

    pub(crate) fn ranges(&self) -> &[(u32, u32)] {
        &self.0
    }

    fn read(text: Option<&str>) -> Read<Self> {
        let Some(text) = text.map(str::trim).filter(|text| !text.is_empty()) else {
            return Ok(Self::default());
        };
        let number = |text: &str| text.trim().parse::<u32>().ok().filter(|number| *number > 0);
        let range = |part: &str| match part.split_once(['-', '\u{2013}']) {
            None => number(part).map(|one| (one, one)),
            Some((from, to)) => number(from).zip(number(to)).filter(|(from, to)| from <= to),
        };
        let parts = text.split(',').take(RANGES + 1).map(range).collect::<Option<Vec<_>>>();
        parts.filter(|parts| parts.len() <= RANGES).map(Self).ok_or_else(|| {
            FieldError::new(
                "?jars",
                "Enter the numbers of jars, such as 1-12, 15, or omit the field for all of them.",
            )
        })
    }
}

/// Reads how the labels of jars are to be printed, and of which jars.
///
/// # Errors
/// As [`labels`].
pub(crate) fn jar_labels(query: &JarLabelQuery) -> Result<(Labels, Numbers)> {
    let query = query.clone();
    let asked = labels(&LabelPrintQuery {
        size: query.size,
        net: None,
        copies: None,
        paper: query.paper,
        top: query.top,
        left: query.left,
        gap_across: query.gap_across,
        gap_down: query.gap_down,
        used: query.used,
    });
    match (Numbers::read(query.jars.as_deref()), asked) {
        (Ok(numbers), Ok(asked)) => Ok((asked, numbers)),
        (Err(fault), Ok(_)) => Err(Error::Invalid(vec![fault])),
        (Err(fault), Err(Error::Invalid(faults))) => {
            Err(Error::Invalid(std::iter::once(fault).chain(faults).collect()))
        }
        (_, Err(error)) => Err(error),
    }
}

/// Reads for what printer an image is: the size of the label and its dots per inch.
///
/// # Errors
/// Returns [`Error::Invalid`] with every field that cannot be read.
pub(crate) fn image(query: &LabelImageQuery) -> Result<(Size, u16)> {
    sides_and_dots(query.size.as_deref(), query.dpi)
}

/// As [`image`], of the label of a jar.
///
/// # Errors
/// As [`image`].
pub(crate) fn sides_and_dots(sides: Option<&str>, dots: Option<u16>) -> Result<(Size, u16)> {
    let faults = &mut Vec::new();
    let size = taken(faults, size(sides));
    let dots = dots.unwrap_or(300);
    if !(DOTS.0..=DOTS.1).contains(&dots) {
        faults.push(FieldError::new("?dpi", "Enter the dots per inch of the printer, from 100 to 600."));
    }
    match size {
        Some(size) if faults.is_empty() => Ok((size, dots)),
        _ => Err(Error::Invalid(std::mem::take(faults))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(query: &LabelPrintQuery) -> Vec<String> {
        match labels(query) {
            Err(Error::Invalid(faults)) => faults.into_iter().map(|fault| fault.pointer).collect(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn every_fault_of_a_question_is_named_at_once() {
        let wrong = LabelPrintQuery {
            size: Some("60".into()),
            copies: Some(0),
            paper: Some("a3".into()),
            top: Some("-1 mm".into()),
            gap_down: Some("NaN".into()),
            ..LabelPrintQuery::default()
        };
        assert_eq!(refused(&wrong), ["?size", "?copies", "?paper", "?top", "?gap_down"]);
    }

    #[test]
    fn a_sheet_that_holds_no_label_is_refused_and_so_is_a_used_up_one() {
        let of = |size: &str, used| LabelPrintQuery {
            size: Some(size.into()),
            used,
            ..LabelPrintQuery::default()
        };
        assert_eq!(refused(&of("200 x 40 mm", None)), ["?size"]);
        // 190 mm hold three of 60 mm, 277 mm hold six of 40 mm.
        assert_eq!(refused(&of("60 x 40 mm", Some(18))), ["?used"]);
        assert!(labels(&of("60 x 40 mm", Some(17))).is_ok());
    }

    #[test]
    fn numbers_of_jars_are_read_as_people_write_them() {
        let read = |text: &str| Numbers::read(Some(text)).map(|numbers| numbers.0).ok();
        assert_eq!(read("1-12, 15"), Some(vec![(1, 12), (15, 15)]));
        assert_eq!(read(" 3\u{2013}4 "), Some(vec![(3, 4)]));
        assert_eq!(read(""), Some(Vec::new()));
        for wrong in ["0", "4-3", "1,,2", "a", "1-", "-2", &"1,".repeat(101)] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn sides_are_read_with_comma_or_point_and_either_cross() {
        let size = |text| size(Some(text)).ok();
        assert_eq!(size("62,5 x 29 mm"), Some(Size { wide: 62.5, high: 29.0 }));
        assert_eq!(size("62.5\u{d7}29"), size("62,5 mm x 29 mm"));
        assert_eq!(size("5 x 40 mm"), None);
    }
}
