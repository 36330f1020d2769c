//! The ledger: it adds up, whoever draws at once, and nobody writes past it.

use diesel::sql_types::{BigInt, Text};
use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use serde_json::json;
use stillroom_tests::{Caller, database};
use tokio::task::JoinSet;

use super::{Shelf, cure, lot, opened, weigh};

/// A pool in which requests meet.
const TOGETHER: [(&str, &str); 1] = [("STILLROOM_CONNECTIONS", "8")];

#[derive(diesel::QueryableByName)]
struct Off {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// How many lots have a balance that is not the sum of their movements, or below nothing.
async fn off(shelf: &Shelf) -> i64 {
    let mut owner = database::owner(&shelf.room.clinic.database).await;
    let off: Off = diesel::sql_query(
        "SELECT count(*) AS count FROM lot l LEFT JOIN lot_balance b ON b.lot_id = l.id
         LEFT JOIN LATERAL (
             SELECT sum(coalesce(m.grams, CASE m.kind WHEN 'used' THEN -e.grams ELSE e.grams END)) AS sum,
                 max(m.number) AS last, count(*) AS many
             FROM lot_movement m LEFT JOIN batch_entry e ON e.id = m.entry_id WHERE m.lot_id = l.id) m ON true
         WHERE b.on_hand IS DISTINCT FROM m.sum OR b.on_hand < 0 OR b.last_movement IS DISTINCT FROM m.last
             OR m.last <> m.many",
    )
    .get_result(&mut owner)
    .await
    .unwrap();
    off.count
}

/// Makers with a batch each.
async fn makers(shelf: &Shelf, many: usize) -> Vec<(Caller, String)> {
    let mut makers = Vec::new();
    for i in 0..many {
        let maker = shelf.room.clinic.person(&format!("student.{i}"), "student").await;
        let member = format!("/v1/libraries/{}/members/{}", shelf.room.library, maker.id);
        shelf.room.ilse.put_bare(&member).await.expect(204);
        let batch = opened(&maker, &shelf.salve).await;
        makers.push((maker, batch));
    }
    makers
}

#[tokio::test(flavor = "multi_thread")]
async fn fifty_who_draw_at_once_never_draw_more_than_there_is() {
    let shelf = Shelf::start_with(&TOGETHER).await;
    let id = shelf.usable(lot("yellow beeswax", "95 g")).await;
    let makers = makers(&shelf, 10).await;
    let mut together = JoinSet::new();
    for (maker, batch) in makers.iter().cycle().take(50) {
        let (maker, batch, id) = (maker.clone(), batch.clone(), id.clone());
        together.spawn(async move { weigh(&maker, &batch, "1.1", &id, "10 g").await });
    }
    let answers = together.join_all().await;
    let drawn = answers.iter().filter(|answer| answer.status == 201).count();
    let refused: Vec<_> = answers.iter().filter(|answer| answer.status == 422).collect();
    let tried_again = answers.iter().filter(|answer| answer.status == 503).count();
    assert_eq!(
        drawn + refused.len() + tried_again,
        50,
        "{:?}",
        answers.iter().map(|it| it.status).collect::<Vec<_>>()
    );
    assert_eq!(drawn, 9, "nine times ten grams, and five are left");
    assert!(refused.iter().all(|it| cure(it).starts_with("L2026-0001 holds 5 g, less than this weighing.")));
    assert_eq!((shelf.left(&id).await.as_str(), off(&shelf).await), ("5", 0));
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_last_ten_grams_asked_for_twice_go_to_one() {
    let shelf = Shelf::start_with(&TOGETHER).await;
    let id = shelf.usable(lot("yellow beeswax", "10 g")).await;
    shelf.usable(lot("yellow beeswax", "500 g")).await;
    let makers = makers(&shelf, 2).await;
    let mut together = JoinSet::new();
    for (maker, batch) in makers {
        let id = id.clone();
        together.spawn(async move { weigh(&maker, &batch, "1.1", &id, "10 g").await });
    }
    let mut answers = together.join_all().await;
    answers.sort_by_key(|answer| answer.status);
    assert_eq!(answers[0].status, 201);
    let refused = answers.pop().unwrap().fields(&["/lot_id"]);
    assert_eq!(
        cure(&refused),
        "L2026-0001 holds 0 g, less than this weighing. Choose another lot: L2026-0002 (until 2027-03-02)."
    );
    assert_eq!(off(&shelf).await, 0);
    shelf.stop().await;
}

/// Numbers that look drawn by lot, from a printed seed.
struct Lots(u64);

impl Lots {
    fn below(&mut self, end: u64) -> u64 {
        // Knuth's multiplier; the high bits are used.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn whatever_clients_do_at_once_the_balance_is_the_sum_of_the_ledger() {
    let shelf = Shelf::start_with(&TOGETHER).await;
    let seed = u64::from(std::process::id());
    let mut ids = Vec::new();
    for amount in ["60 g", "200 g", "15.75 g"] {
        ids.push(shelf.usable(lot("yellow beeswax", amount)).await);
    }
    let makers = makers(&shelf, 6).await;
    let mut together = JoinSet::new();
    for (i, (maker, batch)) in makers.into_iter().enumerate() {
        let (ids, ilse) = (ids.clone(), shelf.room.ilse.clone());
        let mut lots = Lots(seed.wrapping_add(u64::try_from(i).unwrap()));
        together.spawn(async move {
            let mut last = None;
            for _ in 0..12 {
                let id = &ids[usize::try_from(lots.below(3)).unwrap()];
                let grams = format!("{}.{} g", lots.below(25), 1 + lots.below(9));
                let entries = format!("/v1/batches/{batch}/entries");
                let answer = match (lots.below(6), &last) {
                    (0, _) => {
                        let count = json!({ "counted": grams, "reason": "Counted." });
                        crate::stock::count(&ilse, id, count).await
                    }
                    (1 | 2, Some(entry)) => {
                        let body = json!({
                            "kind": "weighing", "line": "1.1", "quantity": grams, "lot_id": id, "corrects": entry,
                            "reason": "Misread.", "reason_later": true,
                        });
                        maker.post(&entries, body).await
                    }
                    _ => weigh(&maker, &batch, "1.1", id, &grams).await,
                };
                if let Some(entry) = answer.json.pointer("/entry/id") {
                    last = Some(entry.clone());
                }
                assert!([201, 409, 412, 422, 503].contains(&answer.status.as_u16()), "{}", answer.text);
            }
        });
    }
    together.join_all().await;
    assert_eq!(off(&shelf).await, 0, "seed {seed}");
    shelf.stop().await;
}

#[derive(diesel::QueryableByName)]
struct Role {
    #[diesel(sql_type = Text)]
    #[expect(dead_code, reason = "only whether there is a row counts")]
    name: String,
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_edits_a_balance_or_a_movement() {
    let shelf = Shelf::start().await;
    let id = shelf.usable(lot("yellow beeswax", "100 g")).await;
    // Not even who owns the tables changes a balance without a movement, or makes one that does not follow.
    for attempt in [
        "UPDATE lot_balance SET on_hand = 50".to_owned(),
        "UPDATE lot SET keeps_until = keeps_until + 1".to_owned(),
        "UPDATE lot SET amount = '200 g'".to_owned(),
        format!(
            "INSERT INTO lot_movement (id, lot_id, number, kind, grams, reason, by_id, at)
             SELECT gen_random_uuid(), '{id}', 3, 'adjusted', 5, 'x', received_by, received_at FROM lot WHERE id = '{id}'"
        ),
        format!(
            "INSERT INTO lot_movement (id, lot_id, number, kind, grams, reason, by_id, at)
             SELECT gen_random_uuid(), '{id}', 2, 'adjusted', -100.5, 'x', received_by, received_at FROM lot WHERE id = '{id}'"
        ),
    ] {
        let mut owner = database::owner(&shelf.room.clinic.database).await;
        let refused = owner.batch_execute(&attempt).await;
        assert!(refused.is_err(), "{attempt}");
    }
    let mut owner = database::owner(&shelf.room.clinic.database).await;
    let rights: Vec<Role> = diesel::sql_query(
        "SELECT privilege_type AS name FROM information_schema.role_table_grants
         WHERE grantee = 'stillroom_service' AND table_name = 'lot_balance' AND privilege_type <> 'SELECT'",
    )
    .load(&mut owner)
    .await
    .unwrap();
    assert!(rights.is_empty());
    assert_eq!((shelf.left(&id).await.as_str(), off(&shelf).await), ("100", 0));
    shelf.stop().await;
}
