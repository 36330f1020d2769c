//! A proof that everything is open, made by hand.

use release::AllOpen;

fn all_open<'t>(ids: Vec<uuid::Uuid>) -> AllOpen<'t> {
    AllOpen { ids, grants: Vec::new() }
}

fn main() {}
