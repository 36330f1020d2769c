//! Marking on the review desk: the claim, the criteria with what is proposed and chosen, and a mark as it is read.

use actix_web::HttpResponse;
use actix_web::web::Path;
use clinic::{IdempotencyKey, marking, waiting as in_hand, work};
use wire::bench::{BatchRecord, BatchState};
use wire::ids::{BatchId, WorkSubmissionId};
use wire::mark::{CriterionDecision, NewMark};
use wire::page::PageQuery;
use wire::teaching::{
    Assessment, LevelProposal, MarkReason, ReturnedVersion, Rubric, RubricCriterion, SubmissionNote,
    SubmissionState, WaitingWork, WorkMark, WorkMarks,
};

use crate::answer::to;
use crate::figures::spelled;
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::appealed::{self, Beside};
use crate::routes::classes::cure_of;
use crate::routes::own_work::{allowed, when};
use crate::routes::waiting::{self, Asked};
use crate::shown::shown;
use crate::texts::{t, t1, t2, text};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.post("/batches/{id}/claim", claim);
    mount.post("/batches/{id}/claim-end", claim_end);
}

/// A level to choose.
pub(super) struct Level {
    pub(super) number: usize,
    pub(super) title: String,
    pub(super) points: u32,
    pub(super) chosen: bool,
    pub(super) proposed: bool,
}

/// A criterion to decide.
pub(super) struct Criterion {
    pub(super) number: usize,
    pub(super) title: String,
    pub(super) must_pass: bool,
    pub(super) levels: Vec<Level>,
    /// Of a must-pass criterion: what was chosen, and whether it looks met.
    pub(super) met: String,
    pub(super) proposed_met: Option<bool>,
    /// The findings that a proposal rests on, and the rule; nothing where nothing is proposed.
    pub(super) from: Vec<String>,
    pub(super) carried: Vec<String>,
    pub(super) rule: String,
    pub(super) comment: String,
    pub(super) cure: String,
}

/// Work that was handed in, on the review desk.
pub(super) struct Marking {
    pub(super) version: u32,
    pub(super) late: bool,
    pub(super) allowed: String,
    /// Whether the caller holds it, and until when.
    pub(super) mine: String,
    /// Who else holds it.
    pub(super) held: String,
    pub(super) practice: bool,
    pub(super) criteria: Vec<Criterion>,
    /// What is wrong with the mark as a whole.
    pub(super) cure: String,
    pub(super) notes: Vec<SubmissionNote>,
    /// The version that was returned before this one.
    pub(super) returned: Option<ReturnedVersion>,
}

/// The marking of a record that was handed in and waits; nothing of any other. `form` and `refused` are what was sent and
/// not accepted.
pub(super) async fn marking(
    visitor: &Visitor,
    frame: &Frame,
    id: BatchId,
    (form, refused): (&Form, &[(String, String)]),
) -> Result<Option<Marking>, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = marking::handed_as(clinic, credentials, id).await?;
    let Some(handed) = found.filter(|one| one.state == SubmissionState::Submitted) else { return Ok(None) };
    if handed.person == visitor.person().id {
        return Ok(None);
    }
    let assessment: Assessment = shown(&marking::assessment(clinic, credentials, handed.id).await?)?;
    let notes = work::notes(clinic, credentials, handed.id).await?;
    let (mut mine, mut held) = (String::new(), String::new());
    if let Some(claim) = &assessment.claim {
        let until = when(frame, &claim.until);
        match claim.marker == visitor.person().id {
            true => mine = t1("claim-yours", until),
            false => held = t2("claim-of", claim.marker_name.clone().unwrap_or_default(), until),
        }
    }
    let sent: Vec<u32> = decisions(form, &assessment.rubric).iter().map(|one| one.criterion).collect();
    let criteria = (1_usize..).zip(&assessment.rubric.criteria).map(|(number, criterion)| {
        let proposal = assessment
            .proposals
            .iter()
            .find(|one| usize::try_from(one.criterion).is_ok_and(|of| of == number));
        to_decide((number, criterion), proposal, form, cures_of(refused, &sent, number))
    });
    Ok(Some(Marking {
        version: handed.number,
        late: handed.late,
        allowed: allowed(assessment.allowance.as_ref()),
        mine,
        held,
        practice: assessment.rubric.criteria.is_empty(),
        criteria: criteria.collect(),
        cure: [cure_of(refused, "mark"), cure_of(refused, "mark/criteria")].join(" ").trim().to_owned(),
        notes,
        returned: assessment.returned,
    }))
}

/// Why the decision on a criterion was refused: by its place among those that were sent.
fn cures_of(refused: &[(String, String)], sent: &[u32], number: usize) -> String {
    let place = sent.iter().position(|one| usize::try_from(*one).is_ok_and(|one| one == number));
    let Some(place) = place else { return String::new() };
    let of = format!("mark/criteria/{place}/");
    let cures = refused.iter().filter(|(field, _)| field.starts_with(&of)).map(|(_, cure)| cure.as_str());
    cures.collect::<Vec<_>>().join(" ")
}

