//! The web pages: the same use cases as the API, done by hand on a phone or at a desk.
//!
//! A page is rendered on the server from a template, works without script, and says everything in the texts of
//! `texts/en.ftl`. May use: `clinic` and `wire`. What never happens here: a rule, a query, a figure worked out by a
//! page, or an amount that did not come out of a `Released`.

mod acts;
mod answer;
mod around;
mod assets;
mod audience;
mod chart;
mod composed;
mod config;
mod cookies;
mod dated;
mod documented;
mod effects;
mod facts;
mod figures;
mod form;
mod frame;
mod mount;
mod notebook;
mod reading;
mod routes;
mod seal;
mod shown;
mod state;
mod texts;
mod trouble;
mod upload;
mod visitor;

pub use around::{around, no_page, wants_page};
pub use config::{configure, listed, mount};
pub use mount::Listed;
pub use state::{Pages, PagesSettings};
