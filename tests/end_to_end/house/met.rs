//! What the owner of the database changed is met while it is read: nothing of it is shown. And a statement that was kept
//! outside speaks for what was there when it was signed.

use clinic::journal;
use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use serde_json::json;
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Caller, TeachingClinic, database};

use crate::formulas::infused_oil;

/// Damages a row, reads an address, and puts the row back.
async fn read_damaged(
    owner: &mut AsyncPgConnection,
    caller: &Caller,
    path: &str,
    damage: &str,
    repair: &str,
) {
    owner.batch_execute(damage).await.unwrap_or_else(|error| panic!("{damage}: {error}"));
    let answer = caller.get(path).await.problem(500, "internal");
    for secret in ["calendula", " g", "100"] {
        assert!(!answer.json["detail"].as_str().unwrap().contains(secret), "{}", answer.text);
    }
    owner.batch_execute(repair).await.unwrap_or_else(|error| panic!("{repair}: {error}"));
    caller.get(path).await.expect(200);
}

#[tokio::test(flavor = "multi_thread")]
async fn changed_content_closes_the_way_when_it_is_read() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let request = json!({ "revision": revision, "make_for": { "mass": "100 g" } });
    let batch = room.noor.post("/v1/batches", request).await.expect(201).text_at("/id");
    let mut owner = database::owner(&room.clinic.database).await;
    owner
        .batch_execute(
            "ALTER TABLE revision_content DISABLE TRIGGER content_stays_frozen;
             CREATE TABLE kept_content AS TABLE revision_content;
             CREATE TABLE kept_recipe AS TABLE batch_recipe;
             CREATE TABLE kept_facts AS TABLE material_version",
        )
        .await
        .unwrap();

    // The revision is in memory since its batch was opened, so a further one is read from the database.
    let mut oil = infused_oil();
    oil["title"] = "Infused oil of marigold".into();
    let other = room.approved(oil).await;
    room.noor.acknowledge(&other).await.expect(201);
    owner.batch_execute("INSERT INTO kept_content SELECT * FROM revision_content WHERE revision_id NOT IN (SELECT revision_id FROM kept_content)").await.unwrap();
    let recipe = format!("/v1/revisions/{other}/recipe");
    let facts = "UPDATE material_version SET facts = facts || '{\"name\": \"tallow\"}'";
    let facts_back = "UPDATE material_version v SET facts = k.facts FROM kept_facts k
                      WHERE (v.material_id, v.version) = (k.material_id, k.version)";
    owner.batch_execute(facts).await.unwrap();
    room.noor.get(&recipe).await.problem(500, "internal");
    owner.batch_execute(facts_back).await.unwrap();
    let content = format!(
        "UPDATE revision_content SET content = replace(content, '1', '2') WHERE revision_id = '{other}'"
    );
    let content_back = "UPDATE revision_content c SET content = k.content FROM kept_content k
                        WHERE c.revision_id = k.revision_id";
    read_damaged(&mut owner, &room.noor, &recipe, &content, content_back).await;

    let record = format!("/v1/batches/{batch}");
    let asked = "UPDATE batch_recipe SET recipe = replace(recipe, '100', '200')";
    let asked_back =
        "UPDATE batch_recipe r SET recipe = k.recipe FROM kept_recipe k WHERE r.batch_id = k.batch_id";
    read_damaged(&mut owner, &room.noor, &record, asked, asked_back).await;
    drop(owner);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_statement_kept_outside_proves_that_nothing_before_it_was_changed() {
    let room = TeachingClinic::start().await;
    let clinic = &room.clinic.service.clinic;
    room.approved(infused_oil()).await;
    let key = server::keys::parse(stillroom_tests::clinic::signing_key()).unwrap();
    let statement = journal::state(clinic, &key).await.unwrap();
    assert!(statement.events > 10, "{statement:?}");

    // The clinic goes on, and what was stated still holds.
    let mut oil = infused_oil();
    oil["title"] = "Infused oil of yarrow".into();
    room.approved(oil).await;
    let verdict = journal::verify_statement(clinic, &statement).await.unwrap();
    assert!(verdict.holds(), "{verdict}");

    // Whoever owns the database can write the whole journal anew so that it holds in itself, but not so that it has the
    // root that was signed. Here the last two events that were stated change places in the order.
    let mut owner = database::owner(&room.clinic.database).await;
    let (last, before) = (statement.events, statement.events - 1);
    owner
        .batch_execute(&format!(
            "CREATE TABLE places AS SELECT * FROM event_order WHERE position IN ({before}, {last});
             DELETE FROM event_order WHERE position IN ({before}, {last});
             INSERT INTO event_order SELECT {before} + {last} - position, event_id FROM places"
        ))
        .await
        .unwrap();
    let verdict = journal::verify_statement(clinic, &statement).await.unwrap();
    assert!(!verdict.holds(), "{verdict}");
    owner
        .batch_execute(&format!(
            "DELETE FROM event_order WHERE position IN ({before}, {last});
             INSERT INTO event_order SELECT * FROM places; DROP TABLE places"
        ))
        .await
        .unwrap();

    // Neither is a statement believed that somebody else changed.
    let mut forged = statement.clone();
    forged.events -= 1;
    assert!(!journal::verify_statement(clinic, &forged).await.unwrap().holds());
    assert!(journal::verify_statement(clinic, &statement).await.unwrap().holds());
    drop(owner);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn text_is_stored_composed_and_passwords_are_taken_as_typed() {
    let room = TeachingClinic::start().await;
    let (composed, decomposed) = ("Cr\u{e8}me de souci", "Cre\u{300}me de souci");
    let made = room.ilse.post("/v1/libraries", json!({ "name": decomposed })).await.expect(201);
    assert_eq!(made.json["name"], composed);

    let change = json!({ "current": PASSWORD, "new": "souci et cre\u{300}me tie\u{300}de" });
    let nobody = &room.clinic.nobody;
    room.noor.put("/v1/me/password", "*", change).await.expect(204);
    let attempt = |password: &str| json!({ "sign_in_name": "noor.haddad", "password": password });
    nobody.post("/v1/sessions", attempt("souci et cr\u{e8}me ti\u{e8}de")).await.problem(401, "not-known");
    nobody.post("/v1/sessions", attempt("souci et cre\u{300}me tie\u{300}de")).await.expect(201);
    room.stop().await;
}
