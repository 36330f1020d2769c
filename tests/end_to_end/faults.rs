//! A database that goes away in the middle, and a pooler that does: what stands here happens to a service that is connected
//! straight to its database and, wherever it can happen there too, to one behind a pooler in transaction mode.

use std::time::Duration;

use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, TestClinic, database};

use crate::formulas::infused_oil;

/// How the service gets to its database.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    Straight,
    Pooled,
}

impl Way {
    async fn clinic(self, settings: &[(&str, &str)]) -> TestClinic {
        match self {
            Self::Straight => TestClinic::start_with(settings).await,
            Self::Pooled => TestClinic::start_behind_the_pooler(settings).await,
        }
    }

    async fn room(self, settings: &[(&str, &str)]) -> TeachingClinic {
        match self {
            Self::Straight => TeachingClinic::start_with(settings).await,
            Self::Pooled => TeachingClinic::start_behind_the_pooler(settings).await,
        }
    }
}

/// Runs a test once for each way.
macro_rules! both_ways {
    ($($test:ident)*) => {
        mod straight {
            $(#[tokio::test(flavor = "multi_thread")]
            async fn $test() {
                super::$test(super::Way::Straight).await;
            })*
        }

        mod pooled {
            $(#[tokio::test(flavor = "multi_thread")]
            async fn $test() {
                super::$test(super::Way::Pooled).await;
            })*
        }
    };
}

both_ways! {
    after_its_connections_were_cut_the_service_goes_on
    what_was_acknowledged_survives_cuts_in_the_middle_and_each_key_takes_effect_once
    many_who_come_first_share_the_connections_that_there_are
    a_full_pool_is_told_within_the_wait_and_recovers
    a_database_that_refuses_is_told_by_readiness_and_nobody_is_answered_wrongly
}

#[derive(diesel::QueryableByName)]
struct Count {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    count: i64,
}

async fn count(conn: &mut AsyncPgConnection, sql: &str) -> i64 {
    diesel::sql_query(sql).get_result::<Count>(conn).await.unwrap().count
}

/// Ends every connection of this clinic's service. Answers how many there were.
async fn cut(conn: &mut AsyncPgConnection) -> i64 {
    let sql = "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity
               WHERE datname = current_database() AND usename = 'stillroom_app'";
    count(conn, sql).await
}

/// Fails the test unless this says that it will be better soon.
#[track_caller]
fn busy(answer: Answer) {
    let answer = answer.problem(503, "unavailable");
    assert_eq!(answer.header("retry-after"), "1");
    // What went wrong inside is in the log, not in the answer.
    assert_eq!(
        answer.json["detail"],
        "The database is unavailable. Retry after the seconds given in `Retry-After`."
    );
}

/// Sends until it is answered otherwise than that it should be sent again.
async fn until_answered(send: impl AsyncFn() -> Answer) -> Answer {
    let answered = tokio::time::timeout(Duration::from_secs(60), async {
        loop {
            let answer = send().await;
            if answer.status != 503 {
                return answer;
            }
            busy(answer);
        }
    });
    answered.await.expect("it gets better")
}

async fn after_its_connections_were_cut_the_service_goes_on(way: Way) {
    let room = way.room(&[]).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    room.noor.get(&recipe).await.expect(200);
    let mut owner = database::owner(&room.clinic.database).await;
    for _ in 0..3 {
        // A pooler opens the second one only if both are asked for at once.
        assert!(cut(&mut owner).await >= if way == Way::Pooled { 1 } else { 2 });
        until_answered(async || room.noor.get(&recipe).await).await.expect(200);
        until_answered(async || room.noor.get("/v1/me").await).await.expect(200);
        until_answered(async || room.noor.get("/health/ready").await).await.expect(200);
        // Two in a row, since there are two connections in the pool.
        for _ in 0..2 {
            room.noor.get(&recipe).await.expect(200);
            until_answered(async || room.noor.get("/v1/me").await).await.expect(200);
        }
    }
    room.stop().await;
}

async fn what_was_acknowledged_survives_cuts_in_the_middle_and_each_key_takes_effect_once(way: Way) {
    const BATCHES: usize = 6;
    const ENTRIES: usize = 12;
    let room = way.room(&[("STILLROOM_CONNECTIONS", "4")]).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let mut making = Vec::new();
    for batch in 0..BATCHES {
        making.push(tokio::spawn(make(room.noor.clone(), revision.clone(), batch, ENTRIES)));
    }
    let mut owner = database::owner(&room.clinic.database).await;
    let mut cuts = 0;
    while making.iter().any(|one| !one.is_finished()) {
        let before = count(&mut owner, "SELECT count(*) FROM idempotency").await;
        cuts += cut(&mut owner).await;
        // The next cut comes when there has been progress, so that each falls somewhere else.
        while count(&mut owner, "SELECT count(*) FROM idempotency").await < before + 5
            && making.iter().any(|one| !one.is_finished())
        {}
    }
    assert!(cuts > 5, "{cuts}");
    for one in making {
        let (batch, entries) = one.await.unwrap();
        let record =
            until_answered(async || room.noor.get(&format!("/v1/batches/{batch}")).await).await.expect(200);
        let kept: Vec<&str> = record.json["entries"]
            .as_array()
            .unwrap()
            .iter()
            .map(|entry| entry["note"].as_str().unwrap())
            .collect();
        // Everything that was answered 201 is there, in the order it was answered, and nothing is there twice.
        assert_eq!(kept, entries);
    }
    let rows = count(&mut owner, "SELECT count(*) FROM batch_entry").await;
    assert_eq!(rows, i64::try_from(BATCHES * ENTRIES).unwrap());
    assert_eq!(count(&mut owner, "SELECT count(*) FROM batch").await, i64::try_from(BATCHES).unwrap());
    // Events are as many as the changes that they tell of.
    let told = count(&mut owner, "SELECT count(*) FROM event WHERE action = 'entry_written'").await;
    assert_eq!(told, rows);
    room.stop().await;
}

