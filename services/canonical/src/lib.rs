//! Canonical forms, and the digests over them.
//!
//! For: one place that says which bytes a digest is taken over, so that another tool can recompute it. Every digest
//! names its form, and a form never changes once something was digested by it.
//!
//! | form | bytes of a value | framing |
//! |---|---|---|
//! | 1 | our own: sorted keys, no white space, text in NFC | `stillroom-canonical-1`, then each part after its length |
//! | 2 | JSON Canonicalization Scheme (RFC 8785) | `stillroom-jcs-2`, then each part after its length |
//!
//! A length is eight bytes, most significant first. A salt is a part of its own and comes last in form 1, first in form
//! 2. Beside them stands the one rule of which characters a name may hold ([`names`]). What never happens here: a query, a clock, or chance.

use serde_json::Value;
use sha2::{Digest, Sha256};
use unicode_normalization::UnicodeNormalization;

mod form_1;
pub mod names;

pub use form_1::text as text_of_form_1;

/// A SHA-256 digest.
pub type Sha = [u8; 32];

/// What is mixed into a digest, so that small content cannot be found by trying.
pub type Salt = [u8; 16];

/// Which bytes a digest was taken over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Our own canonical JSON, as it was before RFC 8785 was used.
    One,
    /// RFC 8785.
    Two,
}

/// A number that names no form.
#[derive(Clone, Copy, Debug, thiserror::Error)]
#[error("no canonical form has the number {0}")]
pub struct UnknownForm(pub i16);

impl Form {
    /// The form of every new digest.
    pub const NEW: Self = Self::Two;

    /// The number that is kept beside a digest.
    #[must_use]
    pub const fn number(self) -> i16 {
        match self {
            Self::One => 1,
            Self::Two => 2,
        }
    }

    /// The form that a kept number names.
    ///
    /// # Errors
    /// [`UnknownForm`] when there is none such.
    pub const fn numbered(number: i16) -> Result<Self, UnknownForm> {
        match number {
            1 => Ok(Self::One),
            2 => Ok(Self::Two),
            other => Err(UnknownForm(other)),
        }
    }

    const fn name(self) -> &'static str {
        match self {
            Self::One => "stillroom-canonical-1",
            Self::Two => "stillroom-jcs-2",
        }
    }

    /// The canonical bytes of a value.
    #[must_use]
    pub fn text(self, value: &Value) -> String {
        match self {
            Self::One => form_1::text(value),
            // Strings, arrays and objects with string keys always serialise; the library refuses only numbers that are
            // not finite, and JSON has none.
            Self::Two => serde_json_canonicalizer::to_string(value).unwrap_or_default(),
        }
    }

    /// The digest of a value with its salt, in the place that this form gives the salt.
    #[must_use]
    pub fn salted(self, value: &Value, salt: &Salt) -> Sha {
        let text = self.text(value);
        match self {
            Self::One => self.digest([text.as_bytes(), &salt[..]]),
            Self::Two => self.digest([&salt[..], text.as_bytes()]),
        }
    }

    /// SHA-256 over parts, each preceded by its length, so that no two lists of parts give the same bytes.
    #[must_use]
    pub fn digest<'a>(self, parts: impl IntoIterator<Item = &'a [u8]>) -> Sha {
        let mut sha = Sha256::new();
        sha.update(self.name().as_bytes());
        for part in parts {
            // Eight bytes on every machine, whatever the width of its addresses.
            sha.update(u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
            sha.update(part);
        }
        sha.finalize().into()
    }
}

/// The digest of a kept row or document: the salt, then its canonical bytes.
#[must_use]
pub fn salted(value: &Value, salt: &Salt) -> Sha {
    Form::NEW.salted(value, salt)
}

/// Names bytes that are no secret and need no salt, such as a request's body or the text of a caution.
#[must_use]
pub fn digest<'a>(parts: impl IntoIterator<Item = &'a [u8]>) -> Sha {
    Form::One.digest(parts)
}

/// Names a value that is no secret, in the form that such names have always had.
#[must_use]
pub fn text(value: &Value) -> String {
    form_1::text(value)
}

/// SHA-256 of a secret that is itself random enough to need no salt (keys, one-time codes, refresh tokens).
#[must_use]
pub fn secret(text: &str) -> Sha {
    Sha256::digest(text.as_bytes()).into()
}

/// Text as it is stored: Unicode normalisation form C, so that one word is one sequence of bytes.
#[must_use]
pub fn nfc(text: &str) -> String {
    text.nfc().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_of_keys_does_not_matter() {
        let a: Value = serde_json::from_str(r#"{"b":"\u00e9","a":[1,null,true]}"#).unwrap();
        let b: Value = serde_json::from_str(r#"{"a":[1,null,true],"b":"\u00e9"}"#).unwrap();
        for form in [Form::One, Form::Two] {
            assert_eq!(form.text(&a), form.text(&b));
            assert_eq!(form.text(&a), "{\"a\":[1,null,true],\"b\":\"\u{e9}\"}");
        }
    }

    /// RFC 8785, section 3.2.2 and 3.2.3: the example input and its canonical form (verified).
    #[test]
    fn form_two_is_the_json_canonicalization_scheme() {
        let value: Value = serde_json::from_str(
            r#"{
              "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
              "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
              "literals": [null, true, false]
            }"#,
        )
        .unwrap();
        assert_eq!(
            Form::Two.text(&value),
            "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
             \"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}"
        );
    }

    #[test]
    fn parts_cannot_be_shifted_into_one_another() {
        assert_ne!(digest([&b"ab"[..], b"c"]), digest([&b"a"[..], b"bc"]));
        assert_ne!(Form::One.digest([&b"ab"[..]]), Form::Two.digest([&b"ab"[..]]));
    }

    /// The bytes are laid out by hand here, as another tool would.
    #[test]
    fn a_salt_stands_last_in_form_one_and_first_in_form_two() {
        let (value, salt): (Value, Salt) = (serde_json::json!({ "b": "1", "a": null }), [7; 16]);
        let text = br#"{"a":null,"b":"1"}"#;
        let framed = |name: &str, parts: [&[u8]; 2]| {
            let mut bytes = name.as_bytes().to_vec();
            for part in parts {
                bytes.extend(u64::try_from(part.len()).unwrap().to_be_bytes());
                bytes.extend(part);
            }
            Sha::from(Sha256::digest(bytes))
        };
        assert_eq!(Form::One.salted(&value, &salt), framed("stillroom-canonical-1", [text, &salt]));
        assert_eq!(Form::Two.salted(&value, &salt), framed("stillroom-jcs-2", [&salt, text]));
        assert_eq!(salted(&value, &salt), Form::Two.salted(&value, &salt));
    }

    #[test]
    fn every_form_has_its_number() {
        for form in [Form::One, Form::Two] {
            assert_eq!(Form::numbered(form.number()).unwrap(), form);
        }
        assert!(Form::numbered(3).is_err());
    }

    /// NIST FIPS 180-4 example: SHA-256 of "abc" (verified).
    #[test]
    fn secrets_are_digested_with_sha_256() {
        assert_eq!(
            hex::encode(secret("abc")),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
