//! The operations of the API as its document describes them, grouped by what people want to do.

use serde_json::Value;
use wire::kinds::KINDS;

use crate::texts::t;

/// A field of a request: where it stands, what it is called and what it is for.
pub(crate) struct Field {
    pub(crate) name: String,
    /// `path`, `query`, `header`, or `body`.
    pub(crate) place: String,
    pub(crate) needed: bool,
    pub(crate) about: Vec<(bool, String)>,
}

/// An operation.
pub(crate) struct Operation {
    pub(crate) id: String,
    pub(crate) group: &'static str,
    pub(crate) method: String,
    pub(crate) path: String,
    pub(crate) summary: String,
    /// Paragraphs, each as text and code in turn.
    pub(crate) about: Vec<Vec<(bool, String)>>,
    pub(crate) fields: Vec<Field>,
    /// Status and what it means.
    pub(crate) answers: Vec<(String, Vec<(bool, String)>)>,
    pub(crate) request: String,
    pub(crate) answer: String,
    /// Everything that it is looked for by, in small letters.
    words: String,
}

/// What people want to do, in the order of a day, with the tags of the document that belong to it.
const GROUPS: [(&str, &[&str]); 9] = [
    ("docs-get-in", &["sessions"]),
    ("docs-recipes", &["recipes", "formulas", "libraries"]),
    ("docs-work-out", &["calculations"]),
    ("docs-make", &["batches", "labels", "reactions"]),
    ("docs-write", &["revisions"]),
    ("docs-materials", &["materials", "amendments"]),
    ("docs-people", &["people"]),
    ("docs-keys", &["API clients"]),
    ("docs-watch", &["clinic", "service"]),
];
const REVIEW: &str = "docs-review";

/// The groups in the order in which they stand.
pub(crate) fn groups() -> impl Iterator<Item = (&'static str, String)> {
    let before = GROUPS.iter().map(|(id, _)| *id);
    // Reviewing follows making.
    let ids: Vec<&str> =
        before.flat_map(|id| if id == "docs-make" { vec![id, REVIEW] } else { vec![id] }).collect();
    // word("docs")
    ids.into_iter().map(|id| (id, t(id)))
}

fn group(tag: &str, id: &str) -> &'static str {
    if id == "batch_review" || id.starts_with("countersignature") {
        return REVIEW;
    }
    let of = GROUPS.iter().find(|(_, tags)| tags.contains(&tag));
    of.map_or("docs-watch", |(id, _)| *id)
}

fn text<'v>(value: &'v Value, key: &str) -> &'v str {
    value.get(key).and_then(Value::as_str).unwrap_or_default()
}

/// Text and code in turn, as Markdown marks code. Lines that were wrapped are one.
pub(crate) fn coded(text: &str) -> Vec<(bool, String)> {
    let text = text.replace("**", "").replace('\n', " ");
    text.split('`').enumerate().map(|(i, part)| (i % 2 == 1, part.to_owned())).collect()
}

pub(crate) fn paragraphs(text: &str) -> Vec<Vec<(bool, String)>> {
    text.split("\n\n").filter(|part| !part.trim().is_empty()).map(coded).collect()
}

/// What a reference stands for.
fn resolved<'d>(document: &'d Value, value: &'d Value) -> &'d Value {
    let named = text(value, "$ref").strip_prefix('#');
    named.and_then(|pointer| document.pointer(pointer)).unwrap_or(value)
}

fn body(holder: &Value) -> Option<&Value> {
    holder.get("content")?.as_object()?.values().next()
}

fn pretty(holder: Option<&Value>) -> String {
    let example = holder.and_then(body).and_then(|content| content.get("example"));
    example.and_then(|example| serde_json::to_string_pretty(example).ok()).unwrap_or_default()
}

fn fields(document: &Value, operation: &Value) -> Vec<Field> {
    let mut all = Vec::new();
    for one in operation.get("parameters").and_then(Value::as_array).into_iter().flatten() {
        all.push(Field {
            name: text(one, "name").to_owned(),
            place: text(one, "in").to_owned(),
            needed: one.get("required").and_then(Value::as_bool).unwrap_or(false),
            about: coded(text(one, "description")),
        });
    }
    let schema = operation.get("requestBody").and_then(body).and_then(|content| content.get("schema"));
    let Some(schema) = schema.map(|schema| resolved(document, schema)) else { return all };
    let needed: Vec<&str> = schema
        .get("required")
        .and_then(Value::as_array)
        .map(|names| names.iter().filter_map(Value::as_str).collect())
        .unwrap_or_default();
    for (name, property) in schema.get("properties").and_then(Value::as_object).into_iter().flatten() {
        // A field that may be null says what it is about where it is not.
        let either = property.pointer("/oneOf/0").filter(|_| property.get("description").is_none());
        let property = either.unwrap_or(property);
        let own = text(property, "description");
        let about = if own.is_empty() { text(resolved(document, property), "description") } else { own };
        all.push(Field {
            name: name.clone(),
            place: "body".to_owned(),
            needed: needed.contains(&name.as_str()),
            about: coded(about),
        });
    }
    all
}

