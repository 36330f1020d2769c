//! Receiving a lot, until when it keeps, and who says what it is.

use serde_json::json;

use super::{Shelf, confirm, cure, lot};

#[tokio::test(flavor = "multi_thread")]
async fn a_lot_waits_in_quarantine_until_an_instructor_has_confirmed_what_it_is() {
    let shelf = Shelf::start().await;
    let petra = &shelf.room.clinic.administrator;
    let mut wax = lot("yellow beeswax", "500 g");
    wax["expires"] = json!("2028-06");
    wax["price"] = json!("18.40 per kg");
    let received = petra.post("/v1/lots", wax).await.expect(201);
    assert_eq!(received.header("location"), format!("/v1/lots/{}", received.id()));
    let of = &received.json;
    assert_eq!((&of["number"], &of["state"]), (&json!("L2026-0001"), &json!("quarantine")));
    assert_eq!((&of["amount"], &of["on_hand_grams"]), (&json!("500 g"), &json!("500")));
    assert_eq!((&of["keeps_until"], &of["currency"]), (&json!("2028-06-30"), &json!("EUR")));
    assert_eq!(of["received_by_name"], "Petra Hollweg");
    let refused = shelf.weigh(&received.id(), "10 g").await.fields(&["/lot_id"]);
    assert!(cure(&refused).contains("L2026-0001 is in quarantine. An instructor can confirm its identity."));
    // An administrator keeps the stock and judges no identity.
    let check = json!({ "confirmed": true, "organoleptic": "Yellow, smells of honey." });
    petra.post(&format!("/v1/lots/{}/identity", received.id()), check).await.expect(403);
    let confirmed = confirm(&shelf.room.ilse, &received.id()).await;
    assert_eq!(confirmed.json["state"], "usable");
    assert_eq!(confirmed.json["decisions"][0]["by_name"], "ilse.brandt");
    shelf.weigh(&received.id(), "10 g").await.expect(201);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lot_without_a_printed_expiry_keeps_for_at_most_a_year_and_less_once_opened() {
    let shelf = Shelf::start().await;
    let ilse = &shelf.room.ilse;
    let oil = ilse.post("/v1/lots", lot("olive oil", "1 L")).await.expect(201);
    assert_eq!(oil.json["keeps_until"], "2027-03-02");
    assert!(
        oil.text_at("/keeps_rule").contains("at most 12 months from receipt (common practice, no source)")
    );
    // A volume becomes a mass by the density of the material, and stays as it was typed.
    assert_eq!(oil.json["amount"], "1 L");
    assert!(oil.text_at("/converted_by").starts_with("1 L, 0.9"), "{}", oil.text);
    let grams: f64 = oil.text_at("/on_hand_grams").parse().unwrap();
    assert!((900.0..930.0).contains(&grams), "{grams}");
    confirm(ilse, &oil.id()).await;
    // The first weighing opens it.
    let written = super::weigh(&shelf.room.noor, &shelf.batch, "1.2", &oil.id(), "500 g").await.expect(201);
    assert_eq!(written.json["entry"]["lot_expires"], "2026-09-02");
    let opened = shelf.lot(&oil.id()).await;
    assert_eq!((&opened["opened"], &opened["keeps_until"]), (&json!("2026-03-02"), &json!("2026-09-02")));
    assert!(
        opened["keeps_rule"].as_str().unwrap().contains("a fixed oil keeps for at most 6 months once opened")
    );
    // A printed expiry that comes sooner stays.
    let mut soon = lot("olive oil", "1 kg");
    soon["expires"] = json!("2026-05");
    soon["opened"] = json!("2026-03-02");
    let soon = ilse.post("/v1/lots", soon).await.expect(201);
    assert_eq!(soon.json["keeps_until"], "2026-05-31");
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_herb_is_confirmed_by_species_part_condition_and_what_it_is_mistaken_for() {
    let shelf = Shelf::start().await;
    let ilse = &shelf.room.ilse;
    let herb = ilse.post("/v1/lots", lot("dried plantain leaf", "200 g")).await;
    let herb = if herb.status == 201 {
        herb
    } else {
        ilse.post("/v1/lots", lot("dried comfrey root", "200 g")).await
    };
    let id = herb.expect(201).id();
    let known = shelf.lot(&id).await["known_look_alikes"].clone();
    assert!(!known.as_array().unwrap().is_empty(), "{known}");
    assert!(!known[0]["source"]["text"].as_str().unwrap().is_empty());
    let path = format!("/v1/lots/{id}/identity");
    let bare = json!({ "confirmed": true, "organoleptic": "Brown, faint smell." });
    ilse.post(&path, bare).await.fields(&["/species", "/part", "/condition", "/look_alikes"]);
    let mut check = json!({
        "confirmed": true, "species": "Digitalis purpurea", "part": "leaf", "condition": "dried, cut",
        "organoleptic": "Brown, faint smell.", "look_alikes": "Veins run parallel.", "foreign_matter": "None seen.",
    });
    let wrong = ilse.post(&path, check.clone()).await.fields(&["/species"]);
    assert!(
        cure(&wrong).contains("If you found another species, do not confirm the identity."),
        "{}",
        wrong.text
    );
    // What was found to be another plant stays in quarantine, with the reason.
    check["confirmed"] = json!(false);
    ilse.post(&path, check.clone()).await.fields(&["/reason"]);
    check["reason"] = json!("Soft hairs, side veins branch: foxglove.");
    let refused = ilse.post(&path, check).await.expect(201);
    assert_eq!(refused.json["state"], "quarantine");
    assert_eq!(refused.json["decisions"][0]["decision"], "not_confirmed");
    assert_eq!(refused.json["decisions"][0]["species"], "Digitalis purpurea");
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lot_goes_back_to_quarantine_and_is_discarded_with_a_reason() {
    let shelf = Shelf::start().await;
    let ilse = &shelf.room.ilse;
    let id = shelf.usable(lot("yellow beeswax", "500 g")).await;
    let path = format!("/v1/lots/{id}");
    let why = json!({ "reason": "The lid was open." });
    let back = ilse.post(&format!("{path}/quarantine"), why.clone()).await.expect(201);
    assert_eq!(back.json["state"], "quarantine");
    shelf.weigh(&id, "10 g").await.fields(&["/lot_id"]);
    ilse.post(&format!("{path}/quarantine"), why.clone()).await.problem(409, "wrong-state");
    confirm(ilse, &id).await;
    ilse.post(&format!("{path}/discard"), json!({ "reason": " " })).await.fields(&["/reason"]);
    let gone = ilse.post(&format!("{path}/discard"), why.clone()).await.expect(201);
    assert_eq!((&gone.json["state"], &gone.json["on_hand_grams"]), (&json!("discarded"), &json!("0")));
    let decisions: Vec<&str> = gone.json["decisions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["decision"].as_str().unwrap())
        .collect();
    assert_eq!(decisions, ["discarded", "confirmed", "quarantined", "confirmed"]);
    let refused = shelf.weigh(&id, "10 g").await.fields(&["/lot_id"]);
    assert!(cure(&refused).starts_with("L2026-0001 was discarded."), "{}", refused.text);
    ilse.post(&format!("{path}/discard"), why).await.problem(409, "wrong-state");
    shelf.stop().await;
}
