//! What each address accepts: its methods, and whether an operation takes a body or query parameters.
//!
//! Read from the published document, so that what is refused and what is documented cannot differ. Handed to requests
//! as app data: nothing below the routes knows how the document is made.

use std::sync::LazyLock;

use actix_web::dev::ResourceDef;
use actix_web::http::Method;
use utoipa::openapi::path::{Operation, ParameterIn, PathItem};
use utoipa::openapi::{OpenApi, RefOr};

/// The table as app data: one for all workers, built when it is first needed, since most requests do without it and an
/// idle service should not hold it.
#[derive(Clone, Copy)]
pub(crate) struct Routes(pub(crate) &'static LazyLock<RouteTable>);

/// Every documented route, in the order of the document.
pub(crate) struct RouteTable(Vec<Route>);

struct Route {
    pattern: String,
    matches: ResourceDef,
    /// For the `Allow` header.
    methods: String,
    operations: Vec<(Method, Accepts)>,
}

/// What an operation reads of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Accepts {
    pub(crate) body: bool,
    pub(crate) query: bool,
}

impl From<&OpenApi> for RouteTable {
    fn from(document: &OpenApi) -> Self {
        let routes = document.paths.paths.iter().map(|(pattern, item)| Route {
            pattern: pattern.clone(),
            matches: ResourceDef::new(pattern.as_str()),
            methods: methods(item),
            operations: operations(item).map(|(method, operation)| (method, accepts(operation))).collect(),
        });
        Self(routes.collect())
    }
}

impl RouteTable {
    /// What an operation of the API accepts; `None` for what is no operation, and for pages, which ignore parameters.
    pub(crate) fn accepts(&self, pattern: &str, method: &Method) -> Option<Accepts> {
        if !pattern.starts_with("/v1/") {
            return None;
        }
        let route = self.0.iter().find(|route| route.pattern == pattern)?;
        route.operations.iter().find(|(other, _)| other == method).map(|(_, accepts)| *accepts)
    }

    /// The methods of an address that is documented without an ID, such as `/v1/sessions/refresh`. It is not also the
    /// address of a resource whose ID is `refresh`.
    pub(crate) fn literal_methods(&self, path: &str) -> Option<&str> {
        let literal = |route: &&Route| route.pattern == path && !path.contains('{');
        self.0.iter().find(literal).map(|route| route.methods.as_str())
    }

    /// The methods of an address, for the `Allow` header; `None` for an unknown address.
    pub(crate) fn methods(&self, path: &str) -> Option<String> {
        if let Some(methods) = self.literal_methods(path) {
            return Some(methods.to_owned());
        }
        let matching = self.0.iter().filter(|route| route.matches.is_match(path));
        let mut all: Vec<&str> = matching.map(|route| route.methods.as_str()).collect();
        all.dedup();
        (!all.is_empty()).then(|| all.join(", "))
    }
}

fn operations(item: &PathItem) -> impl Iterator<Item = (Method, &Operation)> {
    let all = [
        (Method::GET, &item.get),
        (Method::POST, &item.post),
        (Method::PUT, &item.put),
        (Method::PATCH, &item.patch),
        (Method::DELETE, &item.delete),
    ];
    all.into_iter().filter_map(|(method, operation)| Some((method, operation.as_ref()?)))
}

/// Every GET is answered to HEAD as well.
fn methods(item: &PathItem) -> String {
    let mut names = Vec::new();
    for (method, _) in operations(item) {
        names.push(method.to_string());
        if method == Method::GET {
            names.push(Method::HEAD.to_string());
        }
    }
    names.join(", ")
}

fn accepts(operation: &Operation) -> Accepts {
    let query = operation.parameters.iter().flatten().any(|parameter| match parameter {
        RefOr::T(parameter) => parameter.parameter_in == ParameterIn::Query,
        RefOr::Ref(_) => true,
    });
    Accepts { body: operation.request_body.is_some(), query }
}

#[cfg(test)]
mod tests {
    use utoipa::openapi::path::{HttpMethod, OperationBuilder, ParameterBuilder};
    use utoipa::openapi::request_body::RequestBody;
    use utoipa::openapi::{OpenApiBuilder, Paths};

    use super::*;

    fn table() -> RouteTable {
        let mut paths = Paths::new();
        let parameter = ParameterBuilder::new().name("limit").parameter_in(ParameterIn::Query);
        let mut add = |path: &str, method, operation: OperationBuilder| {
            paths.add_path_operation(path, vec![method], operation.build());
        };
        add("/v1/jars", HttpMethod::Get, OperationBuilder::new().parameter(parameter));
        add("/v1/jars", HttpMethod::Post, OperationBuilder::new().request_body(Some(RequestBody::new())));
        add("/v1/jars/{id}", HttpMethod::Delete, OperationBuilder::new());
        add("/v1/jars/empty", HttpMethod::Post, OperationBuilder::new());
        add("/about", HttpMethod::Get, OperationBuilder::new());
        RouteTable::from(&OpenApiBuilder::new().paths(paths).build())
    }

    #[test]
    fn an_operation_accepts_what_the_document_says() {
        let (list, create) = (Accepts { body: false, query: true }, Accepts { body: true, query: false });
        assert_eq!(table().accepts("/v1/jars", &Method::GET), Some(list));
        assert_eq!(table().accepts("/v1/jars", &Method::POST), Some(create));
        assert_eq!(table().accepts("/v1/jars", &Method::PUT), None);
        assert_eq!(table().accepts("/about", &Method::GET), None);
    }

    #[test]
    fn an_address_has_the_methods_of_its_most_literal_route() {
        assert_eq!(table().methods("/v1/jars").as_deref(), Some("GET, HEAD, POST"));
        assert_eq!(table().methods("/v1/jars/empty").as_deref(), Some("POST"));
        assert_eq!(table().methods("/v1/jars/7").as_deref(), Some("DELETE"));
        assert_eq!(table().methods("/v1/bottles"), None);
        assert_eq!(table().literal_methods("/v1/jars/{id}"), None);
    }
}
