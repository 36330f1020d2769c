//! The canonical form that digests are taken over: JSON with sorted keys, no white space, text in NFC.

use serde_json::Value;
use sha2::{Digest, Sha256};
use unicode_normalization::UnicodeNormalization;

/// The version of the canonical form. It is part of what is digested, so that a later form cannot collide.
pub const FORM: &str = "stillroom-canonical-1";

/// A SHA-256 digest.
pub type Sha = [u8; 32];

/// The canonical text of a value. Numbers must not occur: decimals travel as strings.
#[must_use]
pub fn text(value: &Value) -> String {
    let mut out = String::new();
    write(value, &mut out);
    out
}

fn write(value: &Value, out: &mut String) {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(true) => out.push_str("true"),
        Value::Bool(false) => out.push_str("false"),
        Value::Number(number) => out.push_str(&number.to_string()),
        Value::String(text) => write_string(text, out),
        Value::Array(items) => {
            out.push('[');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write(item, out);
            }
            out.push(']');
        }
        Value::Object(fields) => {
            let mut fields: Vec<_> = fields.iter().collect();
            fields.sort_by(|a, b| a.0.cmp(b.0));
            out.push('{');
            for (i, (key, item)) in fields.into_iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write_string(key, out);
                out.push(':');
                write(item, out);
            }
            out.push('}');
        }
    }
}

fn write_string(text: &str, out: &mut String) {
    let normal: String = text.nfc().collect();
    out.push_str(&Value::String(normal).to_string());
}

/// SHA-256 over parts, each preceded by its length, so that no two lists of parts give the same bytes.
#[must_use]
pub fn digest<'a>(parts: impl IntoIterator<Item = &'a [u8]>) -> Sha {
    let mut sha = Sha256::new();
    sha.update(FORM.as_bytes());
    for part in parts {
        sha.update(part.len().to_be_bytes());
        sha.update(part);
    }
    sha.finalize().into()
}

/// SHA-256 of a secret that is itself random enough to need no salt (keys, one-time codes, refresh tokens).
#[must_use]
pub fn secret(text: &str) -> Sha {
    Sha256::digest(text.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_of_keys_and_the_way_of_composing_letters_do_not_matter() {
        let a: Value = serde_json::from_str(r#"{"b":"e\u0301","a":[1,null,true]}"#).unwrap();
        let b: Value = serde_json::from_str(r#"{"a":[1,null,true],"b":"\u00e9"}"#).unwrap();
        assert_eq!(text(&a), text(&b));
        assert_eq!(text(&a), "{\"a\":[1,null,true],\"b\":\"\u{e9}\"}");
    }

    #[test]
    fn parts_cannot_be_shifted_into_one_another() {
        assert_ne!(digest([&b"ab"[..], b"c"]), digest([&b"a"[..], b"bc"]));
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
