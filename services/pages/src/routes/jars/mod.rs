//! Jars: filling them, releasing what is in them, and the page of a jar for whoever holds it.

mod batch;
mod emptied;
mod handing;
mod jar;
pub(in crate::routes) mod observing;
mod releasing;
mod shelf_jar;

use wire::bench::{BatchRecord, BatchState};

use crate::mount::Mount;

pub(super) fn routes(mount: &mut impl Mount) {
    batch::routes(mount);
    handing::routes(mount);
    observing::routes(mount);
    releasing::routes(mount);
    shelf_jar::routes(mount);
    jar::routes(mount);
}

/// Whether the jars of a batch have a page of their own. The use case proves anew what may be done there.
pub(super) fn has_jars(record: &BatchRecord) -> bool {
    record.summary.state == BatchState::Accepted
}
