//! The served OpenAPI document as the tests walk it.

use serde_json::Value;
use stillroom_tests::Caller;

/// The methods that an operation can have in the document.
pub(crate) const METHODS: [&str; 5] = ["GET", "POST", "PUT", "PATCH", "DELETE"];

/// One operation of the document.
#[derive(Clone, Debug)]
pub(crate) struct Operation {
    /// The method, in capitals.
    pub(crate) method: String,
    /// The address, with its parameters in braces.
    pub(crate) path: String,
    item: Value,
    whole: Value,
}

impl Operation {
    /// How the authorisation table names it.
    pub(crate) fn name(&self) -> String {
        format!("{} {}", self.method, self.path)
    }

    fn parameters(&self, place: &str) -> Vec<&Value> {
        let all = self.item["parameters"].as_array();
        all.into_iter().flatten().filter(|parameter| parameter["in"] == place).collect()
    }

    /// Each path parameter and the kind of id it is ("RevisionId"), empty where it is no id.
    pub(crate) fn path_parameters(&self) -> Vec<(String, String)> {
        self.parameters("path").into_iter().map(|it| (text(&it["name"]), kind(&it["schema"]))).collect()
    }

    /// Each query parameter, its kind of id, and the document's example of it.
    pub(crate) fn query_parameters(&self) -> Vec<(String, String, Value)> {
        self.parameters("query")
            .into_iter()
            .map(|it| (text(&it["name"]), kind(&it["schema"]), it["example"].clone()))
            .collect()
    }

    /// Whether a request carries an `Idempotency-Key`.
    pub(crate) fn creates(&self) -> bool {
        self.parameters("header").iter().any(|it| it["name"] == "Idempotency-Key")
    }

    /// Whether a request carries an `If-Match`.
    pub(crate) fn changes(&self) -> bool {
        self.parameters("header").iter().any(|it| it["name"] == "If-Match")
    }

    /// The document's example of a body, if the operation has one; the first where there are several.
    pub(crate) fn body(&self) -> Option<Value> {
        let content = self.item.pointer("/requestBody/content/application~1json")?;
        let several =
            || content["examples"].as_object()?.values().next().map(|example| example["value"].clone());
        content.get("example").cloned().or_else(several)
    }

    /// Whether the body is a picture.
    pub(crate) fn takes_picture(&self) -> bool {
        self.item.pointer("/requestBody/content/image~1jpeg").is_some()
    }

    /// The schema of the body, resolved.
    pub(crate) fn body_schema(&self) -> Option<Value> {
        let schema = self.item.pointer("/requestBody/content/application~1json/schema")?;
        let name = kind(schema);
        if name.is_empty() {
            Some(schema.clone())
        } else {
            Some(self.whole["components"]["schemas"][name].clone())
        }
    }

    /// The query without which the operation is refused, as the document's examples have it.
    pub(crate) fn needed_query(&self) -> String {
        let needed = self.parameters("query").into_iter().filter(|it| it["required"] == true);
        let pairs: Vec<String> =
            needed.map(|it| format!("{}={}", text(&it["name"]), text(&it["example"]))).collect();
        if pairs.is_empty() { String::new() } else { format!("?{}", pairs.join("&")) }
    }

    /// The address with every parameter filled in by what `fill` knows of its name and kind, and the needed query.
    pub(crate) fn address(&self, mut fill: impl FnMut(&str, &str) -> String) -> String {
        let path = self.path_parameters().iter().fold(self.path.clone(), |path, (name, kind)| {
            path.replace(&format!("{{{name}}}"), &fill(name, kind))
        });
        path + &self.needed_query()
    }
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

/// The last part of a reference; empty for what is no reference. An optional one is wrapped once.
fn kind(schema: &Value) -> String {
    let reference = schema.get("$ref").or_else(|| {
        let one = schema.get("oneOf").or_else(|| schema.get("anyOf"))?.as_array()?;
        one.iter().find_map(|it| it.get("$ref"))
    });
    reference.and_then(Value::as_str).and_then(|it| it.rsplit('/').next()).unwrap_or_default().to_owned()
}

/// Every operation of the document that the service serves.
pub(crate) async fn operations(nobody: &Caller) -> Vec<Operation> {
    let whole = nobody.get("/openapi.json").await.expect(200).json;
    let paths = whole["paths"].as_object().unwrap().clone();
    let mut all = Vec::new();
    for (path, item) in paths {
        for method in METHODS {
            if let Some(item) = item.get(method.to_lowercase()) {
                let (method, path) = (method.to_owned(), path.clone());
                all.push(Operation { method, path, item: item.clone(), whole: whole.clone() });
            }
        }
    }
    assert!(all.len() > 40, "the document has {} operations", all.len());
    all
}
