//! States of a lot.

use store::{Error, Result};
use wire::stock::{LotDecisionKind, LotState};

/// The permitted transitions, by what is decided.
const fn becomes(from: LotState, decision: LotDecisionKind) -> Option<LotState> {
    use {LotDecisionKind as D, LotState as S};
    match (from, decision) {
        (S::Quarantine, D::Confirmed) => Some(S::Usable),
        (S::Quarantine, D::NotConfirmed) | (S::Usable, D::Quarantined) => Some(S::Quarantine),
        (S::Quarantine | S::Usable, D::Recalled) => Some(S::Recalled),
        (S::Quarantine | S::Usable | S::Recalled, D::Discarded) => Some(S::Discarded),
        _ => None,
    }
}

/// The state that a decision leaves.
///
/// # Errors
/// Returns [`Error::State`] with what has to come first.
pub(crate) fn after(from: LotState, decision: LotDecisionKind) -> Result<LotState> {
    let cure = match decision {
        LotDecisionKind::Confirmed | LotDecisionKind::NotConfirmed => {
            "Only a lot in quarantine has its identity checked. Put the lot in quarantine first."
        }
        LotDecisionKind::Quarantined => "Only a usable lot can be put in quarantine.",
        LotDecisionKind::Discarded => "This lot was discarded before.",
        LotDecisionKind::Recalled => "It cannot be recalled once more.",
    };
    becomes(from, decision).ok_or_else(|| Error::state(from, format!("This lot is {}. {cure}", said(from))))
}

/// A state in words.
pub(crate) const fn said(state: LotState) -> &'static str {
    match state {
        LotState::Quarantine => "in quarantine",
        LotState::Usable => "usable",
        LotState::Discarded => "discarded",
        LotState::Recalled => "recalled",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_discarded_stays_so_and_only_quarantine_is_confirmed() {
        for decision in LotDecisionKind::ALL {
            assert!(after(LotState::Discarded, *decision).is_err());
        }
        for decision in LotDecisionKind::ALL {
            let becomes = after(LotState::Recalled, *decision);
            assert!(matches!(becomes, Err(_) | Ok(LotState::Discarded)), "what was recalled is used again");
        }
        assert!(after(LotState::Usable, LotDecisionKind::Confirmed).is_err());
        assert_eq!(after(LotState::Quarantine, LotDecisionKind::Confirmed).unwrap(), LotState::Usable);
        assert_eq!(after(LotState::Usable, LotDecisionKind::Quarantined).unwrap(), LotState::Quarantine);
        assert_eq!(after(LotState::Quarantine, LotDecisionKind::NotConfirmed).unwrap(), LotState::Quarantine);
    }
}
