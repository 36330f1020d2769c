//! Which lot an entry of the bench means: one that was chosen, one that was typed by its number, or one that is not here.

use wire::bench::NewEntry;
use wire::ids::LotId;

use super::standing::numbered;
use crate::form::Form;
use crate::texts::t1;
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
