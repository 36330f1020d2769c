//! The tree of patterns.

use std::collections::HashMap;
use std::fmt;

use actix_web::http::Method;
use matchit::Router;

/// All patterns, each with its methods and the places of their handlers.
#[derive(Clone, Default)]
pub struct Tree(Router<Address>);

#[derive(Clone)]
struct Address {
    pattern: String,
    handlers: Vec<(Method, usize)>,
}

/// Two handlers were mounted at one address, or a pattern that cannot be told from another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The method and the pattern that found no place.
    pub address: String,
}

impl fmt::Display for Conflict {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} has a handler already, or cannot be told from another address", self.address)
    }
}

impl std::error::Error for Conflict {}

/// Where a request goes: the place of its handler, and the parts of its address by name.
pub(crate) type Found = (usize, Vec<(String, String)>);

impl Tree {
    /// The tree of these methods and patterns; the first has place 0.
    ///
    /// # Errors
    /// Two with the same method and pattern, or patterns that the tree cannot tell apart.
    pub fn new(all: impl IntoIterator<Item = (Method, String)>) -> Result<Self, Conflict> {
        let mut addresses: Vec<Address> = Vec::new();
        let mut known = HashMap::new();
        for (place, (method, pattern)) in all.into_iter().enumerate() {
            let at = *known.entry(pattern.clone()).or_insert_with(|| {
                addresses.push(Address { pattern: pattern.clone(), handlers: Vec::new() });
                addresses.len() - 1
            });
            let conflict = Conflict { address: format!("{method} {pattern}") };
            match addresses.get_mut(at) {
                Some(address) if address.handlers.iter().all(|(other, _)| *other != method) => {
                    address.handlers.push((method, place));
                }
                _ => return Err(conflict),
            }
        }
        let mut tree = Router::new();
        for address in addresses {
            let pattern = address.pattern.clone();
            tree.insert(pattern.clone(), address).map_err(|_| Conflict { address: pattern })?;
        }
        Ok(Self(tree))
    }

    /// The pattern of a path.
    #[must_use]
    pub fn pattern(&self, path: &str) -> Option<&str> {
        self.0.at(path).ok().map(|found| found.value.pattern.as_str())
    }

    /// The methods of a path, in the order in which they were mounted.
    pub fn methods(&self, path: &str) -> impl Iterator<Item = &Method> {
        let address = self.0.at(path).ok().map(|found| found.value);
        address.into_iter().flat_map(|address| address.handlers.iter().map(|(method, _)| method))
    }

    pub(crate) fn find(&self, method: &Method, path: &str) -> Option<Found> {
        let found = self.0.at(path).ok()?;
        let (_, place) = found.value.handlers.iter().find(|(other, _)| other == method)?;
        let parts = found.params.iter().map(|(name, value)| (name.to_owned(), value.to_owned()));
        Some((*place, parts.collect()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tree(all: &[(Method, &str)]) -> Result<Tree, Conflict> {
        Tree::new(all.iter().map(|(method, pattern)| (method.clone(), (*pattern).to_owned())))
    }

    fn jars() -> Tree {
        tree(&[
            (Method::GET, "/v1/jars"),
            (Method::POST, "/v1/jars"),
            (Method::DELETE, "/v1/jars/{id}"),
            (Method::POST, "/v1/jars/empty"),
            (Method::GET, "/v1/jars/{jar}/label.pdf"),
            (Method::GET, "/v1/shelves/{shelf}/jars/{number}"),
        ])
        .expect("no two are at one address")
    }

    #[test]
    fn an_address_is_answered_by_the_handler_of_its_method() {
        let tree = jars();
        assert_eq!(tree.find(&Method::POST, "/v1/jars"), Some((1, vec![])));
        let id = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        assert_eq!(tree.find(&Method::DELETE, "/v1/jars/7"), Some((2, vec![id("id", "7")])));
        assert_eq!(tree.find(&Method::GET, "/v1/jars/7/label.pdf"), Some((4, vec![id("jar", "7")])));
        let both = vec![id("shelf", "left"), id("number", "3")];
        assert_eq!(tree.find(&Method::GET, "/v1/shelves/left/jars/3"), Some((5, both)));
        assert_eq!(tree.find(&Method::PUT, "/v1/jars"), None);
    }

    #[test]
    fn a_literal_address_is_never_an_id() {
        let tree = jars();
        assert_eq!(tree.pattern("/v1/jars/empty"), Some("/v1/jars/empty"));
        assert_eq!(tree.find(&Method::DELETE, "/v1/jars/empty"), None);
        assert_eq!(tree.methods("/v1/jars/empty").collect::<Vec<_>>(), [&Method::POST]);
    }

    #[test]
    fn an_unknown_address_has_no_pattern_and_no_method() {
        let tree = jars();
        for path in
            ["/v1/bottles", "/v1/jars/", "/v1/jars/7/", "/v1//label.pdf", "/v1/jars/7/8/label.pdf", "", "/"]
        {
            assert_eq!(tree.pattern(path), None, "{path}");
            assert_eq!(tree.methods(path).count(), 0, "{path}");
        }
    }

    #[test]
    fn two_handlers_at_one_address_are_refused() {
        let twice = tree(&[(Method::GET, "/v1/jars/{id}"), (Method::GET, "/v1/jars/{id}")]);
        assert_eq!(twice.err().map(|conflict| conflict.address).as_deref(), Some("GET /v1/jars/{id}"));
        assert!(tree(&[(Method::GET, "/v1/jars/{id}"), (Method::PUT, "/v1/jars/{number}")]).is_err());
    }
}