pub(super) fn to_decide(
    (number, criterion): (usize, &RubricCriterion),
    proposal: Option<&LevelProposal>,
    form: &Form,
    cure: String,
) -> Criterion {
    let chosen = form.text(&format!("level-{number}"));
    let proposed = proposal.and_then(|one| one.level);
    let level = |(place, level): (usize, &wire::teaching::RubricLevel)| Level {
        number: place,
        title: level.title.clone(),
        points: level.points,
        chosen: chosen == place.to_string(),
        proposed: proposed.is_some_and(|one| usize::try_from(one).is_ok_and(|one| one == place)),
    };
    let sentences = |findings: &[wire::bench::Finding]| {
        findings.iter().map(|finding| spelled(&finding.sentence)).collect::<Vec<_>>()
    };
    Criterion {
        number,
        title: criterion.title.clone(),
        must_pass: criterion.must_pass,
        levels: (1..).zip(&criterion.levels).map(level).collect(),
        met: form.text(&format!("met-{number}")),
        proposed_met: proposal.and_then(|one| one.met),
        from: proposal.map(|one| sentences(&one.findings)).unwrap_or_default(),
        carried: proposal.map(|one| sentences(&one.carried_forward)).unwrap_or_default(),
        rule: proposal.map(|one| one.rule.clone()).unwrap_or_default(),
        comment: form.text(&format!("beside-{number}")),
        cure,
    }
}

/// What was decided in a form, for the criteria about which something was said.
pub(super) fn decisions(form: &Form, rubric: &Rubric) -> Vec<CriterionDecision> {
    let decision = |(criterion, _): (u32, &RubricCriterion)| CriterionDecision {
        criterion,
        level: form.text(&format!("level-{criterion}")).parse().ok(),
        met: match form.text(&format!("met-{criterion}")).as_str() {
            "yes" => Some(true),
            "no" => Some(false),
            _ => None,
        },
        comment: form.given(&format!("beside-{criterion}")),
    };
    let all = (1..).zip(&rubric.criteria).map(decision);
    all.filter(|one| one.level.is_some() || one.met.is_some() || one.comment.is_some()).collect()
}

/// The mark that a form describes: none of practice, none with a return, and none where nothing was decided.
pub(super) async fn mark_of(visitor: &Visitor, id: BatchId, form: &Form) -> Result<Option<NewMark>, Trouble> {
    if form.text("verdict") == "return" {
        return Ok(None);
    }
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let Some(handed) = marking::handed_as(clinic, credentials, id).await? else { return Ok(None) };
    let rubric = marking::marks(clinic, credentials, handed.id).await?.rubric;
    let criteria = decisions(form, &rubric);
    Ok(Some(NewMark { criteria }).filter(|mark| !mark.criteria.is_empty()))
}

/// The key for claiming the work of a batch: its own, whatever else the form does.
fn held_once(form: &Form, id: BatchId) -> Result<IdempotencyKey, Trouble> {
    form.once_of("once", &format!("POST /batches/{id}/claim"), &["claim", &id.to_string()])
}

/// Prolongs the claim on work that waits, since its marker acts. A record that was not handed in needs none.
///
/// # Errors
/// As the claim.
pub(super) async fn prolong(visitor: &Visitor, id: BatchId, form: &Form) -> Result<(), clinic::Error> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = marking::handed_as(clinic, credentials, id).await?;
    let waits = found.filter(|one| one.state == SubmissionState::Submitted);
    let (Some(handed), Ok(once)) = (waits, held_once(form, id)) else { return Ok(()) };
    match marking::claim_create(clinic, credentials, &once, handed.id).await {
        // The same form again: the claim was prolonged with the first.
        Ok(_) | Err(clinic::Error::KeyReused | clinic::Error::NotFound(_)) => Ok(()),
        Err(other) => Err(other),
    }
}

async fn claim(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    if let Some(handed) = marking::handed_as(clinic, credentials, id).await? {
        let once = held_once(&form, id)?;
        match marking::claim_create(clinic, credentials, &once, handed.id).await {
            // The page says who holds it.
            Ok(_) | Err(clinic::Error::State { .. } | clinic::Error::KeyReused) => {}
            Err(other) => return Err(other.into()),
        }
    }
    Ok(to(&waiting::review_of(id, &Asked::of(&form))))
}

async fn claim_end(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    if let Some(handed) = marking::handed_as(clinic, credentials, id).await? {
        match marking::claim_end(clinic, credentials, handed.id).await {
            Ok(()) | Err(clinic::Error::NotFound(_)) => {}
            Err(other) => return Err(other.into()),
        }
    }
    Ok(to(&format!("/queue{}", Asked::of(&form).suffix())))
}

