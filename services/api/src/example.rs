//! Examples of every request and response, assembled from the examples of their fields, so that each operation has one
//! and none goes out of date.

use serde_json::{Map, Value, json};
use utoipa::openapi::schema::{
    AdditionalProperties, ArrayItems, KnownFormat, Schema, SchemaFormat, SchemaType, Type,
};
use utoipa::openapi::{Components, OpenApi, RefOr};

use crate::kinds::Kind;

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
                for content in body.content.values_mut() {
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
        content.example = Some(of(components, schema, 0));
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

fn of(components: &Components, schema: &RefOr<Schema>, depth: usize) -> Value {
    if depth > MAX_DEPTH {
        return Value::Null;
    }
    match schema {
        RefOr::Ref(reference) => reference
            .ref_location
            .rsplit('/')
            .next()
            .and_then(|name| components.schemas.get(name))
            .map_or(Value::Null, |schema| of(components, schema, depth + 1)),
        RefOr::T(schema) => inline(components, schema, depth),
    }
}

fn inline(components: &Components, schema: &Schema, depth: usize) -> Value {
    match schema {
        Schema::Object(object) => {
            if let Some(example) = object.example.clone().or_else(|| object.examples.first().cloned()) {
                return example;
            }
            if let Some(first) = object.enum_values.as_ref().and_then(|values| values.first()) {
                return first.clone();
            }
            match &object.schema_type {
                SchemaType::Type(kind) => plain(components, object, kind, depth),
                SchemaType::Array(kinds) => kinds
                    .iter()
                    .find(|kind| **kind != Type::Null)
                    .map_or(Value::Null, |kind| plain(components, object, kind, depth)),
                SchemaType::AnyValue => json!({}),
            }
        }
        Schema::Array(array) => {
            if let Some(example) = array.example.clone().or_else(|| array.examples.first().cloned()) {
                return example;
            }
            match &array.items {
                ArrayItems::RefOrSchema(item) => match of(components, item, depth + 1) {
                    Value::Null => json!([]),
                    item => json!([item]),
                },
                ArrayItems::False => json!([]),
            }
        }
        // The first that is not null: how an optional reference is written.
        Schema::OneOf(one) => one.example.clone().unwrap_or_else(|| first(components, &one.items, depth)),
        Schema::AnyOf(any) => first(components, &any.items, depth),
        Schema::AllOf(all) => {
            let mut whole = Map::new();
            for part in &all.items {
                if let Value::Object(fields) = of(components, part, depth + 1) {
                    whole.extend(fields);
                }
            }
            Value::Object(whole)
        }
        _ => Value::Null,
    }
}

fn first(components: &Components, items: &[RefOr<Schema>], depth: usize) -> Value {
    items
        .iter()
        .map(|item| of(components, item, depth + 1))
        .find(|value| !value.is_null())
        .unwrap_or(Value::Null)
}

fn plain(
    components: &Components,
    object: &utoipa::openapi::schema::Object,
    kind: &Type,
    depth: usize,
) -> Value {
    match kind {
        Type::String => match &object.format {
            Some(SchemaFormat::KnownFormat(KnownFormat::DateTime)) => json!("2026-03-21T09:30:00Z"),
            Some(SchemaFormat::KnownFormat(KnownFormat::Uuid)) => {
                json!("0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80")
            }
            _ => json!("text"),
        },
        Type::Integer | Type::Number => json!(1),
        Type::Boolean => json!(true),
        Type::Array | Type::Null => Value::Null,
        Type::Object => {
            let mut fields = Map::new();
            for (name, field) in &object.properties {
                let value = of(components, field, depth + 1);
                if !value.is_null() || object.required.contains(name) {
                    fields.insert(name.clone(), value);
                }
            }
            if let Some(AdditionalProperties::RefOr(more)) = object.additional_properties.as_deref() {
                fields.insert("name".into(), of(components, more, depth + 1));
            }
            Value::Object(fields)
        }
    }
}
