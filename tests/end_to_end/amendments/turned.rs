//! A grant becomes one to make in several ways. None of them passes by the countersignature.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::TeachingClinic;
use stillroom_tests::{Answer, Caller, database};

use super::countersigned::acknowledge_for;
use super::{amend, confirm, material, recipe};
use crate::formulas::infused_oil;

/// Opens a batch of a revision.
async fn make(caller: &Caller, revision: &str) -> Answer {
    caller.post("/v1/batches", json!({ "revision": revision })).await
}

async fn sign(caller: &Caller, acknowledgement: &str, key: &str) -> Answer {
    let path = format!("/v1/acknowledgements/{acknowledgement}/countersignature");
    caller.post_bare(&path, &[("idempotency-key", key)]).await
}

async fn approve(caller: &Caller, revision: &str) {
    let decision = json!({ "decision": "approve" });
    caller.post(&format!("/v1/revisions/{revision}/decision"), decision).await.expect(200);
}

/// Replaces the audiences for which the policy asks for a countersignature.
async fn countersigned_for(clinic: &TeachingClinic, audiences: Value) {
    let administrator = &clinic.clinic.administrator;
    let policy = administrator.get("/v1/policy").await.expect(200);
    let mut rules = policy.json["content"].clone();
    rules["countersign_audiences"] = audiences;
    administrator.put("/v1/policy", &policy.etag(), rules).await.expect(200);
}

