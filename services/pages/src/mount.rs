//! One list of pages for two uses: mounted on a worker, and told to the tests, which fail when a page has none.

use actix_web::dev::Handler;
use actix_web::http::Method;
use actix_web::{FromRequest, Responder};
use routing::Handlers;

/// A page or an act: its method and the pattern of its address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// `GET` or `POST`.
    pub method: Method,
    /// Such as `/formulas/{id}`.
    pub pattern: &'static str,
}

/// Something that takes pages.
pub(crate) trait Mount {
    /// Takes one.
    fn at<F, Args>(&mut self, method: Method, pattern: &'static str, handler: F)
    where
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static;

    /// Takes a page.
    fn get<F, Args>(&mut self, pattern: &'static str, handler: F)
    where
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        self.at(Method::GET, pattern, handler);
    }

    /// Takes an act.
    fn post<F, Args>(&mut self, pattern: &'static str, handler: F)
    where
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        self.at(Method::POST, pattern, handler);
    }
}

impl Mount for Handlers {
    fn at<F, Args>(&mut self, method: Method, pattern: &'static str, handler: F)
    where
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        Self::at(self, method, pattern, handler);
    }
}

impl Mount for Vec<Listed> {
    fn at<F, Args>(&mut self, method: Method, pattern: &'static str, _: F)
    where
        F: Handler<Args>,
        Args: FromRequest + 'static,
        F::Output: Responder + 'static,
    {
        self.push(Listed { method, pattern });
    }
}
