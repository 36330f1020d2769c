//! One list of operations for two uses: mounted on a worker, which serves them, and on the document, which describes them.
//! A worker never builds the document, which would cost each of them megabytes at start-up.

use actix_web::dev::Handler;
use actix_web::{FromRequest, Responder, http};
use routing::Handlers;
use utoipa::openapi::path::{HttpMethod, Paths};
use utoipa::openapi::{RefOr, Schema};

/// What `#[utoipa::path]` makes of a handler: its methods, its address, and what the document says of it.
pub(crate) trait Described:
    utoipa::Path + utoipa::__dev::SchemaReferences + for<'t> utoipa::__dev::Tags<'t>
{
}

impl<T> Described for T where
    T: utoipa::Path + utoipa::__dev::SchemaReferences + for<'t> utoipa::__dev::Tags<'t>
{
}

/// Something that takes operations.
pub(crate) trait Mount {
    /// Takes an operation: its description, and its handler.
    fn operation<D, F, Args>(&mut self, described: &D, handler: F) -> &mut Self
    where
        D: Described,
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static;

    /// Takes the operations of a subject.
    fn configure(&mut self, routes: impl FnOnce(&mut Self)) -> &mut Self {
        routes(self);
        self
    }
}

/// Mounts handlers, each with the description that `#[utoipa::path]` made of it.
macro_rules! operations {
    ($mount:expr, $($handler:ident),+ $(,)?) => {
        ::pastey::paste! { $($mount.operation(&[<__path_ $handler>], $handler);)+ }
    };
}
pub(crate) use operations;

impl Mount for Handlers {
    fn operation<D, F, Args>(&mut self, _: &D, handler: F) -> &mut Self
    where
        D: Described,
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        for method in D::methods() {
            self.at(served(&method), D::path(), handler.clone());
        }
        self
    }
}

/// What the document is made of: the paths, and the schemas that they name.
#[derive(Default)]
pub(crate) struct Collected {
    pub(crate) paths: Paths,
    pub(crate) schemas: Vec<(String, RefOr<Schema>)>,
}

impl Mount for Collected {
    fn operation<D, F, Args>(&mut self, _: &D, _: F) -> &mut Self
    where
        D: Described,
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        let mut operation = D::operation();
        let tags = D::tags();
        if !tags.is_empty() {
            operation.tags.get_or_insert_default().extend(tags.into_iter().map(str::to_owned));
        }
        self.paths.add_path_operation(D::path(), D::methods(), operation);
        D::schemas(&mut self.schemas);
        self
    }
}

fn served(method: &HttpMethod) -> http::Method {
    match method {
        HttpMethod::Get => http::Method::GET,
        HttpMethod::Post => http::Method::POST,
        HttpMethod::Put => http::Method::PUT,
        HttpMethod::Delete => http::Method::DELETE,
        HttpMethod::Options => http::Method::OPTIONS,
        HttpMethod::Head => http::Method::HEAD,
        HttpMethod::Patch => http::Method::PATCH,
        HttpMethod::Trace => http::Method::TRACE,
    }
}
