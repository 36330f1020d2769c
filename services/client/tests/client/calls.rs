//! What each call asks, and what it makes of the answers.

use client::{Client, Error, FormulaQuery, must_be_named};
use serde_json::json;
use wire::formulary::Regime;
use wire::label::LabelQuery;
use wire::recipe::MakeFor;
use wire::safety::{Acknowledge, CautionLevel, Purpose};

use crate::answers::{
    AWKWARD, DIGEST, FORMULA, LIBRARY, PERSON, REVISION, acknowledgement, caution_set, closed_gate, created,
    label, ok, problem, recipe,
};
use crate::server::{Answer, Server};

const KEY: &str = "sk_5Jb2forTestsOnly";

fn client(server: &Server) -> Client {
    Client::new(&server.url, KEY).unwrap()
}

#[tokio::test]
async fn the_key_says_who_is_calling() {
    let server = Server::answering(vec![ok(&json!({ "api_client": {
        "id": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e91", "name": "Label printer", "key_prefix": "sk_5Jb2",
        "responsible": PERSON, "scopes": ["formulas:read", "acknowledge"], "state": "active",
        "valid_until": "2027-01-01T00:00:00Z",
    }}))]);
    let me = client(&server).me().await.unwrap();
    assert_eq!(me.api_client.unwrap().name, "Label printer");
    let [request] = &server.received()[..] else { panic!("one request") };
    assert_eq!(request.target, "GET /v1/me");
    assert_eq!(request.header("authorization"), Some("Bearer sk_5Jb2forTestsOnly"));
}

#[tokio::test]
async fn each_attempt_of_a_call_carries_the_traceparent_that_its_caller_gave() {
    let busy = Answer::new("503 Service Unavailable", &[("retry-after", "0")], "");
    let me = ok(&json!({}));
    let server = Server::answering(vec![busy, me]);
    let traceparent = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";
    let (plain, traced) = (client(&server), client(&server).in_trace(traceparent.parse().unwrap()));
    traced.me().await.unwrap();
    plain.me().await.unwrap();
    let sent: Vec<Option<String>> =
        server.received().iter().map(|request| request.header("traceparent").map(str::to_owned)).collect();
    assert_eq!(sent, [Some(traceparent.to_owned()), Some(traceparent.to_owned()), None]);
}

#[tokio::test]
async fn formulas_come_page_by_page() {
    let formula = |title: &str| {
        json!({ "id": FORMULA, "library": LIBRARY, "title": title, "preparation": "salve",
                "approved_revision": REVISION })
    };
    let server = Server::answering(vec![
        ok(&json!({ "items": [formula("Arnica salve")], "next": "a&b=/+ä" })),
        ok(&json!({ "items": [formula("Calendula salve")] })),
    ]);
    let client = client(&server);
    let library = Some(LIBRARY.parse().unwrap());
    let mut query = FormulaQuery { library, limit: Some(1), ..FormulaQuery::default() };
    let first = client.formulas(&query).await.unwrap();
    query.after = first.next;
    let second = client.formulas(&query).await.unwrap();
    assert_eq!(second.items.first().unwrap().title, "Calendula salve");
    assert_eq!(second.next, None);
    let targets: Vec<String> = server.received().into_iter().map(|request| request.target).collect();
    assert_eq!(
        targets,
        [
            format!("GET /v1/formulas?approved=true&library={LIBRARY}&limit=1"),
            format!("GET /v1/formulas?approved=true&library={LIBRARY}&limit=1&after=a%26b%3D%2F%2B%C3%A4"),
        ]
    );
}

#[tokio::test]
async fn a_search_sends_each_condition_that_is_set() {
    let server = Server::answering(vec![ok(&json!({ "items": [] }))]);
    let query = FormulaQuery {
        title: Some("hand & foot".into()),
        material: Some("olive oil".into()),
        kind: Some("tea blend".into()),
        regime: Some(Regime::Food),
        ..FormulaQuery::default()
    };
    client(&server).formulas(&query).await.unwrap();
    assert_eq!(
        server.received().first().unwrap().target,
        "GET /v1/formulas?approved=true&title=hand+%26+foot&material=olive+oil&kind=tea+blend&regime=food"
    );
}

