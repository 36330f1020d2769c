//! What is needed for a time only is removed after it.

use chrono::Duration;
use clinic::retention::{Retention, purge};
use clinic::{Clinic, Clock, Rng};
use diesel_async::SimpleAsyncConnection;
use serde_json::json;
use stillroom_tests::clinic::{BEGINNING, PASSWORD, sign_in};
use stillroom_tests::{TeachingClinic, database};

use super::count;

const KEPT: Retention = Retention { repeats: 30, refresh_tokens: 15, security_events: 180 };

#[tokio::test(flavor = "multi_thread")]
async fn rows_go_when_their_time_is_over_and_not_before() {
    let room = TeachingClinic::start().await;
    let (nobody, clinic) = (&room.clinic.nobody, &room.clinic.service.clinic);
    let clock = clinic.clock();
    let mut owner = database::owner(&room.clinic.database).await;
    let body = json!({ "name": "Once" });
    room.ilse.post_with_key("/v1/libraries", "a-key", body.clone()).await.expect(201);
    let body_of = |password: &str| json!({ "sign_in_name": "noor.haddad", "password": password });
    nobody.post("/v1/sessions", body_of("a wrong password")).await.expect(401);
    clinic::security::flush(clinic).await.unwrap();
    let tables = ["idempotency", "refresh_token", "attempt", "security_event"];
    let mut rows = async || {
        let mut rows = Vec::new();
        for table in tables {
            rows.push(count(&mut owner, &format!("SELECT count(*) FROM {table}")).await);
        }
        rows
    };
    let begun = rows().await;
    assert!(begun.iter().all(|count| *count > 0), "{begun:?}");
    assert_eq!(purge(clinic, &KEPT).await.unwrap(), 0);
    assert_eq!(rows().await, begun);

    clock.advance(Duration::hours(1) + Duration::seconds(1));
    purge(clinic, &KEPT).await.unwrap();
    assert_eq!(rows().await, [begun[0], begun[1], 0, begun[3]], "failures that no longer count");
    clock.advance(Duration::days(14));
    purge(clinic, &KEPT).await.unwrap();
    assert_eq!(rows().await, [begun[0], begun[1], 0, begun[3]]);
    clock.advance(Duration::days(1));
    purge(clinic, &KEPT).await.unwrap();
    assert_eq!(rows().await, [begun[0], 0, 0, begun[3]], "no session lasts as long as these tokens");

    // Within its time a request is repeated, after it made anew.
    let ilse = sign_in(nobody, "ilse.brandt").await;
    ilse.post_with_key("/v1/libraries", "a-key", body.clone()).await.expect(201);
    clock.advance(Duration::days(15));
    assert!(purge(clinic, &KEPT).await.unwrap() > 0);
    let ilse = sign_in(nobody, "ilse.brandt").await;
    ilse.post_with_key("/v1/libraries", "a-key", body).await.problem(409, "conflict");
    assert_eq!(rows().await[0], 0);

    clock.advance(Duration::days(180));
    purge(clinic, &KEPT).await.unwrap();
    assert_eq!(rows().await[3], begun[3], "of the newest thirty days none is removed, whatever day it is");
    nobody.post("/v1/sessions", body_of("a wrong password")).await.expect(401);
    clinic::security::flush(clinic).await.unwrap();
    purge(clinic, &KEPT).await.unwrap();
    assert_eq!(rows().await[3], 1);
    nobody.post("/v1/sessions", body_of(PASSWORD)).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_table_is_emptied_in_bounded_steps_and_past_rows_in_use() {
    // No service beside it, which would remove rows as well.
    let url = database::copy().await;
    let now = Clock::manual(BEGINNING.parse().unwrap());
    let clinic = &Clinic::open(&database::pool(&url), now, Rng::system()).unwrap();
    let mut owner = database::owner(&url).await;
    owner
        .batch_execute(
            "INSERT INTO attempt (throttle_key, failures, last_at)
             SELECT sha256(i::text::bytea), 1, '2026-01-01' FROM generate_series(1, 30500) i",
        )
        .await
        .unwrap();
    // A row that somebody is counting at is passed over, and nobody waits for it.
    let mut using = database::owner(&url).await;
    using
        .batch_execute("BEGIN; SELECT FROM attempt WHERE throttle_key = sha256('7') FOR UPDATE")
        .await
        .unwrap();
    let old = "SELECT count(*) FROM attempt WHERE last_at < '2026-02-01'";
    assert_eq!(purge(clinic, &KEPT).await.unwrap(), 20_000, "at most so many at a time");
    assert_eq!(purge(clinic, &KEPT).await.unwrap(), 10_499);
    assert_eq!(count(&mut owner, old).await, 1);
    using.batch_execute("COMMIT").await.unwrap();
    assert_eq!(purge(clinic, &KEPT).await.unwrap(), 1);
    // One process removes at a time; another does nothing meanwhile.
    using.batch_execute("BEGIN; SELECT pg_advisory_xact_lock(483006768997)").await.unwrap();
    owner
        .batch_execute(
            "INSERT INTO attempt (throttle_key, failures, last_at) VALUES (sha256('1'), 1, '2026-01-01')",
        )
        .await
        .unwrap();
    assert_eq!(purge(clinic, &KEPT).await.unwrap(), 0);
    using.batch_execute("COMMIT").await.unwrap();
    assert_eq!(purge(clinic, &KEPT).await.unwrap(), 1);
    drop((owner, using));
    database::remove(&url).await;
}
