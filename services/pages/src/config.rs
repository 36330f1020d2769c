//! The pages as actix sees them.

use actix_web::web::{Data, ServiceConfig};
use routing::Handlers;

use crate::mount::Listed;
use crate::routes;
use crate::state::Pages;

/// Mounts every page. Whoever mounts this puts [`crate::around`] around each.
pub fn mount(handlers: &mut Handlers) {
    routes::all(handlers);
}

/// What the pages find as app data.
pub fn configure(config: &mut ServiceConfig, pages: Data<Pages>) {
    config.app_data(pages);
}

/// Every page and act there is, in the order in which they are mounted.
#[must_use]
pub fn listed() -> Vec<Listed> {
    let mut all = Vec::new();
    routes::all(&mut all);
    all
}