#[tokio::test]
async fn a_formula_and_a_revision_are_seen_before_the_gate() {
    let server = Server::answering(vec![
        ok(&json!({ "id": FORMULA, "library": LIBRARY, "title": "Calendula salve", "preparation": "salve",
            "revisions": [{ "id": REVISION, "number": 3, "state": "approved", "author": PERSON }] })),
        ok(
            &json!({ "id": REVISION, "formula": FORMULA, "library": LIBRARY, "number": 3, "state": "approved",
            "title": "Calendula salve", "preparation": "salve", "route": "on intact skin", "regime": "cosmetic",
            "author": PERSON, "digest": "ab",
            "recipe": format!("/v1/revisions/{REVISION}/recipe"), "ingredients": [{ "phase": "oil phase", "name": "beeswax" }] }),
        ),
    ]);
    let client = client(&server);
    let formula = client.formula(FORMULA.parse().unwrap()).await.unwrap();
    assert_eq!(formula.revisions.first().unwrap().number, 3);
    let revision = client.revision(REVISION.parse().unwrap()).await.unwrap();
    assert_eq!(revision.ingredients.first().unwrap().name, "beeswax");
    let targets: Vec<String> = server.received().into_iter().map(|request| request.target).collect();
    assert_eq!(targets, [format!("GET /v1/formulas/{FORMULA}"), format!("GET /v1/revisions/{REVISION}")]);
}

#[tokio::test]
async fn a_service_under_a_path_is_asked_under_that_path() {
    let server = Server::answering(vec![ok(&caution_set())]);
    let client = Client::new(&format!("{}/stillroom", server.url), KEY).unwrap();
    let set = client.cautions(REVISION.parse().unwrap()).await.unwrap();
    assert_eq!(set.cautions.first().unwrap().level, CautionLevel::Contraindication);
    assert_eq!(
        server.received().first().unwrap().target,
        format!("GET /stillroom/v1/revisions/{REVISION}/cautions")
    );
}

#[tokio::test]
async fn a_closed_gate_lists_what_is_to_be_acknowledged() {
    let server = Server::answering(vec![closed_gate()]);
    let error = client(&server).recipe(REVISION.parse().unwrap(), &MakeFor::default()).await.unwrap_err();
    let outstanding = error.closed_gate().unwrap();
    assert_eq!(outstanding.caution_set.digest, DIGEST);
    assert_eq!(must_be_named(&outstanding.caution_set).collect::<Vec<_>>(), [AWKWARD]);
    assert_eq!(server.received().first().unwrap().target, format!("GET /v1/revisions/{REVISION}/recipe"));
}

#[tokio::test]
async fn an_acknowledgement_names_the_set_and_each_contraindication() {
    let server = Server::answering(vec![created(&acknowledgement())]);
    let read = Acknowledge {
        caution_set: DIGEST.into(),
        contraindications: vec![AWKWARD.into()],
        meant_for: Vec::new(),
        for_api_client: None,
    };
    let client = client(&server);
    let given = client.acknowledge(REVISION.parse().unwrap(), &read).await.unwrap();
    assert_eq!(given.purpose, Purpose::Make);
    client.acknowledge(REVISION.parse().unwrap(), &read).await.unwrap();
    let [first, second] = &server.received()[..] else { panic!("two requests") };
    assert_eq!(first.target, format!("POST /v1/revisions/{REVISION}/acknowledgements"));
    assert_eq!(first.header("content-type"), Some("application/json"));
    let body: serde_json::Value = serde_json::from_str(&first.body).unwrap();
    assert_eq!(body, json!({ "caution_set": DIGEST, "contraindications": [AWKWARD] }));
    // Two calls are two wishes, even for the same thing.
    assert_ne!(first.header("idempotency-key").unwrap(), second.header("idempotency-key").unwrap());
}

