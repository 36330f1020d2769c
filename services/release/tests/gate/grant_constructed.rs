//! A grant, made by hand.

use release::Grant;
use wire::ids::RevisionId;
use wire::safety::Purpose;

fn grant<'t>(revision: RevisionId) -> Grant<'t> {
    Grant {
        revision,
        digest: [0; 32],
        caution_digest: [0; 32],
        set_number: 1,
        purpose: Purpose::Make,
        was_read: true,
        _brand: Default::default(),
    }
}

fn main() {}
