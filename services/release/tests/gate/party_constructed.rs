//! For whom the caller acknowledges, made by hand.

use release::acknowledgements::Party;
use wire::ids::{HolderId, PersonId};

fn party<'t>(holder: HolderId, given_by: PersonId) -> Party<'t> {
    Party { holder, given_by, _brand: Default::default() }
}

fn main() {}