#[tokio::test]
async fn a_recipe_is_asked_for_a_quantity_and_again_only_if_it_changed() {
    let tagged = |body: &serde_json::Value| {
        Answer::new("200 OK", &[("content-type", "application/json"), ("etag", "\"t1\"")], &body.to_string())
    };
    let server = Server::answering(vec![
        tagged(&recipe()),
        Answer::new("304 Not Modified", &[("etag", "\"t1\"")], ""),
        tagged(&recipe()),
        closed_gate(),
    ]);
    let client = client(&server);
    let revision = REVISION.parse().unwrap();
    let jars = MakeFor {
        containers: Some(12),
        fill: Some("30 g".into()),
        transfer_loss: Some("4 %".into()),
        application: Some("2 g".into()),
        ..MakeFor::default()
    };
    let first = client.recipe(revision, &jars).await.unwrap();
    assert_eq!(first.value.total.value.as_deref(), Some("375"));
    let tag = first.tag.unwrap();
    assert!(client.recipe_if_changed(revision, &jars, &tag).await.unwrap().is_none());
    assert!(client.recipe_if_changed(revision, &jars, &tag).await.unwrap().is_some());
    let error = client.recipe_if_changed(revision, &jars, &tag).await.unwrap_err();
    assert!(error.closed_gate().is_some());
    let received = server.received();
    let asked = format!(
        "GET /v1/revisions/{REVISION}/recipe?containers=12&fill=30+g&transfer_loss=4+%25&application=2+g"
    );
    assert!(received.iter().all(|request| request.target == asked), "{received:?}");
    let tags: Vec<Option<&str>> = received.iter().map(|request| request.header("if-none-match")).collect();
    assert_eq!(tags, [None, Some("\"t1\""), Some("\"t1\""), Some("\"t1\"")]);
}

#[tokio::test]
async fn a_problem_says_which_field_is_wrong() {
    let server = Server::answering(vec![problem(
        "422 Unprocessable Content",
        &[],
        &json!({ "type": "/problems/invalid-request", "title": "Not accepted", "status": 422,
            "detail": "A field was not accepted.", "request_id": "r-2",
            "errors": [{ "pointer": "?mass", "detail": "3 furlongs is no mass" }] }),
    )]);
    let error = client(&server).recipe(REVISION.parse().unwrap(), &MakeFor::default()).await.unwrap_err();
    let problem = error.problem().unwrap();
    assert_eq!((problem.kind.as_str(), problem.status), ("/problems/invalid-request", 422));
    assert_eq!(problem.errors.first().unwrap().pointer, "?mass");
    assert!(error.closed_gate().is_none());
    assert_eq!(error.to_string(), "Not accepted (422): A field was not accepted. [request r-2]");
}

#[tokio::test]
async fn what_is_not_understood_is_not_repeated_in_the_error() {
    let html = [("content-type", "text/html")];
    let json = [("content-type", "application/json")];
    let problem = [("content-type", "application/problem+json")];
    for (status, number, headers, body) in [
        ("502 Bad Gateway", 502, html, "<p>80 g of beeswax</p>".to_owned()),
        ("200 OK", 200, html, "80 g of beeswax".to_owned()),
        ("200 OK", 200, json, json!({ "revision": "80 g of beeswax" }).to_string()),
        ("200 OK", 200, json, String::new()),
        ("400 Bad Request", 400, problem, json!({ "title": "80 g of beeswax" }).to_string()),
    ] {
        let server = Server::answering(vec![Answer::new(status, &headers, &body)]);
        let error = client(&server).recipe(REVISION.parse().unwrap(), &MakeFor::default()).await.unwrap_err();
        assert!(matches!(error, Error::Unexpected { status, .. } if status == number), "{error:?}");
        assert!(!format!("{error} {error:?}").contains("beeswax"), "{error:?}");
    }
}

#[tokio::test]
async fn a_label_is_read_for_a_container_and_without_one() {
    let server = Server::answering(vec![ok(&label()), ok(&label())]);
    let client = client(&server);
    let revision = REVISION.parse().unwrap();
    let container = LabelQuery {
        made_on: Some("2026-03-21".parse().unwrap()),
        net: Some("30 g".into()),
        area: Some("4 cm2".into()),
    };
    let read = client.label(revision, &container).await.unwrap();
    assert_eq!(read.ingredients.items.len(), 3);
    assert!(!read.room.unwrap().fits);
    client.label(revision, &LabelQuery::default()).await.unwrap();
    let targets: Vec<String> = server.received().into_iter().map(|request| request.target).collect();
    let path = format!("GET /v1/revisions/{REVISION}/label");
    assert_eq!(targets, [format!("{path}?made_on=2026-03-21&net=30+g&area=4+cm2"), path]);
}
