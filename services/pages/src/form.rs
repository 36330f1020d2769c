//! What a form sent: fields by name, as they were typed, and the key that makes it work once.

use std::future::{Ready, ready};
use std::rc::Rc;

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use clinic::IdempotencyKey;
use sha2::{Digest, Sha256};
use unicode_normalization::UnicodeNormalization;
use wire::problem::FieldError;

use crate::trouble::Trouble;

/// The name of the field with the key.
pub(crate) const ONCE: &str = "once";

/// A form as it was sent.
#[derive(Clone, Debug, Default)]
pub(crate) struct Form {
    fields: Rc<Vec<(String, String)>>,
}

impl Form {
    pub(crate) fn parse(bytes: &[u8]) -> Option<Self> {
        let fields: Vec<(String, String)> = serde_urlencoded::from_bytes(bytes).ok()?;
        Self::of_parts(fields)
    }

    /// A form whose fields came in parts.
    pub(crate) fn of_parts(fields: Vec<(String, String)>) -> Option<Self> {
        let whole = fields.iter().all(|(name, value)| !name.contains('\0') && !value.contains('\0'));
        whole.then(|| Self { fields: Rc::new(fields) })
    }

    /// What an address brings into a form that nobody has typed into.
    pub(crate) fn of<const N: usize>(fields: [(&str, &str); N]) -> Self {
        let fields = fields.into_iter().filter(|(_, value)| !value.is_empty());
        Self { fields: Rc::new(fields.map(|(name, value)| (name.into(), value.into())).collect()) }
    }

    /// The same with another value in a field.
    pub(crate) fn with(&self, name: &str, value: String) -> Self {
        let others = self.fields.iter().filter(|(field, _)| field != name).cloned();
        Self { fields: Rc::new(others.chain([(name.to_owned(), value)]).collect()) }
    }

    /// The fields in the order in which they were sent.
    pub(crate) fn fields(&self) -> &[(String, String)] {
        &self.fields
    }

    /// A field exactly as it was typed; empty where it is missing.
    pub(crate) fn exact(&self, name: &str) -> &str {
        self.fields.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value)
    }

    /// A field without the space around it, its letters composed.
    pub(crate) fn text(&self, name: &str) -> String {
        self.exact(name).trim().replace("\r\n", "\n").nfc().collect()
    }

    /// As [`text`](Self::text); nothing where the field is empty.
    pub(crate) fn given(&self, name: &str) -> Option<String> {
        Some(self.text(name)).filter(|text| !text.is_empty())
    }

    /// Whether a box was ticked.
    pub(crate) fn ticked(&self, name: &str) -> bool {
        self.fields.iter().any(|(field, _)| field == name)
    }

    /// Every value of a field that may be there several times.
    pub(crate) fn all(&self, name: &str) -> Vec<String> {
        let values = self.fields.iter().filter(|(field, _)| field == name);
        values.map(|(_, value)| value.trim().nfc().collect()).collect()
    }

    /// The key of the form, for the act that it sends to `route`: the same act again does nothing twice, another act with
    /// the same key is refused.
    pub(crate) fn once(&self, route: &str) -> Result<IdempotencyKey, Trouble> {
        self.once_of(ONCE, route, &[])
    }

    /// As [`once`](Self::once), for a form that sends several acts: `part` tells them apart.
    pub(crate) fn once_of(&self, field: &str, route: &str, part: &[&str]) -> Result<IdempotencyKey, Trouble> {
        let key = self.exact(field);
        let visible = !key.is_empty() && key.len() <= 200 && key.bytes().all(|byte| byte.is_ascii_graphic());
        if !visible {
            return Err(Trouble::Malformed);
        }
        let mut digest = Sha256::new();
        for (name, value) in self.fields.iter().filter(|(name, _)| name != field) {
            for text in [name, value] {
                digest.update(text.len().to_be_bytes());
                digest.update(text.as_bytes());
            }
        }
        for text in part {
            digest.update(text.as_bytes());
        }
        let key = if part.is_empty() { key.to_owned() } else { format!("{key}.{}", part.join(".")) };
        Ok(IdempotencyKey { key, route: route.to_owned(), digest: digest.finalize().into() })
    }
}

/// What was not accepted, as fields and cures.
pub(crate) fn cures(errors: Vec<FieldError>) -> Vec<(String, String)> {
    errors.into_iter().map(|error| (error.pointer.trim_start_matches('/').to_owned(), error.detail)).collect()
}

/// What was not accepted, by field; without a field, what stands in the way of the whole. Any other error has a page.
pub(crate) fn faults(error: clinic::Error) -> Result<Vec<(String, String)>, Trouble> {
    match error {
        clinic::Error::Invalid(errors) => Ok(cures(errors)),
        clinic::Error::Conflict(detail) | clinic::Error::State { detail, .. } => {
            Ok(vec![(String::new(), detail)])
        }
        other => Err(other.into()),
    }
}

impl FromRequest for Form {
    type Error = Trouble;
    type Future = Ready<Result<Self, Trouble>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        // Read before the route was found, so that nothing is lost when the session has ended.
        ready(request.extensions().get::<Self>().cloned().ok_or(Trouble::Malformed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_another_act_when_a_field_differs() {
        let key = |text: &str| Form::parse(text.as_bytes()).unwrap().once("POST /x").unwrap();
        let (one, again, other) = (key("once=k&a=1"), key("a=1&once=k"), key("once=k&a=2"));
        assert_eq!((&one.key, one.digest), (&again.key, again.digest));
        assert_ne!(one.digest, other.digest);
        assert!(Form::parse(b"once=&a=1").unwrap().once("POST /x").is_err());
    }

    #[test]
    fn a_password_is_taken_as_it_was_typed_and_a_name_without_its_spaces() {
        let form = Form::parse(b"word=%20a%CC%8A%20&name=%20a%CC%8A%20").unwrap();
        assert_eq!(form.exact("word"), " a\u{30a} ");
        assert_eq!(form.text("name"), "\u{e5}");
    }
}
