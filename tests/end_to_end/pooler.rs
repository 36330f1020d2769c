//! Behind a pooler in transaction mode, which gives each transaction whichever server connection is free.

use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use formulary::{CurrentCautions, OneFormula};
use release::lookup::MakeGrant;
use serde_json::json;
use server::{Settings, StartError};
use stillroom_tests::{TeachingClinic, database};
use store::gather::{Ask, Gather};
use wire::ids::{FormulaId, RevisionId};

use crate::formulas::infused_oil;
use crate::house::texts;

/// What a pooler itself keeps the same for one caller on every connection, because the caller named it on connecting.
const KEPT_BY_THE_POOLER: [&str; 4] = ["application_name", "client_encoding", "DateStyle", "TimeZone"];

#[tokio::test(flavor = "multi_thread")]
async fn many_callers_share_two_connections_and_leave_nothing_on_them() {
    let room = TeachingClinic::start_behind_the_pooler(&[("STILLROOM_CONNECTIONS", "8")]).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    room.noor.get(&recipe).await.expect(200);
    let work: Vec<_> = (0..16)
        .map(|i| {
            let (noor, recipe, revision) = (room.noor.clone(), recipe.clone(), revision.clone());
            tokio::spawn(async move {
                let batch = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
                for entry in 0..4 {
                    let note = json!({ "kind": "observation", "note": format!("Look {i}.{entry}") });
                    noor.post(&format!("/v1/batches/{}/entries", batch.id()), note).await.expect(201);
                    noor.get(&recipe).await.expect(200);
                    noor.get("/v1/formulas").await.expect(200);
                }
            })
        })
        .collect();
    for one in work {
        one.await.unwrap();
    }
    let mut owner = database::owner(&room.clinic.database).await;
    let connections = texts(
        &mut owner,
        "SELECT pid::text AS value FROM pg_stat_activity
         WHERE datname = current_database() AND usename = 'stillroom_app'",
    )
    .await;
    assert!(!connections.is_empty() && connections.len() <= 2, "{connections:?}");
    let held = "SELECT mode || ' ' || locktype AS value FROM pg_locks
                WHERE locktype = 'advisory' AND database = (SELECT oid FROM pg_database WHERE datname = current_database())";
    assert!(texts(&mut owner, held).await.is_empty(), "every lock ended with its transaction");

    // Each of the two, held by a transaction of its own so that the other caller gets the other one.
    let url = database::behind_the_pooler(&room.clinic.database);
    let mut callers = Vec::new();
    for _ in 0..connections.len() {
        let mut caller = AsyncPgConnection::establish(&url).await.unwrap();
        caller.batch_execute("BEGIN").await.unwrap();
        callers.push(caller);
    }
    for caller in &mut callers {
        let set = texts(caller, "SELECT name AS value FROM pg_settings WHERE source = 'session'").await;
        let left: Vec<&String> =
            set.iter().filter(|name| !KEPT_BY_THE_POOLER.contains(&name.as_str())).collect();
        // What this caller's own transaction is, Postgres counts among what was set.
        let left: Vec<_> = left.into_iter().filter(|name| !name.starts_with("transaction_")).collect();
        assert!(left.is_empty(), "set on a connection that others share: {left:?}");
        let acting = texts(
            caller,
            "SELECT session_user || ' as ' || current_user || ', ' || current_setting('statement_timeout') AS value",
        )
        .await;
        assert_eq!(acting, ["stillroom_app as stillroom_service, 10s"]);
    }
    drop(callers);
    drop(owner);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_pooler_that_loses_prepared_statements_is_refused_at_the_start() {
    let database = database::copy().await;
    let forgetful = database::behind_the_forgetful_pooler(&database);
    let environment = [("DATABASE_URL".to_owned(), forgetful)].into();
    let settings = Settings::read("", &environment).unwrap();
    let refused = server::migrate::check(&settings.database_url).await.expect_err("statements are lost");
    assert!(matches!(refused, StartError::Pooler(_)), "{refused}");
    assert!(refused.to_string().contains("max_prepared_statements"), "{refused}");
    server::migrate::check(&database::behind_the_pooler(&database)).await.expect("this one keeps them");
    database::remove(&database).await;
}

#[derive(diesel::QueryableByName)]
struct Plans {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    custom_plans: i64,
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    generic_plans: i64,
}

/// Asks a question for more and more callers on a connection of its own, and looks at how it was planned.
async fn planned<Q: Gather>(store: &store::Store, question: impl Fn(uuid::Uuid) -> Q) {
    const READINGS: usize = 40;
    let mut conn = store.reading_connection().await.unwrap();
    for reading in 1..=READINGS {
        let ask = || Ask {
            credentials: clinic::Credentials::Key([7; 32]),
            question: question(uuid::Uuid::now_v7()),
        };
        let asked: Vec<_> = (0..reading).map(|_| ask()).collect();
        let found = Q::gather(&mut conn, &asked, store.clock.now()).await.unwrap();
        assert!(found.len() == reading && found.iter().all(Option::is_none));
    }
    let plans: Plans = diesel::sql_query(
        "SELECT custom_plans, generic_plans FROM pg_prepared_statements WHERE statement LIKE 'WITH ask AS%'",
    )
    .get_result(&mut conn)
    .await
    .unwrap();
    // Postgres looks at five plans of their own before it judges that one for all is no worse.
    let kind = std::any::type_name::<Q>();
    assert_eq!(plans.custom_plans, 5, "{kind}");
    assert_eq!(plans.generic_plans, i64::try_from(READINGS).unwrap() - 5, "{kind}");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_gathered_is_planned_for_any_number_of_readers_without_a_setting() {
    let url = database::copy().await;
    let pool = database::pool(&url);
    let store = store::Store::open(&pool, clinic::Clock::System, clinic::Rng::system()).unwrap();
    planned(&store, |id| MakeGrant(RevisionId(id))).await;
    planned(&store, |id| OneFormula(FormulaId(id))).await;
    planned(&store, |id| CurrentCautions(RevisionId(id))).await;
    drop(store);
    database::remove(&url).await;
}
