//! A record without names, for whoever marks it blind.

use uuid::Uuid;
use wire::bench::{BatchRecord, BatchSummary, Entry};
use wire::filed::{Decanting, FiledLookPlan, FiledRecord, Tenure};
use wire::ids::PersonId;
use wire::long_work::Pause;

pub(crate) const NOBODY: PersonId = PersonId(Uuid::nil());

/// A record without whatever the service itself tells of who made it: ids of people and of lots are nil or left out, and
/// `number` stands in place of the number that the jars carry. Who reviewed an earlier submission stays.
pub(crate) fn nameless(record: BatchRecord, number: String) -> BatchRecord {
    // Each field by its name, so that a new one is looked at here.
    let BatchRecord {
        summary,
        version,
        makers: _,
        policy_version,
        recipe,
        checks,
        hold_releases,
        pauses,
        entries,
        findings,
        as_made,
        submissions,
        caution_change: _,
    } = record;
    BatchRecord {
        summary: BatchSummary { number, maker: NOBODY, maker_name: None, ..summary },
        version,
        makers: Vec::new(),
        policy_version,
        recipe,
        checks: checks
            .into_iter()
            .map(|one| wire::checks::Check { by: NOBODY, by_name: None, ..one })
            .collect(),
        hold_releases: hold_releases
            .into_iter()
            .map(|one| wire::holds::HoldRelease { by: NOBODY, by_name: None, ..one })
            .collect(),
        pauses: pauses
            .into_iter()
            .map(|one| Pause {
                by: NOBODY,
                by_name: None,
                resumed_by: one.resumed_by.map(|_| NOBODY),
                resumed_by_name: None,
                ..one
            })
            .collect(),
        entries: entries.into_iter().map(unsigned).collect(),
        findings,
        as_made,
        submissions,
        caution_change: None,
    }
}

/// A record for the file without names: the record and the photographs in it name nobody already.
pub(crate) fn filed_nameless(filed: FiledRecord) -> FiledRecord {
    let FiledRecord { record, makers, look_plans, photographs, decantings } = filed;
    FiledRecord {
        record,
        // Work for an assignment has one maker, so that no offer is lost.
        makers: makers
            .into_iter()
            .map(|one| Tenure { maker: NOBODY, maker_name: None, offer: None, ..one })
            .collect(),
        look_plans: look_plans
            .into_iter()
            .map(|one| FiledLookPlan { by: NOBODY, by_name: None, ..one })
            .collect(),
        photographs,
        decantings: decantings
            .into_iter()
            .map(|one| Decanting { by: NOBODY, by_name: None, ..one })
            .collect(),
    }
}

fn unsigned(entry: Entry) -> Entry {
    let authorised =
        entry.authorised.map(|one| wire::deviations::Authorisation { by: NOBODY, by_name: None, ..one });
    Entry { by: NOBODY, by_name: None, lot_id: None, authorised, ..entry }
}
