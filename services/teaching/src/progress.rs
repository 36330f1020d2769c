//! A student's progress: criteria over time, what to practise next, and accepted work. Its student reads all of it, those who
//! teach a cohort what is of that cohort. No amount of any formula is in it.

use std::collections::HashMap;

use store::{Credentials, Error, Result, Store, Tx, known_as, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId, CohortId, PersonId, WorkSubmissionId};
use wire::people::Role;
use wire::teaching::{
    AcceptedWork, CriterionMark, CriterionProgress, ExportedCriterion, ExportedFindings, ExportedWork,
    FindingPractice, QuestionPractice, StudentProgress, SubmissionState,
};

use crate::judged_work::{self, Criterion, Version, Whose, count, points};
use crate::{allowances, practice, seat};

/// The caller's own progress, in all cohorts. Five statements.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is a student.
pub async fn progress_own(store: &Store, credentials: &Credentials) -> Result<StudentProgress> {
    store
        .read(credentials, async |tx| {
            let me = own(tx)?;
            shown(tx, me, None).await
        })
        .await
}

/// The progress of a student of a cohort in that cohort, for its instructors and markers. What is closed to the caller as a
/// second marker is left out.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member and the person one of the cohort's students, and
/// [`Error::Forbidden`] for students.
pub async fn progress_of(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    of: PersonId,
) -> Result<StudentProgress> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            allowances::student(tx, cohort, of).await?;
            shown(tx, of, Some(cohort)).await
        })
        .await
}

/// The caller, who must be a student.
///
/// # Errors
/// Returns [`Error::Forbidden`] for everybody else.
pub(crate) fn own(tx: &Tx<'_>) -> Result<PersonId> {
    let me = tx.person()?;
    if me.role == Role::Student {
        return Ok(me.id);
    }
    Err(Error::Forbidden(
        "Only students have work of their own. Read a student's progress in a cohort.".into(),
    ))
}

async fn shown(tx: &mut Tx<'_>, of: PersonId, cohort: Option<CohortId>) -> Result<StudentProgress> {
    let whose = Whose { student: Some(of), cohort };
    let versions = judged_work::versions(tx, whose).await?;
    let criteria = judged_work::criteria(tx, &versions).await?;
    let questions = practice::questions(tx, whose).await?.into_iter().map(|row| {
        Ok(QuestionPractice {
            kind: word(&row.kind)?,
            questions: count(row.questions),
            missed: count(row.missed),
            assignment: row.assignment.map(AssignmentId),
        })
    });
    let questions = questions.collect::<Result<_>>()?;
    let findings = practice::findings(tx, whose).await?.into_iter().map(|row| {
        Ok(FindingPractice {
            kind: word(&row.kind)?,
            works: count(row.works),
            with_finding: count(row.with_finding),
            findings: count(row.findings),
            batch: BatchId(row.batch),
        })
    });
    let findings = findings.collect::<Result<_>>()?;
    let names = known_as::people(tx, [of.0]).await?;
    Ok(StudentProgress {
        person: of,
        name: names.of(of.0),
        criteria: over_time(&versions, &criteria),
        questions,
        findings,
        accepted: accepted(&versions, &criteria),
    })
}

/// The criteria by title, what must be passed last; of each what was decided, the first work first.
fn over_time(versions: &[Version], criteria: &HashMap<Uuid, Vec<Criterion>>) -> Vec<CriterionProgress> {
    let mut all: Vec<CriterionProgress> = Vec::new();
    for version in versions {
        for one in criteria.get(&version.handed).into_iter().flatten() {
            let mark = mark(version, one);
            let same = |of: &&mut CriterionProgress| of.title == one.title && of.must_pass == one.must_pass;
            match all.iter_mut().find(same) {
                Some(of) => of.marks.push(mark),
                None => all.push(CriterionProgress {
                    title: one.title.clone(),
                    must_pass: one.must_pass,
                    marks: vec![mark],
                }),
            }
        }
    }
    all.sort_by(|a, b| (a.must_pass, &a.title).cmp(&(b.must_pass, &b.title)));
    all
}

