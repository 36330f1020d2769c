//! What is not accepted, by field, with the cure.

use serde_json::json;

use super::{Shelf, cure, lot};

#[tokio::test(flavor = "multi_thread")]
async fn every_field_of_a_lot_says_what_is_wrong_with_it() {
    let shelf = Shelf::start().await;
    let ilse = &shelf.room.ilse;
    let with = |field: &str, value: serde_json::Value| {
        let mut body = lot("yellow beeswax", "500 g");
        body[field] = value;
        body
    };
    for (field, value, says) in [
        ("material", json!("yelow beeswax"), "Did you mean"),
        ("material", json!("no such thing at all"), "Search"),
        ("amount", json!("a handful"), ""),
        ("amount", json!("20 drops"), "Enter a mass"),
        ("amount", json!("0 g"), ""),
        ("amount", json!("5000000 kg"), "too large"),
        ("supplier", json!("  "), "1 to 100 characters"),
        ("supplier_lot", json!("x".repeat(101)), "1 to 100 characters"),
        ("received", json!("2026-03-03"), "still to come"),
        ("opened", json!("2026-03-01"), "from its receipt"),
        ("collected", json!("2026-03-03"), "earlier one"),
        ("expires", json!("June"), "such as 2026-08-31"),
        ("expires", json!("2026-02"), "before its receipt"),
        ("price", json!("12.50"), "12.50 per 100 g"),
        ("assay", json!("little"), "pyrrolizidine"),
        ("certificate", json!(""), "omit the field"),
    ] {
        let answer = ilse.post("/v1/lots", with(field, value.clone())).await;
        let answer = answer.fields(&[&format!("/{field}")]);
        assert!(cure(&answer).contains(says), "{field} {value}: {}", answer.text);
    }
    // A volume of what has no known density.
    let herb = ilse.post("/v1/lots", lot("dried calendula flower", "1 L")).await.fields(&["/amount"]);
    assert!(cure(&herb).contains("Weigh it and enter the mass"), "{}", herb.text);
    // Several at once.
    let mut many = with("supplier", json!(""));
    many["amount"] = json!("much");
    many["price"] = json!("cheap");
    ilse.post("/v1/lots", many).await.fields(&["/supplier", "/amount", "/price"]);
    assert_eq!(ilse.get("/v1/lots").await.expect(200).json["items"], json!([]));
    for query in ["expiring_within_days=4000", "limit=0", "material=nothing", "after=x"] {
        ilse.get(&format!("/v1/lots?{query}")).await.problem(422, "invalid-request");
    }
    shelf.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lot_supplies_what_is_said_of_it() {
    let shelf = Shelf::start().await;
    let id = shelf.usable(lot("yellow beeswax", "500 g")).await;
    let entries = format!("/v1/batches/{}/entries", shelf.batch);
    let entry = json!({
        "kind": "weighing", "line": "1.1", "quantity": "100 g", "lot_id": id, "lot": "B", "lot_expires": "2028-03",
        "price": "1 per kg",
    });
    shelf.room.noor.post(&entries, entry).await.fields(&["/lot", "/lot_expires", "/price"]);
    let note = json!({ "kind": "observation", "note": "Pale.", "lot_id": id });
    shelf.room.noor.post(&entries, note).await.fields(&["/lot_id"]);
    let none = "01990000-0000-7000-8000-000000000000";
    let refused = shelf.weigh(none, "10 g").await.fields(&["/lot_id"]);
    assert!(
        cure(&refused).starts_with("No lot has this ID. Choose another lot: L2026-0001"),
        "{}",
        refused.text
    );
    assert_eq!(shelf.left(&id).await, "500");
    shelf.stop().await;
}
