//! Blind marking, of which there is one way: the SQL function `blind_work` says what is closed to a reader, `blind_batch` the
//! record that counts for it. While somebody has a second mark to give in an assignment, its settled work is closed to them,
//! but for what they marked themselves. While an assignment is marked blind, work without a verdict is closed to everybody
//! but its student; of that, `unnamed_work`, a few reads are open that name a candidate in place of the student.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::candidate;
use store::{Error, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::ids::PersonId;

use crate::kept::CANDIDATE;
use crate::numbers::Draw;
use crate::versions;

/// Who is told in place of a student.
pub(crate) const NOBODY: PersonId = PersonId(Uuid::nil());

/// Refuses whoever must not read work before their second mark.
pub(crate) fn refused() -> Error {
    let detail = "You have a second mark to give in this assignment. Give that mark first, so that no other mark of it guides you.";
    Error::state("second_marker", detail)
}

/// Signs without those that are taken for others by eye or ear.
const DIGITS: &[u8] = b"2345679";
const LETTERS: &[u8] = b"ACDEFGHJKMNPRTUVWXY";

/// How often a label is drawn anew, of which every dozen is one sign longer.
const ROUNDS: u32 = 36;

/// Apart from questions, whose places are counted from 1, and from the draws with place 0.
const PLACE: i16 = -1;

/// The label of a student in an assignment, by its secret: a digit and a letter, such as `7K`, and more where those are taken.
fn label(secret: &[u8], person: Uuid, round: u32) -> Result<String> {
    let mut draw = Draw::new(secret, person, PLACE, round)?;
    let signs = 2 + round / 12;
    let sign = |place: u32| draw.one(if place.is_multiple_of(2) { DIGITS } else { LETTERS }).copied();
    Ok((0..signs).filter_map(sign).map(char::from).collect())
}

/// Draws what stands in place of the name of whose work has just begun, where the assignment is marked blind.
///
/// # Errors
/// Returns [`Error::Internal`] if every label that was drawn is taken.
pub(crate) async fn begin(
    tx: &mut Tx<'_>,
    row: &versions::Row,
    (work, person): (Uuid, PersonId),
    event: NewEvent,
) -> Result<NewEvent> {
    if !versions::in_force(tx, row).await?.marked_blind.unwrap_or_default() {
        return Ok(event);
    }
    for round in 0..ROUNDS {
        let drawn = diesel::insert_into(candidate::table)
            .values((
                candidate::work_id.eq(work),
                candidate::assignment_id.eq(row.id),
                candidate::label.eq(label(&row.secret, person.0, round)?),
            ))
            .on_conflict((candidate::assignment_id, candidate::label))
            .do_nothing()
            .execute(tx.conn())
            .await?;
        if drawn == 1 {
            return Ok(event.keeps(&CANDIDATE, [work]));
        }
    }
    Err(Error::internal("every label of a candidate is taken"))
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn a_label_is_the_students_own_and_short_and_a_class_has_enough_of_them() {
        let of = |person: u128, round| label(&[7; 32], Uuid::from_u128(person), round).unwrap();
        assert_eq!(of(1, 0), of(1, 0));
        assert_eq!((of(1, 0).len(), of(1, 12).len(), of(1, 35).len()), (2, 3, 4));
        let mut taken = HashSet::new();
        for person in 0..1000 {
            assert!((0..ROUNDS).any(|round| taken.insert(of(person, round))), "{person}");
        }
    }
}
