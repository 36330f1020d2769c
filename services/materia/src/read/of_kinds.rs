//! The rules about all materials of a species, family or kind.

use super::attach::Written;
use super::known::Known;
use super::said::{AllergyRule, EvidenceRule};

/// What the files say of all materials of a species, family or kind: kept, so that a material that a clinic adds is
/// told the same.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Rules {
    pub(super) allergies: Vec<AllergyRule>,
    pub(super) evidence: Vec<EvidenceRule>,
    pub(super) cautions: Vec<Written>,
    pub(super) known: Known,
}
