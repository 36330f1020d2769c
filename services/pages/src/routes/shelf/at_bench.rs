//! Which lot an entry of the bench means: one that was chosen, one that was typed by its number, or one that is not here.

use wire::bench::NewEntry;
use wire::ids::LotId;
use wire::stock::LotChoice;

use super::standing::numbered;
use crate::form::Form;
use crate::frame::Frame;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// The lot of the shelf that was chosen.
pub(crate) fn chosen(form: &Form, field: &str) -> Result<Option<LotId>, Trouble> {
    form.given(field).map(|id| id.parse()).transpose().map_err(|_| Trouble::Malformed)
}

/// Which lot an entry means: a lot that was typed goes before the one that was chosen, and one that was typed by its number
/// is that of the shelf. The rest of what is said of a lot of the shelf comes from the shelf.
pub(crate) async fn of_shelf(visitor: &Visitor, entry: NewEntry) -> Result<NewEntry, clinic::Error> {
    let lot_id = match entry.lot.as_deref() {
        Some(typed) if is_number(typed) => match numbered(visitor, typed).await? {
            Some(id) => Some(id),
            None => return Err(clinic::Error::field("/lot", t1("lot-not-found", typed.to_owned()))),
        },
        Some(_) => None,
        None => entry.lot_id,
    };
    Ok(match lot_id {
        Some(_) => NewEntry { lot_id, lot: None, lot_expires: None, assay: None, price: None, ..entry },
        None => NewEntry { lot_id, ..entry },
    })
}

/// Whether a text is written as the clinic numbers its lots: L2026-0042.
fn is_number(typed: &str) -> bool {
    let Some((year, number)) = typed.trim().trim_start_matches(['L', 'l']).split_once('-') else {
        return false;
    };
    let digits = |text: &str, least| text.len() >= least && text.bytes().all(|byte| byte.is_ascii_digit());
    typed.trim().starts_with(['L', 'l']) && digits(year, 4) && digits(number, 4)
}

/// A lot that can be chosen: its words, and whether it is chosen.
pub(crate) type Choice = (LotId, String, bool);

/// The lots of the shelf for a line. Chosen is the one that was chosen before (`kept`), else the first that the batch has
/// reserved, else the first that holds enough; the
/// correction of an entry without a lot of the shelf keeps what was typed.
pub(crate) fn choices(
    frame: &Frame,
    lots: &[LotChoice],
    kept: Option<&(LotId, String)>,
    corrects: bool,
) -> Vec<Choice> {
    let held = lots.iter().find(|lot| lot.reserved).or_else(|| lots.iter().find(|lot| lot.enough));
    let first = held.map(|lot| lot.id).filter(|_| !corrects);
    let chosen = kept.map(|(id, _)| *id).or(first);
    // The lot of a corrected entry stands here though it is used up or out of use by now.
    let gone = kept.filter(|(id, words)| !words.is_empty() && !lots.iter().any(|lot| lot.id == *id));
    let gone = gone.map(|(id, words)| (*id, words.clone(), true));
    let there = lots.iter().map(|lot| {
        let until = frame.day(&lot.keeps_until);
        let mut words = t2("lot-choice", format!("{} {}", lot.number, lot.supplier), until);
        if lot.reserved {
            words = format!("{words}. {}", t("lot-reserved"));
        }
        if let Some(grams) = &lot.left_grams {
            words = format!("{words}. {}", t1("lot-short", grams.clone()));
        }
        if let Some(shortens) = &lot.shortens_use_by {
            words = format!("{words}. {shortens}");
        }
        (lot.id, words, chosen == Some(lot.id))
    });
    gone.into_iter().chain(there).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lot_of_the_shelf_is_known_by_its_number() {
        for number in ["L2026-0042", "l2026-0042", " L2026-10000 "] {
            assert!(is_number(number), "{number:?}");
        }
        for other in ["2026-0042", "QB-26-117", "L26-1", "L2026-42", "BW-2026-03", "L", ""] {
            assert!(!is_number(other), "{other:?}");
        }
    }
}
