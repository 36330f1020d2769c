//! The first page of each role.

use crate::mount::Mount;

pub(super) fn routes(_: &mut impl Mount) {}