/// Creates, repeating with the same key what was not answered, as the service asks.
async fn create(caller: &Caller, path: &str, key: &str, body: &Value) -> Answer {
    let mut sent = 0;
    loop {
        assert!(sent < 200, "it does not get better");
        sent += 1;
        let answer = caller.post_with_key(path, key, body.clone()).await;
        match answer.status.as_u16() {
            503 => busy(answer),
            // The connection that was cut may hold the key a moment longer than its caller waited.
            409 => drop(answer.problem(409, "request-in-flight")),
            _ => return answer.expect(201),
        }
    }
}

/// Makes a batch with entries. Answers the batch and what was acknowledged.
async fn make(noor: Caller, revision: String, batch: usize, entries: usize) -> (String, Vec<String>) {
    let made =
        create(&noor, "/v1/batches", &format!("batch-{batch}"), &json!({ "revision": revision })).await;
    let path = format!("/v1/batches/{}/entries", made.id());
    let mut acknowledged = Vec::new();
    for entry in 0..entries {
        let note = format!("Look {entry}");
        create(
            &noor,
            &path,
            &format!("entry-{batch}-{entry}"),
            &json!({ "kind": "observation", "note": note }),
        )
        .await;
        acknowledged.push(note);
    }
    (made.id(), acknowledged)
}

async fn many_who_come_first_share_the_connections_that_there_are(way: Way) {
    let room = way.room(&[]).await;
    let path = format!("/v1/revisions/{}/recipe", room.library);
    let strangers: Vec<_> = (0..80)
        .map(|i| {
            let (stranger, path) = (room.clinic.nobody.with(&format!("sk_{i}"), ""), path.clone());
            tokio::spawn(async move { stranger.get(&path).await })
        })
        .collect();
    for stranger in strangers {
        stranger.await.unwrap().problem(401, "not-known");
    }
    let mut owner = database::owner(&room.clinic.database).await;
    let sql = "SELECT count(*) FROM pg_stat_activity
               WHERE datname = current_database() AND usename = 'stillroom_app'";
    // Two of the pool, and one of the one worker; the pooler has two for all of them.
    assert!(count(&mut owner, sql).await <= if way == Way::Pooled { 2 } else { 3 });
    room.stop().await;
}

async fn a_full_pool_is_told_within_the_wait_and_recovers(way: Way) {
    // Of the two connections of the pooler one is left for what is read most.
    let (connections, most) = if way == Way::Pooled { ("1", 1) } else { ("2", 2) };
    let wait = [("STILLROOM_CONNECTIONS", connections), ("STILLROOM_WAIT_MILLISECONDS", "250")];
    let room = way.room(&wait).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    room.noor.get(&recipe).await.expect(200);
    let library = format!("/v1/libraries/{}", room.library);
    let mut held = database::owner(&room.clinic.database).await;
    let mut watch = database::owner(&room.clinic.database).await;
    held.batch_execute(&format!("BEGIN; SELECT FROM library WHERE id = '{}' FOR UPDATE", room.library))
        .await
        .unwrap();
    let changes: Vec<_> = (0..most)
        .map(|i| {
            let (ilse, library) = (room.ilse.clone(), library.clone());
            let body = json!({ "name": format!("Creams {i}"), "description": "" });
            tokio::spawn(async move { ilse.put(&library, "\"v1\"", body).await })
        })
        .collect();
    let waiting = "SELECT count(*) FROM pg_stat_activity
                   WHERE datname = current_database() AND usename = 'stillroom_app' AND wait_event_type = 'Lock'";
    while count(&mut watch, waiting).await < most {
        assert!(changes.iter().all(|change| !change.is_finished()));
    }
    busy(room.noor.get("/v1/me").await);
    busy(room.ilse.post("/v1/libraries", json!({ "name": "Later" })).await);
    busy(room.noor.get("/health/ready").await);
    room.noor.get("/health/live").await.expect(200);
    // What is read most does not queue behind what is written.
    room.noor.get(&recipe).await.expect(200);
    held.batch_execute("COMMIT").await.unwrap();
    let mut statuses = Vec::new();
    for change in changes {
        statuses.push(change.await.unwrap().status.as_u16());
    }
    statuses.sort_unstable();
    // Of several who change the same, one is first.
    assert_eq!(statuses, if way == Way::Pooled { vec![200] } else { vec![200, 412] });
    room.noor.get("/v1/me").await.expect(200);
    room.noor.get("/health/ready").await.expect(200);
    room.ilse.post("/v1/libraries", json!({ "name": "Later" })).await.expect(201);
    room.stop().await;
}

