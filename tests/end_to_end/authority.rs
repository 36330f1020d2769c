//! Who may do what: every operation of the served document, for everybody, in one table; and nobody gets further by
//! sending what is not theirs to send.

pub(crate) mod document;
pub(crate) mod request;
pub(crate) mod rows;
mod stage;
mod strangers;
mod table;

use std::collections::BTreeSet;

use reqwest::Method;
use serde_json::Value;
use stillroom_tests::TestClinic;

use crate::house::files;
use document::{METHODS, Operation, operations};
use stage::Stage;
use table::{COLUMNS, cases_needed, rows};

#[tokio::test(flavor = "multi_thread")]
async fn every_operation_answers_everybody_as_the_table_says() {
    let mut stage = Stage::set().await;
    let document = operations(&stage.clinic.nobody).await;
    let rows = rows();

    let served: BTreeSet<String> = document.iter().map(Operation::name).collect();
    let listed: BTreeSet<String> = rows.iter().map(|row| row.operation.clone()).collect();
    assert_eq!(served.difference(&listed).collect::<Vec<_>>(), Vec::<&String>::new(), "not in the table");
    assert_eq!(listed.difference(&served).collect::<Vec<_>>(), Vec::<&String>::new(), "not in the document");
    for operation in &served {
        for case in cases_needed(operation) {
            let has = rows
                .iter()
                .any(|row| row.operation == *operation && row.case.split(' ').next() == Some(case));
            assert!(has, "{operation} has no row for {case}");
        }
    }

    let mut wrong = Vec::new();
    for row in &rows {
        let operation = document.iter().find(|operation| operation.name() == row.operation).unwrap();
        for (column, expected) in row.expected.iter().enumerate() {
            let answer = request::send(&mut stage, operation, &row.case, column).await;
            if answer.status.as_u16() != *expected {
                let who = COLUMNS[column];
                wrong.push(format!(
                    "{} ({}), {who}: {} instead of {expected}: {}",
                    row.operation, row.case, answer.status, answer.text
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{} cells:\n{}", wrong.len(), wrong.join("\n"));
    stage.clinic.stop().await;
}

/// The methods that an address has: its own where it is written out, else those of the templates that match.
fn methods_of(document: &[Operation], path: &str) -> BTreeSet<String> {
    let fits = |template: &str| {
        let (one, other): (Vec<&str>, Vec<&str>) = (template.split('/').collect(), path.split('/').collect());
        one.len() == other.len() && one.iter().zip(&other).all(|(t, p)| t.starts_with('{') || t == p)
    };
    let written_out = document.iter().any(|operation| operation.path == path);
    document
        .iter()
        .filter(|operation| if written_out { operation.path == path } else { fits(&operation.path) })
        .map(|operation| operation.method.clone())
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_method_that_an_address_does_not_have_is_answered_with_those_it_has() {
    let clinic = TestClinic::start().await;
    let document = operations(&clinic.nobody).await;
    let paths: BTreeSet<String> = document
        .iter()
        .map(|operation| operation.address(|_, _| "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80".into()))
        .collect();
    for path in paths.iter().map(|path| path.split('?').next().unwrap()) {
        let mut allowed = methods_of(&document, path);
        if allowed.contains("GET") {
            allowed.insert("HEAD".into());
        }
        for method in METHODS.iter().chain(&["HEAD", "OPTIONS", "TRACE", "PROPFIND", "QUERY"]) {
            if allowed.contains(*method) {
                continue;
            }
            let method: Method = method.parse().unwrap();
            let answer = clinic.administrator.send(method.clone(), path, &[], None).await;
            assert_eq!(answer.status, 405, "{method} {path}: {}", answer.text);
            let said: BTreeSet<String> = answer.header("allow").split(", ").map(str::to_owned).collect();
            assert_eq!(said, allowed, "{method} {path}");
            if method != Method::HEAD {
                answer.problem(405, "method-not-allowed");
            }
        }
    }
    for path in ["/v1", "/v1/", "/v2/me", "/v1/me/", "/v1//me", "/v1/formula", "/metrics", "/.env", "/admin"]
    {
        clinic.administrator.get(path).await.problem(404, "not-found");
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn head_answers_as_get_does_without_a_body() {
    let mut stage = Stage::set().await;
    let document = operations(&stage.clinic.nobody).await;
    let approved = stage.thing("approved").await;
    let callers = [stage.callers[0].clone(), stage.callers[1].clone(), stage.callers[2].clone()];
    for operation in document.iter().filter(|operation| operation.method == "GET") {
        let path = operation.address(|_, kind| match kind {
            "RevisionId" => approved.id.clone(),
            "FormulaId" => approved.formula.clone(),
            "LibraryId" => stage.library.clone(),
            _ => stage.acknowledgements[0].clone(),
        });
        for caller in &callers {
            let got = caller.get(&path).await;
            let head = caller.send(Method::HEAD, &path, &[], None).await;
            assert_eq!(head.status, got.status, "HEAD {path}");
            assert_eq!(head.text, "", "HEAD {path}");
            assert_eq!(head.header("etag"), got.header("etag"), "HEAD {path}");
            assert_eq!(head.header("content-type"), got.header("content-type"), "HEAD {path}");
        }
    }
    stage.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_routers_table_is_the_documents() {
    let clinic = TestClinic::start().await;
    let served: BTreeSet<String> = operations(&clinic.nobody).await.iter().map(Operation::name).collect();
    clinic.stop().await;

    // What the document does not list are its own address, and the page that shows it with its files.
    const APART: [&str; 3] = ["GET /docs/", "GET /docs/{file}", "GET /openapi.json"];
    let mut handlers = routing::Handlers::default();
    api::mount(&mut handlers);
    let mut mounted = BTreeSet::new();
    for (method, pattern) in handlers.addresses() {
        let name = format!("{method} {pattern}");
        assert!(APART.contains(&name.as_str()) || mounted.insert(name.clone()), "{name} twice");
    }
    assert_eq!(handlers.addresses().len(), mounted.len() + APART.len());
    assert_eq!(mounted, served);
}

/// The tree of handlers is the only way to mount one, but for what the second listener serves.
#[test]
fn no_handler_is_mounted_beside_the_tree() {
    let ways = [
        "web::resource",
        "web::scope",
        "web::route",
        "#[get(",
        "#[post(",
        "#[put(",
        "#[patch(",
        "#[delete(",
        "#[head(",
        "#[route(",
        "#[routes]",
    ];
    let mut read = 0;
    for (file, text) in
        ["api", "pages", "server"].iter().flat_map(|room| files(&format!("services/{room}/src"), "rs"))
    {
        read += 1;
        for line in text.lines().map(str::trim).filter(|line| !line.contains("web::resource(METRICS)")) {
            assert!(ways.iter().all(|way| !line.contains(way)), "{file}: {line}");
        }
    }
    assert!(read > 100, "{read}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_body_where_none_is_read_is_refused_and_not_passed_over() {
    let clinic = TestClinic::start().await;
    let mut tried = 0;
    for operation in operations(&clinic.nobody).await.iter().filter(|it| it.path.starts_with("/v1/")) {
        if operation.body().is_some() || operation.takes_picture() {
            continue;
        }
        let path = operation.address(|_, _| "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80".into());
        let body = Some(serde_json::json!({ "state": "approved" }));
        let answer = request::dispatch(operation, &clinic.administrator, &path, Some("\"v1\""), body).await;
        answer.fields(&[""]);
        tried += 1;
    }
    assert!(tried > 30, "{tried}");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn role_owner_and_state_sent_where_they_do_not_belong_are_refused() {
    let clinic = TestClinic::start().await;
    let mut tried = 0;
    for operation in operations(&clinic.nobody).await {
        let (Some(mut body), Some(schema)) = (operation.body(), operation.body_schema()) else { continue };
        // An example is sent whole but for the one field too many.
        let path = operation.address(|_, _| "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80".into());
        for (field, value) in [
            ("role", "administrator"),
            ("owner_id", "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80"),
            ("state", "approved"),
        ] {
            if schema["properties"].get(field).is_some() {
                continue;
            }
            let before = body.clone();
            body[field] = Value::from(value);
            let answer =
                request::dispatch(&operation, &clinic.administrator, &path, Some("\"v1\""), Some(body)).await;
            let answer = answer.problem(422, "invalid-request");
            let pointers = answer.json["errors"].to_string();
            assert!(pointers.contains(&format!("\"/{field}\"")), "{}: {pointers}", operation.name());
            body = before;
            tried += 1;
        }
    }
    assert!(tried > 40, "{tried}");
    clinic.stop().await;
}
