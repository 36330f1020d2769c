//! A question put to one student, with numbers that no other student of the assignment has.

use canonical::Sha;
use store::{Error, Result};
use uuid::Uuid;
use wire::teaching::{BankQuestion, QuestionKind};

use super::source::Source;
use super::{amounts, audiences, dates, of_bank};
use crate::numbers::Draw;
use crate::stored::Question;

/// A question that was put.
pub(crate) struct Put {
    pub(crate) question: Question,
    /// Names its numbers; a question without numbers has none.
    pub(crate) numbers: Option<Sha>,
}

/// How often numbers are drawn anew before that is a fault: each time they could not be asked, or were another student's.
const ROUNDS: u32 = 200;

/// Puts a question to a student. `taken` names the numbers that other students have.
///
/// # Errors
/// Returns [`Error::Internal`] if the source lacks what the kind needs, or no numbers are left.
pub(crate) fn put(
    kind: QuestionKind,
    source: &Source,
    of_bank: Option<&BankQuestion>,
    (secret, person, position): (&[u8], Uuid, i16),
    taken: &[Vec<u8>],
) -> Result<Put> {
    for round in 0..ROUNDS {
        let mut draw = Draw::new(secret, person, position, round)?;
        let Some(question) = once(&mut draw, kind, source, of_bank)? else { continue };
        if question.given.is_empty() {
            return Ok(Put { question, numbers: None });
        }
        let numbers = canonical::digest([&serde_json::to_vec(&question.given)?[..]]);
        if !taken.iter().any(|known| known[..] == numbers[..]) {
            return Ok(Put { question, numbers: Some(numbers) });
        }
    }
    Err(Error::internal("no numbers are left for another student"))
}

fn once(
    draw: &mut Draw,
    kind: QuestionKind,
    source: &Source,
    bank: Option<&BankQuestion>,
) -> Result<Option<Question>> {
    let lacks = || Error::internal("the source of a question lacks what its kind needs");
    let title = &source.title;
    match kind {
        QuestionKind::JarFilling => {
            let ingredient = draw.one(&source.ingredients).ok_or_else(lacks)?;
            amounts::jars(draw, title, ingredient)
        }
        QuestionKind::BottleFilling => {
            let ingredient = draw.one(&source.ingredients).ok_or_else(lacks)?;
            amounts::bottles(draw, title, ingredient)
        }
        QuestionKind::SpiritDilution => amounts::dilution(draw),
        QuestionKind::UseBy => {
            let dated = source.dated.as_ref().ok_or_else(lacks)?;
            let ingredient = draw.one(&source.ingredients).ok_or_else(lacks)?;
            Ok(dates::use_by(draw, title, ingredient, dated, &source.rules))
        }
        QuestionKind::MustNotUse => {
            let set = source.cautions.as_ref().ok_or_else(lacks)?;
            Ok(Some(audiences::must_not_use(draw, title, set, &source.allergies)))
        }
        QuestionKind::Bank => of_bank::of_bank(draw, bank.ok_or_else(lacks)?).map(Some),
    }
}
