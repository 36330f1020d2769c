//! The pages by subject. A handler parses, calls the clinic, and fills a template; it holds no rule.

mod account;
mod bench;
mod calculators;
mod compare;
mod decide;
mod documentation;
pub(crate) mod entry;
mod find;
mod formula;
mod home;
mod house;
mod materials;
mod people;
pub(crate) mod problems;
mod queue;
pub(crate) mod recipe;
mod record;
mod shelf;
mod work;
mod workshop;

use crate::assets;
use crate::mount::Mount;

/// Mounts every page.
pub(crate) fn all(mount: &mut impl Mount) {
    mount.get("/assets/{edition}/{name}", assets::file);
    entry::routes(mount);
    account::routes(mount);
    home::routes(mount);
    work::routes(mount);
    find::routes(mount);
    formula::routes(mount);
    recipe::routes(mount);
    bench::routes(mount);
    record::routes(mount);
    shelf::routes(mount);
    queue::routes(mount);
    workshop::routes(mount);
    decide::routes(mount);
    compare::routes(mount);
    people::routes(mount);
    house::routes(mount);
    materials::routes(mount);
    calculators::routes(mount);
    problems::routes(mount);
    documentation::routes(mount);
}
