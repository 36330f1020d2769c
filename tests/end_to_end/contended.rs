//! Transactions that lose against others: tried again a few times, told by code in whatever language the server speaks,
//! and answered as a problem of their own when they lose each time.

use diesel_async::SimpleAsyncConnection;
use serde_json::json;
use stillroom_tests::{TeachingClinic, database};

use crate::races::count;

/// Every new library is refused with this code, as often as said, in the words of a server that speaks German.
async fn refuse(room: &TeachingClinic, code: &str, times: u32) {
    let sql = format!(
        "DROP SEQUENCE IF EXISTS tries CASCADE; CREATE SEQUENCE tries; GRANT USAGE ON tries TO stillroom_service;
         CREATE OR REPLACE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$
         BEGIN
             IF nextval('tries') <= {times} THEN
                 RAISE EXCEPTION 'Verklemmung entdeckt' USING ERRCODE = '{code}';
             END IF;
             RETURN NEW;
         END $$;
         CREATE OR REPLACE TRIGGER refuse BEFORE INSERT ON library FOR EACH ROW EXECUTE FUNCTION refuse()"
    );
    database::owner(&room.clinic.database).await.batch_execute(&sql).await.unwrap();
}

async fn tries(room: &TeachingClinic) -> i64 {
    count(&mut database::owner(&room.clinic.database).await, "SELECT last_value AS count FROM tries").await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_transaction_that_loses_is_tried_again_and_its_key_takes_effect_once() {
    let room = TeachingClinic::start().await;
    for (i, code) in ["40P01", "40001", "55P03"].into_iter().enumerate() {
        refuse(&room, code, 2).await;
        let (key, name) = (format!("key-{i}"), json!({ "name": format!("Library {i}") }));
        let made = room.ilse.post_with_key("/v1/libraries", &key, name.clone()).await.expect(201);
        assert_eq!(tries(&room).await, 3, "{code}");
        let again = room.ilse.post_with_key("/v1/libraries", &key, name).await.expect(201);
        assert_eq!((again.id(), tries(&room).await), (made.id(), 3));
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_transaction_that_loses_each_time_is_a_problem_of_its_own_and_writes_nothing() {
    let room = TeachingClinic::start().await;
    refuse(&room, "40P01", 1000).await;
    let before = room.contents().await;
    let lost = room.ilse.post("/v1/libraries", json!({ "name": "Never" })).await.problem(503, "contended");
    assert_eq!(lost.header("retry-after"), "1");
    assert_eq!(tries(&room).await, 7, "once, and six times again");
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_trying_again_does_not_cure_is_tried_once() {
    let room = TeachingClinic::start().await;
    for (code, status, slug) in [
        ("57014", 503, "unavailable"),
        ("53100", 503, "unavailable"),
        ("22012", 500, "internal"),
        ("P0001", 500, "internal"),
    ] {
        refuse(&room, code, 1000).await;
        room.ilse.post("/v1/libraries", json!({ "name": "Never" })).await.problem(status, slug);
        assert_eq!(tries(&room).await, 1, "{code}");
    }
    room.stop().await;
}
