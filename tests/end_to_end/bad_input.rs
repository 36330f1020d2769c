//! What is not accepted is refused precisely: the right problem, the field, a cure in words; and nothing is written.

mod amounts_in_words;
mod bodies;
mod decisions;
mod quantities;
mod queries;

use serde_json::Value;
use stillroom_tests::Answer;

/// Fails the test unless exactly this field was refused, with these words among what is said about it.
#[track_caller]
pub(crate) fn refused(answer: Answer, pointer: &str, words: &str) {
    let answer = answer.fields(&[pointer]);
    let detail = answer.text_at("/errors/0/detail");
    assert!(detail.contains(words), "{pointer}: {detail:?} does not say {words:?}");
}

/// The value with something else at a pointer.
#[track_caller]
pub(crate) fn with(mut value: Value, pointer: &str, other: Value) -> Value {
    *value.pointer_mut(pointer).unwrap() = other;
    value
}
