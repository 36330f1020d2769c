//! Where lots and batches went, and calling them back.

mod desk;
mod said;
mod start;
mod tree;

use crate::mount::Mount;

pub(super) fn routes(mount: &mut impl Mount) {
    tree::routes(mount);
    start::routes(mount);
    desk::routes(mount);
}
