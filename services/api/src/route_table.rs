//! What each operation accepts: whether it takes a body or query parameters; and the `Allow` header of an address.
//!
//! Read from the published document, so that what is refused and what is documented cannot differ. Handed to requests
//! as app data: nothing below the routes knows how the document is made.

use std::collections::HashMap;
use std::sync::LazyLock;

use actix_web::http::Method;
use utoipa::openapi::path::{Operation, ParameterIn, PathItem};
use utoipa::openapi::{OpenApi, RefOr};

/// The table as app data: one for all workers, built when it is first needed, since most requests do without it and an
/// idle service should not hold it.
#[derive(Clone, Copy)]
pub(crate) struct Routes(pub(crate) &'static LazyLock<RouteTable>);

/// Every documented operation, by its pattern.
pub(crate) struct RouteTable(HashMap<String, Vec<(Method, Accepts)>>);

/// What an operation reads of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Accepts {
    pub(crate) body: bool,
    pub(crate) query: bool,
}

impl From<&OpenApi> for RouteTable {
    fn from(document: &OpenApi) -> Self {
        let routes = document.paths.paths.iter().map(|(pattern, item)| {
            let accepted = operations(item).map(|(method, operation)| (method, accepts(operation)));
            (pattern.clone(), accepted.collect())
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
        self.0.get(pattern)?.iter().find(|(other, _)| other == method).map(|(_, accepts)| *accepts)
    }
}

/// The `Allow` header of an address with these methods, always in the same order; `None` where there are none. Where there is
/// a GET, HEAD is answered as well.
pub(crate) fn allowed(methods: &[&Method]) -> Option<String> {
    let known = [Method::GET, Method::HEAD, Method::POST, Method::PUT, Method::PATCH, Method::DELETE];
    let has =
        |method: &Method| methods.contains(&if *method == Method::HEAD { &Method::GET } else { method });
    let names: Vec<&str> = known.iter().filter(|method| has(method)).map(Method::as_str).collect();
    (!names.is_empty()).then(|| names.join(", "))
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
    fn a_get_allows_head_and_an_unknown_address_allows_nothing() {
        assert_eq!(allowed(&[&Method::POST, &Method::GET]).as_deref(), Some("GET, HEAD, POST"));
        assert_eq!(allowed(&[&Method::DELETE]).as_deref(), Some("DELETE"));
        assert_eq!(allowed(&[]), None);
    }
}
