//! By when it must be used, and which rule says so: the rule that dates the label, or a lot that ends before.

use chrono::Duration;
use wire::teaching::{AnswerForm, CommonError};

use super::amounts::given;
use super::source::Dated;
use crate::numbers::Draw;
use crate::stored::{Mistake, Part, Question};

/// The question, with a lot of one ingredient that ends some days before or after the label's date.
pub(super) fn use_by(
    draw: &mut Draw,
    title: &str,
    ingredient: &str,
    dated: &Dated,
    rules: &[String],
) -> Option<Question> {
    let room = u32::try_from((dated.use_by - dated.made_on).num_days() - 1).unwrap_or_default();
    let before = room > 0 && draw.below(2) == 0;
    let days = if before { draw.of(1, room.min(45), 1) } else { draw.of(2, 60, 1) };
    let days = Duration::days(days.into());
    let lot = if before { dated.use_by - days } else { dated.use_by + days };
    let (right, later) = (dated.use_by.min(lot), dated.use_by.max(lot));
    let of_lot = format!("the lot of {ingredient}");
    let binds = if before { of_lot.clone() } else { dated.because.clone() };
    let others = draw.shuffled(rules.iter().filter(|rule| **rule != dated.because).cloned().collect());
    let options: Vec<String> =
        [of_lot.clone(), dated.because.clone()].into_iter().chain(others.into_iter().take(2)).collect();
    let mistake = |error, day: chrono::NaiveDate| Mistake { error, value: day.to_string() };
    let next = right.succ_opt()?;
    let previous = right.pred_opt()?;
    Some(Question {
        text: format!(
            "You make {title:?}. By when must it be used, and what says so? Read the label for the day of making."
        ),
        given: vec![
            given("day of making", dated.made_on.to_string()),
            given(format!("last day of the lot of {ingredient}"), lot.to_string()),
        ],
        parts: vec![
            Part {
                part: "day".into(),
                text: "What is the last day of use?".into(),
                form: AnswerForm::Day,
                options: Vec::new(),
                right: vec![right.to_string()],
                value: None,
                tolerance_percent: None,
                mistakes: vec![
                    mistake(CommonError::LaterDate, later),
                    mistake(CommonError::OneDayOff, next),
                    mistake(CommonError::OneDayOff, previous),
                ],
            },
            Part {
                part: "rule".into(),
                text: "What limits it?".into(),
                form: AnswerForm::Choice,
                options: draw.shuffled(options),
                right: vec![binds.clone()],
                value: None,
                tolerance_percent: None,
                mistakes: Vec::new(),
            },
        ],
        steps: vec![
            format!("by {}, made on {}: {}", dated.because, dated.made_on, dated.use_by),
            format!("by {of_lot}: {lot}"),
            format!("the earlier day binds: {right}, by {binds}"),
        ],
    })
}
