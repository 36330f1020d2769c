//! A document that was set, as PDF or as an image.

use serde_json::Value;
use typst::comemo;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};
use typst_render::RenderOptions;

use crate::unprintable::Unprintable;
use crate::world::Paper;

/// What a template says when a part has no room; the part follows.
const NO_ROOM: &str = "no room: ";
/// Points in an inch.
const POINTS: f64 = 72.0;

fn set(template: &str, data: &Value) -> Result<PagedDocument, Unprintable> {
    let paper = Paper::new(template, data)?;
    typst::compile::<PagedDocument>(&paper).output.map_err(|found| refused(&found))
}

/// What is kept for the next document is for templates that are edited as one looks on; here it would only grow.
fn forget() {
    comemo::evict(0);
}

fn refused(found: &[SourceDiagnostic]) -> Unprintable {
    let all: Vec<String> = found.iter().map(|one| one.message.to_string()).collect();
    let all = all.join("; ");
    if let Some((_, part)) = all.split_once(NO_ROOM) {
        let part = part.chars().take_while(|letter| letter.is_ascii_alphabetic() || *letter == '_').collect();
        return Unprintable::NoRoom { part };
    }
    match all.contains("could not be displayed with") {
        true => Unprintable::Letters { text: all },
        false => Unprintable::Fault(all),
    }
}

/// A document as PDF/A-2a. The same document gives the same bytes.
///
/// # Errors
/// Returns [`Unprintable::NoRoom`] and [`Unprintable::Letters`] by what was to be printed.
pub(crate) fn pdf(template: &str, data: &Value) -> Result<Vec<u8>, Unprintable> {
    let standards = PdfStandards::new(&[PdfStandard::A_2a])
        .map_err(|error| Unprintable::Fault(error.message().to_string()))?;
    let options =
        PdfOptions { standards, creator: Smart::Custom(Some("Stillroom".into())), ..PdfOptions::default() };
    let written = set(template, data)
        .and_then(|document| typst_pdf::pdf(&document, &options).map_err(|found| refused(&found)));
    forget();
    written
}

/// The first page of a document as PNG, with so many dots per inch.
///
/// # Errors
/// As [`pdf`].
pub(crate) fn png(template: &str, data: &Value, dots_per_inch: u16) -> Result<Vec<u8>, Unprintable> {
    let options =
        RenderOptions { pixel_per_pt: (f64::from(dots_per_inch) / POINTS).into(), render_bleed: false };
    let drawn = set(template, data).and_then(|document| {
        let page =
            document.pages().first().ok_or_else(|| Unprintable::Fault("a document without a page".into()))?;
        typst_render::render(page, &options)
            .encode_png()
            .map_err(|error| Unprintable::Fault(error.to_string()))
    });
    forget();
    drawn
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    const LABELS: &str = include_str!("../templates/labels.typ");

    fn label(wide: f64, high: f64, warning: &str) -> Value {
        let piece = |part: &str, text: &str| json!({ "part": part, "text": text });
        json!({
            "name": "Calendula cream", "day": { "year": 2026, "month": 3, "day": 2 }, "sheet": null, "scan": null,
            "size": { "wide": wide, "high": high }, "margin": 1.5,
            "room": { "wide": wide - 3.0, "high": high - 3.0 },
            "groups": [[piece("name", "Calendula cream"), piece("net_contents", "30 g"), piece("warnings", warning)]],
            "labels": [{ "group": 0, "jar": null }],
        })
    }

    #[test]
    fn a_label_is_a_document_for_the_file_and_the_same_one_twice() {
        let data = label(60.0, 40.0, "Daisy family: not if allergic.");
        let once = pdf(LABELS, &data).unwrap();
        assert!(once.starts_with(b"%PDF-1.7"), "PDF/A-2 is of PDF 1.7 (ISO 19005-2)");
        assert_eq!(once, pdf(LABELS, &data).unwrap());
    }

    #[test]
    fn the_part_without_room_is_named() {
        for (wide, high, warning) in
            [(60.0, 10.0, "Not for children. ".repeat(40)), (10.0, 90.0, "Xanthophyllomyces".into())]
        {
            match pdf(LABELS, &label(wide, high, &warning)) {
                Err(Unprintable::NoRoom { part }) => assert_eq!(part, "warnings"),
                other => panic!("{wide} x {high}: {other:?}"),
            }
        }
    }

    #[test]
    fn a_letter_that_no_font_has_is_refused_and_not_left_out() {
        match pdf(LABELS, &label(60.0, 40.0, "\u{5361}")) {
            Err(Unprintable::Letters { .. }) => {}
            other => panic!("{other:?}"),
        }
        assert!(
            pdf(
                LABELS,
                &label(60.0, 40.0, "\u{39a}\u{3b1}\u{3bb}\u{3ad}\u{3bd}\u{3b4}\u{3bf}\u{3c5}\u{3bb}\u{3b1}")
            )
            .is_ok()
        );
    }

    #[test]
    fn an_image_has_the_printers_dots() {
        let image = png(LABELS, &label(62.0, 29.0, "None."), 203).unwrap();
        let side = |at: usize| u32::from_be_bytes(image[at..at + 4].try_into().unwrap());
        // The header of a PNG holds width and height (ISO/IEC 15948, 11.2.2).
        assert_eq!((side(16), side(20)), (496, 232));
    }
}
