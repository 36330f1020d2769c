//! Drawing from a lot with a weighing, and putting it back with a correction.

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::figures::tells;

use super::{Shelf, cure, lot, opened, weigh};

#[tokio::test(flavor = "multi_thread")]
async fn a_weighing_draws_from_its_lot_which_gives_date_and_price() {
    let shelf = Shelf::start().await;
    let mut wax = lot("yellow beeswax", "500 g");
    wax["expires"] = json!("2026-06");
    wax["price"] = json!("20 per kg");
    let id = shelf.usable(wax).await;
    let written = shelf.weigh(&id, "100 g").await.expect(201);
    let entry = &written.json["entry"];
    assert_eq!((&entry["lot_id"], &entry["lot"]), (&json!(id), &json!("L2026-0001 (QB-26-117)")));
    assert_eq!((&entry["lot_expires"], &entry["price"]), (&json!("2026-06-30"), &json!("20 per kg")));
    assert_eq!(shelf.left(&id).await, "400");
    // The lot's date binds the product, and its price the cost, as typed ones do.
    let record = shelf.room.noor.get(&format!("/v1/batches/{}", shelf.batch)).await.expect(200);
    assert_eq!(record.json["entries"][0]["lot_id"], json!(id));
    assert_eq!(record.json["as_made"]["use_by"]["date"], "2026-06-30");
    assert_eq!(
        record.json["as_made"]["cost"]["figures"][1]["value"], "2",
        "{}",
        record.json["as_made"]["cost"]
    );
    // A repetition draws nothing more.
    let body = json!({ "kind": "weighing", "line": "1.1", "quantity": "1 g", "lot_id": id });
    let path = format!("/v1/batches/{}/entries", shelf.batch);
    let first = shelf.room.noor.post_with_key(&path, "the-same", body.clone()).await.expect(201);
    let again = shelf.room.noor.post_with_key(&path, "the-same", body).await.expect(201);
    assert_eq!(first.json["entry"], again.json["entry"]);
    assert_eq!(shelf.left(&id).await, "399");
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_correction_moves_the_difference_back_or_forth() {
    let shelf = Shelf::start().await;
    let (one, other) = (
        shelf.usable(lot("yellow beeswax", "120 g")).await,
        shelf.usable(lot("yellow beeswax", "90 g")).await,
    );
    let path = format!("/v1/batches/{}/entries", shelf.batch);
    let correct = async |entry: &Value, quantity: &str, lot: Option<&str>| {
        let mut body = json!({
            "kind": "weighing", "line": "1.1", "quantity": quantity, "corrects": entry, "reason": "Misread.",
            "reason_later": true,
        });
        if let Some(lot) = lot {
            body["lot_id"] = json!(lot);
        }
        shelf.room.noor.post(&path, body).await
    };
    let entry = shelf.weigh(&one, "100 g").await.expect(201).json["entry"]["id"].clone();
    let entry = correct(&entry, "110 g", Some(&one)).await.expect(201).json["entry"]["id"].clone();
    assert_eq!(shelf.left(&one).await, "10", "twenty grams were left, and ten more were weighed");
    // More than there is, even with what came back.
    let refused = correct(&entry, "121 g", Some(&one)).await.fields(&["/lot_id"]);
    assert!(cure(&refused).starts_with("L2026-0001 holds less than this weighing"), "{}", refused.text);
    assert_eq!(shelf.left(&one).await, "10", "nothing of it stays");
    let entry = correct(&entry, "80 g", Some(&other)).await.expect(201).json["entry"]["id"].clone();
    assert_eq!((shelf.left(&one).await, shelf.left(&other).await), ("120".into(), "10".into()));
    // Without a lot of the shelf, all of it comes back.
    let last = correct(&entry, "80 g", None).await.expect(201);
    assert_eq!(last.json["entry"].get("lot_id"), None);
    assert_eq!((shelf.left(&one).await, shelf.left(&other).await), ("120".into(), "90".into()));
    // An entry that was corrected is corrected no more, and gives nothing back twice.
    assert!(correct(&entry, "70 g", Some(&one)).await.status.is_client_error());
    assert_eq!(shelf.left(&one).await, "120");
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_weighing_can_be_corrected_though_its_lot_is_out_of_use_by_now() {
    let shelf = Shelf::start().await;
    let id = shelf.usable(lot("yellow beeswax", "200 g")).await;
    let entry = shelf.weigh(&id, "100 g").await.expect(201).json["entry"]["id"].clone();
    let why = json!({ "reason": "Smells of smoke." });
    shelf.room.ilse.post(&format!("/v1/lots/{id}/quarantine"), why).await.expect(201);
    let body = json!({
        "kind": "weighing", "line": "1.1", "quantity": "99 g", "lot_id": id, "corrects": entry, "reason": "Misread.",
    });
    shelf.room.noor.post(&format!("/v1/batches/{}/entries", shelf.batch), body).await.expect(201);
    assert_eq!(shelf.left(&id).await, "101");
    shelf.weigh(&id, "1 g").await.fields(&["/lot_id"]);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lot_of_another_material_or_past_its_date_is_refused_with_the_others() {
    let shelf = Shelf::start().await;
    let mut soon = lot("yellow beeswax", "500 g");
    soon["expires"] = json!("2026-03-31");
    let soon = shelf.usable(soon).await;
    let later = shelf.usable(lot("yellow beeswax", "500 g")).await;
    let oil = shelf.usable(lot("olive oil", "500 g")).await;
    let refused = shelf.weigh(&oil, "10 g").await.fields(&["/lot_id"]);
    assert_eq!(
        cure(&refused),
        "L2026-0003 is of olive oil, which line 1.1 does not ask for. Choose another lot: L2026-0001 (until \
         2026-03-31), L2026-0002 (until 2027-03-02)."
    );
    shelf.room.clinic.service.clinic.clock().advance(Duration::days(30));
    let noor = sign_in(&shelf.room.clinic.nobody, "noor.haddad").await;
    let refused = weigh(&noor, &shelf.batch, "1.1", &soon, "10 g").await.fields(&["/lot_id"]);
    assert_eq!(
        cure(&refused),
        "L2026-0001 may be used until 2026-03-31 only, and that day has passed. Choose another lot: L2026-0002 \
         (until 2027-03-02)."
    );
    weigh(&noor, &shelf.batch, "1.1", &later, "10 g").await.expect(201);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_expires_first_is_offered_first_and_says_where_it_shortens_the_use_by() {
    let shelf = Shelf::start().await;
    let noor = &shelf.room.noor;
    let until = |day: &str, amount: &str| {
        let mut wax = lot("yellow beeswax", amount);
        wax["expires"] = json!(day);
        wax
    };
    let late = shelf.usable(until("2028-01", "500 g")).await;
    let small = shelf.usable(until("2026-04-15", "12.5 g")).await;
    let early = shelf.usable(until("2026-05", "500 g")).await;
    // Neither in quarantine, nor used up, nor of another material.
    shelf.room.ilse.post("/v1/lots", until("2026-04", "500 g")).await.expect(201);
    let path = format!("/v1/batches/{}/lots", shelf.batch);
    let lots = noor.get(&path).await.expect(200);
    let of_line = lots.json["lines"][0]["lots"].as_array().unwrap().clone();
    let ids: Vec<&str> = of_line.iter().map(|it| it["id"].as_str().unwrap()).collect();
    assert_eq!(ids, [small.as_str(), early.as_str(), late.as_str()]);
    assert_eq!((&of_line[0]["enough"], &of_line[0]["left_grams"]), (&json!(false), &json!("12.5")));
    assert_eq!((&of_line[1]["enough"], of_line[1].get("left_grams")), (&json!(true), None));
    assert!(of_line[1]["shortens_use_by"].as_str().unwrap().contains("2026-05-31"), "{}", of_line[1]);
    assert_eq!(of_line[2].get("shortens_use_by"), None, "{}", of_line[2]);
    assert_eq!(lots.json["lines"][1]["lots"], json!([]));
    shelf.weigh(&small, "12.5 g").await.expect(201);
    let after = noor.get(&path).await.expect(200);
    assert_eq!(after.json["lines"][0]["lots"].as_array().unwrap().len(), 2);
    // Somebody else's batch tells them nothing.
    let sven = shelf.room.clinic.person("sven.aalto", "student").await;
    sven.get(&path).await.expect(404);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_left_is_told_only_where_it_is_less_than_the_line_asks_for() {
    let shelf = Shelf::start().await;
    let plenty = shelf.usable(lot("yellow beeswax", "777.7 g")).await;
    // A weighing that nobody means does not measure what others drew.
    let probe = shelf.weigh(&plenty, "100000 g").await.fields(&["/lot_id"]);
    assert!(!tells(&probe.text, "777") && cure(&probe).contains("Check the weighing."), "{}", probe.text);
    // Nor does any other answer that a student gets.
    let noor = &shelf.room.noor;
    for path in [
        "/v1/lots".to_owned(),
        format!("/v1/lots/{plenty}"),
        format!("/v1/batches/{}/lots", shelf.batch),
        format!("/v1/batches/{}", shelf.batch),
    ] {
        let text = noor.get(&path).await.expect(200).text;
        let told = text.replace("777.7 g", "");
        assert!(!tells(&told, "777") && !text.contains("on_hand"), "{path}: {text}");
    }
    noor.get(&format!("/v1/lots/{plenty}/movements")).await.expect(403);
    noor.get("/v1/stock").await.expect(403);
    let key = shelf.room.clinic.api_client(&shelf.room.ilse, &["lots:read"], &[]).await;
    let seen = key.get("/v1/lots").await.expect(200).text;
    assert!(!tells(&seen, "777") && !seen.contains("on_hand"), "{seen}");
    let events = noor.get(&format!("/v1/events?subject={plenty}")).await;
    events.expect(404);
    // The maker of another batch learns of the last grams, which they hold in their hand.
    shelf.weigh(&plenty, "770 g").await.expect(201);
    let marek = &shelf.room.marek;
    let other = opened(marek, &shelf.salve).await;
    let short = weigh(marek, &other, "1.1", &plenty, "50 g").await.fields(&["/lot_id"]);
    assert!(cure(&short).starts_with("L2026-0001 holds 7.7 g, less than this weighing."), "{}", short.text);
    shelf.stop().await;
}
