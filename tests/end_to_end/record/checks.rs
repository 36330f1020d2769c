//! The checks before the start: what is missing is found, and after a check-weight that failed nothing is weighed.

use diesel_async::SimpleAsyncConnection;
use serde_json::json;
use stillroom_tests::database;

use super::{Bench, meter};

#[tokio::test(flavor = "multi_thread")]
async fn a_record_says_which_checks_are_missing_and_keeps_those_that_were_made() {
    let bench = Bench::start().await;
    assert_eq!(
        bench.found("check").await,
        [
            "Before the start these are not recorded: line clearance, cleaning and sanitising, check-weight, thermometer check, \
          room conditions, equipment."
        ],
        "it has no pH to measure"
    );
    let written = bench.check(meter("check_weight", "0.1 kg", "99.97 g", "50 mg")).await.expect(201);
    assert_eq!(
        (&written.json["number"], &written.json["passed"]),
        (&json!(1), &json!(true)),
        "{}",
        written.text
    );
    assert_eq!(written.json["by_name"], json!("noor.haddad"));
    assert_eq!(written.header("location"), format!("/v1/batches/{}", bench.batch));
    bench.room.noor.check_before_start(&bench.batch).await;
    assert_eq!(bench.found("check").await, Vec::<String>::new());
    // Who reviews reads them, with the name of who checked; others do not see the batch.
    bench
        .room
        .ilse
        .acknowledge(bench.record(&bench.room.noor).await["revision"].as_str().unwrap())
        .await
        .expect(201);
    let read = bench.record(&bench.room.ilse).await;
    assert_eq!(read["checks"].as_array().unwrap().len(), 8);
    assert_eq!(
        (&read["checks"][0]["reading"], &read["checks"][0]["after_entry"]),
        (&json!("99.97 g"), &json!(0))
    );
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_weighed_after_a_failed_check_weight_until_one_passes() {
    let bench = Bench::start().await;
    bench.weigh("1.1", "50 g").await.expect(201);
    let failed = bench.check(meter("check_weight", "100 g", "100.06 g", "0.05 g")).await.expect(201);
    assert_eq!(failed.json["passed"], json!(false));
    let refused = bench.weigh("1.1", "50 g").await.fields(&["/kind"]);
    assert!(
        refused
            .text_at("/errors/0/detail")
            .starts_with("The check-weight of bench balance 2 failed (check 1)."),
        "{}",
        refused.text
    );
    // What was weighed before may be corrected, and whatever needs no balance is written.
    let before = bench.record(&bench.room.noor).await["entries"][0]["id"].clone();
    let entry = json!({ "kind": "weighing", "line": "1.1", "quantity": "51 g", "lot": "L-1", "corrects": before,
        "reason": "Misread the point." });
    bench.write(entry).await.expect(201);
    bench.write(json!({ "kind": "observation", "note": "The balance stands on a slope." })).await.expect(201);
    let found = bench.found("check").await;
    assert!(
        found.contains(
            &"The check-weight of bench balance 2 failed: 100.06 g shown for 100 g, tolerance 0.05 g.".into()
        ),
        "{found:?}"
    );
    assert!(
        found.contains(&"The check-weight was recorded after the first weighing (entry 1).".into()),
        "{found:?}"
    );
    bench.check(meter("check_weight", "100 g", "100.01 g", "0.05 g")).await.expect(201);
    bench.weigh("1.1", "49 g").await.expect(201);
    assert!(!bench.found("check").await.iter().any(|sentence| sentence.contains("failed")));
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_correction_of_a_check_stands_beside_it_and_counts_in_its_place() {
    let bench = Bench::start().await;
    let wrong = bench.check(meter("check_weight", "100 g", "10.01 g", "0.05 g")).await.expect(201).id();
    let mut right = meter("check_weight", "100 g", "100.01 g", "0.05 g");
    right["corrects"] = json!(wrong);
    bench.check(right.clone()).await.fields(&["/reason"]);
    right["reason"] = json!("Mistyped.");
    let mut other = right.clone();
    other["kind"] = json!("ph_meter");
    other["reference"] = json!("7.00");
    other["reading"] = json!("7.00");
    other["tolerance"] = json!("0.05");
    bench.check(other).await.fields(&["/kind"]);
    bench.check(right.clone()).await.expect(201);
    bench.check(right).await.problem(409, "conflict");
    bench.weigh("1.1", "100 g").await.expect(201);
    let record = bench.record(&bench.room.noor).await;
    let checks = record["checks"].as_array().unwrap();
    assert_eq!((checks.len(), &checks[0]["corrected_by"]), (2, &checks[1]["id"]));
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_holds_what_a_check_says_and_that_it_is_answered() {
    let bench = Bench::start().await;
    bench.check(meter("check_weight", "100 g", "100.06 g", "0.05 g")).await.expect(201);
    bench
        .room
        .noor
        .post(&bench.path("entries"), json!({ "kind": "observation", "note": "Begun." }))
        .await
        .expect(201);
    let mut owner = database::owner(&bench.room.clinic.database).await;
    for (wrong, constraint) in [
        (
            "INSERT INTO batch_check SELECT gen_random_uuid(), batch_id, 9, kind, instrument, reference, reading, tolerance,
             humidity, reference_value, reading_value, tolerance_value, humidity_percent, true, note, after_entry,
             after_submission, corrects_id, reason, by_id, at FROM batch_check",
            "batch_check_meter",
        ),
        (
            "INSERT INTO batch_check (id, batch_id, number, kind, passed, after_entry, after_submission, by_id, at)
             SELECT gen_random_uuid(), batch_id, 9, 'cleaning', false, 0, 0, by_id, at FROM batch_check",
            "batch_check_looked_at",
        ),
        (
            "INSERT INTO batch_entry (id, batch_id, number, kind, line, quantity, grams, by_id, at, before_acknowledged)
             SELECT gen_random_uuid(), batch_id, 9, 'weighing', '1.1', '1 g', 1, by_id, at, false FROM batch_entry",
            "weighing_after_check_weight",
        ),
    ] {
        let refused = owner.batch_execute(wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused}");
    }
    bench.stop().await;
}