fn operation(document: &Value, method: &str, path: &str, value: &Value) -> Operation {
    let tag = value.pointer("/tags/0").and_then(Value::as_str).unwrap_or_default();
    let id = text(value, "operationId");
    let fields = fields(document, value);
    let answers: Vec<(String, Vec<(bool, String)>)> = value
        .get("responses")
        .and_then(Value::as_object)
        .into_iter()
        .flatten()
        .map(|(status, answer)| (status.clone(), coded(text(resolved(document, answer), "description"))))
        .collect();
    let good = value
        .get("responses")
        .and_then(Value::as_object)
        .and_then(|all| all.iter().find(|(status, _)| status.starts_with('2')).map(|(_, answer)| answer));
    let group = group(tag, id);
    let named = fields.iter().map(|field| field.name.as_str()).collect::<Vec<_>>().join(" ");
    let words =
        format!("{} {path} {} {id} {} {named}", text(value, "summary"), text(value, "description"), t(group));
    Operation {
        id: id.to_owned(),
        group,
        method: method.to_uppercase(),
        path: path.to_owned(),
        summary: text(value, "summary").to_owned(),
        about: paragraphs(text(value, "description")),
        fields,
        answers,
        request: pretty(value.get("requestBody")),
        answer: pretty(good),
        words: words.to_lowercase(),
    }
}

/// Every operation of a document, in its order.
pub(crate) fn operations(document: &Value) -> Vec<Operation> {
    let mut all = Vec::new();
    for (path, item) in document.get("paths").and_then(Value::as_object).into_iter().flatten() {
        for (method, value) in item.as_object().into_iter().flatten() {
            if value.get("operationId").is_some() {
                all.push(operation(document, method, path, value));
            }
        }
    }
    all
}

impl Operation {
    /// Whether every word that was looked for stands in it.
    pub(crate) fn has(&self, words: &[String]) -> bool {
        words.iter().all(|word| self.words.contains(word.as_str()))
    }
}

/// The kinds of problems with these words in them: slug, status and title.
pub(crate) fn problems(words: &[String]) -> Vec<(&'static str, u16, String)> {
    // word("problem")
    let titled = KINDS.iter().map(|kind| (kind, t(&format!("problem-{}-title", kind.slug))));
    let has = |kind: &wire::kinds::Kind, title: &str| {
        let all = format!("{} {} {title} {}", kind.slug, kind.status, kind.page).to_lowercase();
        words.iter().all(|word| all.contains(word.as_str()))
    };
    titled
        .filter(|(kind, title)| has(kind, title))
        .map(|(kind, title)| (kind.slug, kind.status, title))
        .collect()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn document() -> Value {
        json!({
            "paths": { "/v1/batches/{id}/reviews": { "post": {
                "operationId": "batch_review", "tags": ["batches"], "summary": "Review a submitted batch record",
                "description": "The verdict is `accept`,\n`return` or `reject`.",
                "parameters": [{ "name": "id", "in": "path", "required": true, "description": "The batch" }],
                "requestBody": { "content": { "application/json": {
                    "schema": { "$ref": "#/components/schemas/NewReview" }, "example": { "verdict": "accept" } } } },
                "responses": { "201": { "description": "Created." } } } } },
            "components": { "schemas": { "NewReview": { "required": ["verdict"], "properties": {
                "verdict": { "$ref": "#/components/schemas/Verdict" }, "summary": { "description": "What is said." } } },
                "Verdict": { "description": "How it ends." } } }
        })
    }

    #[test]
    fn an_operation_is_told_with_its_fields_and_found_by_them() {
        let all = operations(&document());
        let [one] = all.as_slice() else { panic!("one operation") };
        assert_eq!((one.group, one.method.as_str()), (REVIEW, "POST"));
        let fields: Vec<_> = one
            .fields
            .iter()
            .map(|field| (field.name.as_str(), field.place.as_str(), field.needed))
            .collect();
        assert_eq!(fields, [("id", "path", true), ("summary", "body", false), ("verdict", "body", true)]);
        assert_eq!(one.fields[2].about, [(false, "How it ends.".to_owned())]);
        assert!(one.request.contains("accept") && one.answer.is_empty());
        assert!(one.has(&["verdict".into()]) && one.has(&["submitted".into(), "record".into()]));
        assert!(!one.has(&["beeswax".into()]));
    }

    #[test]
    fn a_problem_is_found_by_its_status() {
        assert!(problems(&["412".into()]).iter().any(|(slug, ..)| *slug == "stale"));
    }
}
