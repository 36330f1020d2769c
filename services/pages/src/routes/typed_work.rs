//! An assignment as it is typed: what stands in the fields, and the request that they describe.

use std::fmt::Write;

use clinic::teaching::{self, Called};
use uuid::Uuid;
use wire::ids::{BankQuestionId, RevisionId};
use wire::teaching::{
    Assignment, AssignmentContent, AssignmentQuestion, CohortTime, QuestionKind, Rubric, RubricCriterion,
    RubricLevel,
};

use crate::form::Form;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A criterion: its title, one level a line with its points first, and by which findings a level is proposed.
#[derive(Clone, Debug, Default)]
pub(super) struct Criterion {
    pub(super) title: String,
    pub(super) must_pass: bool,
    /// What a must-pass criterion is about; nothing where it is about something else.
    pub(super) kind: String,
    pub(super) levels: String,
    pub(super) findings: Vec<String>,
}

/// What stands in the fields.
#[derive(Clone, Debug, Default)]
pub(super) struct TypedWork {
    pub(super) title: String,
    pub(super) instructions: String,
    pub(super) formulas: Vec<String>,
    pub(super) quantity: String,
    pub(super) opens: String,
    pub(super) due: String,
    pub(super) late_until: String,
    pub(super) attempts: String,
    pub(super) returns_allowed: String,
    pub(super) total_points: String,
    /// Marked without names.
    pub(super) blind: bool,
    /// Reviewed and not marked.
    pub(super) practice: bool,
    pub(super) criteria: Vec<Criterion>,
    /// Kinds of questions; one of the class's own as `bank:` and its ID.
    pub(super) questions: Vec<String>,
    pub(super) reason: String,
}

/// The most criteria that a form is read for.
const MOST: usize = 40;

/// The fewest places that the page offers for formulas, criteria and questions.
const ROOM: (usize, usize, usize) = (2, 3, 3);

impl TypedWork {
    /// A new one, with the numbers that are usual: common practice, no source.
    pub(super) fn empty() -> Self {
        Self { attempts: "3".into(), returns_allowed: "1".into(), ..Self::default() }
    }

    /// What was typed. Places that were left empty are left out.
    pub(super) fn of(form: &Form) -> Self {
        let filled = |name: &str| form.all(name).into_iter().filter(|text| !text.is_empty()).collect();
        let criterion = |place: usize| Criterion {
            title: form.text(&format!("criterion-{place}")),
            must_pass: form.ticked(&format!("must-{place}")),
            kind: form.text(&format!("must-kind-{place}")),
            levels: form.text(&format!("levels-{place}")),
            findings: form.all(&format!("findings-{place}")),
        };
        let typed = |one: &Criterion| !one.title.is_empty() || !one.levels.is_empty() || one.must_pass;
        Self {
            title: form.text("title"),
            instructions: form.text("instructions"),
            formulas: filled("formula"),
            quantity: form.text("quantity"),
            opens: form.text("opens"),
            due: form.text("due"),
            late_until: form.text("late_until"),
            attempts: form.text("attempts"),
            returns_allowed: form.text("returns_allowed"),
            total_points: form.text("total_points"),
            blind: form.ticked("blind"),
            practice: form.ticked("practice"),
            criteria: (0..MOST).map(criterion).filter(typed).collect(),
            questions: filled("question"),
            reason: form.text("reason"),
        }
    }

    /// An assignment as it was written, to be changed.
    pub(super) fn as_written(of: &Assignment) -> Self {
        // The clock on the wall, to the minute where it is a whole one. An hour that comes twice is asked for again.
        let moment = |time: &CohortTime| {
            let wall: String = time.local.chars().take(19).collect();
            wall.strip_suffix(":00").map(str::to_owned).unwrap_or(wall)
        };
        let levels = |levels: &[RubricLevel]| {
            levels.iter().fold(String::new(), |mut text, level| {
                let _ = writeln!(text, "{} {}", level.points, level.title);
                text
            })
        };
        Self {
            title: of.title.clone(),
            instructions: of.instructions.clone(),
            formulas: of.formulas.iter().map(|formula| formula.title.clone()).collect(),
            quantity: of.quantity.clone(),
            opens: moment(&of.opens),
            due: moment(&of.due),
            late_until: of.late_until.as_ref().map(moment).unwrap_or_default(),
            attempts: of.attempts.to_string(),
            returns_allowed: of.returns_allowed.to_string(),
            total_points: of.rubric.total_points.to_string(),
            blind: of.marked_blind,
            practice: of.rubric.practice,
            criteria: of
                .rubric
                .criteria
                .iter()
                .map(|one| Criterion {
                    title: one.title.clone(),
                    must_pass: one.must_pass,
                    kind: one.must_pass_kind.map(|kind| kind.to_string()).unwrap_or_default(),
                    levels: levels(&one.levels).trim_end().to_owned(),
                    findings: one.findings.iter().map(ToString::to_string).collect(),
                })
                .collect(),
            questions: of
                .questions
                .iter()
                .map(|one| match one.bank_question {
                    Some(id) => format!("bank:{id}"),
                    None => one.kind.to_string(),
                })
                .collect(),
            reason: String::new(),
        }
    }

    /// The same with one or more empty places at the end of each list.
    pub(super) fn with_room(mut self) -> Self {
        let room = |filled: usize, least: usize| least.max(filled + 1);
        let (formulas, criteria, questions) = ROOM;
        self.formulas.resize(room(self.formulas.len(), formulas), String::new());
        self.criteria.resize(room(self.criteria.len(), criteria), Criterion::default());
        self.questions.resize(room(self.questions.len(), questions), String::new());
        self
    }

