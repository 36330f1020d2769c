//! Names that others rely on never change: those of `/v1`, and the keys of what is stored and digested. Renaming code must
//! not rename them, so each is written down once it is there, and a missing one fails.

use std::collections::BTreeSet;

use diesel_async::AsyncPgConnection;
use serde_json::Value;
use stillroom_tests::clinic::serve;
use stillroom_tests::database;

use super::{root, texts};

/// Compares the names of now with those that were written down; with `UPDATE_NAMES=1` new ones are added. None is ever
/// taken out here: a name that is to go goes in a new version of the API or a new format of what is stored.
fn only_grows(file: &str, now: &BTreeSet<String>) {
    let path = root().join(file);
    let mut kept: BTreeSet<String> =
        std::fs::read_to_string(&path).unwrap_or_default().lines().map(str::to_owned).collect();
    let lost: Vec<&String> = kept.difference(now).collect();
    assert!(lost.is_empty(), "{file}: these names are relied on and are not there any more: {lost:#?}");
    if std::env::var("UPDATE_NAMES").is_ok_and(|value| value == "1") {
        kept.extend(now.iter().cloned());
        let lines: Vec<&str> = kept.iter().map(String::as_str).collect();
        std::fs::write(&path, lines.join("\n") + "\n").unwrap();
    }
    let new: Vec<&String> = now.difference(&kept).collect();
    assert!(new.is_empty(), "{file}: run this with UPDATE_NAMES=1 to write down {new:#?}");
}

/// The fields and words of a schema of the document, at any depth.
fn of_schema(at: &str, schema: &Value, found: &mut BTreeSet<String>) {
    for (name, property) in schema["properties"].as_object().into_iter().flatten() {
        found.insert(format!("{at}.{name}"));
        of_schema(&format!("{at}.{name}"), property, found);
    }
    for word in schema["enum"].as_array().into_iter().flatten() {
        found.insert(format!("{at} = {word}"));
    }
    for part in ["items", "additionalProperties"] {
        if schema[part].is_object() {
            of_schema(at, &schema[part], found);
        }
    }
    for part in ["allOf", "anyOf", "oneOf"].iter().flat_map(|part| schema[part].as_array()).flatten() {
        of_schema(at, part, found);
    }
}

#[test]
fn no_name_of_the_api_is_lost() {
    let document: Value = serde_json::from_str(&api::document().to_json().unwrap()).unwrap();
    let mut found = BTreeSet::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let at = format!("{method} {path}");
            for parameter in operation["parameters"].as_array().into_iter().flatten() {
                found.insert(format!("{at} ? {}", parameter["name"].as_str().unwrap()));
            }
            for status in operation["responses"].as_object().unwrap().keys().filter(|it| it.starts_with('2'))
            {
                found.insert(format!("{at} -> {status}"));
            }
        }
    }
    for (name, schema) in document["components"]["schemas"].as_object().unwrap() {
        of_schema(name, schema, &mut found);
    }
    assert!(found.len() > 500, "{}", found.len());
    only_grows("openapi/names.txt", &found);
}

/// The keys in a document, at any depth. What follows a stroke names a row and no key.
fn keys(column: &str, value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                found.insert(format!("{column} {}", name.split('/').next().unwrap_or_default()));
                keys(column, value, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| keys(column, item, found)),
        _ => {}
    }
}

/// The columns that hold documents: of a JSON type, or texts that are JSON objects or lists.
async fn documents(conn: &mut AsyncPgConnection) -> Vec<String> {
    texts(
        conn,
        "SELECT c.relname || '.' || a.attname AS value FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
         WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') AND a.attnum > 0
           AND a.atttypid IN ('json'::regtype, 'jsonb'::regtype, 'text'::regtype) ORDER BY 1",
    )
    .await
}

#[tokio::test(flavor = "multi_thread")]
async fn no_key_of_what_is_stored_is_lost() {
    let url = database::copy().await;
    let service = serve(&url, &[]).await;
    server::demo::load(&service.clinic).await.expect("the demo loads");
    service.stop().await.unwrap();
    let mut conn = database::owner(&url).await;
    let mut found = BTreeSet::new();
    for column in documents(&mut conn).await {
        let (table, name) = column.split_once('.').unwrap();
        let sql = format!(
            "SELECT {name}::text AS value FROM {table} WHERE left({name}::text, 1) IN ('{{', '[') LIMIT 20000"
        );
        for text in texts(&mut conn, &sql).await {
            if let Ok(value) = serde_json::from_str::<Value>(&text) {
                keys(&column, &value, &mut found);
            }
        }
    }
    assert!(found.len() > 150, "{}", found.len());
    // Columns are digested by their names.
    found.extend(
        texts(
            &mut conn,
            "SELECT table_name || '.' || column_name AS value FROM information_schema.columns
             WHERE table_schema = 'public' AND table_name NOT LIKE '\\_\\_%'",
        )
        .await,
    );
    only_grows("tests/end_to_end/house/stored_names.txt", &found);
    drop(conn);
    database::remove(&url).await;
}
