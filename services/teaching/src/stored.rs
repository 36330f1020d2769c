//! Questions, answers and rubrics as they are stored. Their keys never change: stored documents are digested.

use serde::{Deserialize, Serialize};
use wire::bench::FindingKind;
use wire::teaching::{AnswerForm, CommonError, MustPassKind};
use wire::teaching::{
    BankAnswer, BankChoice, BankNumber, GivenNumber, PartAnswer, PartFound, QuestionPart, Rubric,
    RubricCriterion, RubricLevel, WorkedAnswer,
};

/// A student's question.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Question {
    pub(crate) text: String,
    pub(crate) given: Vec<Given>,
    pub(crate) parts: Vec<Part>,
    pub(crate) steps: Vec<String>,
}

/// A number that is given.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Given {
    pub(crate) name: String,
    pub(crate) value: String,
}

/// A part of a question, with what is expected.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Part {
    pub(crate) part: String,
    pub(crate) text: String,
    pub(crate) form: AnswerForm,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) options: Vec<String>,
    /// The right answer as it is shown; of `choices`, each option that is true.
    pub(crate) right: Vec<String>,
    /// The exact value of a number, in g, mL or per cent, and its tolerance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) value: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) tolerance_percent: Option<String>,
    /// What common errors would give.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) mistakes: Vec<Mistake>,
}

/// What a common error would give.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Mistake {
    pub(crate) error: CommonError,
    pub(crate) value: String,
}

impl Question {
    /// The numbers, as they are shown.
    pub(crate) fn given(&self) -> Vec<GivenNumber> {
        let given = |given: &Given| GivenNumber { name: given.name.clone(), value: given.value.clone() };
        self.given.iter().map(given).collect()
    }

    /// The parts, without what is expected.
    pub(crate) fn parts(&self) -> Vec<QuestionPart> {
        let part = |part: &Part| QuestionPart {
            part: part.part.clone(),
            text: part.text.clone(),
            form: part.form,
            tolerance_percent: part.tolerance_percent.clone(),
            options: part.options.clone(),
        };
        self.parts.iter().map(part).collect()
    }

    /// How it is worked out. Only for who has given a final answer, and those who assess.
    pub(crate) fn worked(&self) -> WorkedAnswer {
        let right = |part: &Part| PartAnswer { part: part.part.clone(), values: part.right.clone() };
        WorkedAnswer { answers: self.parts.iter().map(right).collect(), steps: self.steps.clone() }
    }
}

/// The answer to a part.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Answered {
    part: String,
    values: Vec<String>,
}

impl Answered {
    pub(crate) fn of(answer: &PartAnswer) -> Self {
        Self { part: answer.part.clone(), values: answer.values.clone() }
    }

    pub(crate) fn turn(self) -> PartAnswer {
        PartAnswer { part: self.part, values: self.values }
    }
}

/// What was found in a part.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Found {
    part: String,
    right: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    read_as: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    error: Option<CommonError>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    says: Option<String>,
}

impl Found {
    pub(crate) fn of(found: &PartFound) -> Self {
        Self {
            part: found.part.clone(),
            right: found.right,
            read_as: found.read_as.clone(),
            error: found.error,
            says: found.says.clone(),
        }
    }

    pub(crate) fn turn(self) -> PartFound {
        PartFound {
            part: self.part,
            right: self.right,
            read_as: self.read_as,
            error: self.error,
            says: self.says,
        }
    }
}

/// The answer to a question of the bank.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum OfBank {
    Number { value: String, tolerance_percent: String },
    Choice { options: Vec<String>, right: u8 },
}

impl OfBank {
    /// What was accepted: exactly one of the two is there.
    pub(crate) fn of(answer: &BankAnswer) -> Option<Self> {
        match (&answer.number, &answer.choice) {
            (Some(number), _) => Some(Self::Number {
                value: number.value.trim().to_owned(),
                tolerance_percent: number.tolerance_percent.trim().to_owned(),
            }),
            (None, Some(choice)) => Some(Self::Choice {
                options: choice.options.iter().map(|option| option.trim().to_owned()).collect(),
                right: choice.right,
            }),
            (None, None) => None,
        }
    }

    pub(crate) fn turn(self) -> BankAnswer {
        match self {
            Self::Number { value, tolerance_percent } => {
                BankAnswer { number: Some(BankNumber { value, tolerance_percent }), choice: None }
            }
            Self::Choice { options, right } => {
                BankAnswer { number: None, choice: Some(BankChoice { options, right }) }
            }
        }
    }
}

/// A rubric.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(crate) struct Assessed {
    total_points: u32,
    criteria: Vec<Criterion>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    practice: bool,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
struct Criterion {
    title: String,
    must_pass: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    must_pass_kind: Option<MustPassKind>,
    levels: Vec<Level>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    findings: Vec<FindingKind>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
struct Level {
    title: String,
    points: u32,
}

impl Assessed {
    pub(crate) fn of(rubric: &Rubric) -> Self {
        let level =
            |level: &RubricLevel| Level { title: level.title.trim().to_owned(), points: level.points };
        let criterion = |criterion: &RubricCriterion| Criterion {
            title: criterion.title.trim().to_owned(),
            must_pass: criterion.must_pass,
            must_pass_kind: criterion.must_pass_kind,
            levels: criterion.levels.iter().map(level).collect(),
            findings: criterion.findings.clone(),
        };
        Self {
            total_points: rubric.total_points,
            criteria: rubric.criteria.iter().map(criterion).collect(),
            practice: rubric.practice,
        }
    }

    pub(crate) fn turn(self) -> Rubric {
        let level = |level: Level| RubricLevel { title: level.title, points: level.points };
        let criterion = |criterion: Criterion| RubricCriterion {
            title: criterion.title,
            must_pass: criterion.must_pass,
            must_pass_kind: criterion.must_pass_kind,
            levels: criterion.levels.into_iter().map(level).collect(),
            findings: criterion.findings,
        };
        Rubric {
            total_points: self.total_points,
            criteria: self.criteria.into_iter().map(criterion).collect(),
            practice: self.practice,
        }
    }
}
