//! The routes, by subject. A handler parses, calls one clinic function, and answers.

mod amendments;
mod batches;
mod calculations;
mod docs;
mod formulas;
mod labels;
mod libraries;
mod materials;
mod people;
mod recipes;
mod revisions;
mod sessions;

use crate::mount::Mount;
use actix_web::web::Data;

use crate::body::MOST;
use crate::state::ApiState;

/// Mounts everything the service answers to: the documented routes, the documentation, and the refusal of the rest.
pub fn configure(config: &mut actix_web::web::ServiceConfig, state: Data<ApiState>) {
    config.app_data(state);
    config.app_data(actix_web::web::PayloadConfig::new(MOST));
    documented(config);
    docs::interactive(config);
    config.default_service(actix_web::web::to(docs::no_route));
}

/// Every documented route. The OpenAPI document is made from this very list.
pub(crate) fn documented(config: &mut impl Mount) {
    config
        // The router tries one address after the other: what is read most is mounted first.
        .configure(recipes::routes)
        .configure(sessions::routes)
        .configure(people::routes)
        .configure(materials::routes)
        .configure(amendments::routes)
        .configure(libraries::routes)
        .configure(formulas::routes)
        .configure(revisions::routes)
        .configure(batches::routes)
        .configure(labels::routes)
        .configure(calculations::routes)
        .configure(docs::routes);
}