fn mark(version: &Version, one: &Criterion) -> CriterionMark {
    CriterionMark {
        submission: WorkSubmissionId(version.handed),
        assignment: AssignmentId(version.assignment),
        title: version.title.clone(),
        handed_in_at: version.received_at,
        level: one.level.map(|level| level.unsigned_abs().into()),
        levels: one.levels.unsigned_abs(),
        says: one.says.clone(),
        points: one.points.map(i32::unsigned_abs),
        of_points: one.of_points.map(i32::unsigned_abs),
        met: one.met,
    }
}

/// Accepted work, the newest first.
fn accepted(versions: &[Version], criteria: &HashMap<Uuid, Vec<Criterion>>) -> Vec<AcceptedWork> {
    let accepted = versions.iter().rev().filter(|one| one.state == SubmissionState::Accepted.as_str());
    let shown = |version: &Version| {
        let own = criteria.get(&version.handed);
        AcceptedWork {
            submission: WorkSubmissionId(version.handed),
            assignment: AssignmentId(version.assignment),
            title: version.title.clone(),
            batch: BatchId(version.batch),
            batch_number: version.batch_number.clone(),
            formula: version.formula.clone(),
            version: version.number.unsigned_abs(),
            handed_in_at: version.received_at,
            late: version.late,
            points: own.map(|own| points(own)),
            of_points: own.map(|_| version.of_points.unsigned_abs()),
        }
    };
    accepted.map(shown).collect()
}

/// What the caller handed in, a line of JSON for each version, the first one first. What was written about it stands in the
/// records, which are read one by one. Four statements.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is a student.
pub async fn progress_lines(store: &Store, credentials: &Credentials) -> Result<String> {
    store
        .read(credentials, async |tx| {
            let whose = Whose { student: Some(own(tx)?), cohort: None };
            let versions = judged_work::versions(tx, whose).await?;
            let mut criteria = judged_work::criteria(tx, &versions).await?;
            let ids: Vec<Uuid> = versions.iter().map(|one| one.handed).collect();
            let mut findings: HashMap<Uuid, Vec<ExportedFindings>> = HashMap::new();
            for row in practice::of_versions(tx, &ids).await? {
                let one = ExportedFindings { kind: word(&row.kind)?, findings: row.found.unsigned_abs() };
                findings.entry(row.handed).or_default().push(one);
            }
            let mut lines = String::new();
            for version in versions {
                let (own, found) = (criteria.remove(&version.handed), findings.remove(&version.handed));
                lines.push_str(&serde_json::to_string(&exported(version, own, found.unwrap_or_default())?)?);
                lines.push('\n');
            }
            Ok(lines)
        })
        .await
}

fn exported(
    version: Version,
    criteria: Option<Vec<Criterion>>,
    findings: Vec<ExportedFindings>,
) -> Result<ExportedWork> {
    let criterion = |one: Criterion| ExportedCriterion {
        title: one.title,
        level: one.level.map(|level| level.unsigned_abs().into()),
        says: one.says,
        points: one.points.map(i32::unsigned_abs),
        of_points: one.of_points.map(i32::unsigned_abs),
        met: one.met,
    };
    Ok(ExportedWork {
        submission: WorkSubmissionId(version.handed),
        assignment: AssignmentId(version.assignment),
        title: version.title,
        cohort: version.cohort,
        batch_number: version.batch_number,
        formula: version.formula,
        version: version.number.unsigned_abs(),
        state: word(&version.state)?,
        handed_in_at: version.received_at,
        late: version.late,
        marked_at: version.marked_at,
        points: criteria.as_deref().map(points),
        of_points: criteria.as_ref().map(|_| version.of_points.unsigned_abs()),
        criteria: criteria.unwrap_or_default().into_iter().map(criterion).collect(),
        findings,
    })
}
