//! The public order of events.

use store::journal::{NewEvent, number_events, verify};
use uuid::Uuid;

use crate::database::{Database, run, texts};
use crate::shelf::{KEPT, fill_jar};

#[tokio::test(flavor = "multi_thread")]
async fn relays_that_run_at_once_leave_no_gap_and_no_duplicate() {
    let database = Database::new().await;
    let stores: Vec<_> = (0..4).map(|_| database.store()).collect();
    // Three and a half batches.
    stores[0]
        .run_unauthenticated(async |tx| {
            for number in 0..3500_u128 {
                tx.record(NewEvent::new("jug", Uuid::from_u128(number + 1), "filled"));
            }
            Ok(())
        })
        .await
        .unwrap();
    let relay = async |store: &store::Store| {
        let mut numbered = 0;
        for _ in 0..3 {
            numbered += number_events(store).await.unwrap();
            fill_jar(store).await;
        }
        numbered + number_events(store).await.unwrap()
    };
    let (a, b, c, d) =
        tokio::join!(relay(&stores[0]), relay(&stores[1]), relay(&stores[2]), relay(&stores[3]));
    let rest = number_events(&stores[0]).await.unwrap();
    assert_eq!(a + b + c + d + rest, 3512);
    let verdict = verify(&stores[0], KEPT, &[]).await.unwrap();
    assert!(verdict.holds(), "{verdict}");
    assert_eq!((verdict.numbered, verdict.events), (3512, 3512));
    database.remove().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_is_ordered_by_time_and_then_by_id() {
    let database = Database::new().await;
    let store = database.store();
    for _ in 0..5 {
        fill_jar(&store).await;
    }
    let mut owner = database.owner().await;
    run(
        &mut owner,
        "UPDATE event SET at = at - interval '1 hour' WHERE id = (SELECT max(id::text)::uuid FROM event)",
    )
    .await;
    number_events(&store).await.unwrap();
    let order = "SELECT event_id::text AS value FROM event_order ORDER BY position";
    let wanted = "SELECT id::text AS value FROM event ORDER BY at, id";
    assert_eq!(texts(&mut owner, order).await, texts(&mut owner, wanted).await);
    assert_eq!(number_events(&store).await.unwrap(), 0);
    database.remove().await;
}
