//! Suspected adverse reactions: telling one, on the page of a jar or at the clinic, and the cases that follow.

mod at_clinic;
mod case;
mod list;
mod on_jar;
mod telling;

use crate::mount::Mount;

pub(super) fn routes(mount: &mut impl Mount) {
    on_jar::routes(mount);
    at_clinic::routes(mount);
    list::routes(mount);
    case::routes(mount);
}
