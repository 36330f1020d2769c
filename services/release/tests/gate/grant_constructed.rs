//! A grant, made by hand.

use release::Grant;
use wire::ids::{HolderId, RevisionId};
use wire::safety::Purpose;

fn grant<'t>(holder: HolderId, revision: RevisionId) -> Grant<'t> {
    Grant {
        holder,
        revision,
        digest: [0; 32],
        caution_digest: [0; 32],
        set_number: 1,
        purpose: Purpose::Make,
        _brand: Default::default(),
    }
}

fn main() {}
