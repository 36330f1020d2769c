//! Labels of a stated size: on sheets, or one after the other on a roll, all alike or each of one jar; and the leaflet for
//! what a jar cannot hold.

use chrono::Datelike;
use serde_json::{Value, json};
use wire::jars::{JarLabels, grouped};
use wire::label::{Label, LabelPiece};

use crate::document::{pdf, png};
use crate::scan::{self, Place, Scan};
use crate::size::Size;
use crate::unprintable::Unprintable;

const LABELS: &str = include_str!("../templates/labels.typ");
const LEAFLET: &str = include_str!("../templates/leaflet.typ");

/// A sheet of labels: its own size, where the first label begins, and the gaps between them, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sheet {
    /// The sheet.
    pub(crate) size: Size,
    /// From its upper edge to the first label.
    pub(crate) top: f64,
    /// From its left edge to the first label.
    pub(crate) left: f64,
    /// Between two labels beside each other.
    pub(crate) gap_across: f64,
    /// Between two labels below each other.
    pub(crate) gap_down: f64,
}

impl Sheet {
    /// How many labels of a size find place beside and below each other, as far from the right and the lower edge as from the
    /// left and the upper one.
    #[must_use]
    pub(crate) fn holds(&self, label: Size) -> (u32, u32) {
        (
            along(self.size.wide - 2.0 * self.left, label.wide, self.gap_across),
            along(self.size.high - 2.0 * self.top, label.high, self.gap_down),
        )
    }
}

/// A tenth of a millimetre is nothing to a sheet of labels.
const NOTHING: f64 = 0.1;

/// How many of one side with gaps between them find place along a length, up to a thousand.
fn along(room: f64, side: f64, gap: f64) -> u32 {
    let takes = |many: u32| f64::from(many) * (side + gap) - gap;
    (1..=1000).take_while(|many| takes(*many) <= room + NOTHING).last().unwrap_or(0)
}

/// On what labels are printed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Paper {
    /// Each on a page of its own.
    Roll,
    /// So many on a sheet, after so many that were used before.
    Sheet(Sheet, u32),
}

/// Labels to be printed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Labels {
    /// Each.
    pub(crate) size: Size,
    /// How many.
    pub(crate) copies: u32,
    /// On what.
    pub(crate) paper: Paper,
}

/// Labels that are all alike, as PDF, in the largest letters that find room.
///
/// # Errors
/// Returns [`Unprintable::NoRoom`] where a part has no room even in letters of five points.
pub(crate) fn labels(label: &Label, asked: &Labels) -> Result<Vec<u8>, Unprintable> {
    pdf(LABELS, &alike(label, asked))
}

/// One label as PNG at the printer's own dots per inch.
///
/// # Errors
/// As [`labels()`].
pub(crate) fn image(label: &Label, size: Size, dots_per_inch: u16) -> Result<Vec<u8>, Unprintable> {
    png(LABELS, &alike(label, &Labels { size, copies: 1, paper: Paper::Roll }), dots_per_inch)
}

/// What stands on jars, by how they were filled, and where the code that a camera reads stands on each.
pub(crate) struct OfJars {
    /// Jars with the same label stand together.
    pub(crate) groups: Vec<JarLabels>,
    /// The address before the path of a jar's page, and the place of its code; `None` for labels without one.
    pub(crate) scanned: Option<(String, Place)>,
}

/// The labels of jars as PDF, in the order in which they are given; the number of copies counts nothing.
///
/// # Errors
/// As [`labels()`]; the part without room may be `code`.
pub(crate) fn of_jars(of: &OfJars, asked: &Labels) -> Result<Vec<u8>, Unprintable> {
    pdf(LABELS, &each(of, asked)?)
}

/// The label of the first jar as PNG at the printer's own dots per inch.
///
/// # Errors
/// As [`of_jars`].
pub(crate) fn image_of_jar(of: &OfJars, size: Size, dots_per_inch: u16) -> Result<Vec<u8>, Unprintable> {
    png(LABELS, &each(of, &Labels { size, copies: 1, paper: Paper::Roll })?, dots_per_inch)
}

