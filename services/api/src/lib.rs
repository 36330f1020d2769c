//! The JSON API: requests in, one clinic function, responses out.
//!
//! For: parsing and refusing requests, conditional and repeated requests, problems, and the OpenAPI document, which
//! comes from the same routes that serve. May use: `clinic` and `wire`. What never happens here: a rule, a query, or
//! a response that holds amounts or method other than as a `Released`.

mod answer;
mod badge;
mod body;
mod boundary;
mod caller;
mod coding;
mod document;
mod ending;
mod example;
mod fixed;
mod interactive;
mod key_gate;
mod metrics;
mod mount;
mod outside;
mod params;
mod picture;
mod plain;
mod problem;
mod rate;
mod reports;
mod request_id;
mod route_table;
mod routes;
mod scrape;
mod service;
mod spans;
mod state;
mod token;
mod trace;
mod unparsed;
mod watch;

pub use boundary::boundary;
pub use coding::is_never_coded;
pub use document::document;
pub use ending::Ending;
pub use outside::{address, admit, admit_report, admit_stranger, current_request_id, sign_credential};
pub use problem::Refusal;
pub use scrape::configure as configure_metrics;
pub use service::{configure, mount, no_route};
pub use spans::{Dropped, SpanCounts, Spans};
pub use state::{ApiSettings, ApiState};
pub use token::{KeyError, SigningKeys};
pub use unparsed::unparsed;