/// The address of the next record that waits: of the queue that this one was opened from, then of what counts for nothing.
/// What was handed in is claimed on the way; what another marker holds is left out.
pub(super) async fn next(visitor: &Visitor, form: &Form) -> Result<String, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let (asked, me) = (Asked::of(form), visitor.person().id);
    let free = |work: &WaitingWork| work.claim.as_ref().is_none_or(|claim| claim.marker == me);
    for work in waiting::first(visitor, &asked).await?.into_iter().filter(free) {
        let once = held_once(form, work.batch)?;
        match marking::claim_create(clinic, credentials, &once, work.submission).await {
            Ok(_) => return Ok(waiting::review_of(work.batch, &asked)),
            Err(clinic::Error::State { .. } | clinic::Error::Forbidden(_) | clinic::Error::NotFound(_)) => {}
            Err(other) => return Err(other.into()),
        }
    }
    let first = PageQuery { limit: Some(1), after: None };
    let rest = in_hand::to_review(clinic, credentials, &first).await?.items;
    Ok(match rest.first() {
        Some(batch) => waiting::review_of(batch.id, &asked),
        None => format!("/queue{}", asked.suffix()),
    })
}

/// A criterion of a mark as it is read.
pub(super) struct Marked {
    pub(super) title: String,
    pub(super) level: String,
    pub(super) points: String,
    pub(super) comment: String,
    pub(super) unmet: bool,
}

/// The mark of work, as it is read.
pub(super) struct ReadMark {
    pub(super) id: WorkSubmissionId,
    pub(super) points: String,
    pub(super) said: String,
    pub(super) late: bool,
    pub(super) criteria: Vec<Marked>,
    /// The marks that it took the place of, each in a sentence.
    pub(super) before: Vec<String>,
    pub(super) appeal: Beside,
}

/// The points of a mark of all points.
pub(super) fn of_points(points: u32, rubric: &Rubric) -> String {
    t2("points-of", i64::from(points), i64::from(rubric.total_points))
}

/// The mark of a record that was settled, with the comments that stand in the record.
pub(super) async fn read_mark(
    visitor: &Visitor,
    frame: &Frame,
    record: &BatchRecord,
) -> Result<Option<ReadMark>, Trouble> {
    if !matches!(record.summary.state, BatchState::Accepted | BatchState::Rejected) {
        return Ok(None);
    }
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let Some(handed) = marking::handed_as(clinic, credentials, record.summary.id).await? else {
        return Ok(None);
    };
    let marks = marking::marks(clinic, credentials, handed.id).await?;
    let Some(last) = marks.marks.first() else { return Ok(None) };
    let review = record.submissions.iter().find(|one| one.number == handed.submission_number);
    let comments = review.and_then(|one| one.review.as_ref()).map(|review| review.comments.as_slice());
    let comment = |place: u32| {
        let place = usize::try_from(place).ok()?.checked_sub(1)?;
        Some(comments?.get(place)?.text.clone())
    };
    let criteria = last.criteria.iter().filter_map(|one| {
        let of = marks.rubric.criteria.get(usize::try_from(one.criterion).ok()?.checked_sub(1)?)?;
        let level = one.level.and_then(|level| of.levels.get(usize::try_from(level).ok()?.checked_sub(1)?));
        let most = of.levels.iter().map(|level| level.points).max().unwrap_or_default();
        Some(Marked {
            title: of.title.clone(),
            level: match (level, one.met) {
                (Some(level), _) => level.title.clone(),
                (None, Some(true)) => t("met-yes"),
                (None, _) => t("met-no"),
            },
            points: one
                .points
                .map(|points| t2("points-of", i64::from(points), i64::from(most)))
                .unwrap_or_default(),
            comment: one.comment.and_then(comment).unwrap_or_default(),
            unmet: one.met == Some(false),
        })
    });
    let own = handed.person == visitor.person().id;
    let appeal = appealed::beside(visitor, frame, (handed.id, own), &marks.rubric).await?;
    Ok(Some(ReadMark {
        appeal,
        id: handed.id,
        points: of_points(last.points, &marks.rubric),
        said: said(frame, last),
        late: marks.late,
        criteria: criteria.collect(),
        before: before(frame, &marks),
    }))
}

pub(super) fn said(frame: &Frame, mark: &WorkMark) -> String {
    let (who, at) = (mark.marker_name.clone().unwrap_or_default(), frame.when(&mark.at));
    match mark.reason {
        None => t2("marked-by", who, at),
        Some(reason) => {
            text("mark-changed-by", &[("a", who.into()), ("b", at.into()), ("c", reason_word(reason).into())])
        }
    }
}

pub(super) fn reason_word(reason: MarkReason) -> String {
    // word("mark-because")
    t(&format!("mark-because-{}", reason.as_str().replace('_', "-")))
}

pub(super) fn before(frame: &Frame, marks: &WorkMarks) -> Vec<String> {
    let earlier = marks.marks.iter().skip(1);
    earlier.map(|mark| t2("mark-before", of_points(mark.points, &marks.rubric), said(frame, mark))).collect()
}

/// What was refused of a review: of the mark, and of the rest in one text.
pub(super) fn split(errors: Vec<wire::problem::FieldError>) -> (Vec<(String, String)>, String) {
    let (of_mark, rest): (Vec<_>, Vec<_>) =
        form::cures(errors).into_iter().partition(|(field, _)| field.starts_with("mark"));
    (of_mark, rest.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" "))
}
