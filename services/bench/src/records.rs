//! The states of a batch record. One function moves them.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::batch;
use store::{Error, Result, Tx};
use wire::bench::BatchState;

/// The only transitions there are.
fn may_become(from: BatchState, to: BatchState) -> bool {
    use BatchState as S;
    matches!(
        (from, to),
        (S::Planned, S::Making | S::Abandoned)
            | (S::Making, S::Submitted | S::Abandoned)
            | (S::Submitted, S::Accepted | S::Rejected | S::Returned)
            | (S::Returned, S::Submitted | S::Abandoned)
    )
}

/// Refuses an impossible transition before anything is done for it.
pub(crate) fn check(from: BatchState, to: BatchState) -> Result<()> {
    if may_become(from, to) {
        return Ok(());
    }
    let wanted: Vec<&str> =
        BatchState::ALL.iter().filter(|state| may_become(**state, to)).map(|state| state.as_str()).collect();
    Err(Error::state(
        from,
        format!("this batch record is {from}; only one that is {} becomes {to}", wanted.join(" or ")),
    ))
}

/// Moves a locked batch to its next state.
pub(crate) async fn advance(tx: &mut Tx<'_>, record: &Record<'_>, to: BatchState) -> Result<()> {
    check(record.row().state()?, to)?;
    diesel::update(batch::table.find(record.batch().0))
        .set((batch::state.eq(to.as_str()), batch::version.eq(batch::version + 1)))
        .execute(tx.conn())
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_decided_stays_decided() {
        for end in [BatchState::Accepted, BatchState::Rejected, BatchState::Abandoned] {
            for to in BatchState::ALL {
                assert!(check(end, *to).is_err());
            }
        }
        assert!(check(BatchState::Planned, BatchState::Submitted).is_err());
    }
}
