//! The API as actix sees it: every route, what requests find as app data, and the refusal of unknown addresses.
//!
//! The only file that knows both the routes and the document made from them.

use std::sync::LazyLock;

use actix_web::web::{Data, PayloadConfig, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use routing::Handlers;

use crate::body::MAX_BODY_SIZE;
use crate::document::document;
use crate::interactive;
use crate::problem::Refusal;
use crate::route_table::{RouteTable, Routes, allowed};
use crate::routes;
use crate::state::ApiState;

static ROUTES: LazyLock<RouteTable> = LazyLock::new(|| RouteTable::from(&document()));

/// Mounts the documented operations and the documentation. Whoever mounts this refuses the rest, with [`no_route`] where a
/// problem in JSON is wanted.
pub fn mount(handlers: &mut Handlers) {
    routes::documented(handlers);
    interactive::routes(handlers);
}

/// What the handlers find as app data.
pub fn configure(config: &mut ServiceConfig, state: Data<ApiState>) {
    config.app_data(state);
    config.app_data(Routes(&ROUTES));
    config.app_data(PayloadConfig::new(MAX_BODY_SIZE));
}

/// 405 where the address has other methods, 404 elsewhere.
///
/// # Errors
/// Always: that is its answer.
pub async fn no_route(request: HttpRequest) -> Result<HttpResponse, Refusal> {
    match allowed(&routing::methods(&request)) {
        Some(methods) => Err(Refusal::Method(methods)),
        None => Err(Refusal::NoRoute),
    }
}
