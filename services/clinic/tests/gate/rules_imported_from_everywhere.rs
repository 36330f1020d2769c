//! The rules' own trait, sought in everything that the clinic offers.

#![allow(unused_imports)]

use clinic::Released;
use clinic::amendments::*;
use clinic::bench::*;
use clinic::calculations::*;
use clinic::edition::*;
use clinic::formulary::*;
use clinic::journal::*;
use clinic::materials::*;
use clinic::people::*;
use clinic::policy::*;
use clinic::recipes::*;
use clinic::*;
use wire::recipe::Recipe;

fn content(released: &Released<Recipe>) -> &Recipe {
    released.content()
}

fn main() {}
