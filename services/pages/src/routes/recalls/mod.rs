//! Where lots and batches went, and calling them back.

mod desk;
mod start;
mod tree;

use wire::recalls::{TraceKind, TraceNode};

use crate::mount::Mount;
use crate::texts::t;

pub(super) fn routes(mount: &mut impl Mount) {
    tree::routes(mount);
    start::routes(mount);
    desk::routes(mount);
}

/// The page of a lot or batch.
fn address(node: &TraceNode) -> String {
    match node.kind {
        TraceKind::Lot => format!("/shelf/lots/{}", node.id),
        TraceKind::Batch => format!("/batches/{}/trace", node.id),
    }
}

/// How a lot or batch stands, in words.
fn stands(node: &TraceNode) -> String {
    let mut said = Vec::new();
    if let Some(state) = node.lot_state {
        // word("lot-state")
        said.push(t(&format!("lot-state-{state}")));
    }
    if let Some(disposition) = node.disposition {
        // word("disposition")
        said.push(t(&format!("disposition-{}", disposition.as_str().replace('_', "-"))));
    }
    said.join(" ")
}
