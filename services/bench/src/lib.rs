//! Batch records: entries, findings, submission and review.
//!
//! A record proves what went into each jar. May use `recipes`, `formulary`, `release`, `stock`, `judgement`, `policy`,
//! `store`.
//! Never here: a gated table, a changed or deleted entry (a correction is a further entry), a record read without the
//! proof of `release::record`, or a review by the maker while the policy demands a second person.

mod adjusting;
mod aids;
mod batches;
mod beside;
mod checked;
mod checks;
mod codes;
mod counted;
mod decanting;
mod deviations;
mod dispositions;
mod draws;
mod due_work;
mod entries;
mod filed;
mod findings;
mod found;
mod frozen;
mod handing;
mod handovers;
mod holds;
mod jar_labels;
mod jar_page;
mod jars;
mod jars_here;
pub mod kept;
mod label;
mod last_day;
mod left;
mod long_work;
mod looks;
mod lots;
mod makers;
mod measured;
mod measures;
mod method;
mod nameless;
mod observed;
mod observing;
mod pauses;
mod photographed;
mod photographing;
mod precision;
mod readiness;
mod readings;
mod recalled;
mod records;
mod releasing;
mod reserved;
mod review;
mod samples;
mod shelved;
mod shortening;
mod signing;
mod stored;
mod stored_label;
mod submit;
mod submitted;
mod trace;
mod yields;

pub use adjusting::{adjust, adjustment};
pub use aids::at_bench;
pub use batches::{
    BatchQuery, abandon, address, batch, batch_create, batch_rendered, batches, last_asked, shown,
};
pub use checks::{check_create, last_checks};
pub use decanting::{decant, keep_as_sample};
pub use due_work::work_due;
pub use entries::entry_create;
pub use filed::filed;
pub use frozen::{Frozen, frozen};
pub use handing::{jar_hand, jar_sheet, jar_sheet_of_code, jar_take_back};
pub use handovers::{answer_handover, hand_over, handover, handovers, offered};
pub use jar_labels::jar_labels;
pub use jar_page::{jar_of_code, jar_page};
pub use jars::{jars, jars_fill};
pub use jars_here::jars_here;
pub use label::label;
pub use long_work::{long_work, pause, plan_looks, resume};
pub use lots::lots;
pub use observed::observations;
pub use observing::observe;
pub use photographed::{
    PhotographPage, Standing, photograph_file, photographs, photographs_of_journal, photographs_standing,
};
pub use photographing::{New, photograph_keep, photograph_may_come, photograph_withdraw};
pub use precision::{Precision, precision};
pub use recalled::recall;
pub use releasing::{discard, release, release_sheet};
pub use reserved::{free, reserve, reserved};
pub use review::review;
pub use samples::observations_due;
pub use shelved::shelve;
pub use shortening::shorten;
pub use signing::{authorise, hold_release};
pub use submit::{Handed, hand_in, submit};
pub use submitted::{submitted, submitted_blind};
pub use trace::{Trace, trace};
