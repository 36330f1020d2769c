//! Vouching for rows that are older than the proof.

use store::journal::{JOURNAL_ID, verify, vouch_for_older};

use crate::database::{Database, run, texts};
use crate::shelf::{KEPT, fill_jar, insert_jar};

#[tokio::test(flavor = "multi_thread")]
async fn older_rows_are_vouched_for_as_found_and_only_once() {
    let database = Database::new().await;
    let store = database.store();
    let mut owner = database.owner().await;
    run(&mut owner, "INSERT INTO word SELECT 'w' || n, 'x' FROM generate_series(1, 2345) n").await;
    run(&mut owner, "INSERT INTO label SELECT 'room' || n % 3, n, 'x' FROM generate_series(1, 1000) n").await;
    for state in ["filled", "draft"] {
        store.run_unauthenticated(async |tx| insert_jar(tx, state).await).await.unwrap();
    }
    fill_jar(&store).await;
    let before = verify(&store, KEPT, &[]).await.unwrap();
    assert_eq!(before.breaks.total(), 2345 + 1000 + 1);
    let done = vouch_for_older(&store, KEPT).await.unwrap();
    let counts: Vec<(&str, u64)> = done.rows.iter().map(|(table, count)| (*table, *count)).collect();
    assert_eq!((counts, done.total()), (vec![("jug", 1), ("label", 1000), ("word", 2345)], 3346));
    let verdict = verify(&store, KEPT, &[]).await.unwrap();
    assert!(verdict.holds(), "{verdict}");
    let most =
        "SELECT max((SELECT count(*) FROM jsonb_object_keys(detail -> 'rows')))::text AS value FROM event";
    assert_eq!(texts(&mut owner, most).await, ["100"]);
    let events = "SELECT count(*)::text AS value FROM event";
    let count = texts(&mut owner, events).await;
    assert!(vouch_for_older(&store, KEPT).await.unwrap().rows.is_empty());
    assert_eq!(texts(&mut owner, events).await, count);
    // A row that is slipped in later stays a break, however often this is run.
    run(&mut owner, "INSERT INTO word VALUES ('slipped in', 'x')").await;
    vouch_for_older(&store, KEPT).await.unwrap();
    let found = verify(&store, KEPT, &[]).await.unwrap().breaks;
    assert_eq!(
        found.listed(),
        ["word slipped in: no digest is kept for the row, and no event vouches for it"]
    );
    database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_interrupted_vouching_goes_on_where_it_stopped() {
    let database = Database::new().await;
    let store = database.store();
    let mut owner = database.owner().await;
    run(&mut owner, "INSERT INTO word SELECT 'w' || n, 'x' FROM generate_series(1, 1500) n").await;
    // The second transaction about words fails.
    run(
        &mut owner,
        "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$
         BEGIN
             IF (SELECT count(*) FROM row_digest) >= 1000 THEN RAISE EXCEPTION 'full'; END IF;
             RETURN NEW;
         END $$;
         CREATE TRIGGER full_disk BEFORE INSERT ON row_digest FOR EACH STATEMENT EXECUTE FUNCTION full_disk()",
    )
    .await;
    vouch_for_older(&store, KEPT).await.unwrap_err();
    run(&mut owner, "DROP TRIGGER full_disk ON row_digest").await;
    assert_eq!(texts(&mut owner, "SELECT count(*)::text AS value FROM row_digest").await, ["1000"]);
    let done = vouch_for_older(&store, KEPT).await.unwrap();
    assert_eq!(done.rows["word"], 500);
    assert!(verify(&store, KEPT, &[]).await.unwrap().holds());
    let numbers = format!("SELECT max(number)::text AS value FROM event WHERE subject_id = '{JOURNAL_ID}'");
    assert_eq!(texts(&mut owner, &numbers).await, ["18"], "15 for words, 3 that say a table is done");
    database.remove().await;
}
