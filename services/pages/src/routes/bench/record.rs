//! The record that is on the bench.

use clinic::bench;
use wire::bench::{AtBench, BatchState};
use wire::ids::BatchId;

use crate::shown::shown;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A record with what helps to weigh.
pub(super) async fn read(visitor: &Visitor, id: BatchId) -> Result<AtBench, Trouble> {
    shown(&bench::at_bench(visitor.clinic(), visitor.credentials(), id).await?)
}

pub(super) const fn writable(state: BatchState) -> bool {
    matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned)
}
