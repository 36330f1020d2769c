//! An answer, judged part by part.

use chrono::NaiveDate;
use galenics::Decimal;
use galenics::questions::{Asked, CommonError as Mistaken, Expected, judge};
use store::{Error, Result};
use wire::problem::FieldError;
use wire::teaching::{AnswerForm, CommonError, NewAnswer, PartFound};

use crate::stored::{Part, Question};

/// What was found in each part, in the order of the question.
///
/// # Errors
/// Returns [`Error::Invalid`] with every part that is missing, unknown, without its unit or otherwise not to be judged. Such
/// an answer is no attempt.
pub(crate) fn found(question: &Question, answer: &NewAnswer) -> Result<Vec<PartFound>> {
    let mut errors = Vec::new();
    for (i, given) in answer.answers.iter().enumerate() {
        let at = format!("/answers/{i}/part");
        if !question.parts.iter().any(|part| part.part == given.part) {
            let known: Vec<&str> = question.parts.iter().map(|part| part.part.as_str()).collect();
            errors.push(FieldError::new(
                at,
                format!("The question has no such part. Send one of: {}.", known.join(", ")),
            ));
        } else if answer.answers.iter().take(i).any(|before| before.part == given.part) {
            errors.push(FieldError::new(at, "This part is answered already. Send it once."));
        }
    }
    let mut all = Vec::new();
    for part in &question.parts {
        let given = answer.answers.iter().enumerate().find(|(_, given)| given.part == part.part);
        let Some((i, given)) = given else {
            let cure = format!("The part {} has no answer. Add it.", part.part);
            errors.push(FieldError::new("/answers", cure));
            continue;
        };
        match of_part(part, &given.values) {
            Ok(found) => all.push(found),
            Err(Refused::Stored) => return Err(Error::internal("a stored question that cannot be judged")),
            Err(Refused::Given { value, cure }) => {
                let at = value.map_or_else(String::new, |value| format!("/{value}"));
                errors.push(FieldError::new(format!("/answers/{i}/values{at}"), cure));
            }
        }
    }
    if errors.is_empty() { Ok(all) } else { Err(Error::Invalid(errors)) }
}

/// Why a part cannot be judged.
enum Refused {
    /// What was given: which of its values, if one of them, and the cure.
    Given { value: Option<usize>, cure: String },
    /// What is stored, which cannot be read.
    Stored,
}

fn refused(value: usize, cure: impl Into<String>) -> Refused {
    Refused::Given { value: Some(value), cure: cure.into() }
}

fn refused_whole(cure: &str) -> Refused {
    Refused::Given { value: None, cure: cure.into() }
}

fn of_part(part: &Part, values: &[String]) -> Result<PartFound, Refused> {
    if part.form == AnswerForm::Choices {
        return choices(part, values);
    }
    let [value] = values else {
        return Err(refused_whole("Send exactly one value."));
    };
    match part.form {
        AnswerForm::Mass => number(part, Asked::Mass, value),
        AnswerForm::Volume => number(part, Asked::Volume, value),
        AnswerForm::Percent => number(part, Asked::Percent, value),
        AnswerForm::Number => number(part, Asked::Number, value),
        AnswerForm::Day => day(part, value),
        AnswerForm::Choice | AnswerForm::Choices => {
            let option = option(part, 0, value)?;
            Ok(plain(part, part.right.contains(&option)))
        }
    }
}

fn plain(part: &Part, right: bool) -> PartFound {
    PartFound { part: part.part.clone(), right, read_as: None, error: None, says: None }
}

/// The option that a value names.
fn option(part: &Part, place: usize, value: &str) -> Result<String, Refused> {
    let same = |option: &&String| option.to_lowercase() == value.trim().to_lowercase();
    let found = part.options.iter().find(same).cloned();
    found.ok_or_else(|| refused(place, "This is none of the options. Send one of them by its words."))
}

fn choices(part: &Part, values: &[String]) -> Result<PartFound, Refused> {
    if values.is_empty() {
        return Err(refused_whole("Send each option that is true."));
    }
    let mut named = Vec::new();
    for (place, value) in values.iter().enumerate() {
        let option = option(part, place, value)?;
        if named.contains(&option) {
            return Err(refused(place, "This option is named already. Send it once."));
        }
        named.push(option);
    }
    let right = named.len() == part.right.len() && named.iter().all(|option| part.right.contains(option));
    Ok(plain(part, right))
}

fn day(part: &Part, value: &str) -> Result<PartFound, Refused> {
    let day: NaiveDate = value
        .trim()
        .parse()
        .map_err(|_| refused(0, "Enter a day as year, month and day, such as 2026-03-20."))?;
    let said = day.to_string();
    if part.right.contains(&said) {
        return Ok(plain(part, true));
    }
    let error = part.mistakes.iter().find(|mistake| mistake.value == said).map(|mistake| mistake.error);
    let says = match error {
        Some(CommonError::LaterDate) => Some("This is the later of two days. The earlier one binds."),
        Some(CommonError::OneDayOff) => {
            Some("This is one day off. The rule says whether the day of making is the first day.")
        }
        _ => None,
    };
    Ok(PartFound { error, says: says.map(str::to_owned), ..plain(part, false) })
}

fn number(part: &Part, asked: Asked, value: &str) -> Result<PartFound, Refused> {
    let expected = expected(part, asked).ok_or(Refused::Stored)?;
    let judged = judge(&expected, value).map_err(|error| refused(0, error.to_string()))?;
    Ok(PartFound {
        part: part.part.clone(),
        right: judged.right,
        read_as: judged.read_as,
        error: judged.error.map(crate::questions::named),
        says: judged.error.map(|error| error.says().to_owned()),
    })
}

/// What is expected, as it is stored.
fn expected(part: &Part, asked: Asked) -> Option<Expected> {
    let decimal = |text: &str| text.parse::<Decimal>().ok();
    let mistakes = part.mistakes.iter().map(|mistake| {
        let error: Mistaken = mistake.error.as_str().parse().ok()?;
        Some((error, decimal(&mistake.value)?))
    });
    Some(Expected {
        asked,
        value: decimal(part.value.as_deref()?)?,
        tolerance_percent: decimal(part.tolerance_percent.as_deref()?)?,
        mistakes: mistakes.collect::<Option<_>>()?,
    })
}
