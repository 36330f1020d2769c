//! Doors that close while somebody stands in them: neither a tag nor a repeated request opens them again.

use chrono::Duration;
use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Answer, Caller, TestClinic};

use crate::formulas::{cream, infused_oil};

/// A clinic with a library, an infused oil, and a cream that is made from it; and a student who may make both.
struct House {
    clinic: TestClinic,
    ilse: Caller,
    marek: Caller,
    noor: Caller,
    library: String,
    oil: String,
    cream: String,
}

impl House {
    async fn start() -> Self {
        let clinic = TestClinic::start().await;
        let ilse = clinic.person("ilse.brandt", "instructor").await;
        let marek = clinic.person("marek.dvorsky", "instructor").await;
        let noor = clinic.person("noor.haddad", "student").await;
        let library = clinic.library(&ilse, "First-year creams", &[&marek, &noor]).await;
        let oil = clinic.approved(&ilse, &marek, &library, infused_oil()).await;
        ilse.acknowledge(&oil).await.expect(201);
        let cream = clinic.approved(&ilse, &marek, &library, cream()).await;
        for revision in [&oil, &cream] {
            noor.acknowledge(revision).await.expect(201);
        }
        Self { clinic, ilse, marek, noor, library, oil, cream }
    }
}

fn recipe_of(revision: &str) -> String {
    format!("/v1/revisions/{revision}/recipe")
}

/// Asks again for what was read before, by the tag it had, with and without a quantity.
async fn ask_again(caller: &Caller, revision: &str, tag: &str) -> [Answer; 3] {
    let path = recipe_of(revision);
    let plain = caller.send(Method::GET, &path, &[("if-none-match", tag)], None).await;
    let any = caller.send(Method::GET, &path, &[("if-none-match", "*")], None).await;
    let head = caller.send(Method::HEAD, &path, &[("if-none-match", tag)], None).await;
    [plain, any, head]
}

/// Reads a recipe and proves that its tag answers 304 while the door is open. Answers the tag.
async fn read(caller: &Caller, revision: &str) -> String {
    let tag = caller.get(&recipe_of(revision)).await.expect(200).etag();
    for answer in ask_again(caller, revision, &tag).await {
        let answer = answer.expect(304);
        assert_eq!(answer.text, "");
        assert_eq!(answer.etag(), tag);
    }
    tag
}