async fn a_database_that_refuses_is_told_by_readiness_and_nobody_is_answered_wrongly(way: Way) {
    // Straight, the refusal comes at once. A pooler lets its callers wait for a database that refuses.
    let wait = if way == Way::Pooled { "1000" } else { "5000" };
    let clinic = way.clinic(&[("STILLROOM_WAIT_MILLISECONDS", wait)]).await;
    let petra = &clinic.administrator;
    let name = clinic.database.rsplit_once('/').unwrap().1;
    let url = std::env::var("TEST_DATABASE_URL").unwrap();
    let mut server = AsyncPgConnection::establish(&url).await.unwrap();
    petra.get("/health/ready").await.expect(200);
    server.batch_execute(&format!("ALTER DATABASE {name} WITH ALLOW_CONNECTIONS false")).await.unwrap();
    let ended = format!(
        "SELECT count(pg_terminate_backend(pid, 10000)) FROM pg_stat_activity WHERE datname = '{name}'"
    );
    count(&mut server, &ended).await;
    busy(petra.get("/health/ready").await);
    busy(petra.get("/v1/me").await);
    busy(petra.post("/v1/libraries", json!({ "name": "Lost?" })).await);
    let sign_in = json!({ "sign_in_name": "petra.hollweg", "password": stillroom_tests::clinic::PASSWORD });
    busy(petra.post("/v1/sessions", sign_in.clone()).await);
    petra.get("/health/live").await.expect(200);
    petra.get("/problems/unavailable").await.expect(200);
    server.batch_execute(&format!("ALTER DATABASE {name} WITH ALLOW_CONNECTIONS true")).await.unwrap();
    if way == Way::Pooled {
        // It tries again once a second.
        until_answered(async || petra.get("/health/ready").await).await.expect(200);
    }
    petra.get("/health/ready").await.expect(200);
    petra.get("/v1/me").await.expect(200);
    petra.post("/v1/sessions", sign_in).await.expect(201);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_pooler_is_told_within_the_wait_and_recovers() {
    let room = Way::Pooled.room(&[("STILLROOM_WAIT_MILLISECONDS", "250")]).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    room.noor.get(&recipe).await.expect(200);
    // Somebody else keeps both connections of the pooler, each in a transaction that does not end.
    let url = database::behind_the_pooler(&room.clinic.database);
    let mut others = Vec::new();
    for _ in 0..2 {
        let mut other = AsyncPgConnection::establish(&url).await.unwrap();
        other.batch_execute("BEGIN; SELECT 1").await.unwrap();
        others.push(other);
    }
    // The pooler would let its callers wait for twenty seconds, each.
    let told = tokio::time::timeout(Duration::from_secs(15), async {
        busy(room.noor.get("/health/ready").await);
        busy(room.noor.get("/v1/me").await);
        busy(room.noor.get(&recipe).await);
        busy(room.noor.get("/v1/formulas").await);
        busy(room.ilse.post("/v1/libraries", json!({ "name": "Later" })).await);
        room.noor.get("/health/live").await.expect(200);
    });
    told.await.expect("nobody waits for the pooler longer than is set");
    drop(others);
    until_answered(async || room.noor.get(&recipe).await).await.expect(200);
    until_answered(async || room.noor.get("/v1/me").await).await.expect(200);
    room.ilse.post("/v1/libraries", json!({ "name": "Later" })).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_pooler_that_drops_everybody_and_lets_nobody_in_is_told_and_recovers() {
    let room = Way::Pooled.room(&[]).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    room.noor.get(&recipe).await.expect(200);
    let name = room.clinic.database.rsplit_once('/').unwrap().1;
    let (console, connection) =
        tokio_postgres::connect(&database::console_of_the_pooler(), tokio_postgres::NoTls).await.unwrap();
    tokio::spawn(connection);
    let order = async |order: &str| console.simple_query(&format!("{order} {name}")).await.unwrap();
    order("DISABLE").await;
    // Ends every connection, and those that would come until it is told to go on; then it lets nobody in.
    order("KILL").await;
    order("RESUME").await;
    for _ in 0..3 {
        busy(room.noor.get("/health/ready").await);
        busy(room.noor.get("/v1/me").await);
        busy(room.noor.get(&recipe).await);
        busy(room.ilse.post("/v1/libraries", json!({ "name": "Later" })).await);
    }
    order("ENABLE").await;
    until_answered(async || room.noor.get(&recipe).await).await.expect(200);
    until_answered(async || room.noor.get("/v1/me").await).await.expect(200);
    until_answered(async || room.ilse.post("/v1/libraries", json!({ "name": "Later" })).await)
        .await
        .expect(201);
    room.stop().await;
}
