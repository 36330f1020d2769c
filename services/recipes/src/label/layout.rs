//! Division of a label between the jar and a folded leaflet.
//!
//! Never here: a contraindication, the route or the use-by date that leaves the jar, or a text that is cut.

use judgement::figures::Detail;
use wire::label::{Label, LabelLayout, LabelPiece, LabelWarnings};
use wire::safety::CautionLevel;

use super::parts;
use super::room::{self, Area};

/// What a jar says when a leaflet goes with it.
const SEE: &str = "See leaflet.";

/// Parts that may leave the jar, the least harm first. Warnings leave between `longest_use` and the contraindications.
const MAY_LEAVE: [&str; 9] = [
    "clinic",
    "notice",
    "regime",
    "after_opening",
    "ingredients",
    "allergens",
    "meant_for",
    "patch_test",
    "directions",
];

/// One piece, in full and as short as it can be said.
struct Piece {
    part: &'static str,
    full: String,
    short: String,
    /// In which order it leaves; `None` for what stays.
    leaves: Option<usize>,
}

/// Divides a label between a jar with an area and a leaflet.
pub(super) fn layout(label: &Label, area: &Area) -> LabelLayout {
    let pieces = pieces(label);
    let room = area.characters();
    let full: usize = pieces.iter().map(|piece| piece.full.chars().count()).sum();
    if full <= room {
        let jar = pieces.iter().map(|piece| said(piece.part, &piece.full)).collect();
        return done(jar, Vec::new(), false, true, &pieces);
    }
    let mut on_jar: Vec<bool> = vec![true; pieces.len()];
    let used = |on_jar: &[bool]| -> usize {
        let jar: usize =
            pieces.iter().zip(on_jar).filter(|(_, on)| **on).map(|(it, _)| it.short.chars().count()).sum();
        let see = if on_jar.iter().all(|on| *on) { 0 } else { SEE.len() };
        jar + see
    };
    let mut leaving: Vec<(usize, usize)> =
        pieces.iter().enumerate().filter_map(|(i, piece)| Some((piece.leaves?, i))).collect();
    leaving.sort_unstable();
    for (_, i) in leaving {
        if used(&on_jar) <= room {
            break;
        }
        if let Some(on) = on_jar.get_mut(i) {
            *on = false;
        }
    }
    let fits = used(&on_jar) <= room;
    let mut jar: Vec<LabelPiece> = Vec::new();
    let mut leaflet = Vec::new();
    for (piece, on) in pieces.iter().zip(&on_jar) {
        if *on {
            jar.push(said(piece.part, &piece.short));
        }
        // The leaflet says in full what the jar shortens or leaves out.
        if !*on || piece.short != piece.full {
            leaflet.push(said(piece.part, &piece.full));
        }
    }
    if !leaflet.is_empty() {
        jar.push(said("leaflet", SEE));
    }
    done(jar, leaflet, true, fits, &pieces)
}

fn said(part: &str, text: &str) -> LabelPiece {
    LabelPiece { part: part.to_owned(), text: text.to_owned() }
}

fn done(
    jar: Vec<LabelPiece>,
    leaflet: Vec<LabelPiece>,
    shortened: bool,
    fits: bool,
    pieces: &[Piece],
) -> LabelLayout {
    let stays = pieces.iter().filter(|piece| piece.leaves.is_none());
    let least: usize = stays.map(|piece| piece.short.chars().count()).sum::<usize>() + SEE.len();
    let least_area = Detail::Explained.figure("least area", &room::needed(least));
    LabelLayout { jar, leaflet, shortened, fits, least_area }
}

/// Every part that has a text, in printing order; of the warnings each contraindication is a piece of its own.
fn pieces(label: &Label) -> Vec<Piece> {
    let mut out = Vec::new();
    for (part, text) in parts::parts(label) {
        if part == "warnings" {
            warnings(&label.warnings, &mut out);
        } else if !text.is_empty() {
            let leaves = MAY_LEAVE.iter().position(|may| *may == part);
            // The longest time of use follows what only informs.
            let leaves = if part == "longest_use" { Some(MAY_LEAVE.len()) } else { leaves };
            out.push(Piece { part, short: text.clone(), full: text, leaves });
        }
    }
    out
}

/// The warnings: contraindications stay, the others leave last, the weakest of them first.
fn warnings(groups: &[LabelWarnings], out: &mut Vec<Piece>) {
    for group in groups {
        for warning in &group.warnings {
            let stays = warning.level >= CautionLevel::Contraindication;
            let after = MAY_LEAVE.len() + 1 + usize::from(warning.level == CautionLevel::Caution);
            out.push(Piece {
                part: "warnings",
                full: format!("{}: {}", group.heading, warning.text),
                short: warning.short.clone().map_or_else(
                    || format!("{}: {}", group.heading, warning.text),
                    |short| if short.ends_with('.') { short } else { format!("{short}.") },
                ),
                leaves: (!stays).then_some(after),
            });
        }
    }
}
