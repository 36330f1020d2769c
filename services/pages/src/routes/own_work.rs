//! A student's own part of an assignment's page, and what those who teach see of it in the same words.

use chrono::{DateTime, FixedOffset};
use clinic::work;
use wire::ids::AssignmentId;
use wire::teaching::{
    Allowance, AllowanceKind, CohortTime, CountableBatch, StudentRecord, SubmissionState, WorkState,
    WorkSubmission,
};

use crate::form::Form;
use crate::frame::Frame;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A time as the clocks of the cohort show it.
pub(super) fn clock(time: &CohortTime) -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339(&time.local).unwrap_or_else(|_| time.at.fixed_offset())
}

pub(super) fn when(frame: &Frame, time: &CohortTime) -> String {
    let at = clock(time);
    frame.t2("when-then", frame.day(&at.date_naive()), at.format("%H:%M"))
}

/// What was typed and not accepted: into an answer, or for an act of those who teach.
#[derive(Default)]
pub(super) struct Typed {
    pub(super) question: String,
    pub(super) form: Form,
    pub(super) cures: Vec<(String, String)>,
}

/// What stands in the place of a question where handing in was refused.
pub(super) const HAND_IN: &str = "hand-in";

impl Typed {
    /// Whether handing in, or saving what is written for it, was refused.
    pub(super) fn is_hand_in(&self) -> bool {
        self.question == HAND_IN
    }
}

/// A version that was handed in.
pub(super) struct Handed {
    pub(super) of: WorkSubmission,
    pub(super) at: String,
    pub(super) state: String,
}

impl Handed {
    /// The first signs of the digest, which is a receipt to compare.
    pub(super) fn receipt(&self) -> String {
        self.of.digest.chars().take(16).collect()
    }
}

/// The student's own part of the page.
pub(super) struct OwnPart {
    pub(super) state: String,
    pub(super) due: String,
    pub(super) late: String,
    pub(super) allowed: String,
    pub(super) returns: u32,
    /// Whether work is taken now.
    pub(super) open: bool,
    pub(super) batches: Vec<(CountableBatch, String)>,
    /// The batch that is chosen already.
    pub(super) chosen: String,
    pub(super) text: String,
    pub(super) version: i64,
    pub(super) saved: String,
    pub(super) handed: Vec<Handed>,
}

/// What a student is allowed, in words; nothing where nothing is.
pub(super) fn allowed(allowance: Option<&Allowance>) -> String {
    match allowance {
        Some(one) if one.kind == AllowanceKind::Excused => t1("allowed-excused", one.reason.clone()),
        Some(one) => match one.extra_minutes {
            Some(minutes) => t2("allowed-time", hours(minutes), one.reason.clone()),
            None => String::new(),
        },
        None => String::new(),
    }
}

/// Minutes as hours, with their half where there is one.
fn hours(minutes: u32) -> String {
    match (minutes / 60, minutes % 60) {
        (hours, 0) => t1("hours-count", i64::from(hours)),
        _ => t1("minutes-count", i64::from(minutes)),
    }
}

pub(super) fn state_word(state: WorkState) -> String {
    // word("work")
    t(&format!("work-{state}"))
}

pub(super) fn handed(frame: &Frame, record: &StudentRecord) -> Vec<Handed> {
    // word("handed")
    let word = |state: SubmissionState| t(&format!("handed-{state}"));
    let shown = |of: &WorkSubmission| Handed {
        at: frame.when(&of.received_at),
        state: word(of.state),
        of: of.clone(),
    };
    record.submissions.iter().rev().map(shown).collect()
}

/// The student's own part, with what was typed and not accepted.
pub(super) async fn own(
    visitor: &Visitor,
    frame: &Frame,
    id: AssignmentId,
    typed: &Typed,
) -> Result<OwnPart, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record = work::record_own(clinic, credentials, id).await?;
    let draft = work::reflection(clinic, credentials, id).await?;
    let was_typed = typed.is_hand_in();
    let text = if was_typed { typed.form.exact("reflection").to_owned() } else { draft.value.text };
    let takes = [WorkState::Open, WorkState::Due, WorkState::Late, WorkState::Returned];
    let handed = handed(frame, &record);
    let only = match record.batches.as_slice() {
        [one] => one.id.to_string(),
        _ => String::new(),
    };
    Ok(OwnPart {
        state: state_word(record.state),
        due: when(frame, &record.due),
        late: record.late_until.as_ref().map(|late| when(frame, late)).unwrap_or_default(),
        allowed: allowed(record.allowance.as_ref()),
        returns: record.returns_left,
        open: takes.contains(&record.state) && record.questions_open == 0,
        batches: record.batches.iter().map(|one| (one.clone(), frame.when(&one.opened_at))).collect(),
        chosen: typed.form.given("batch").unwrap_or(only),
        text,
        version: draft.version,
        saved: draft.value.saved_at.map(|at| t1("draft-kept-at", frame.when(&at))).unwrap_or_default(),
        handed,
    })
}
