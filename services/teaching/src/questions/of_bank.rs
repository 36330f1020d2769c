//! A question of the cohort's own bank. It is the same for every student, but for the order of a choice's options.

use galenics::questions::{Expected, parse_number};
use store::{Error, Result};
use wire::teaching::{AnswerForm, BankQuestion};

use super::amounts::number;
use crate::numbers::Draw;
use crate::stored::{Part, Question};

/// The question.
///
/// # Errors
/// Returns [`Error::Internal`] if the bank holds no answer.
pub(super) fn of_bank(draw: &mut Draw, question: &BankQuestion) -> Result<Question> {
    let broken = || Error::internal("a question of a bank without a readable answer");
    let part = match (&question.answer.number, &question.answer.choice) {
        (Some(asked), _) => {
            let (kind, value) = parse_number(&asked.value).map_err(|_| broken())?;
            let tolerance_percent =
                galenics::number::parse(&asked.tolerance_percent).map_err(|_| broken())?;
            let expected = Expected { asked: kind, value, tolerance_percent, mistakes: Vec::new() };
            number("answer", "Your answer".into(), &expected)
        }
        (None, Some(choice)) => {
            let right = usize::from(choice.right).checked_sub(1).and_then(|place| choice.options.get(place));
            Part {
                part: "answer".into(),
                text: "Your answer".into(),
                form: AnswerForm::Choice,
                options: draw.shuffled(choice.options.clone()),
                right: vec![right.ok_or_else(broken)?.clone()],
                value: None,
                tolerance_percent: None,
                mistakes: Vec::new(),
            }
        }
        (None, None) => return Err(broken()),
    };
    Ok(Question {
        text: question.text.clone(),
        given: Vec::new(),
        parts: vec![part],
        steps: vec![question.worked.clone()],
    })
}
