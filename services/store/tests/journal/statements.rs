//! A statement kept outside, against the database as it is later.

use ed25519_dalek::SigningKey;
use store::Error;
use store::journal::{Statement, StatementFault, state, verify, verify_statement};

use crate::database::{Database, run};
use crate::shelf::{KEPT, fill_jar, rename_jar};

fn key() -> SigningKey {
    SigningKey::from_bytes(&[5; 32])
}

#[tokio::test(flavor = "multi_thread")]
async fn an_earlier_statement_holds_while_events_are_added() {
    let database = Database::new().await;
    let store = database.store();
    let empty = state(&store, &key()).await.unwrap();
    assert_eq!(
        (empty.events, empty.root.as_str()),
        (0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
    );
    let mut statements = vec![empty];
    for _ in 0..9 {
        fill_jar(&store).await;
        statements.push(state(&store, &key()).await.unwrap());
    }
    for (count, statement) in statements.iter().enumerate() {
        let verdict = verify_statement(&store, statement).await.unwrap();
        assert!(verdict.holds(), "{verdict}");
        assert_eq!((verdict.events, verdict.today), (u64::try_from(count).unwrap(), 9));
    }
    database.remove().await;
}

/// The owner makes the whole journal consistent again: only the statement shows it.
#[tokio::test(flavor = "multi_thread")]
async fn a_journal_written_anew_shows_against_an_earlier_statement() {
    let database = Database::new().await;
    let store = database.store();
    let jug = fill_jar(&store).await;
    let mut owner = database.owner().await;
    run(
        &mut owner,
        "CREATE TABLE old_jar AS TABLE jug; CREATE TABLE old_digest AS TABLE row_digest;
         CREATE TABLE old_head AS TABLE event_head",
    )
    .await;
    rename_jar(&store, jug, jug, "Marigold ointment").await.unwrap();
    let kept = state(&store, &key()).await.unwrap();
    // Back to before the renaming, and renamed otherwise.
    run(
        &mut owner,
        "TRUNCATE event_order, event_unnumbered, row_digest, event_head, jug;
         DELETE FROM event WHERE number = 2;
         INSERT INTO event_head SELECT * FROM old_head; INSERT INTO row_digest SELECT * FROM old_digest;
         INSERT INTO jug SELECT * FROM old_jar; INSERT INTO event_unnumbered SELECT id FROM event",
    )
    .await;
    let now = state(&store, &key()).await.unwrap();
    assert!(verify(&store, KEPT, &[]).await.unwrap().holds(), "consistent in itself");
    assert!(verify_statement(&store, &now).await.unwrap().holds());
    let verdict = verify_statement(&store, &kept).await.unwrap();
    assert_eq!(
        verdict.breaks.listed(),
        [format!("the public order has 1 events, fewer than the 2 of the statement of {}", kept.at)]
    );
    rename_jar(&store, jug, jug, "Rose ointment").await.unwrap();
    state(&store, &key()).await.unwrap();
    let verdict = verify_statement(&store, &kept).await.unwrap();
    assert_eq!(verdict.breaks.total(), 1);
    assert!(verdict.breaks.listed()[0].starts_with("the root over the first 2 events is "), "{verdict}");
    assert!(
        verdict.to_string().ends_with("2 events in the statement, 2 in the database today, 1 breaks"),
        "{verdict}"
    );
    database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_statement_that_was_changed_or_moved_events_are_told_apart() {
    let database = Database::new().await;
    let store = database.store();
    for _ in 0..3 {
        fill_jar(&store).await;
    }
    let kept = state(&store, &key()).await.unwrap();
    let changed = Statement { events: 2, ..kept.clone() };
    let verdict = verify_statement(&store, &changed).await.unwrap();
    assert_eq!(verdict.fault, Some(StatementFault::Signature));
    assert!(!verdict.holds());
    let mut owner = database.owner().await;
    run(
        &mut owner,
        "UPDATE event_order SET position = position + 10 WHERE position < 3;
         UPDATE event_order SET position = 13 - position WHERE position > 10",
    )
    .await;
    assert!(verify(&store, KEPT, &[]).await.unwrap().holds(), "the order holds in itself");
    let verdict = verify_statement(&store, &kept).await.unwrap();
    assert!(verdict.breaks.listed()[0].starts_with("the root over the first 3 events"), "{verdict}");
    database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_journal_is_not_signed() {
    let database = Database::new().await;
    let store = database.store();
    fill_jar(&store).await;
    let kept = state(&store, &key()).await.unwrap();
    run(&mut database.owner().await, "UPDATE event SET action = 'x'").await;
    let Err(Error::State { state: named, detail }) = state(&store, &key()).await else {
        panic!("nothing is signed")
    };
    assert_eq!(named, "damaged");
    assert!(detail.contains("event 1 was changed after it was written"), "{detail}");
    // The hash still stands in the event, but no longer over what the event says.
    let verdict = verify_statement(&store, &kept).await.unwrap();
    assert_eq!(verdict.breaks.total(), 1, "{verdict}");
    database.remove().await;
}
