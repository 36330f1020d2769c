//! The order of steps, and holds that a second person releases.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::database;

use super::Bench;
use crate::stock::salve;

/// A salve with a hold, and a step that may be done in any order.
fn held() -> Value {
    let mut formula = salve();
    formula["method"] = json!([
        { "do": "Melt the wax in the oil", "temperature": "70 C at most" },
        { "do": "Stir until a trace stays on the spoon", "hold": true },
        { "do": "Pour it into jars", "temperature": "50 C at least" },
        { "do": "Write the labels", "any_order": true }
    ]);
    formula
}

fn done(step: u32) -> Value {
    json!({ "kind": "step_done", "step": step })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_step_is_finished_after_those_before_it_unless_the_method_allows() {
    let bench = Bench::with(held()).await;
    let refused = bench.write(done(2)).await.fields(&["/step"]);
    assert!(
        refused
            .text_at("/errors/0/detail")
            .starts_with("Step 1 is not recorded as done. Finish it before step 2"),
        "{}",
        refused.text
    );
    // A temperature may be read early, but not past a hold; nothing passes a hold, whatever its order.
    bench.write(json!({ "kind": "temperature", "step": 2, "quantity": "65 C" })).await.expect(201);
    let refused = bench.write(done(4)).await.fields(&["/step"]);
    assert!(refused.text_at("/errors/0/detail").starts_with("Step 2 is a hold."), "{}", refused.text);
    let first = bench.write(done(1)).await.expect(201).text_at("/entry/id");
    // A correction that stays with its step is as good as what it corrects; one that moves on is not.
    let mut again = done(1);
    again["corrects"] = json!(first);
    again["reason"] = json!("Written a minute too early.");
    let again_id = bench.write(again.clone()).await.expect(201).text_at("/entry/id");
    again["step"] = json!(2);
    again["corrects"] = json!(again_id);
    bench.write(again).await.fields(&["/step"]);
    bench.write(done(2)).await.expect(201);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_step_in_any_order_is_finished_before_those_above_it() {
    let mut free = held();
    free["method"][1]["hold"] = json!(false);
    let bench = Bench::with(free).await;
    bench.write(done(4)).await.expect(201);
    bench.write(done(3)).await.fields(&["/step"]);
    assert_eq!(bench.record(&bench.room.noor).await["recipe"]["method"][3]["any_order"], json!(true));
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rescue_is_done_only_where_something_goes_wrong_and_nothing_waits_for_it() {
    let mut formula = held();
    formula["method"][1] = json!({ "do": "If it is grainy, melt it again", "temperature": "70 C at most", "hold": true,
        "rescue": true });
    let bench = Bench::with(formula).await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    for step in [1, 3, 4] {
        bench.write(done(step)).await.expect(201);
    }
    let of_step = async |step: u32| {
        let record = bench.record(noor).await;
        let findings = record["findings"].as_array().unwrap().iter();
        findings.filter(|one| one["step"] == json!(step)).map(|one| one["kind"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(of_step(2).await, Vec::<Value>::new(), "a record without its rescue is whole");
    // Once it is done, it is a step as others are: its temperature is asked for, and its hold waits.
    bench.write(done(2)).await.expect(201);
    assert_eq!(of_step(2).await, [json!("missing"), json!("hold")]);
    let heat = json!({ "kind": "temperature", "step": 3, "quantity": "55 C" });
    bench.write(heat.clone()).await.fields(&["/step"]);
    let revision = bench.record(noor).await["revision"].as_str().unwrap().to_owned();
    ilse.acknowledge(&revision).await.expect(201);
    ilse.post(&bench.path("hold-releases"), json!({ "step": 2 })).await.expect(201);
    bench.write(heat).await.expect(201);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hold_waits_for_an_instructor_who_did_not_make_it() {
    let bench = Bench::with(held()).await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    let path = bench.path("hold-releases");
    let step = |step: u32| json!({ "step": step });
    bench.write(done(1)).await.expect(201);
    let revision = bench.record(noor).await["revision"].as_str().unwrap().to_owned();
    ilse.post(&path, step(2)).await.problem(403, "gate-closed");
    ilse.acknowledge(&revision).await.expect(201);
    let early = ilse.post(&path, step(2)).await.fields(&["/step"]);
    assert!(
        early.text_at("/errors/0/detail").starts_with("Step 2 is not recorded as done."),
        "{}",
        early.text
    );
    let other = ilse.post(&path, step(1)).await.fields(&["/step"]);
    assert!(other.text_at("/errors/0/detail").ends_with("are the steps 2."), "{}", other.text);
    bench.write(done(2)).await.expect(201);
    assert_eq!(bench.found("hold").await, ["Step 2 is a hold and awaits release by a second person."]);
    noor.post(&path, step(2)).await.problem(403, "forbidden");
    for entry in [done(3), json!({ "kind": "temperature", "step": 3, "quantity": "55 C" })] {
        let refused = bench.write(entry).await.fields(&["/step"]);
        assert!(refused.text_at("/errors/0/detail").starts_with("Step 2 is a hold."), "{}", refused.text);
    }
    let released = ilse.post(&path, step(2)).await.expect(201);
    assert_eq!(
        (&released.json["step"], &released.json["by_name"], released.json.get("note")),
        (&json!(2), &json!("ilse.brandt"), None)
    );
    ilse.post(&path, step(2)).await.problem(409, "conflict");
    bench.write(json!({ "kind": "temperature", "step": 3, "quantity": "55 C" })).await.expect(201);
    bench.write(done(3)).await.expect(201);
    assert_eq!(bench.found("hold").await, Vec::<String>::new());
    assert_eq!(bench.record(noor).await["hold_releases"], json!([released.json]));
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_lets_no_step_pass_a_hold_and_no_maker_release_one() {
    let bench = Bench::with(held()).await;
    bench.write(done(1)).await.expect(201);
    let mut owner = database::owner(&bench.room.clinic.database).await;
    let entry = |step: u32| {
        format!(
            "INSERT INTO batch_entry (id, batch_id, number, kind, step, by_id, at, before_acknowledged)
             SELECT gen_random_uuid(), batch_id, 90, 'step_done', {step}, by_id, at, false FROM batch_entry LIMIT 1"
        )
    };
    let release = |step: u32, by: &str, own: bool| {
        format!(
            "INSERT INTO batch_hold_release SELECT gen_random_uuid(), id, maker_id, {step}, {by}, {own}, opened_at FROM batch"
        )
    };
    let another = "(SELECT id FROM person WHERE name = 'ilse.brandt')";
    let refused = async |owner: &mut diesel_async::AsyncPgConnection, wrong: String, constraint: &str| {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused}");
    };
    refused(&mut owner, entry(3), "step_goes_on").await;
    refused(&mut owner, release(2, another, false), "hold_is_done").await;
    bench.write(done(2)).await.expect(201);
    refused(&mut owner, entry(3), "step_goes_on").await;
    refused(&mut owner, release(1, another, false), "hold_is_done").await;
    refused(&mut owner, release(2, "maker_id", false), "decided_by_another").await;
    bench.stop().await;
}
