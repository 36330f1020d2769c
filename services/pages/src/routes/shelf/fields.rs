//! The fields of a form, with what was typed and what was not accepted.

use crate::form::Form;
use crate::texts::t;

/// A field of a form: its name, what is typed, and what was not accepted.
pub(in crate::routes) struct Field {
    pub(in crate::routes) name: &'static str,
    pub(in crate::routes) label: String,
    pub(in crate::routes) value: String,
    pub(in crate::routes) hint: String,
    pub(in crate::routes) cure: String,
    /// More than one line.
    pub(in crate::routes) lines: bool,
    pub(in crate::routes) required: bool,
    pub(in crate::routes) kind: &'static str,
}

/// Fields with what was typed; `of` is the form that they belong to, by which their texts are named.
pub(in crate::routes) fn fields(
    of: &str,
    names: &[&'static str],
    form: &Form,
    cures: &[(String, String)],
) -> Vec<Field> {
    let one = |name: &&'static str| {
        let (name, required) = match name.strip_suffix('*') {
            Some(name) => (name, true),
            None => (*name, false),
        };
        let key = name.replace('_', "-");
        let hint = t(&format!("{of}-{key}-hint"));
        Field {
            name,
            label: t(&format!("{of}-{key}")),
            value: form.text(name),
            // A field without a hint has no text of that name.
            hint: if hint.ends_with("-hint") { String::new() } else { hint },
            cure: cures.iter().filter(|(field, _)| field == name).map(|(_, cure)| cure.as_str()).collect(),
            lines: matches!(name, "certificate" | "organoleptic" | "look_alikes" | "reason"),
            required,
            kind: if matches!(name, "received" | "opened" | "collected" | "use_by") {
                "date"
            } else {
                "text"
            },
        }
    };
    names.iter().map(one).collect()
}

/// Cures of fields that the page does not show.
pub(in crate::routes) fn others(fields: &[Field], cures: &[(String, String)]) -> Vec<String> {
    let hidden = |name: &String| !fields.iter().any(|field| field.name == name);
    cures.iter().filter(|(name, _)| hidden(name)).map(|(_, cure)| cure.clone()).collect()
}
