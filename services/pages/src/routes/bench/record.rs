//! The record that is on the bench.

use clinic::bench;
use wire::bench::{AtBench, BatchRecord, BatchState, LineAid};
use wire::ids::BatchId;

use crate::shown::shown;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A record with what helps to weigh.
pub(super) async fn read(visitor: &Visitor, id: BatchId) -> Result<(BatchRecord, Vec<LineAid>), Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let AtBench { record, aids } = shown(&bench::at_bench(clinic, credentials, id).await?)?;
    Ok((record, aids))
}

pub(super) const fn writable(state: BatchState) -> bool {
    matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned)
}
