//! States of a batch record. Only [`advance`] changes the state.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::batch;
use store::{Error, Prepare, Result, Tx, word};
use wire::bench::BatchState;

/// The permitted transitions.
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

/// Checks a transition before any work for it.
///
/// # Errors
/// Returns [`Error::State`] with the states that the transition is permitted from.
pub(crate) fn check(from: BatchState, to: BatchState) -> Result<()> {
    if may_become(from, to) {
        return Ok(());
    }
    if from == to {
        return Err(Error::state(from, format!("This batch record is already {to}.")));
    }
    let wanted: Vec<&str> =
        BatchState::ALL.iter().filter(|state| may_become(**state, to)).map(|state| state.as_str()).collect();
    Err(Error::state(
        from,
        format!(
            "This batch record is {from}. Only a record that is {} can become {to}.",
            wanted.join(" or ")
        ),
    ))
}

/// Moves a locked batch to another state.
///
/// # Errors
/// As [`check`], and the errors of the database.
pub(crate) async fn advance(tx: &mut Tx<'_>, record: &Record<'_>, to: BatchState) -> Result<()> {
    check(word(&record.row().state)?, to)?;
    diesel::update(batch::table.find(record.batch().0))
        .set((batch::state.eq(to.as_str()), batch::version.eq(batch::version + 1)))
        .prepared()
        .execute(tx.conn())
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_final_state_permits_no_transition() {
        for end in [BatchState::Accepted, BatchState::Rejected, BatchState::Abandoned] {
            for to in BatchState::ALL {
                assert!(check(end, *to).is_err());
            }
        }
        assert!(check(BatchState::Planned, BatchState::Submitted).is_err());
    }
}
