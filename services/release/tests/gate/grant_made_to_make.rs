//! A grant to decide, turned into one to make.

use release::Grant;
use wire::safety::Purpose;

fn to_make(grant: &mut Grant<'_>) {
    grant.purpose = Purpose::Make;
}

fn main() {}