/// Proves that the door is shut: with this status, without the tag, without a word of the recipe.
async fn shut(caller: &Caller, revision: &str, tag: &str, status: u16) {
    for answer in ask_again(caller, revision, tag).await {
        let answer = answer.expect(status);
        assert_eq!(answer.etag(), "");
        assert!(
            !answer.text.contains("Melt the wax") && !answer.text.contains("Strain and press"),
            "{}",
            answer.text
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formerly_valid_tag_is_refused_once_what_it_named_was_superseded() {
    let house = House::start().await;
    let tag = read(&house.noor, &house.oil).await;
    let formula =
        house.ilse.get(&format!("/v1/revisions/{}", house.oil)).await.expect(200).text_at("/formula");
    let next = house
        .ilse
        .post(&format!("/v1/formulas/{formula}/revisions"), json!({ "content": infused_oil() }))
        .await
        .expect(201);
    let proposal = format!("/v1/revisions/{}/proposal", next.id());
    house.ilse.post_bare(&proposal, &[("if-match", &next.etag())]).await.expect(200);
    house.marek.acknowledge(&next.id()).await.expect(201);
    read(&house.noor, &house.oil).await;
    let approve = json!({ "decision": "approve" });
    house.marek.post(&format!("/v1/revisions/{}/decision", next.id()), approve).await.expect(200);
    shut(&house.noor, &house.oil, &tag, 403).await;
    house.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formerly_valid_tag_is_refused_once_something_nested_was_withdrawn() {
    let house = House::start().await;
    let (oil, cream) = (read(&house.noor, &house.oil).await, read(&house.noor, &house.cream).await);
    let reason = json!({ "reason": "It went rancid." });
    house.marek.post(&format!("/v1/revisions/{}/withdrawal", house.oil), reason).await.expect(200);
    shut(&house.noor, &house.oil, &oil, 403).await;
    shut(&house.noor, &house.cream, &cream, 403).await;
    house.noor.acknowledge(&house.cream).await.problem(409, "wrong-state");
    house.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formerly_valid_tag_is_refused_once_the_membership_ended_even_when_it_begins_anew() {
    let house = House::start().await;
    let tag = read(&house.noor, &house.cream).await;
    let member = format!("/v1/libraries/{}/members/{}", house.library, house.noor.id);
    house.ilse.delete(&member).await.expect(204);
    shut(&house.noor, &house.cream, &tag, 404).await;
    house.ilse.put_bare(&member).await.expect(204);
    shut(&house.noor, &house.cream, &tag, 403).await;
    house.noor.acknowledge(&house.cream).await.expect(201);
    read(&house.noor, &house.cream).await;
    house.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formerly_valid_tag_is_refused_once_the_acknowledgement_ended_by_the_clock() {
    let house = House::start().await;
    let printer = ["formulas:read", "recipes:read", "acknowledge"];
    let printer = house.clinic.api_client(&house.ilse, &printer, &[&house.library]).await;
    printer.acknowledge(&house.cream).await.expect(201);
    let tag = read(&house.noor, &house.cream).await;
    assert_eq!(read(&printer, &house.cream).await, tag);
    let clock = house.clinic.service.clinic.clock();
    clock.advance(Duration::days(180) - Duration::seconds(1));
    let noor = sign_in(&house.clinic.nobody, "noor.haddad").await;
    assert_eq!(read(&noor, &house.cream).await, tag);
    clock.advance(Duration::seconds(1));
    shut(&noor, &house.cream, &tag, 403).await;
    shut(&printer, &house.cream, &tag, 403).await;
    house.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formerly_valid_tag_is_refused_once_the_key_was_revoked_or_the_session_ended() {
    let house = House::start().await;
    let printer = ["formulas:read", "recipes:read", "acknowledge"];
    let printer = house.clinic.api_client(&house.ilse, &printer, &[&house.library]).await;
    printer.acknowledge(&house.cream).await.expect(201);
    let tag = read(&printer, &house.cream).await;
    house.ilse.delete(&format!("/v1/api-clients/{}", printer.id)).await.expect(200);
    shut(&printer, &house.cream, &tag, 401).await;
    assert_eq!(read(&house.noor, &house.cream).await, tag);
    house.noor.delete("/v1/sessions/current").await.expect(204);
    shut(&house.noor, &house.cream, &tag, 401).await;
    house.clinic.stop().await;
}

/// A batch of the cream with something weighed.
async fn batch_of(maker: &Caller, revision: &str, key: &str) -> Answer {
    maker.post_with_key("/v1/batches", key, json!({ "revision": revision })).await.expect(201)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_repeated_request_does_not_show_the_recipe_again_once_the_door_has_closed() {
    let house = House::start().await;
    let made = batch_of(&house.noor, &house.cream, "batch-1").await;
    assert!(made.text.contains("Melt the wax"));
    let batch = format!("/v1/batches/{}", made.id());
    let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "80 g", "lot": "EW-1" });
    house.noor.post_with_key(&format!("{batch}/entries"), "entry-1", weighed.clone()).await.expect(201);
    house.noor.post_with_key(&format!("{batch}/submissions"), "submission-1", json!({})).await.expect(201);
    let review = json!({ "verdict": "return", "summary": "Please finish it." });
    let reviews = format!("{batch}/reviews");
    let reviewed = house.marek.post_with_key(&reviews, "review-1", review.clone()).await.expect(201);
    assert!(reviewed.text.contains("Melt the wax"));

    // The reviewer's acknowledgement ends by the clock; the maker's record stays the maker's while a member.
    house.clinic.service.clinic.clock().advance(Duration::days(180));
    let marek = sign_in(&house.clinic.nobody, "marek.dvorsky").await;
    let noor = sign_in(&house.clinic.nobody, "noor.haddad").await;
    let replayed = marek.post_with_key(&reviews, "review-1", review).await.problem(403, "gate-closed");
    assert!(!replayed.text.contains("Melt the wax"));
    noor.get(&recipe_of(&house.cream)).await.problem(403, "gate-closed");
    assert_eq!(batch_of(&noor, &house.cream, "batch-1").await.id(), made.id());
    let another = json!({ "revision": house.cream });
    noor.post_with_key("/v1/batches", "batch-2", another.clone()).await.problem(403, "gate-closed");

    let administrator = sign_in(&house.clinic.nobody, "petra.hollweg").await;
    administrator.delete(&format!("/v1/libraries/{}/members/{}", house.library, noor.id)).await.expect(204);
    for (path, key, body) in [
        ("/v1/batches".to_owned(), "batch-1", another),
        (format!("{batch}/entries"), "entry-1", weighed),
        (format!("{batch}/submissions"), "submission-1", json!({})),
    ] {
        let replayed = noor.post_with_key(&path, key, body).await.problem(404, "not-found");
        assert!(!replayed.text.contains("Melt the wax"));
    }
    house.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_shows_its_maker_what_was_asked_for_and_not_what_that_is_made_of() {
    let house = House::start().await;
    let otto = house.clinic.person("otto.lang", "student").await;
    house.ilse.put_bare(&format!("/v1/libraries/{}/members/{}", house.library, otto.id)).await.expect(204);
    otto.acknowledge(&house.cream).await.expect(201);
    let composition = async |maker: &Caller| -> Value {
        let batch = maker.post("/v1/batches", json!({ "revision": house.cream })).await.expect(201).id();
        let weighed = json!({ "kind": "weighing", "line": "1.2", "quantity": "300 g", "lot": "CO-1" });
        let record = maker.entered(&format!("/v1/batches/{batch}/entries"), weighed).await;
        assert!(record.json["as_made"]["deviations"].is_array(), "{}", record.text);
        record.json["as_made"]["evaluation"].clone()
    };
    // Who has acknowledged the oil as well sees what the cream came to, leaf by leaf; who has not does not.
    assert!(composition(&house.noor).await["composition"].to_string().contains("olive oil"));
    assert_eq!(composition(&otto).await, Value::Null);
    otto.get(&format!("/v1/revisions/{}/evaluation", house.cream)).await.problem(403, "gate-closed");
    house.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_approved_that_is_made_from_something_withdrawn_at_any_depth() {
    let house = House::start().await;
    house.ilse.acknowledge(&house.cream).await.expect(201);
    let mut outer = cream();
    outer["title"] = json!("Cream of a cream");
    outer["phases"][0]["lines"][1]["formula"] = json!("Calendula cream");
    let outer = house.clinic.proposed(&house.ilse, &house.library, outer).await;
    house.marek.acknowledge(&outer).await.expect(201);
    let reason = json!({ "reason": "It went rancid." });
    house.ilse.post(&format!("/v1/revisions/{}/withdrawal", house.oil), reason).await.expect(200);
    house.marek.acknowledge(&outer).await.expect(201);
    let decision = format!("/v1/revisions/{outer}/decision");
    house.marek.post(&decision, json!({ "decision": "approve" })).await.problem(409, "conflict");
    let back = json!({ "decision": "return", "comment": "The oil was withdrawn." });
    house.marek.post(&decision, back).await.expect(200);
    house.clinic.stop().await;
}
