//! The first canonical form: JSON with sorted keys, no white space, text in NFC. It stays for what was digested by it.

use serde_json::Value;
use unicode_normalization::UnicodeNormalization;

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_of_composing_letters_does_not_matter() {
        let composed: Value = serde_json::from_str(r#"["e\u0301"]"#).unwrap();
        assert_eq!(text(&composed), "[\"\u{e9}\"]");
    }
}
