//! Proof of an own draft, made by hand.

use release::Draft;
use wire::ids::RevisionId;

fn draft<'t>(revision: RevisionId) -> Draft<'t> {
    Draft { revision, _brand: Default::default() }
}

fn main() {}
