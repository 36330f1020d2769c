//! What the demo's class handed in: work that waits to be marked and stands out, work that was returned, and accepted work.

use clinic::{Clinic, Credentials, Detail, bench, marking, work};
use wire::bench::{NewEntry, NewReview, ReviewComment, Verdict};
use wire::ids::{AssignmentId, PersonId, RevisionId};
use wire::mark::{CriterionDecision, NewMark};
use wire::recipe::MakeFor;
use wire::teaching::{NewWorkSubmission, WorkSubmission};

use super::batches::{asked, lines, lot, opened_for, read_back, recorded, weighing};
use super::checks::checked;
use super::requests::once;
use super::teaching::answered;
use crate::error::StartError;

/// How a student made the cream.
struct Made {
    /// The share of the target that was weighed of the first line, and of each other line.
    weighed: (f64, f64),
    /// Why the first line is off, where it is.
    deviation: Option<&'static str>,
    first_lot: bool,
    yielded: &'static str,
    reflection: &'static str,
}

/// What the marker says about the emulsion of the accepted work.
const GRAINS: &str = "There are a few grains of wax in it: the phases were too cold when they met.";

/// Loads the work of three students. One waits with too much wax in it; one comes back for a lot; one is accepted.
pub(super) async fn load(
    clinic: &Clinic,
    markers: (&Credentials, &Credentials),
    assignment: AssignmentId,
    class: &[(Credentials, PersonId)],
    cream: RevisionId,
) -> Result<(), StartError> {
    let [imke, bram, lucia] = class else {
        return Err(StartError::Clinic("the demo's class has three more students".into()));
    };
    let (instructor, marker) = markers;
    let set = (assignment, cream);
    let accepted = Made {
        weighed: (1.004, 0.997),
        deviation: None,
        first_lot: true,
        yielded: "291.5 g",
        reflection: "I combined the phases a little cold. Next time I warm the water once more.",
    };
    let handed = Box::pin(handed_in(clinic, &imke.0, marker, set, &accepted)).await?;
    let mark = NewMark { criteria: vec![level(1, 3, None), level(2, 2, Some(GRAINS)), met(3)] };
    let summary = "A careful record. Watch the temperature when you combine the phases.".into();
    let review = NewReview { verdict: Verdict::Accept, summary, comments: Vec::new(), mark: Some(mark) };
    reviewed(clinic, instructor, &handed, &review).await?;

    let returned = Made {
        weighed: (0.996, 1.003),
        deviation: None,
        first_lot: false,
        yielded: "287.0 g",
        reflection: "It thickened quickly. I would label the jars before I fill them.",
    };
    let handed = Box::pin(handed_in(clinic, &bram.0, marker, set, &returned)).await?;
    let text = "Which lot was this? Without its number your jars are not found in a recall.".into();
    let record = read_back(&bench::batch(clinic, marker, handed.batch, Detail::Brief).await?)?;
    let review = NewReview {
        verdict: Verdict::Return,
        summary: "One lot is missing. Add it, and hand the work in again.".into(),
        comments: vec![ReviewComment { entry: record.entries.first().map(|entry| entry.id), text }],
        mark: None,
    };
    reviewed(clinic, marker, &handed, &review).await?;

    let waits = Made {
        weighed: (1.06, 1.002),
        deviation: Some("The last pellet was larger than it looked."),
        first_lot: true,
        yielded: "293.0 g",
        reflection: "I would weigh the wax in smaller pieces.",
    };
    Box::pin(handed_in(clinic, &lucia.0, marker, set, &waits)).await?;
    Ok(())
}

/// A student answers the questions, makes the cream with a full record, and hands both in.
async fn handed_in(
    clinic: &Clinic,
    student: &Credentials,
    second: &Credentials,
    (assignment, cream): (AssignmentId, RevisionId),
    made: &Made,
) -> Result<WorkSubmission, StartError> {
    answered(clinic, student, assignment).await?;
    let make_for =
        MakeFor { mass: Some("300 g".into()), readability: Some("0.1 g".into()), ..MakeFor::default() };
    let record = opened_for(clinic, student, cream, make_for).await?;
    let batch = record.summary.id;
    Box::pin(checked(clinic, student, batch)).await?;
    for (i, line) in lines(&record).enumerate() {
        let target: f64 = asked(line).parse().map_err(std::io::Error::other)?;
        let share = if i == 0 { made.weighed.0 } else { made.weighed.1 };
        // What is small is weighed to the last digit of the balance.
        let grams = if target < 10.0 { asked(line) } else { format!("{:.1}", target * share) };
        let named = (i > 0 || made.first_lot).then(|| lot(i));
        let deviation = made.deviation.filter(|_| i == 0).map(str::to_owned);
        let entry = NewEntry { deviation, ..weighing(line, &grams, named) };
        bench::entry_create(clinic, student, &once(clinic), batch, &entry).await?;
    }
    recorded(clinic, (student, second), &record, made.yielded).await?;
    let request = NewWorkSubmission { batch, reflection: Some(made.reflection.into()) };
    Ok(work::submit(clinic, student, &once(clinic), assignment, &request).await?)
}

/// A marker claims work and gives the verdict.
async fn reviewed(
    clinic: &Clinic,
    by: &Credentials,
    handed: &WorkSubmission,
    review: &NewReview,
) -> Result<(), StartError> {
    marking::claim_create(clinic, by, &once(clinic), handed.id).await?;
    bench::review(clinic, by, &once(clinic), handed.batch, review).await?;
    Ok(())
}

fn level(criterion: u32, level: u32, comment: Option<&str>) -> CriterionDecision {
    CriterionDecision { criterion, level: Some(level), met: None, comment: comment.map(str::to_owned) }
}

fn met(criterion: u32) -> CriterionDecision {
    CriterionDecision { criterion, level: None, met: Some(true), comment: None }
}
