//! Migrating: under the owner, one migrator at a time, never waiting long for a lock that the service needs.

use std::thread::JoinHandle;

use diesel_async::{AsyncConnection, AsyncPgConnection, SimpleAsyncConnection};
use server::StartError;
use server::migrate::{Migrated, check, migrate};
use stillroom_tests::database;

use crate::house::texts;

/// Migrates in a thread with a runtime of its own, as another process would.
fn migrator(url: &str) -> JoinHandle<Migrated> {
    let url = url.to_owned();
    std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
        runtime.block_on(migrate(&database::pool(&url), &url)).expect("the migrations run")
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn two_migrators_take_turns_and_the_second_finds_the_work_done() {
    let url = database::empty().await;
    let (one, other) = (migrator(&url), migrator(&url));
    let (one, other) = (one.join().unwrap(), other.join().unwrap());
    let (first, second) = if one.ran.is_empty() { (other, one) } else { (one, other) };
    assert!(first.ran.len() >= 13 && first.materials > 200, "{first:?}");
    assert!(second.ran.is_empty() && second.materials == 0, "{second:?}");
    check(&database::of_service(&url)).await.expect("the database fits");
    database::remove(&url).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_migration_that_cannot_have_its_lock_gives_up_and_leaves_nothing_behind() {
    let url = database::empty().await;
    let mut held = database::owner(&url).await;
    // The first migration makes a table of that name; here somebody is just making one.
    held.batch_execute("BEGIN; CREATE TABLE principal (id uuid)").await.unwrap();
    let pool = database::pool(&url);
    let refused = migrate(&pool, &url).await.expect_err("the lock is held");
    assert!(matches!(refused, StartError::Migration(_)), "{refused}");
    let said = refused.to_string();
    assert!(said.contains("lock timeout") && said.contains("at a quieter time"), "{said}");
    held.batch_execute("ROLLBACK").await.unwrap();
    let tables = "SELECT relname::text AS value FROM pg_class
                  WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname NOT LIKE '\\_\\_%'";
    assert!(texts(&mut held, tables).await.is_empty());
    migrate(&pool, &url).await.expect("nobody holds it any more");
    drop(held);
    database::remove(&url).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_owner_neither_serves_nor_is_the_services_login() {
    let url = database::copy().await;
    let mut as_owner = database::pool(&url);
    as_owner.url.clone_from(&url);
    let one = migrate(&as_owner, &url).await.expect_err("both are the owner");
    assert!(matches!(&one, StartError::OneLogin(login) if login == "stillroom"), "{one}");
    as_owner.url = url.replace("stillroom@", "nobody_of_that_name@");
    let unknown = migrate(&as_owner, &url).await.expect_err("there is no such login");
    assert!(unknown.to_string().contains("CREATE ROLE \"nobody_of_that_name\" LOGIN"), "{unknown}");

    // The owner lacks the defaults of the service's login, and is refused for that already.
    let refused = check(&url).await.expect_err("the owner does not serve");
    assert!(refused.to_string().contains("lacks these defaults: role"), "{refused}");
    // With the role by default it is still the owner, who could put the role down.
    let name = url.rsplit_once('/').unwrap().1;
    let mut owner = database::owner(&url).await;
    for default in clinic::login_defaults() {
        let of_this_database =
            default.statement("stillroom").replace(" SET ", &format!(" IN DATABASE {name} SET "));
        owner.batch_execute(&of_this_database).await.unwrap();
    }
    let refused = check(&url).await.expect_err("the owner does not serve");
    assert!(matches!(&refused, StartError::OwnerServes(login) if login == "stillroom"), "{refused}");
    drop(owner);
    database::remove(&url).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_login_is_prepared_by_whoever_migrates() {
    let url = database::copy().await;
    let mut server =
        AsyncPgConnection::establish(&std::env::var("TEST_DATABASE_URL").unwrap()).await.unwrap();
    let login = format!("new_{}", url.rsplit_once('/').unwrap().1);
    server.batch_execute(&format!("CREATE ROLE {login} LOGIN")).await.unwrap();
    let mut pool = database::pool(&url);
    pool.url = url.replace("stillroom@", &format!("{login}@"));
    // Who may sign in under which login the cluster decides; that it does not let this one in comes after the preparing.
    drop(migrate(&pool, &url).await);
    let settings = texts(
        &mut server,
        &format!(
            "SELECT unnest(setconfig) AS value FROM pg_db_role_setting WHERE setrole = '{login}'::regrole"
        ),
    )
    .await;
    assert!(settings.contains(&"role=stillroom_service".to_owned()), "{settings:?}");
    assert_eq!(settings.len(), clinic::login_defaults().count(), "{settings:?}");
    let member = format!("SELECT 'yes' AS value WHERE pg_has_role('{login}', 'stillroom_service', 'MEMBER')");
    assert_eq!(texts(&mut server, &member).await, ["yes"]);
    // What a clinic chose itself stays.
    server.batch_execute(&format!("ALTER ROLE {login} SET statement_timeout = '20s'")).await.unwrap();
    drop(migrate(&pool, &url).await);
    let chosen = format!(
        "SELECT setting AS value FROM pg_db_role_setting, unnest(setconfig) AS setting
         WHERE setrole = '{login}'::regrole AND setting LIKE 'statement_timeout%'"
    );
    assert_eq!(texts(&mut server, &chosen).await, ["statement_timeout=20s"]);
    server.batch_execute(&format!("DROP ROLE {login}")).await.unwrap();
    drop(server);
    database::remove(&url).await;
}
