//! The composition of a batch as made, for its label, or the reason why its label shows the planned one.

use std::fmt;
use std::sync::Arc;

use formulary::FrozenRevision;
use galenics::as_made::AsMade;
use release::{Record, record};
use store::{Result, Tx, word};
use wire::bench::BatchState;

use super::sheet::LabelledBatch;
use crate::as_made;
use crate::leaves::Leaves;

/// Why the label of a batch shows the planned composition.
pub(super) enum WhyPlanned {
    /// The record can still change: a label by weighings would answer one after the other.
    NotSubmitted(BatchState),
    /// Lines without a weighing, counted from 0.
    NotWeighed(Vec<(usize, usize)>),
    /// The weighings make no formula.
    NotEvaluated,
    /// The reader holds no grant for a nested revision, or is an API client without one for the revision itself.
    NestedClosed,
}

impl fmt::Display for WhyPlanned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotSubmitted(state) => {
                write!(f, "The record is {state}. The label follows the weighings once the record is submitted.")
            }
            Self::NotWeighed(missing) => {
                let lines: Vec<String> =
                    missing.iter().map(|(phase, line)| format!("{}.{}", phase + 1, line + 1)).collect();
                write!(f, "These lines have not been weighed: {}.", lines.join(", "))
            }
            Self::NotEvaluated => f.write_str("The recorded weighings cannot be evaluated."),
            Self::NestedClosed => f.write_str(
                "This is the order of the approved formula. The order by the weighings is shown only to readers who have \
                 acknowledged the cautions of the formula and of every nested formula.",
            ),
        }
    }
}

/// The batch as made, once it is submitted, for a reader whose grants cover every level.
///
/// # Errors
/// Returns the errors of the database, and [`store::Error::Internal`] if an entry cannot be read.
pub(super) async fn composition<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    frozen: &Arc<FrozenRevision>,
    batch: &LabelledBatch<'_>,
) -> Result<Result<AsMade, WhyPlanned>> {
    let state: BatchState = word(&record.row().state)?;
    match state {
        BatchState::Submitted | BatchState::Accepted | BatchState::Rejected => {}
        BatchState::Planned | BatchState::Making | BatchState::Returned | BatchState::Abandoned => {
            return Ok(Err(WhyPlanned::NotSubmitted(state)));
        }
    }
    let missing = as_made::not_weighed(batch.asked, batch.entries);
    if !missing.is_empty() {
        return Ok(Err(WhyPlanned::NotWeighed(missing)));
    }
    let Ok(levels) = record::every_level(tx, record).await? else {
        return Ok(Err(WhyPlanned::NestedClosed));
    };
    let made = as_made::worked_out(tx, frozen, batch.asked, batch.entries, batch.rules).await?;
    Ok(Leaves::of(*record.digest(), made).open(&levels)?.ok_or(WhyPlanned::NotEvaluated))
}
