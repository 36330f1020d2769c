//! Work that takes days or weeks: pauses, and days on which a batch is looked at.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Answer, Caller, database};

use super::Bench;
use crate::stock::salve;

/// A salve whose first step lasts.
fn macerated(step: &str) -> Value {
    let mut formula = salve();
    formula["method"] = json!([{ "do": step }, { "do": "Strain it" }]);
    formula
}

fn done(step: u32) -> Value {
    json!({ "kind": "step_done", "step": step })
}

fn seen(what: &str) -> Value {
    json!({ "kind": "observation", "note": what })
}

/// The maker, so much later.
async fn later(bench: &Bench, time: Duration) -> Caller {
    bench.room.clinic.service.clinic.clock().advance(time);
    sign_in(&bench.room.clinic.nobody, "noor.haddad").await
}

async fn resume(bench: &Bench, by: &Caller) -> Answer {
    crate::teaching::act(by, &bench.path("resumptions")).await
}

async fn due(by: &Caller) -> Vec<Value> {
    by.get("/v1/long-work").await.expect(200).json["items"].as_array().unwrap().clone()
}

/// The sentences about steps that were done too fast, as their maker reads them.
async fn too_fast(bench: &Bench, by: &Caller) -> Vec<String> {
    let record = bench.record(by).await;
    let findings = record["findings"].as_array().unwrap().iter();
    let fast = findings.filter(|finding| finding["kind"] == "too_fast");
    fast.map(|finding| finding["sentence"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_paused_batch_accepts_what_is_seen_and_nothing_that_goes_on() {
    let bench = Bench::with(macerated("Keep it dark for two weeks")).await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    let pauses = bench.path("pauses");
    let fortnight = json!({ "why": "macerating", "until": "2026-03-16", "note": " By the window. " });
    let early = noor.post(&pauses, fortnight.clone()).await.problem(409, "wrong-state");
    assert!(early.text.contains("Write its first entry before it is paused."), "{}", early.text);
    let weighed = bench.weigh("1.1", "100 g").await.expect(201).text_at("/entry/id");
    noor.post(&pauses, json!({ "why": "drying", "until": "2026-03-01" })).await.fields(&["/until"]);
    noor.post(&pauses, json!({ "why": "drying", "until": "2027-03-04" })).await.fields(&["/until"]);
    noor.post(&pauses, json!({ "why": "interrupted", "until": "2026-03-02" })).await.fields(&["/note"]);
    resume(&bench, noor).await.problem(409, "wrong-state");

    let paused = noor.post(&pauses, fortnight.clone()).await.expect(201).json;
    assert_eq!((&paused["paused"], &paused["pauses"][0]["until"]), (&json!(true), &json!("2026-03-16")));
    noor.post(&pauses, fortnight).await.problem(409, "wrong-state");
    let refused = bench.weigh("1.2", "1000 g").await.problem(409, "wrong-state");
    assert!(
        refused.text.contains("This batch is paused until 2026-03-16 (macerating). Take it up again first."),
        "{}",
        refused.text
    );
    bench.write(done(1)).await.problem(409, "wrong-state");
    bench.write(json!({ "kind": "yield", "quantity": "900 g" })).await.problem(409, "wrong-state");
    let early = noor.post(&bench.path("submissions"), json!({})).await.problem(409, "wrong-state");
    assert!(early.text.contains("Take it up again before you submit its record."), "{}", early.text);
    bench.write(seen("Golden.")).await.expect(201);
    bench.write(json!({ "kind": "deviation", "note": "The shelf was warm." })).await.expect(201);
    let mended = json!({ "kind": "weighing", "line": "1.1", "quantity": "101 g", "lot": "L-1", "corrects": weighed,
        "reason": "Read wrongly." });
    bench.write(mended).await.expect(201);

    let record = bench.record(noor).await;
    let pause = &record["pauses"][0];
    assert_eq!(
        (&pause["why"], &pause["note"], &pause["by"], pause.get("resumed_at")),
        (&json!("macerating"), &json!("By the window."), &json!(noor.id), None)
    );
    // Whoever reads the record reads its pauses, and its maker alone ends them.
    ilse.acknowledge(record["revision"].as_str().unwrap()).await.expect(201);
    assert_eq!(ilse.get(&bench.path("long-work")).await.expect(200).json["paused"], true);
    resume(&bench, ilse).await.problem(403, "forbidden");
    bench.room.clinic.person("sven.olsen", "student").await;
    let sven = sign_in(&bench.room.clinic.nobody, "sven.olsen").await;
    sven.get(&bench.path("long-work")).await.expect(404);

    let resumed = resume(&bench, noor).await.expect(201).json;
    assert_eq!((&resumed["paused"], &resumed["pauses"][0]["resumed_by"]), (&json!(false), &json!(noor.id)));
    bench.weigh("1.2", "500 g").await.expect(201);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn time_counts_for_a_step_while_it_macerates_and_not_while_its_maker_is_interrupted() {
    let bench = Bench::with(macerated("Keep it dark for two weeks")).await;
    bench.weigh("1.1", "100 g").await.expect(201);
    let pause = json!({ "why": "macerating", "until": "2026-03-16" });
    bench.room.noor.post(&bench.path("pauses"), pause).await.expect(201);
    let noor = later(&bench, Duration::days(14)).await;
    resume(&bench, &noor).await.expect(201);
    noor.post(&bench.path("entries"), done(1)).await.expect(201);
    assert_eq!(too_fast(&bench, &noor).await, Vec::<String>::new());
    bench.stop().await;

    let bench = Bench::with(macerated("Simmer it for 10 minutes")).await;
    bench.weigh("1.1", "100 g").await.expect(201);
    let pause = json!({ "why": "interrupted", "until": "2026-03-02", "note": "A fire drill." });
    bench.room.noor.post(&bench.path("pauses"), pause).await.expect(201);
    let noor = later(&bench, Duration::minutes(40)).await;
    resume(&bench, &noor).await.expect(201);
    let noor = later(&bench, Duration::minutes(3)).await;
    noor.post(&bench.path("entries"), done(1)).await.expect(201);
    let said = too_fast(&bench, &noor).await;
    assert_eq!(said.len(), 1);
    assert!(
        said[0].contains(
            "3 minutes after what came before it, without the 40 minutes for which it was interrupted."
        ),
        "{said:?}"
    );
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_is_due_on_the_days_of_its_plan_until_its_maker_has_looked() {
    let bench = Bench::with(macerated("Keep it dark for two weeks")).await;
    let noor = bench.room.noor.clone();
    let plans = bench.path("look-plans");
    let plan = json!({ "what": ["mould", "shake", "shake"], "every_days": 3, "until": "2026-03-12" });
    noor.post(&plans, plan.clone()).await.problem(409, "wrong-state");
    bench.weigh("1.1", "100 g").await.expect(201);
    noor.post(&plans, json!({ "what": ["shake"] })).await.fields(&["/every_days", "/until"]);
    noor.post(&plans, json!({ "what": [], "every_days": 2 })).await.fields(&["/what"]);
    let early = json!({ "what": ["shake"], "every_days": 3, "until": "2026-03-04" });
    noor.post(&plans, early).await.fields(&["/until"]);
    noor.post(&plans, json!({ "what": ["green"] })).await.expect(422);
    let planned = noor.post(&plans, plan).await.expect(201).json;
    assert_eq!(
        (&planned["plan"]["what"], &planned["look_on"]),
        (&json!(["shake", "mould"]), &json!("2026-03-05"))
    );
    let pause = json!({ "why": "macerating", "until": "2026-03-10" });
    noor.post(&bench.path("pauses"), pause).await.expect(201);
    assert_eq!(due(&noor).await, Vec::<Value>::new());

    let noor = later(&bench, Duration::days(3)).await;
    let today = due(&noor).await;
    assert_eq!(
        (today.len(), &today[0]["look_on"], &today[0]["overdue"], today[0].get("resume_on")),
        (1, &json!("2026-03-05"), &json!(false), None)
    );
    let noor = later(&bench, Duration::days(1)).await;
    assert_eq!(due(&noor).await[0]["overdue"], true);
    let ilse = sign_in(&bench.room.clinic.nobody, "ilse.brandt").await;
    assert_eq!(due(&ilse).await, Vec::<Value>::new(), "only whoever makes it is asked");
    // Whoever looked is asked again three days later; a correction of what was seen tells nothing new.
    let entry = noor.post(&bench.path("entries"), seen("Shaken. Mould: none.")).await.expect(201);
    assert_eq!(due(&noor).await, Vec::<Value>::new());
    let long = noor.get(&bench.path("long-work")).await.expect(200).json;
    assert_eq!(long["look_on"], "2026-03-09");
    let noor = later(&bench, Duration::days(1)).await;
    let mut mended = seen("Shaken. Mould: none. Golden.");
    mended["corrects"] = json!(entry.text_at("/entry/id"));
    mended["reason"] = json!("Said too little.");
    noor.post(&bench.path("entries"), mended).await.expect(201);
    assert_eq!(noor.get(&bench.path("long-work")).await.expect(200).json["look_on"], "2026-03-09");

    let noor = later(&bench, Duration::days(4)).await;
    let both = due(&noor).await;
    assert_eq!(
        (&both[0]["due"], &both[0]["resume_on"], &both[0]["overdue"]),
        (&json!("2026-03-09"), &json!("2026-03-10"), &json!(true))
    );
    noor.post(&bench.path("entries"), json!({ "kind": "smell", "note": "Sweet." })).await.expect(201);
    let rest = due(&noor).await;
    assert_eq!(
        (&rest[0]["due"], rest[0].get("look_on")),
        (&json!("2026-03-10"), None),
        "no day of the plan follows"
    );
    resume(&bench, &noor).await.expect(201);
    assert_eq!(due(&noor).await, Vec::<Value>::new());
    // Another plan binds instead, and one without days ends the looking.
    let plan = json!({ "what": ["appearance"], "every_days": 1, "until": "2026-03-20" });
    let planned = noor.post(&plans, plan).await.expect(201).json;
    assert_eq!(planned["look_on"], "2026-03-12");
    let ended = noor.post(&plans, json!({ "what": [] })).await.expect(201).json;
    assert_eq!((ended.get("plan"), ended.get("look_on")), (None, None));
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_holds_that_nothing_goes_on_while_a_batch_is_paused() {
    let bench = Bench::start().await;
    bench.weigh("1.1", "100 g").await.expect(201);
    let noor = &bench.room.noor;
    let pause = json!({ "why": "drying", "until": "2026-03-10" });
    noor.post(&bench.path("pauses"), pause).await.expect(201);
    let plan = json!({ "what": ["moisture"], "every_days": 2, "until": "2026-03-10" });
    noor.post(&bench.path("look-plans"), plan).await.expect(201);
    let change = |table: &str, change: &str| {
        format!(
            "INSERT INTO {table} SELECT (r).* FROM (SELECT jsonb_populate_record(o, '{change}'::jsonb
                 || jsonb_build_object('id', gen_random_uuid(), 'number', 9)) AS r FROM {table} o) c"
        )
    };
    let weighing = "INSERT INTO batch_entry (id, batch_id, number, kind, line, quantity, grams, by_id, at, before_acknowledged)
        SELECT gen_random_uuid(), batch_id, 9, 'weighing', '1.2', '1 g', 1, by_id, at, false FROM batch_entry";
    let resumed = "INSERT INTO batch_resumption SELECT id, batch_id, by_id, at FROM batch_pause";
    let mut owner = database::owner(&bench.room.clinic.database).await;
    for (wrong, constraint) in [
        (change("batch_pause", "{}"), "pause_of_making"),
        (weighing.to_owned(), "entry_while_paused"),
        ("UPDATE batch SET state = 'submitted'".to_owned(), "submitted_while_paused"),
        (change("batch_look_plan", r#"{"what": ["green"]}"#), "batch_look_plan_what"),
        (change("batch_look_plan", r#"{"what": []}"#), "batch_look_plan_whole"),
        (change("batch_look_plan", r#"{"until_day": "2026-03-03"}"#), "batch_look_plan_until"),
    ] {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused}");
    }
    owner.batch_execute(resumed).await.unwrap();
    let again = owner.batch_execute(resumed).await.unwrap_err();
    assert!(store::violates(&again, "batch_resumption_pkey"), "{again}");
    for (wrong, constraint) in [
        (change("batch_pause", r#"{"until_day": "2026-03-01"}"#), "batch_pause_until"),
        (change("batch_pause", r#"{"why": "interrupted"}"#), "batch_pause_says_why"),
    ] {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused}");
    }
    // What the owner wrote past the journal does not verify.
    bench.room.clinic.stop().await;
}
