//! Blind marking: while somebody has a second mark to give in an assignment, its settled work is closed to them, but for what
//! they marked themselves. The SQL function `blind_work` says which; records of batches are closed by `blind_batch`.

use store::Error;

/// Refuses whoever must not read work before their second mark.
pub(crate) fn refused() -> Error {
    let detail = "You have a second mark to give in this assignment. Give that mark first, so that no other mark of it guides you.";
    Error::state("second_marker", detail)
}
