//! Lists of the shelf: lots by date, movements, what runs low and what it cost.

use serde_json::json;
use stillroom_tests::figures::tells;

use super::{Shelf, count, lot};

#[tokio::test(flavor = "multi_thread")]
async fn lots_are_listed_by_date_in_pages_and_found_by_number() {
    let shelf = Shelf::start().await;
    let ilse = &shelf.room.ilse;
    let mut ids = Vec::new();
    for expires in ["2028-01", "2026-03-20", "2027-01", "2026-04-20"] {
        let mut wax = lot("yellow beeswax", "100 g");
        wax["expires"] = json!(expires);
        ids.push(ilse.post("/v1/lots", wax).await.expect(201).id());
    }
    let oil = ilse.post("/v1/lots", lot("olive oil", "1 kg")).await.expect(201).id();
    let listed = async |query: &str| {
        let (mut all, mut after) = (Vec::new(), String::new());
        loop {
            let page = ilse.get(&format!("/v1/lots?limit=2{query}{after}")).await.expect(200).json;
            all.extend(
                page["items"].as_array().unwrap().iter().map(|it| it["id"].as_str().unwrap().to_owned()),
            );
            match page["next"].as_str() {
                Some(next) => after = format!("&after={next}"),
                None => return all,
            }
        }
    };
    let by_date = [&ids[1], &ids[3], &ids[2], &oil, &ids[0]].map(String::clone);
    assert_eq!(listed("").await, by_date);
    assert_eq!(listed("&material=yellow%20beeswax").await.len(), 4);
    assert_eq!(listed("&expiring_within_days=60").await, [ids[1].clone(), ids[3].clone()]);
    assert_eq!(listed("&state=usable").await, Vec::<String>::new());
    assert_eq!(listed("&number=l2026-0003").await, [ids[2].clone()]);
    ilse.post(&format!("/v1/lots/{oil}/discard"), json!({ "reason": "Rancid." })).await.expect(201);
    assert_eq!(listed("").await.len(), 4);
    assert_eq!(listed("&state=discarded").await, [oil]);
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn movements_name_the_batch_to_its_library_and_never_what_it_used() {
    let shelf = Shelf::start().await;
    let id = shelf.usable(lot("yellow beeswax", "500 g")).await;
    shelf.weigh(&id, "137.31 g").await.expect(201);
    let counted = json!({ "counted": "350 g", "reason": "Crumbs stay in the jar." });
    let ilse = &shelf.room.ilse;
    count(ilse, &id, counted.clone()).await.expect(201);
    count(ilse, &id, counted).await.problem(409, "conflict");
    let path = format!("/v1/lots/{id}/movements");
    let moved = ilse.get(&path).await.expect(200);
    let kinds: Vec<&str> =
        moved.json["items"].as_array().unwrap().iter().map(|it| it["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["adjusted", "used", "received"]);
    assert_eq!(
        (&moved.json["items"][0]["grams"], &moved.json["items"][0]["counted"]),
        (&json!("-12.69"), &json!("350 g"))
    );
    assert_eq!(moved.json["items"][1]["batch"], json!(shelf.batch));
    assert_eq!(moved.json["items"][1].get("grams"), None);
    assert!(!tells(&moved.text, "137.31"), "{}", moved.text);
    // Who is no member of the library is not told of the batch.
    let olga = shelf.room.clinic.person("olga.petrenko", "instructor").await;
    let seen = olga.get(&path).await.expect(200);
    assert!(!seen.text.contains(&shelf.batch), "{}", seen.text);
    assert_eq!(seen.json["items"][1]["kind"], "used");
    // Pages, and events for who keeps the stock.
    let page = ilse.get(&format!("{path}?limit=1")).await.expect(200);
    let next = page.json["next"].as_str().unwrap();
    let page = ilse.get(&format!("{path}?limit=1&after={next}")).await.expect(200);
    assert_eq!(page.json["items"][0]["kind"], "used");
    let events = olga.get(&format!("/v1/events?subject={id}")).await.expect(200);
    assert!(
        events.text.contains("identity_confirmed") && events.text.contains("\"used\""),
        "{}",
        events.text
    );
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_material_runs_low_below_its_threshold_and_costs_what_is_left_of_it() {
    let shelf = Shelf::start().await;
    let ilse = &shelf.room.ilse;
    let mut wax = lot("yellow beeswax", "300 g");
    wax["price"] = json!("20 per kg");
    let id = shelf.usable(wax).await;
    // In quarantine, without a price.
    ilse.post("/v1/lots", lot("yellow beeswax", "1 kg")).await.expect(201);
    let mut oil = lot("olive oil", "1 L");
    oil["price"] = json!("9.80 per L");
    shelf.usable(oil).await;
    let material = shelf.lot(&id).await["material"].as_str().unwrap().to_owned();
    let path = format!("/v1/materials/{material}/threshold");
    let none = ilse.get(&path).await.expect(200);
    assert_eq!(none.json.get("least"), None);
    let set = ilse.put(&path, &none.etag(), json!({ "least": "250 g" })).await.expect(200);
    assert_eq!((&set.json["least"], &set.json["set_by_name"]), (&json!("250 g"), &json!("ilse.brandt")));
    ilse.put(&path, &none.etag(), json!({ "least": "1 g" })).await.problem(412, "stale");
    ilse.put(&path, &set.etag(), json!({ "least": "some" })).await.fields(&["/least"]);
    let stock = ilse.get("/v1/stock").await.expect(200);
    assert_eq!(stock.json["items"][0]["material_name"], "olive oil");
    assert_eq!(stock.json["items"][0]["cost"], json!([{ "currency": "EUR", "amount": "9.80" }]));
    let wax = &stock.json["items"][1];
    assert_eq!(
        (&wax["usable_grams"], &wax["other_grams"], &wax["lots"]),
        (&json!("300"), &json!("1000"), &json!(2))
    );
    assert_eq!((&wax["low"], &wax["lots_without_cost"]), (&json!(false), &json!(1)));
    assert_eq!(wax["cost"], json!([{ "currency": "EUR", "amount": "6.00" }]));
    assert_eq!(ilse.get("/v1/stock?low=true").await.expect(200).json["items"], json!([]));
    shelf.weigh(&id, "100 g").await.expect(201);
    let low = ilse.get("/v1/stock?low=true").await.expect(200).json;
    assert_eq!(
        (low["items"].as_array().unwrap().len(), &low["items"][0]["usable_grams"]),
        (1, &json!("200"))
    );
    // Taken away again.
    let gone = ilse.put(&path, &set.etag(), json!({ "least": null })).await.expect(200);
    assert_eq!(gone.json.get("least"), None);
    assert_eq!(ilse.get("/v1/stock?low=true").await.expect(200).json["items"], json!([]));
    // By pages.
    let page = ilse.get("/v1/stock?limit=1").await.expect(200);
    let next = page.json["next"].as_str().unwrap();
    let page = ilse.get(&format!("/v1/stock?limit=1&after={next}")).await.expect(200);
    assert_eq!(page.json["items"][0]["material_name"], "yellow beeswax");
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_count_notices_what_was_drawn_meanwhile_and_says_what_is_left() {
    let shelf = Shelf::start().await;
    let id = shelf.usable(lot("yellow beeswax", "500 g")).await;
    let ilse = &shelf.room.ilse;
    let read = ilse.get(&format!("/v1/lots/{id}")).await.expect(200);
    shelf.weigh(&id, "100 g").await.expect(201);
    let path = format!("/v1/lots/{id}/counts");
    let counted = json!({ "counted": "498 g", "reason": "Crumbs stay in the jar." });
    let stale = ilse.post_if(&path, &read.etag(), counted.clone()).await.problem(412, "stale");
    assert_eq!(
        stale.text_at("/detail"),
        "L2026-0001 changed after you read it. The ledger says 400 g now. Weigh what is left, and count again."
    );
    assert_eq!(shelf.left(&id).await, "400");
    ilse.post(&path, counted.clone()).await.problem(428, "precondition-required");
    let now = ilse.get(&format!("/v1/lots/{id}")).await.expect(200).etag();
    let counted = json!({ "counted": "398 g", "reason": "Crumbs stay in the jar." });
    ilse.post_if(&path, &now, counted).await.expect(201);
    assert_eq!(shelf.left(&id).await, "398");
    shelf.stop().await;
}
