//! An appeal in words, as it stands beside the mark that it is against.

use clinic::marking;
use wire::ids::WorkSubmissionId;
use wire::teaching::{Appeal, AppealReason, Appeals, Rubric};

use crate::frame::Frame;
use crate::routes::own_work::when;
use crate::texts::{t, t1, text};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// What stands beside a mark about an appeal against it.
pub(super) struct Beside {
    /// Whether one was made, and what came of it; empty where none was made.
    pub(super) said: String,
    /// For the student, as long as one can be made: until when.
    pub(super) until: String,
    /// For instructors: it waits to be decided.
    pub(super) waits: bool,
}

/// An appeal in words, with the criteria that it is about.
pub(super) fn words(frame: &Frame, appeal: &Appeal, rubric: &Rubric) -> String {
    let title = |number: &u32| {
        let place = usize::try_from(*number).ok()?.checked_sub(1)?;
        Some(rubric.criteria.get(place)?.title.clone())
    };
    let about: Vec<String> = appeal.criteria.iter().filter_map(title).collect();
    let values = [
        ("a", frame.when(&appeal.at).into()),
        ("b", reason_word(appeal.reason).into()),
        ("c", about.join(", ").into()),
    ];
    text("appeal-said", &values)
}

pub(super) fn reason_word(reason: AppealReason) -> String {
    // word("appeal-because")
    t(&format!("appeal-because-{}", reason.as_str().replace('_', "-")))
}

/// The reasons to choose from.
pub(super) fn reasons() -> Vec<(String, String)> {
    AppealReason::ALL.iter().map(|reason| (reason.to_string(), reason_word(*reason))).collect()
}

/// What stands beside the mark of work. `own`: for the student whose work it is.
pub(super) async fn beside(
    visitor: &Visitor,
    frame: &Frame,
    (id, own): (WorkSubmissionId, bool),
    rubric: &Rubric,
) -> Result<Beside, Trouble> {
    let Appeals { until, appeal, .. } = marking::appeals(visitor.clinic(), visitor.credentials(), id).await?;
    let now = visitor.clinic().clock().now();
    let until = until.filter(|until| own && appeal.is_none() && now <= until.at);
    let mut said = String::new();
    if let Some(appeal) = &appeal {
        let came = match &appeal.decided {
            None => t("appeal-waits"),
            Some(decided) => {
                // word("appeal-outcome")
                let outcome = t(&format!("appeal-outcome-{}", decided.outcome));
                let who = decided.decided_by_name.clone().unwrap_or_default();
                let values =
                    [("a", who.into()), ("b", frame.when(&decided.at).into()), ("c", outcome.into())];
                text("appeal-decided", &values)
            }
        };
        said = format!("{} {came}", words(frame, appeal, rubric));
    }
    Ok(Beside {
        said,
        until: until.map(|until| t1("appeal-until", when(frame, &until))).unwrap_or_default(),
        waits: !own && appeal.is_some_and(|appeal| appeal.decided.is_none()),
    })
}