async fn awaited(caller: &Caller) -> Vec<Value> {
    let page = caller.get("/v1/countersignatures/awaited").await.expect(200);
    page.json["items"].as_array().unwrap().clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn an_approval_leaves_an_unsigned_grant_for_a_pregnant_person_to_decide() {
    let here = TeachingClinic::start().await;
    let oil = here.clinic.proposed(&here.ilse, &here.library, infused_oil()).await;
    let given = acknowledge_for(&here.ilse, &oil, &["pregnant"]).await.expect(201);
    assert_eq!(given.json["purpose"], "decide");
    assert_eq!(given.json["needs_countersignature"], true);
    // Whoever decides is shown the content at once. Nobody can sign what may not be made yet.
    assert_eq!(given.json["open"], true);
    recipe(&here.ilse, &oil).await.expect(200);
    here.marek.acknowledge(&oil).await.expect(201);
    assert_eq!(awaited(&here.marek).await, Vec::<Value>::new());
    sign(&here.marek, &given.id(), "early").await.problem(409, "wrong-state");

    approve(&here.marek, &oil).await;
    recipe(&here.ilse, &oil).await.expect(200);
    let refused = make(&here.ilse, &oil).await.problem(409, "wrong-state").text_at("/detail");
    assert!(refused.contains("awaits an instructor's countersignature"), "{refused}");
    // The approver acknowledged for nobody in particular, and may make it.
    make(&here.marek, &oil).await.expect(201);
    assert_eq!(awaited(&here.marek).await[0]["id"], given.id().as_str());
    sign(&here.ilse, &given.id(), "own").await.problem(403, "forbidden");
    sign(&here.marek, &given.id(), "signed").await.expect(201);
    make(&here.ilse, &oil).await.expect(201);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_approval_asks_for_the_countersignature_that_the_policy_of_its_day_asks_for() {
    let here = TeachingClinic::start().await;
    countersigned_for(&here, json!([])).await;
    let oil = here.clinic.proposed(&here.ilse, &here.library, infused_oil()).await;
    let given = acknowledge_for(&here.ilse, &oil, &["breast-feeding"]).await.expect(201);
    assert_eq!(given.json["needs_countersignature"], false);
    countersigned_for(&here, json!(["breast-feeding"])).await;
    here.marek.acknowledge(&oil).await.expect(201);
    approve(&here.marek, &oil).await;
    make(&here.ilse, &oil).await.problem(409, "wrong-state");
    let again = acknowledge_for(&here.ilse, &oil, &["breast-feeding"]).await.expect(201);
    assert_eq!(again.json["needs_countersignature"], true);
    make(&here.ilse, &oil).await.problem(403, "gate-closed");
    sign(&here.marek, &again.id(), "signed").await.expect(201);
    make(&here.ilse, &oil).await.expect(201);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_policy_that_names_a_further_audience_ends_unsigned_grants_for_it() {
    let here = TeachingClinic::start().await;
    countersigned_for(&here, json!(["under:3y"])).await;
    let oil = here.approved(infused_oil()).await;
    here.ilse.acknowledge(&oil).await.expect(201);
    let tomas = here.clinic.person("tomas.lind", "student").await;
    here.ilse.put_bare(&format!("/v1/libraries/{}/members/{}", here.library, tomas.id)).await.expect(204);
    acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201);
    let signed = acknowledge_for(&tomas, &oil, &["age:2"]).await.expect(201);
    sign(&here.marek, &signed.id(), "signed").await.expect(201);
    for caller in [&here.noor, &tomas] {
        make(caller, &oil).await.expect(201);
    }
    countersigned_for(&here, json!(["under:3y", "pregnant"])).await;
    make(&here.noor, &oil).await.problem(403, "gate-closed");
    // One that was signed stays, and so does one for nobody in particular.
    make(&tomas, &oil).await.expect(201);
    make(&here.ilse, &oil).await.expect(201);
    let again = acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201);
    assert_eq!(again.json["needs_countersignature"], true);
    here.stop().await;
}

/// As left behind by a version that let the approval turn such grants: the policy names the audience, nobody was asked.
#[tokio::test(flavor = "multi_thread")]
async fn migrating_ends_unsigned_grants_that_an_earlier_version_opened() {
    let here = TeachingClinic::start().await;
    countersigned_for(&here, json!([])).await;
    let oil = here.approved(infused_oil()).await;
    acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201);
    here.ilse.acknowledge(&oil).await.expect(201);
    let mut owner = database::owner(&here.clinic.database).await;
    let named = "INSERT INTO policy SELECT (jsonb_populate_record(p, jsonb_build_object(
                     'version', version + 1, 'countersign_audiences', '[\"pregnant\"]'::jsonb))).*
                 FROM policy p ORDER BY version DESC LIMIT 1";
    owner.batch_execute(named).await.unwrap();
    drop(owner);
    recipe(&here.noor, &oil).await.expect(200);
    server::migrate::migrate(&database::pool(&here.clinic.database), &here.clinic.database).await.unwrap();
    recipe(&here.noor, &oil).await.problem(403, "gate-closed");
    recipe(&here.ilse, &oil).await.expect(200);
    here.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_api_client_gains_no_unsigned_grant_by_an_approval() {
    let here = TeachingClinic::start().await;
    let scopes = ["formulas:read", "recipes:read"];
    let printer = here.clinic.api_client(&here.ilse, &scopes, &[&here.library]).await;
    let oil = here.clinic.proposed(&here.ilse, &here.library, infused_oil()).await;
    let set = here.ilse.get(&format!("/v1/revisions/{oil}/cautions")).await.expect(200);
    let contraindications: Vec<_> = set.json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|it| it["level"] == "contraindication")
        .map(|it| it["key"].clone())
        .collect();
    let body = json!({
        "caution_set": set.json["digest"], "contraindications": contraindications,
        "meant_for": ["pregnant"], "for_api_client": printer.id,
    });
    let given = here.ilse.post(&format!("/v1/revisions/{oil}/acknowledgements"), body).await.expect(201);
    assert_eq!(given.json["needs_countersignature"], true);
    here.marek.acknowledge(&oil).await.expect(201);
    approve(&here.marek, &oil).await;
    recipe(&printer, &oil).await.problem(403, "gate-closed");
    // The person who answers for the client gave it, and may not sign it.
    sign(&here.ilse, &given.id(), "own").await.problem(403, "forbidden");
    sign(&here.marek, &given.id(), "signed").await.expect(201);
    recipe(&printer, &oil).await.expect(200);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_grant_to_decide_stays_one_after_withholding_membership_and_role_come_back() {
    let here = TeachingClinic::start().await;
    let administrator = &here.clinic.administrator;
    let oil = here.approved(infused_oil()).await;
    let flower = material(&here.ilse, "dried calendula flower").await;
    let stop = json!({ "add_caution": {
        "on": { "material": flower }, "level": "stop", "text": "Recalled by its grower.", "audiences": [] } });
    amend(&here.marek, stop).await.expect(201);
    // Withheld: it can be acknowledged to decide only, and stays so when it may be made again.
    let given = acknowledge_for(&here.ilse, &oil, &["pregnant"]).await.expect(201);
    assert_eq!((&given.json["purpose"], &given.json["open"]), (&json!("decide"), &json!(true)));
    let set = here.ilse.get(&format!("/v1/revisions/{oil}/cautions")).await.expect(200);
    let stopped = set.json["cautions"].as_array().unwrap().iter().find(|it| it["level"] == "stop").unwrap();
    let lower = amend(&here.ilse, json!({ "change_caution": { "key": stopped["key"] } })).await.expect(201);
    confirm(&here.marek, &lower.id()).await.expect(200);
    let reason = json!({ "reason": "The recall was another lot." });
    here.marek.post(&format!("/v1/revisions/{oil}/reinstatement"), reason).await.expect(200);
    make(&here.ilse, &oil).await.problem(403, "gate-closed");

    let again = acknowledge_for(&here.ilse, &oil, &["pregnant"]).await.expect(201);
    here.marek.acknowledge(&oil).await.expect(201);
    sign(&here.marek, &again.id(), "signed").await.expect(201);
    make(&here.ilse, &oil).await.expect(201);
    // Gone and back: neither the grant nor the signature comes back.
    here.clinic.service.clinic.clock().advance(chrono::Duration::minutes(1));
    let member = format!("/v1/libraries/{}/members/{}", here.library, here.ilse.id);
    administrator.delete(&member).await.expect(204);
    administrator.put_bare(&member).await.expect(204);
    make(&here.ilse, &oil).await.problem(403, "gate-closed");

    // Proposed, acknowledged to decide, no instructor for a while, an instructor again, approved: still nothing to make.
    let mut content = infused_oil();
    content["title"] = json!("Second infused oil");
    let second = here.clinic.proposed(&here.marek, &here.library, content).await;
    acknowledge_for(&here.ilse, &second, &["pregnant"]).await.expect(201);
    for role in ["student", "instructor"] {
        let path = format!("/v1/people/{}", here.ilse.id);
        let person = administrator.get(&path).await.expect(200);
        administrator.patch(&path, &person.etag(), json!({ "role": role })).await.expect(200);
    }
    let ilse = stillroom_tests::clinic::sign_in(&here.clinic.nobody, "ilse.brandt").await;
    let waltraud = here.clinic.person("waltraud.kern", "instructor").await;
    administrator
        .put_bare(&format!("/v1/libraries/{}/members/{}", here.library, waltraud.id))
        .await
        .expect(204);
    waltraud.acknowledge(&second).await.expect(201);
    approve(&waltraud, &second).await;
    make(&ilse, &second).await.problem(403, "gate-closed");
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_waits_for_the_countersignature_of_changed_cautions() {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    here.noor.acknowledge(&oil).await.expect(201);
    let batch = format!("/v1/batches/{}", make(&here.noor, &oil).await.expect(201).id());
    let flower = material(&here.ilse, "dried calendula flower").await;
    let more = json!({ "add_caution": {
        "on": { "material": flower }, "level": "contraindication", "text": "Not for her.",
        "audiences": ["pregnant"] } });
    amend(&here.marek, more).await.expect(201);
    let given = acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201);
    let done = json!({ "kind": "step_done", "step": 1 });
    here.noor.post(&format!("{batch}/entries"), done.clone()).await.problem(403, "gate-closed");
    here.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(409);
    let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "100 g", "lot": "A" });
    here.noor.post(&format!("{batch}/entries"), weighed).await.expect(201);
    here.noor.post(&format!("{batch}/submissions"), json!({})).await.problem(403, "gate-closed");
    here.ilse.acknowledge(&oil).await.expect(201);
    sign(&here.ilse, &given.id(), "signed").await.expect(201);
    here.noor.post(&format!("{batch}/entries"), done).await.expect(201);
    here.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    here.stop().await;
}

