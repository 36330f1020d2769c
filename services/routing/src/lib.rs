//! Which handler answers an address: one tree of all patterns, walked once for each request.
//!
//! For: the handlers with their methods and patterns, the tree made of them, and what is asked of it before a handler
//! runs and after, such as the pattern for the log. May use: nothing of ours. What never happens here: an answer.
//!
//! actix tries one pattern after the other, each of them a compiled expression. With three hundred addresses that was a
//! seventh of what a weighing cost the service, and 9 MB for each worker. A walk down the tree costs the length of the
//! address. Where an address fits a literal pattern and one with an ID, it is the literal's, for every method.

mod handlers;
mod tree;

pub use handlers::Handlers;
pub use tree::{Conflict, Tree};

use actix_web::HttpRequest;
use actix_web::http::Method;
use actix_web::web::Data;

/// The pattern of a request's address, such as `/v1/formulas/{id}`, for logs and tables: it tells no ID.
#[must_use]
pub fn pattern(request: &HttpRequest) -> Option<&str> {
    request.app_data::<Data<Tree>>()?.pattern(request.match_info().as_str())
}

/// The methods that a request's address has, in the order in which they were mounted; none at an unknown address.
#[must_use]
pub fn methods(request: &HttpRequest) -> Vec<&Method> {
    let tree = request.app_data::<Data<Tree>>();
    tree.map(|tree| tree.methods(request.match_info().as_str()).collect()).unwrap_or_default()
}
