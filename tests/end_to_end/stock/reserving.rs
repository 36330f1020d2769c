//! Lots that a batch reserves: for itself, first what expires first, until a day.

use chrono::Duration;
use diesel::sql_types::BigInt;
use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::figures::tells;
use stillroom_tests::{Answer, Caller, database};
use tokio::task::JoinSet;

use super::{Shelf, count, cure, lot, opened, weigh};

/// A pool in which requests meet.
const TOGETHER: [(&str, &str); 1] = [("STILLROOM_CONNECTIONS", "8")];

async fn reserve(maker: &Caller, batch: &str) -> Answer {
    maker.post(&format!("/v1/batches/{batch}/reservations"), json!({})).await
}

async fn reserved(maker: &Caller, batch: &str) -> Value {
    maker.get(&format!("/v1/batches/{batch}/reservations")).await.expect(200).json
}

#[derive(diesel::QueryableByName)]
struct Off {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// How many lots are held for more or less than their reservations say, or have another balance beside what is held.
async fn off(shelf: &Shelf) -> i64 {
    let mut owner = database::owner(&shelf.room.clinic.database).await;
    let off: Off = diesel::sql_query(
        "SELECT count(*) AS count FROM lot_held h JOIN lot_balance b ON b.lot_id = h.lot_id
         LEFT JOIN LATERAL (SELECT sum(grams) AS sum FROM lot_reserved r WHERE r.lot_id = h.lot_id) r ON true
         WHERE h.reserved <> coalesce(r.sum, 0) OR h.on_hand <> b.on_hand OR h.reserved > b.on_hand",
    )
    .get_result(&mut owner)
    .await
    .unwrap();
    off.count
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_holds_what_expires_first_and_draws_it_first() {
    let shelf = Shelf::start().await;
    let (noor, marek) = (&shelf.room.noor, &shelf.room.marek);
    let until = |day: &str, amount: &str| {
        let mut wax = lot("yellow beeswax", amount);
        wax["expires"] = json!(day);
        wax
    };
    let late = shelf.usable(until("2028-01", "120 g")).await;
    let early = shelf.usable(until("2026-05", "60 g")).await;
    let made = reserve(noor, &shelf.batch).await.expect(201);
    assert_eq!(made.json["until"], "2026-03-05T08:00:00Z", "{}", made.text);
    let line = &made.json["lines"][0];
    assert_eq!((&line["line"], &line["enough"]), (&json!("1.1"), &json!(true)));
    let lots: Vec<&str> =
        line["lots"].as_array().unwrap().iter().map(|it| it["id"].as_str().unwrap()).collect();
    assert_eq!(lots, [early.as_str(), late.as_str()], "sixty from the first, forty from the other");
    assert_eq!(made.json["lines"].as_array().unwrap().len(), 1, "there is no oil");
    assert_eq!(made.json, reserved(noor, &shelf.batch).await);
    assert!(!tells(&made.text, "60") && !tells(&made.text, "40"), "no amount: {}", made.text);
    // Others find only what is free, and are told so where it is less than they ask for.
    let other = opened(marek, &shelf.salve).await;
    let lots = marek.get(&format!("/v1/batches/{other}/lots")).await.expect(200);
    let choices = lots.json["lines"][0]["lots"].as_array().unwrap();
    assert_eq!((choices.len(), &choices[0]["left_grams"]), (1, &json!("80")));
    let refused = weigh(marek, &other, "1.1", &early, "10 g").await.fields(&["/lot_id"]);
    assert!(
        cure(&refused)
            .starts_with("Of L2026-0002, 0 g is not reserved for others, which is less than this weighing."),
        "{}",
        refused.text
    );
    weigh(marek, &other, "1.1", &late, "80 g").await.expect(201);
    // Whose batch it is draws what it holds, more and less of it, and the rest stays held.
    let own = noor.get(&format!("/v1/batches/{}/lots", shelf.batch)).await.expect(200);
    assert_eq!(own.json["lines"][0]["lots"][0]["reserved"], json!(true));
    shelf.weigh(&early, "60 g").await.expect(201);
    shelf.weigh(&late, "15 g").await.expect(201);
    weigh(marek, &other, "1.1", &late, "1 g").await.fields(&["/lot_id"]);
    let ilse = shelf.lot(&late).await;
    assert_eq!((&ilse["on_hand_grams"], &ilse["reserved_for"]), (&json!("25"), &json!(1)));
    assert_eq!(noor.get(&format!("/v1/lots/{late}")).await.expect(200).json.get("reserved_for"), None);
    assert_eq!(off(&shelf).await, 0);
    // What is weighed already is not reserved again.
    let again = reserve(noor, &shelf.batch).await.expect(201);
    assert_eq!(again.json["lines"], json!([]));
    weigh(marek, &other, "1.1", &late, "25 g").await.expect(201);
    assert_eq!(off(&shelf).await, 0);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_reservation_ends_by_the_clock_and_with_the_batch() {
    let shelf = Shelf::start().await;
    let id = shelf.usable(lot("yellow beeswax", "110 g")).await;
    let free = async |batch: &str, caller: &Caller| {
        let lots = caller.get(&format!("/v1/batches/{batch}/lots")).await.expect(200).json;
        lots["lines"][0]["lots"][0]["left_grams"].clone()
    };
    let other = opened(&shelf.room.marek, &shelf.salve).await;
    reserve(&shelf.room.noor, &shelf.batch).await.expect(201);
    assert_eq!(free(&other, &shelf.room.marek).await, json!("10"));
    let path = format!("/v1/batches/{}/reservations", shelf.batch);
    shelf.room.noor.delete(&path).await.expect(204);
    assert_eq!(free(&other, &shelf.room.marek).await, Value::Null, "all of it is enough");
    // It is freed when the record is handed in, and when it is abandoned.
    for end in ["submissions", "abandonment"] {
        let batch = opened(&shelf.room.noor, &shelf.salve).await;
        let note = json!({ "kind": "observation", "note": "Begun." });
        shelf.room.noor.post(&format!("/v1/batches/{batch}/entries"), note).await.expect(201);
        reserve(&shelf.room.noor, &batch).await.expect(201);
        assert_eq!(free(&other, &shelf.room.marek).await, json!("10"), "{end}");
        let answer = shelf.room.noor.post(&format!("/v1/batches/{batch}/{end}"), json!({})).await;
        let answer = match end {
            "abandonment" => shelf.room.noor.post_bare(&format!("/v1/batches/{batch}/{end}"), &[]).await,
            _ => answer,
        };
        assert!(answer.status.is_success(), "{}", answer.text);
        assert_eq!(free(&other, &shelf.room.marek).await, Value::Null, "{end}");
        reserve(&shelf.room.noor, &batch).await.problem(409, "wrong-state");
    }
    // And after its days, whether anybody has cleared it away or not.
    let late = json!({ "days": 15 });
    shelf.room.noor.post(&path, late).await.fields(&["/days"]);
    reserve(&shelf.room.noor, &shelf.batch).await.expect(201);
    shelf.room.clinic.service.clinic.clock().advance(Duration::days(3));
    let marek = sign_in(&shelf.room.clinic.nobody, "marek.dvorsky").await;
    let noor = sign_in(&shelf.room.clinic.nobody, "noor.haddad").await;
    assert_eq!(reserved(&noor, &shelf.batch).await["lines"], json!([]));
    assert_eq!(free(&other, &marek).await, Value::Null);
    weigh(&marek, &other, "1.1", &id, "105 g").await.expect(201);
    reserve(&noor, &shelf.batch).await.expect(201);
    shelf.room.clinic.service.clinic.clock().advance(Duration::days(4));
    let kept = clinic::retention::Retention { repeats: 30, refresh_tokens: 30, security_events: 30 };
    clinic::retention::purge(&shelf.room.clinic.service.clinic, &kept).await.unwrap();
    assert_eq!(off(&shelf).await, 0);
    let mut owner = database::owner(&shelf.room.clinic.database).await;
    let left: Off = diesel::sql_query("SELECT count(*) AS count FROM lot_reservation")
        .get_result(&mut owner)
        .await
        .unwrap();
    assert_eq!(left.count, 0);
    drop(owner);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_count_that_finds_less_ends_the_newest_reservations_and_discarding_ends_all() {
    let shelf = Shelf::start().await;
    let (noor, marek, ilse) = (&shelf.room.noor, &shelf.room.marek, &shelf.room.ilse);
    let id = shelf.usable(lot("yellow beeswax", "250 g")).await;
    let other = opened(marek, &shelf.salve).await;
    reserve(noor, &shelf.batch).await.expect(201);
    reserve(marek, &other).await.expect(201);
    let found = json!({ "counted": "150 g", "reason": "A jar was broken." });
    count(ilse, &id, found).await.expect(201);
    assert_eq!(reserved(marek, &other).await["lines"], json!([]), "the newer one");
    assert_eq!(reserved(noor, &shelf.batch).await["lines"][0]["line"], "1.1");
    let why = json!({ "reason": "Moths." });
    ilse.post(&format!("/v1/lots/{id}/discard"), why).await.expect(201);
    assert_eq!(reserved(noor, &shelf.batch).await["lines"], json!([]));
    assert_eq!(off(&shelf).await, 0);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn fifty_who_draw_and_reserve_at_once_never_hold_more_than_there_is() {
    let shelf = Shelf::start_with(&TOGETHER).await;
    let id = shelf.usable(lot("yellow beeswax", "395 g")).await;
    let mut makers = Vec::new();
    for i in 0..10 {
        let maker = shelf.room.clinic.person(&format!("student.{i}"), "student").await;
        let member = format!("/v1/libraries/{}/members/{}", shelf.room.library, maker.id);
        shelf.room.ilse.put_bare(&member).await.expect(204);
        let batch = opened(&maker, &shelf.salve).await;
        makers.push((maker, batch));
    }
    let mut together = JoinSet::new();
    for (i, (maker, batch)) in makers.iter().cycle().take(50).enumerate() {
        let (maker, batch, id) = (maker.clone(), batch.clone(), id.clone());
        together.spawn(async move {
            match i % 3 {
                0 => reserve(&maker, &batch).await,
                _ => weigh(&maker, &batch, "1.1", &id, "10 g").await,
            }
        });
    }
    for answer in together.join_all().await {
        assert!([201, 422, 503].contains(&answer.status.as_u16()), "{}", answer.text);
    }
    assert_eq!(off(&shelf).await, 0);
    // Nobody writes more than there is, or what is held, past the triggers.
    let mut owner = database::owner(&shelf.room.clinic.database).await;
    let more = "UPDATE lot_held SET reserved = on_hand + 1";
    assert!(owner.batch_execute(more).await.is_err());
    drop(owner);
    shelf.stop().await;
}