/// What the code might get wrong, Postgres refuses.
#[tokio::test(flavor = "multi_thread")]
async fn the_database_refuses_an_unsigned_grant_to_make() {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    let waiting = acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201).id();
    let unasked = here.ilse.acknowledge(&oil).await.expect(201).id();
    let second = here.clinic.proposed(&here.ilse, &here.library, {
        let mut content = infused_oil();
        content["title"] = json!("Second infused oil");
        content
    });
    let second = second.await;
    let decides = acknowledge_for(&here.marek, &second, &["pregnant"]).await.expect(201).id();
    let mut owner = database::owner(&here.clinic.database).await;
    let granted = |holder: &str, acknowledgement: &str| {
        format!(
            "INSERT INTO release_grant (holder_id, revision_id, digest, caution_digest, purpose, acknowledgement_id,
                 valid_until, pulled, set_number)
             SELECT '{holder}', revision_id, revision_digest, caution_digest, 'make', id, valid_until, false, set_number
             FROM acknowledgement WHERE id = '{acknowledgement}'"
        )
    };
    let signed = |by: &str, acknowledgement: &str| {
        format!(
            "INSERT INTO countersignature (acknowledgement_id, by_id, at)
             SELECT id, '{by}', at FROM acknowledgement WHERE id = '{acknowledgement}'"
        )
    };
    for (statement, refused) in [
        (granted(&here.noor.id, &waiting), "asks for a countersignature and has none"),
        (
            format!("UPDATE release_grant SET purpose = 'make' WHERE acknowledgement_id = '{decides}'"),
            "asks for a countersignature and has none",
        ),
        // A grant is for whoever acknowledged.
        (granted(&here.noor.id, &unasked), "is of another holder, revision or purpose"),
        // Nobody signs their own, nor what asks for no signature.
        (signed(&here.noor.id, &waiting), "is countersigned by whoever gave it"),
        (signed(&here.marek.id, &unasked), "asks for no countersignature"),
    ] {
        let error = owner.batch_execute(&statement).await.expect_err(&statement);
        assert!(error.to_string().contains(refused), "{statement}: {error}");
    }
    owner.batch_execute(&signed(&here.marek.id, &waiting)).await.unwrap();
    owner.batch_execute(&granted(&here.noor.id, &waiting)).await.unwrap();
    drop(owner);
    here.clinic.stop().await;
}
