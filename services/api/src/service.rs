//! The whole service as actix sees it: every route, what requests find as app data, and the refusal of all else.
//!
//! The only file that knows both the routes and the document made from them.

use std::sync::LazyLock;

use actix_web::HttpRequest;
use actix_web::web::{Data, PayloadConfig, ServiceConfig, to};

use crate::answer::Answer;
use crate::body::MAX_BODY_SIZE;
use crate::document::document;
use crate::interactive;
use crate::problem::Refusal;
use crate::route_table::{RouteTable, Routes};
use crate::routes;
use crate::state::ApiState;

static ROUTES: LazyLock<RouteTable> = LazyLock::new(|| RouteTable::from(&document()));

/// Mounts everything the service answers to: the documented routes, the documentation, and the refusal of the rest.
pub fn configure(config: &mut ServiceConfig, state: Data<ApiState>) {
    config.app_data(state);
    config.app_data(Routes(&ROUTES));
    config.app_data(PayloadConfig::new(MAX_BODY_SIZE));
    routes::documented(config);
    interactive::routes(config);
    config.default_service(to(no_route));
}

/// 405 where the address has other methods, 404 elsewhere.
async fn no_route(request: HttpRequest) -> Answer {
    match ROUTES.methods(request.path()) {
        Some(methods) => Err(Refusal::Method(methods)),
        None => Err(Refusal::NoRoute),
    }
}
