//! Deviations: the reason of a weighing outside its tolerance, what else went otherwise, and who authorised it.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::database;

use super::Bench;

/// Of the wax 100 g are asked for; the tolerance is 2 %.
fn wax(quantity: &str) -> Value {
    json!({ "kind": "weighing", "line": "1.1", "quantity": quantity, "lot": "L-1" })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_weighing_above_the_tolerance_asks_for_its_reason_and_is_not_written_without() {
    let bench = Bench::start().await;
    bench.write(wax("60 g")).await.expect(201);
    bench.write(wax("42 g")).await.expect(201);
    // 102 g are the most; a third portion takes the line above it.
    let refused = bench.write(wax("0.5 g")).await.fields(&["/deviation"]);
    let cure = refused.text_at("/errors/0/detail");
    assert!(
        cure.starts_with(
            "This weighing takes yellow beeswax (line 1.1) above its tolerance. Enter the reason"
        ),
        "{cure}"
    );
    assert_eq!(bench.record(&bench.room.noor).await["entries"].as_array().unwrap().len(), 2);
    let mut told = wax("0.5 g");
    told["deviation"] = json!(" ");
    bench.write(told.clone()).await.fields(&["/deviation"]);
    told["deviation"] = json!("A flake fell in and had melted.");
    let written = bench.write(told).await.expect(201);
    assert_eq!(written.json["entry"]["deviation"], json!("A flake fell in and had melted."));
    // Below the tolerance a line may be weighed on, so the reason is asked for by a finding.
    let oil = json!({ "kind": "weighing", "line": "1.2", "quantity": "300 g", "lot": "L-2" });
    bench.write(oil).await.expect(201);
    assert_eq!(
        bench.found("deviation").await,
        [
            "olive oil (line 1.2) is outside its tolerance, and no reason is recorded. Its maker gives it by a correction.",
            "The deviation of entry 3 awaits authorisation by a second person."
        ]
    );
    for (kind, more) in [("observation", json!({ "note": "Pale." })), ("step_done", json!({ "step": 1 }))] {
        let mut entry = more;
        entry["kind"] = json!(kind);
        entry["deviation"] = json!("None.");
        bench.write(entry).await.fields(&["/deviation"]);
    }
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_weighing_noted_without_a_network_is_kept_and_its_reason_asked_for_until_it_is_given() {
    let bench = Bench::start().await;
    let mut late = wax("110 g");
    late["reason_later"] = json!(true);
    let written = bench.write(late).await.expect(201).text_at("/entry/id");
    let missing = "yellow beeswax (line 1.1) is outside its tolerance, and no reason is recorded. Its maker gives it by a \
                   correction.";
    assert_eq!(bench.found("deviation").await, [missing]);
    let mut reason = wax("110 g");
    reason["corrects"] = json!(written);
    reason["reason"] = json!("The reason was not noted.");
    reason["deviation"] = json!("The spoon slipped.");
    bench.write(reason).await.expect(201);
    assert_eq!(
        bench.found("deviation").await,
        ["The deviation of entry 2 awaits authorisation by a second person."]
    );
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_deviation_is_authorised_by_an_instructor_who_did_not_make_it() {
    let bench = Bench::start().await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    let revision = bench.record(noor).await["revision"].as_str().unwrap().to_owned();
    ilse.acknowledge(&revision).await.expect(201);
    let path = bench.path("authorisations");
    bench.write(json!({ "kind": "deviation" })).await.fields(&["/note"]);
    let other =
        json!({ "kind": "deviation", "step": 1, "note": "The water bath failed; a second one was used." });
    let other = bench.write(other).await.expect(201).text_at("/entry/id");
    let seen = json!({ "kind": "observation", "note": "Clear." });
    let seen = bench.write(seen).await.expect(201).text_at("/entry/id");
    let mut over = wax("103 g");
    over["deviation"] = json!("The spoon slipped.");
    let over = bench.write(over).await.expect(201).text_at("/entry/id");
    assert_eq!(bench.found("deviation").await.len(), 2);
    let of = |entry: &str| json!({ "entry": entry });
    noor.post(&path, of(&other)).await.problem(403, "forbidden");
    ilse.post(&path, of(&seen)).await.fields(&["/entry"]);
    ilse.post(&path, of(&bench.batch)).await.fields(&["/entry"]);
    let given = ilse.post(&path, of(&other)).await.expect(201);
    assert_eq!((&given.json["by_name"], given.json.get("note")), (&json!("ilse.brandt"), None));
    ilse.post(&path, of(&other)).await.problem(409, "conflict");
    ilse.post(&path, of(&over)).await.expect(201);
    assert_eq!(bench.found("deviation").await, Vec::<String>::new());
    let record = bench.record(noor).await;
    assert_eq!(record["entries"][0]["authorised"], given.json);
    // Another weight in its place is another deviation.
    let mut more = wax("104 g");
    more["corrects"] = json!(over);
    more["reason"] = json!("Misread.");
    more["deviation"] = json!("The spoon slipped.");
    bench.write(more).await.expect(201);
    assert_eq!(
        bench.found("deviation").await,
        ["The deviation of entry 4 awaits authorisation by a second person."]
    );
    ilse.post(&path, of(&over)).await.fields(&["/entry"]);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_lets_no_maker_authorise_and_nothing_be_authorised_that_is_no_deviation() {
    let bench = Bench::start().await;
    bench.write(json!({ "kind": "observation", "note": "Clear." })).await.expect(201);
    bench.write(json!({ "kind": "deviation", "note": "Another bath." })).await.expect(201);
    let mut owner = database::owner(&bench.room.clinic.database).await;
    let authorise = |kind: &str, by: &str| {
        format!(
            "INSERT INTO batch_authorisation SELECT e.id, e.batch_id, b.maker_id, {by}, false, e.at
             FROM batch_entry e JOIN batch b ON b.id = e.batch_id WHERE e.kind = '{kind}'"
        )
    };
    let ilse = "(SELECT id FROM person WHERE name = 'ilse.brandt')";
    for (wrong, constraint) in [
        (authorise("observation", ilse), "authorised_is_deviation"),
        (authorise("deviation", "b.maker_id"), "decided_by_another"),
    ] {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused}");
    }
    owner.batch_execute(&authorise("deviation", ilse)).await.unwrap();
    let refused = owner
        .batch_execute("UPDATE batch_entry SET deviation = 'x' WHERE kind = 'observation'")
        .await
        .unwrap_err();
    assert!(store::violates(&refused, "batch_entry_deviation"), "{refused}");
    owner.batch_execute("DELETE FROM batch_authorisation").await.unwrap();
    bench.stop().await;
}
