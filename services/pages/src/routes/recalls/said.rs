//! A lot or batch of a trace or recall: where its page is, and how it stands.

use wire::recalls::{TraceKind, TraceNode};

use crate::texts::t;

/// The page of a lot or batch.
pub(super) fn address(node: &TraceNode) -> String {
    match node.kind {
        TraceKind::Lot => format!("/shelf/lots/{}", node.id),
        TraceKind::Batch => format!("/batches/{}/trace", node.id),
    }
}

/// How a lot or batch stands, in words.
pub(super) fn stands(node: &TraceNode) -> String {
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
