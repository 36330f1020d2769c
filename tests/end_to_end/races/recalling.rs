//! A recall against whoever reserves or weighs from what it reaches: held up where they would meet in two orders, and many of
//! each at once.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic};

use super::deadlocks::{met, stop_without_deadlock};
use super::{TOGETHER, at_once};
use crate::stock::{Shelf, lot, opened, weigh};

async fn recall(by: Caller, cause: &'static str, id: String) -> Answer {
    by.post("/v1/recalls", json!({ "cause": cause, "id": id, "reason": "The supplier withdrew it." })).await
}

async fn reserve(maker: Caller, batch: String) -> Answer {
    maker.post(&format!("/v1/batches/{batch}/reservations"), json!({})).await
}

/// A shelf with wax and oil, and a batch that weighed some of the wax.
async fn weighed() -> (Shelf, [String; 2]) {
    let shelf = Shelf::start_with(&TOGETHER).await;
    let wax = shelf.usable(lot("yellow beeswax", "2 kg")).await;
    let oil = shelf.usable(lot("olive oil", "9 kg")).await;
    shelf.weigh(&wax, "10 g").await.expect(201);
    (shelf, [wax, oil])
}

async fn material(of: &TeachingClinic, lot: &str) -> String {
    of.ilse.get(&format!("/v1/lots/{lot}")).await.expect(200).text_at("/material")
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recall_and_a_reservation_of_the_same_lots_do_not_deadlock() {
    // Each comes first once: the one that is held up holds what the other waits for.
    for recall_first in [true, false] {
        let (shelf, [wax, _]) = weighed().await;
        let other = opened(&shelf.room.noor, &shelf.salve).await;
        let material = material(&shelf.room, &wax).await;
        let recalling = recall(shelf.room.ilse.clone(), "material", material);
        let reserving = reserve(shelf.room.noor.clone(), other.clone());
        let held = format!("SELECT FROM lot WHERE id = '{wax}'");
        let [recalled, reserved] = if recall_first {
            met(&shelf.room, &held, recalling, reserving).await
        } else {
            let [reserved, recalled] = met(&shelf.room, &held, reserving, recalling).await;
            [recalled, reserved]
        };
        recalled.expect(201);
        reserved.expect(201);
        assert_eq!(shelf.lot(&wax).await["state"], "recalled");
        // Whichever came first: nobody weighs from it.
        weigh(&shelf.room.noor, &other, "1.1", &wax, "5 g").await.fields(&["/lot_id"]);
        stop_without_deadlock(shelf.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recall_and_a_weighing_of_its_batch_do_not_deadlock() {
    for recall_first in [true, false] {
        let (shelf, [wax, oil]) = weighed().await;
        let (noor, batch, from) = (shelf.room.noor.clone(), shelf.batch.clone(), oil.clone());
        let recalling = recall(shelf.room.ilse.clone(), "lot", wax.clone());
        let weighing = async move { weigh(&noor, &batch, "1.2", &from, "500 g").await };
        let held = format!("SELECT FROM batch WHERE id = '{}'", shelf.batch);
        let [recalled, weighed] = if recall_first {
            met(&shelf.room, &held, recalling, weighing).await
        } else {
            let [weighed, recalled] = met(&shelf.room, &held, weighing, recalling).await;
            [recalled, weighed]
        };
        recalled.expect(201);
        assert!([201, 409].contains(&weighed.status.as_u16()), "{}", weighed.text);
        stop_without_deadlock(shelf.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn many_who_reserve_and_weigh_while_lots_are_recalled_do_not_deadlock() {
    let (shelf, [wax, oil]) = weighed().await;
    let spare = shelf.usable(lot("yellow beeswax", "2 kg")).await;
    let mut batches = Vec::new();
    for _ in 0..6 {
        batches.push(opened(&shelf.room.noor, &shelf.salve).await);
    }
    let answers = at_once(20, |i| {
        let (ilse, noor, batch) = (shelf.room.ilse.clone(), shelf.room.noor.clone(), batches[i % 6].clone());
        let (lots, line) = ([wax.clone(), oil.clone(), spare.clone()], ["1.1", "1.2", "1.1"]);
        async move {
            match i {
                7 => recall(ilse, "lot", lots[0].clone()).await,
                13 => recall(ilse, "lot", lots[1].clone()).await,
                _ if i % 3 == 0 => reserve(noor, batch).await,
                _ => weigh(&noor, &batch, line[i % 3], &lots[i % 3], "5 g").await,
            }
        }
    })
    .await;
    for (i, answer) in answers.iter().enumerate() {
        match i {
            7 | 13 => assert_eq!(answer.status, 201, "{}", answer.text),
            _ => assert!([201, 409, 422].contains(&answer.status.as_u16()), "{i}: {}", answer.text),
        }
    }
    // Whoever weighed from a recalled lot is in its recall.
    let recalls = shelf.room.ilse.get("/v1/recalls").await.expect(200).json;
    let mut reached = Vec::new();
    for one in recalls["items"].as_array().unwrap() {
        let desk = format!("/v1/recalls/{}", one["id"].as_str().unwrap());
        let desk = shelf.room.ilse.get(&desk).await.expect(200).json;
        reached.extend(desk["reached"].as_array().unwrap().iter().map(|item| item["id"].clone()));
    }
    for batch in &batches {
        let record = shelf.room.noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
        let from = |entry: &Value| [json!(wax), json!(oil)].contains(&entry["lot_id"]);
        if record["entries"].as_array().unwrap().iter().any(from) {
            assert!(reached.contains(&json!(batch)), "{batch} was weighed from a recalled lot: {reached:?}");
        }
    }
    stop_without_deadlock(shelf.room).await;
}
