//! One list of routes for two uses: mounted on a worker, which serves them, and on the document, which describes them.
//! A worker never builds the document, which would cost each of them megabytes at start-up.

use actix_web::dev::HttpServiceFactory;
use utoipa_actix_web::OpenApiFactory;

/// Something that takes routes.
pub(crate) trait Mount {
    /// Takes a route.
    fn service(&mut self, route: impl HttpServiceFactory + OpenApiFactory + 'static) -> &mut Self;

    /// Takes the routes of a subject.
    fn configure(&mut self, routes: impl FnOnce(&mut Self)) -> &mut Self {
        routes(self);
        self
    }
}

impl Mount for actix_web::web::ServiceConfig {
    fn service(&mut self, route: impl HttpServiceFactory + OpenApiFactory + 'static) -> &mut Self {
        Self::service(self, route)
    }
}

impl Mount for utoipa_actix_web::service_config::ServiceConfig<'_> {
    fn service(&mut self, route: impl HttpServiceFactory + OpenApiFactory + 'static) -> &mut Self {
        Self::service(self, route)
    }
}
