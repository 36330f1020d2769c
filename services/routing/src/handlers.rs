//! The handlers of a worker, and the service that asks the tree for one.

use std::future::Future;
use std::pin::Pin;

use actix_web::dev::{Handler, Service, ServiceFactory, ServiceRequest, ServiceResponse, always_ready};
use actix_web::http::Method;
use actix_web::web::{Data, ServiceConfig};
use actix_web::{Error, FromRequest, Responder, Route};

use crate::tree::{Conflict, Tree};

/// Handlers with their addresses, in the order in which they were mounted.
#[derive(Default)]
pub struct Handlers {
    addresses: Vec<(Method, String)>,
    routes: Vec<Route>,
}

impl Handlers {
    /// Mounts a handler.
    pub fn at<F, Args>(&mut self, method: Method, pattern: impl Into<String>, handler: F)
    where
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        self.addresses.push((method, pattern.into()));
        self.routes.push(Route::new().to(handler));
    }

    /// Mounts other handlers, with something wrapped around each.
    pub fn take(&mut self, others: Self, wrapped: impl Fn(Route) -> Route) {
        self.addresses.extend(others.addresses);
        self.routes.extend(others.routes.into_iter().map(wrapped));
    }

    /// The method and the pattern of each, in the order in which they were mounted.
    #[must_use]
    pub fn addresses(&self) -> &[(Method, String)] {
        &self.addresses
    }

    /// Answers every request of a worker; what has no handler is answered by `otherwise`.
    ///
    /// # Errors
    /// Two handlers at one address.
    pub fn serve(self, config: &mut ServiceConfig, otherwise: Route) -> Result<(), Conflict> {
        let tree = Data::new(Tree::new(self.addresses)?);
        config.app_data(tree.clone());
        config.default_service(Serving { tree, routes: self.routes, otherwise });
        Ok(())
    }
}

type Later<T> = Pin<Box<dyn Future<Output = T>>>;
type RouteService = <Route as ServiceFactory<ServiceRequest>>::Service;

struct Serving {
    tree: Data<Tree>,
    routes: Vec<Route>,
    otherwise: Route,
}

struct Served {
    tree: Data<Tree>,
    routes: Vec<RouteService>,
    otherwise: RouteService,
}

impl ServiceFactory<ServiceRequest> for Serving {
    type Response = ServiceResponse;
    type Error = Error;
    type Config = ();
    type Service = Served;
    type InitError = ();
    type Future = Later<Result<Self::Service, ()>>;

    fn new_service(&self, (): ()) -> Self::Future {
        let tree = self.tree.clone();
        let routes: Vec<_> = self.routes.iter().map(|route| route.new_service(())).collect();
        let otherwise = self.otherwise.new_service(());
        Box::pin(async move {
            let mut ready = Vec::with_capacity(routes.len());
            for route in routes {
                ready.push(route.await?);
            }
            Ok(Served { tree, routes: ready, otherwise: otherwise.await? })
        })
    }
}

impl Service<ServiceRequest> for Served {
    type Response = ServiceResponse;
    type Error = Error;
    type Future = <RouteService as Service<ServiceRequest>>::Future;

    always_ready!();

    fn call(&self, mut request: ServiceRequest) -> Self::Future {
        let found = self.tree.find(request.method(), request.match_info().as_str());
        let Some((place, parts)) = found else { return self.otherwise.call(request) };
        for (name, value) in parts {
            request.match_info_mut().add_static(name, value);
        }
        self.routes.get(place).unwrap_or(&self.otherwise).call(request)
    }
}
