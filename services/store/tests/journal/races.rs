//! Transactions that write about the same subject or row at once.

use std::sync::Arc;

use store::journal::{NewEvent, Overtaken, verify};
use store::{Error, Store};
use tokio::sync::Barrier;
use uuid::Uuid;

use crate::database::{Database, run, texts};
use crate::shelf::{JAR, KEPT, fill_jar, rename_jar};

/// Whether a transaction lost each time that it was tried.
fn overtaken(answer: &store::Result<()>) -> bool {
    matches!(answer, Err(Error::Contended(cause)) if cause.downcast_ref::<Overtaken>().is_some())
}

async fn first(store: &Store, subject: Uuid) -> store::Result<()> {
    store
        .run_unauthenticated(async |tx| {
            tx.record(NewEvent::new("jug", subject, "filled"));
            Ok(())
        })
        .await
}

/// One transaction is held up after it has begun the chain, until the other has come to the same place.
#[tokio::test(flavor = "multi_thread")]
async fn of_two_first_events_of_a_subject_the_later_is_tried_again() {
    let database = Database::new().await;
    let (one, other) = (database.store(), database.store());
    let subject = Uuid::from_u128(5);
    let (mut owner, mut onlooker) = (database.owner().await, database.owner().await);
    run(&mut owner, "BEGIN; LOCK TABLE event_unnumbered IN EXCLUSIVE MODE").await;
    let free = async {
        let waiting = "SELECT count(*)::text AS value FROM pg_locks l JOIN pg_database d ON d.datname = current_database()
             JOIN pg_stat_activity a ON a.pid = l.pid AND a.datname = d.datname WHERE NOT l.granted";
        while texts(&mut onlooker, waiting).await != ["2"] {}
        run(&mut owner, "COMMIT").await;
    };
    let (one_answer, other_answer, ()) = tokio::join!(first(&one, subject), first(&other, subject), free);
    one_answer.unwrap();
    other_answer.unwrap();
    let verdict = verify(&one, KEPT, &[]).await.unwrap();
    assert!(verdict.holds(), "{verdict}");
    assert_eq!((verdict.events, verdict.chains), (2, 1));
    database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn many_first_events_of_many_subjects_never_deadlock_or_lose_an_event() {
    let database = Database::new().await;
    let stores: Vec<_> = (0..4).map(|_| Arc::new(database.store())).collect();
    let barrier = Arc::new(Barrier::new(8));
    // Not spread over threads: the compiler cannot see that work which may be tried again may move between them.
    let local = tokio::task::LocalSet::new();
    let mut tasks = Vec::new();
    for worker in 0..8_usize {
        let (store, barrier) = (Arc::clone(&stores[worker % 4]), Arc::clone(&barrier));
        tasks.push(local.spawn_local(async move {
            barrier.wait().await;
            let (mut written, mut refused) = (0_u64, Vec::new());
            for round in 0..20_u128 {
                let answer = store
                    .run_unauthenticated(async |tx| {
                        // Every other worker names the subjects the other way round.
                        let mut subjects: Vec<u128> = (1..=6).map(|n| round * 10 + n).collect();
                        if worker % 2 == 0 {
                            subjects.reverse();
                        }
                        for subject in subjects {
                            tx.record(NewEvent::new("jug", Uuid::from_u128(subject), "filled"));
                        }
                        Ok(())
                    })
                    .await;
                match answer {
                    Ok(()) => written += 6,
                    refusal if overtaken(&refusal) => {}
                    refusal => refused.push(format!("{refusal:?}")),
                }
            }
            (written, refused)
        }));
    }
    let mut written = 0;
    for task in tasks {
        let (some, refused) = local.run_until(task).await.unwrap();
        assert!(refused.is_empty(), "{refused:?}");
        written += some;
    }
    let verdict = verify(&stores[0], KEPT, &[]).await.unwrap();
    assert!(verdict.holds(), "{verdict}");
    assert_eq!((verdict.events, verdict.chains), (written, 120));
    database.remove().await;
}

/// Two transactions change one row, each under a subject of its own: the row's lock makes them follow each other.
#[tokio::test(flavor = "multi_thread")]
async fn changes_of_one_row_under_different_subjects_follow_each_other() {
    let database = Database::new().await;
    let stores: Vec<_> = (0..4).map(|_| Arc::new(database.store())).collect();
    let jug = fill_jar(&stores[0]).await;
    // Not spread over threads: the compiler cannot see that work which may be tried again may move between them.
    let local = tokio::task::LocalSet::new();
    let mut tasks = Vec::new();
    for (worker, store) in stores.iter().enumerate() {
        let store = Arc::clone(store);
        tasks.push(local.spawn_local(async move {
            for round in 0..10 {
                let subject = Uuid::from_u128(100 + u128::try_from(worker).unwrap());
                rename_jar(&store, jug, subject, &format!("{worker} {round}")).await.unwrap();
            }
        }));
    }
    for task in tasks {
        local.run_until(task).await.unwrap();
    }
    let verdict = verify(&stores[0], KEPT, &[]).await.unwrap();
    assert!(verdict.holds(), "{verdict}");
    assert_eq!(verdict.events, 41);
    database.remove().await;
}

/// What belongs to a row may change without a lock on the row itself. A digest that misses it is never kept.
#[tokio::test(flavor = "multi_thread")]
async fn a_digest_that_misses_a_note_written_at_once_is_not_kept() {
    let database = Database::new().await;
    let stores: Vec<_> = (0..4).map(|_| Arc::new(database.store())).collect();
    let jug = fill_jar(&stores[0]).await;
    // Not spread over threads: the compiler cannot see that work which may be tried again may move between them.
    let local = tokio::task::LocalSet::new();
    let mut tasks = Vec::new();
    for (worker, store) in stores.iter().enumerate() {
        let store = Arc::clone(store);
        tasks.push(local.spawn_local(async move {
            let mut kept = 0;
            for round in 0..10_usize {
                let position = i32::try_from(10 + worker * 100 + round).unwrap();
                let answer = store
                    .run_unauthenticated(async |tx| {
                        diesel_async::RunQueryDsl::execute(
                            diesel::sql_query(format!(
                                "INSERT INTO jar_note VALUES ('{jug}', {position}, 'x')"
                            )),
                            tx.conn(),
                        )
                        .await?;
                        let subject = Uuid::from_u128(200 + u128::try_from(worker).unwrap());
                        tx.record(NewEvent::new("note", subject, "written").keeps(&JAR, [jug]));
                        Ok(())
                    })
                    .await;
                assert!(answer.is_ok() || overtaken(&answer), "{answer:?}");
                kept += u64::from(answer.is_ok());
            }
            kept
        }));
    }
    let mut kept = 0;
    for task in tasks {
        kept += local.run_until(task).await.unwrap();
    }
    let verdict = verify(&stores[0], KEPT, &[]).await.unwrap();
    assert!(verdict.holds(), "{verdict}");
    assert_eq!(verdict.events, kept + 1);
    database.remove().await;
}
