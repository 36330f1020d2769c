//! The pages by subject. A handler parses, calls the clinic, and fills a template; it holds no rule.

mod account;
mod api_clients;
mod bank;
mod bench;
mod calculators;
mod classes;
mod compare;
mod decide;
mod documentation;
pub(crate) mod entry;
mod events;
mod find;
mod formula;
mod hand_in;
mod home;
mod libraries;
mod marking;
mod materials;
mod own_work;
mod people;
mod policy;
pub(crate) mod problems;
mod queue;
mod recalls;
pub(crate) mod recipe;
mod record;
mod set_work;
mod shelf;
mod typed_work;
mod work;
mod work_list;
mod workshop;

use crate::assets;
use crate::mount::Mount;

/// Mounts every page.
pub(crate) fn all(mount: &mut impl Mount) {
    mount.get("/assets/{edition}/{name}", assets::file);
    entry::routes(mount);
    account::routes(mount);
    home::routes(mount);
    work_list::routes(mount);
    work::routes(mount);
    classes::routes(mount);
    bank::routes(mount);
    set_work::routes(mount);
    hand_in::routes(mount);
    find::routes(mount);
    formula::routes(mount);
    recipe::routes(mount);
    bench::routes(mount);
    record::routes(mount);
    marking::routes(mount);
    shelf::routes(mount);
    recalls::routes(mount);
    queue::routes(mount);
    workshop::routes(mount);
    decide::routes(mount);
    compare::routes(mount);
    people::routes(mount);
    libraries::routes(mount);
    policy::routes(mount);
    api_clients::routes(mount);
    events::routes(mount);
    materials::routes(mount);
    calculators::routes(mount);
    problems::routes(mount);
    documentation::routes(mount);
}