    /// The request, and what the page itself knows to be wrong. What cannot be sent at all has no request.
    pub(super) async fn content(
        &self,
        visitor: &Visitor,
    ) -> Result<(Option<AssignmentContent>, Vec<(String, String)>), Trouble> {
        let mut faults = Vec::new();
        let called =
            teaching::formulas_called(visitor.clinic(), visitor.credentials(), &self.formulas).await?;
        let formulas = (0..).zip(&self.formulas).map(|(place, typed)| {
            meant(&called, typed).unwrap_or_else(|cure| {
                faults.push((format!("formulas/{place}"), cure));
                // Names nothing, so that the service refuses it and tells what else is wrong.
                RevisionId(Uuid::nil())
            })
        });
        let formulas = formulas.collect();
        let before = faults.len();
        let criteria: Vec<RubricCriterion> =
            (0..).zip(&self.criteria).map(|(place, one)| criterion(place, one, &mut faults)).collect();
        let highest = |one: &RubricCriterion| one.levels.iter().map(|level| level.points).max();
        let sum = criteria.iter().filter_map(highest).fold(0_u32, u32::saturating_add);
        let total_points = match self.total_points.as_str() {
            "" => sum,
            typed => typed.parse().unwrap_or_else(|_| {
                faults.push(("rubric/total_points".into(), t("points-cure")));
                sum
            }),
        };
        if faults.len() > before {
            return Ok((None, faults));
        }
        let questions = self.questions.iter().map(|typed| question(typed)).collect::<Option<_>>();
        let content = AssignmentContent {
            title: self.title.clone(),
            instructions: self.instructions.clone(),
            formulas,
            quantity: self.quantity.clone(),
            opens: self.opens.clone(),
            due: self.due.clone(),
            late_until: Some(self.late_until.clone()).filter(|late| !late.is_empty()),
            // A number that cannot be read is one that is refused with its cure.
            attempts: self.attempts.parse().unwrap_or(0),
            returns_allowed: self.returns_allowed.parse().unwrap_or(u8::MAX),
            marked_blind: self.blind,
            rubric: Rubric { total_points, criteria, practice: self.practice },
            questions: questions.ok_or(Trouble::Malformed)?,
        };
        Ok((Some(content), faults))
    }
}

/// The revision that is meant by a title.
fn meant(called: &[Called], typed: &str) -> Result<RevisionId, String> {
    let found: Vec<&Called> = called.iter().filter(|one| one.is(typed)).collect();
    match found.as_slice() {
        [one] => Ok(one.revision),
        [] => Err(t1("formula-cure", typed.to_owned())),
        several => {
            let names: Vec<String> = several.iter().map(|one| one.in_full()).collect();
            Err(t1("formulas-cure", names.join("; ")))
        }
    }
}

fn criterion(place: usize, typed: &Criterion, faults: &mut Vec<(String, String)>) -> RubricCriterion {
    let lines = typed.levels.lines().map(str::trim).filter(|line| !line.is_empty());
    let levels = (0..).zip(lines).map(|(level, line): (usize, &str)| {
        let (points, title) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        let points = points.trim_end_matches([':', '.', ')']).parse().unwrap_or_else(|_| {
            faults.push((format!("rubric/criteria/{place}/levels/{level}/points"), t("level-cure")));
            0
        });
        RubricLevel { title: title.trim().to_owned(), points }
    });
    let levels = levels.collect();
    RubricCriterion {
        title: typed.title.clone(),
        must_pass: typed.must_pass,
        // What only a must-pass criterion can be about is chosen, and stays where it is no longer one.
        must_pass_kind: typed.kind.parse().ok().filter(|_| typed.must_pass),
        levels,
        findings: typed.findings.iter().filter_map(|kind| kind.parse().ok()).collect(),
    }
}

fn question(typed: &str) -> Option<AssignmentQuestion> {
    match typed.strip_prefix("bank:") {
        Some(id) => {
            let id: BankQuestionId = id.parse().ok()?;
            Some(AssignmentQuestion { kind: QuestionKind::Bank, bank_question: Some(id) })
        }
        None => Some(AssignmentQuestion { kind: typed.parse().ok()?, bank_question: None }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_is_read_with_its_points_first() {
        let typed = Criterion {
            title: "Weighing".into(),
            must_pass: false,
            levels: "0 Lines are off.\n\n6: Every line is within tolerance.\nGood".into(),
            ..Criterion::default()
        };
        let mut faults = Vec::new();
        let read = criterion(2, &typed, &mut faults);
        let points: Vec<u32> = read.levels.iter().map(|level| level.points).collect();
        assert_eq!(points, [0, 6, 0]);
        assert_eq!(read.levels[1].title, "Every line is within tolerance.");
        assert_eq!(faults.len(), 1);
        assert_eq!(faults[0].0, "rubric/criteria/2/levels/2/points");
    }

    #[test]
    fn a_formula_is_meant_by_its_title_or_by_title_and_library() {
        let of = |library: &str| Called {
            title: "Calendula cream".into(),
            library: library.into(),
            revision: RevisionId(Uuid::now_v7()),
        };
        let two = [of("First year"), of("Second year")];
        assert!(meant(&two, "calendula cream").unwrap_err().contains("Calendula cream (Second year)"));
        assert_eq!(meant(&two, "Calendula cream (Second year)"), Ok(two[1].revision));
        assert_eq!(meant(&two[..1], " Calendula Cream "), Ok(two[0].revision));
        assert!(meant(&two, "Marigold cream").is_err());
    }
}
