//! Examples of every request and response, assembled from the examples of their fields, so that each operation has one
//! and none goes out of date.

use serde_json::{Map, Value, json};
use utoipa::openapi::schema::{
    AdditionalProperties, ArrayItems, KnownFormat, Schema, SchemaFormat, SchemaType, Type,
};
use utoipa::openapi::{Components, OpenApi, RefOr};

use wire::kinds::Kind;

/// Limit of recursion through schemas that contain themselves.
const MAX_DEPTH: usize = 10;

/// Adds an example to every JSON body of the document.
pub(crate) fn add(document: &mut OpenApi) {
    let components = document.components.clone().unwrap_or_default();
    for item in document.paths.paths.values_mut() {
        for operation in [&mut item.get, &mut item.post, &mut item.put, &mut item.patch, &mut item.delete]
            .into_iter()
            .flatten()
        {
            if let Some(RefOr::T(body)) = &mut operation.request_body {
                // Of a picture there is no example that could be read here.
                for (_, content) in body.content.iter_mut().filter(|(kind, _)| !kind.starts_with("image/")) {
                    fill(&components, content);
                }
            }
            for response in operation.responses.responses.values_mut() {
                if let RefOr::T(response) = response {
                    for content in response.content.values_mut() {
                        fill(&components, content);
                    }
                }
            }
        }
    }
}

fn fill(components: &Components, content: &mut RefOr<utoipa::openapi::Content>) {
    if let RefOr::T(content) = content
        && content.example.is_none()
        && let Some(schema) = &content.schema
    {
        content.example = of(components, schema, 0);
    }
}

/// An example of a problem.
pub(crate) fn problem(kind: &Kind) -> Value {
    json!({
        "type": format!("/problems/{}", kind.slug),
        "title": kind.title,
        "status": kind.status,
        "detail": kind.page,
        "request_id": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80",
    })
}

/// An example that fits the schema; none where that would go deeper than [`MAX_DEPTH`]. Whoever holds it then leaves it
/// out, or, where it must be there, is none either.
fn of(components: &Components, schema: &RefOr<Schema>, depth: usize) -> Option<Value> {
    if depth > MAX_DEPTH {
        return None;
    }
    match schema {
        RefOr::Ref(reference) => {
            let name = reference.ref_location.rsplit('/').next()?;
            of(components, components.schemas.get(name)?, depth + 1)
        }
        RefOr::T(schema) => inline(components, schema, depth),
    }
}

fn inline(components: &Components, schema: &Schema, depth: usize) -> Option<Value> {
    match schema {
        Schema::Object(object) => {
            let given = object.example.clone().or_else(|| object.examples.first().cloned());
            let word = object.enum_values.as_ref().and_then(|values| values.first()).cloned();
            given.or(word).or_else(|| match &object.schema_type {
                SchemaType::Type(kind) => plain(components, object, kind, depth),
                SchemaType::Array(kinds) => kinds
                    .iter()
                    .find(|kind| **kind != Type::Null)
                    .and_then(|kind| plain(components, object, kind, depth)),
                SchemaType::AnyValue => Some(json!({})),
            })
        }
        Schema::Array(array) => {
            let given = array.example.clone().or_else(|| array.examples.first().cloned());
            given.or_else(|| match &array.items {
                ArrayItems::RefOrSchema(item) => Some(of(components, item, depth + 1).into_iter().collect()),
                ArrayItems::False => Some(json!([])),
            })
        }
        // The first that is not null: how an optional reference is written.
        Schema::OneOf(one) => one.example.clone().or_else(|| first(components, &one.items, depth)),
        Schema::AnyOf(any) => first(components, &any.items, depth),
        Schema::AllOf(all) => {
            let mut whole = Map::new();
            for part in &all.items {
                if let Value::Object(fields) = of(components, part, depth + 1)? {
                    whole.extend(fields);
                }
            }
            Some(Value::Object(whole))
        }
        _ => None,
    }
}

fn first(components: &Components, items: &[RefOr<Schema>], depth: usize) -> Option<Value> {
    items.iter().find_map(|item| of(components, item, depth + 1))
}

fn plain(
    components: &Components,
    object: &utoipa::openapi::schema::Object,
    kind: &Type,
    depth: usize,
) -> Option<Value> {
    match kind {
        Type::String => Some(match &object.format {
            Some(SchemaFormat::KnownFormat(KnownFormat::DateTime)) => json!("2026-03-21T09:30:00Z"),
            Some(SchemaFormat::KnownFormat(KnownFormat::Uuid)) => {
                json!("0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80")
            }
            Some(SchemaFormat::KnownFormat(KnownFormat::Date)) => json!("2026-03-21"),
            _ => json!("text"),
        }),
        Type::Integer | Type::Number => Some(json!(1)),
        Type::Boolean => Some(json!(true)),
        Type::Array | Type::Null => None,
        Type::Object => {
            let mut fields = Map::new();
            for (name, field) in &object.properties {
                match of(components, field, depth + 1) {
                    Some(value) => drop(fields.insert(name.clone(), value)),
                    None if object.required.contains(name) => return None,
                    None => {}
                }
            }
            if let Some(AdditionalProperties::RefOr(more)) = object.additional_properties.as_deref()
                && let Some(value) = of(components, more, depth + 1)
            {
                fields.insert("name".into(), value);
            }
            Some(Value::Object(fields))
        }
    }
}