/// The folded leaflet of a jar as PDF: all that the jar shortens or cannot hold, in full.
///
/// # Errors
/// Returns [`Unprintable::Letters`] by what was to be printed.
pub(crate) fn leaflet(label: &Label) -> Result<Vec<u8>, Unprintable> {
    let said = label.layout.as_ref().map(|layout| pieces(&layout.leaflet));
    pdf(
        LEAFLET,
        &json!({ "name": label.name.text, "batch": batch(label), "day": day(label), "pieces": said.unwrap_or_default() }),
    )
}

/// The day of a document: that of making, so that the same label gives the same bytes.
fn day(label: &Label) -> Value {
    let day = label.made_on.as_ref().map(|made| made.day).unwrap_or_default();
    json!({ "year": day.year(), "month": day.month(), "day": day.day() })
}

fn batch(label: &Label) -> Option<&str> {
    label.batch_number.as_ref().map(|number| number.text.as_str())
}

fn pieces(pieces: &[LabelPiece]) -> Vec<Value> {
    pieces.iter().map(|piece| json!({ "part": piece.part, "text": piece.text })).collect()
}

/// What stands on the jar itself.
fn on_jar(label: &Label) -> Vec<Value> {
    label.layout.as_ref().map(|layout| pieces(&layout.jar)).unwrap_or_default()
}

fn alike(label: &Label, asked: &Labels) -> Value {
    let labels: Vec<Value> = (0..asked.copies).map(|_| json!({ "group": 0, "jar": null })).collect();
    document(label, asked, scan::whole(asked.size), (vec![json!(on_jar(label))], labels, Value::Null))
}

fn each(of: &OfJars, asked: &Labels) -> Result<Value, Unprintable> {
    let mut labels = Vec::new();
    for (group, filled) in of.groups.iter().enumerate() {
        for jar in &filled.jars {
            let runs = match &of.scanned {
                None => Value::Null,
                Some((base, _)) => {
                    let scan = Scan::of(&format!("{base}{}", jar.page));
                    scan.ok_or_else(|| Unprintable::Fault("an address that no symbol holds".into()))?.runs()
                }
            };
            let jar = json!({ "number": jar.number, "code": grouped(&jar.code), "runs": runs });
            labels.push(json!({ "group": group, "jar": jar }));
        }
    }
    let first = of.groups.first().ok_or_else(|| Unprintable::Fault("labels of no jar".into()))?;
    let groups = of.groups.iter().map(|filled| json!(on_jar(&filled.label))).collect();
    let place = of.scanned.as_ref().map(|(_, place)| place);
    let room = place.map_or_else(|| scan::whole(asked.size), |place| place.room);
    let scan = place.map(|at| json!({ "module": at.module, "left": at.left, "top": at.top }));
    Ok(document(&first.label, asked, room, (groups, labels, scan.unwrap_or_default())))
}

/// The data of the template: what the labels say by group, each label, and where a code stands.
fn document(
    label: &Label,
    asked: &Labels,
    room: Size,
    (groups, labels, scan): (Vec<Value>, Vec<Value>, Value),
) -> Value {
    let sheet = match asked.paper {
        Paper::Roll => Value::Null,
        Paper::Sheet(sheet, used) => {
            let (across, down) = sheet.holds(asked.size);
            json!({
                "wide": sheet.size.wide, "high": sheet.size.high, "top": sheet.top, "left": sheet.left,
                "gap_across": sheet.gap_across, "gap_down": sheet.gap_down,
                "across": across, "down": down, "used": used,
            })
        }
    };
    json!({
        "name": label.name.text,
        "day": day(label),
        "margin": scan::MARGIN,
        "room": { "wide": room.wide, "high": room.high },
        "size": { "wide": asked.size.wide, "high": asked.size.high },
        "groups": groups,
        "labels": labels,
        "scan": scan,
        "sheet": sheet,
    })
}
