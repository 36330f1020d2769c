//! Two days at the bench, end to end: lots are received, an oil is infused, a cream and a salve are made of it, one is released
//! and one thrown away; then the herb's lot is called back, and every jar is answered for.

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Caller, TeachingClinic};

use crate::formulas::{cream, infused_oil};
use crate::stock::made::salve_of_oil;
use crate::stock::{confirm, lot, opened, usable};

/// The people and what they make.
struct Days {
    room: TeachingClinic,
}

impl Days {
    async fn write(&self, batch: &str, entry: Value) -> Value {
        self.room.noor.post(&format!("/v1/batches/{batch}/entries"), entry).await.expect(201).json
    }

    async fn weigh(&self, batch: &str, line: &str, lot: &str, quantity: &str) -> Value {
        self.write(batch, json!({ "kind": "weighing", "line": line, "lot_id": lot, "quantity": quantity }))
            .await
    }

    async fn done(&self, batch: &str, step: u8) {
        self.write(batch, json!({ "kind": "step_done", "step": step })).await;
    }

    async fn sign(&self, batch: &str, what: &str, body: Value) {
        self.room.marek.post(&format!("/v1/batches/{batch}/{what}"), body).await.expect(201);
    }

    async fn record(&self, batch: &str) -> Value {
        self.room.noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json
    }

    /// Noor hands the record in, and Marek accepts it.
    async fn accepted(&self, batch: &str) {
        self.room.noor.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.expect(201);
        self.sign(batch, "reviews", json!({ "verdict": "accept", "summary": "Clear." })).await;
    }

    /// What is left of a lot, in g, and that its movements come to just that.
    async fn left(&self, lot: &str) -> String {
        let lot = self.room.ilse.get(&format!("/v1/lots/{lot}")).await.expect(200).json;
        lot["on_hand_grams"].as_str().unwrap().to_owned()
    }

    async fn page(&self, code: &str) -> String {
        self.room.clinic.nobody.get(&format!("/jars/{code}")).await.expect(200).text
    }
}

/// The sentences of a record's findings of these kinds.
fn found(record: &Value, kinds: &[&str]) -> Vec<String> {
    let findings = record["findings"].as_array().unwrap().iter();
    let of_kind = findings.filter(|finding| kinds.contains(&finding["kind"].as_str().unwrap()));
    of_kind.map(|finding| finding["sentence"].as_str().unwrap().to_owned()).collect()
}

async fn herb(ilse: &Caller) -> String {
    let id = ilse.post("/v1/lots", lot("dried calendula flower", "500 g")).await.expect(201).id();
    let check = json!({ "confirmed": true, "species": "Calendula officinalis", "part": "flower",
        "condition": "dried, whole", "organoleptic": "Orange, faint smell.", "look_alikes": "The receptacle is convex." });
    ilse.post(&format!("/v1/lots/{id}/identity"), check).await.expect(201);
    id
}

#[tokio::test(flavor = "multi_thread")]
async fn an_oil_a_cream_and_a_salve_are_made_and_every_jar_of_them_is_answered_for() {
    let room = TeachingClinic::start().await;
    let oil = room.approved(infused_oil()).await;
    for instructor in [&room.ilse, &room.marek] {
        instructor.acknowledge(&oil).await.expect(201);
    }
    let cream = room.approved(cream()).await;
    let salve = room.approved(salve_of_oil()).await;
    for revision in [&cream, &salve] {
        for instructor in [&room.ilse, &room.marek] {
            instructor.acknowledge(revision).await.expect(201);
        }
    }
    let mut of = Days { room };

    // The first day: the lots, and the oil.
    let (ilse, noor) = (&of.room.ilse, &of.room.noor);
    let flower = herb(ilse).await;
    let mut lots = Vec::new();
    for (material, amount) in [
        ("olive oil", "3 kg"),
        ("yellow beeswax", "500 g"),
        ("emulsifying wax", "200 g"),
        ("potassium sorbate", "50 g"),
        ("purified water", "2 kg"),
    ] {
        lots.push(usable(ilse, lot(material, amount)).await);
    }
    let [olive, beeswax, emulsifier, sorbate, water] = <[String; 5]>::try_from(lots).unwrap();
    let infused = opened(noor, &oil).await;
    of.weigh(&infused, "1.1", &flower, "100 g").await;
    of.weigh(&infused, "1.2", &olive, "1000 g").await;
    of.done(&infused, 1).await;
    of.done(&infused, 2).await;
    of.sign(&infused, "hold-releases", json!({ "step": 2 })).await;
    of.write(&infused, json!({ "kind": "yield", "quantity": "880 g" })).await;
    of.accepted(&infused).await;
    let made = noor.post(&format!("/v1/batches/{infused}/made-lots"), json!({ "amount": "850 g" })).await;
    let made = made.expect(201).id();
    confirm(&of.room.marek, &made).await;
    assert_eq!((of.left(&flower).await, of.left(&olive).await), ("400".into(), "2000".into()));

    // The second day. Of the cream too much oil is poured; a larger batch makes it right before anything is combined.
    of.room.clinic.service.clinic.clock().advance(Duration::days(1));
    let nobody = &of.room.clinic.nobody;
    let [ilse, marek, noor] =
        ["ilse.brandt", "marek.dvorsky", "noor.haddad"].map(|name| sign_in(nobody, name));
    let (ilse, marek, noor) = (ilse.await, marek.await, noor.await);
    (of.room.ilse, of.room.marek, of.room.noor) = (ilse, marek, noor);
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let creamy = opened(noor, &cream).await;
    of.weigh(&creamy, "1.1", &emulsifier, "80 g").await;
    let over = json!({ "kind": "weighing", "line": "1.2", "lot_id": made, "quantity": "330 g",
        "deviation": "The oil poured faster than expected." });
    let refused = json!({ "kind": "weighing", "line": "1.2", "lot_id": made, "quantity": "330 g" });
    noor.post(&format!("/v1/batches/{creamy}/entries"), refused).await.fields(&["/deviation"]);
    of.write(&creamy, over).await;
    let adjustments = format!("/v1/batches/{creamy}/adjustments");
    let offer = noor.get(&adjustments).await.expect(200).json;
    let more = |line: usize| offer["lines"][line]["to_add"]["value"].as_str().unwrap().to_owned();
    assert_eq!((more(0), offer["recipe"]["total"]["value"].as_str()), ("8".into(), Some("1100")));
    let why = json!({ "reason": "The oil poured faster than expected." });
    let proposed = noor.post(&adjustments, why).await.expect(201).text_at("/entry/id");
    of.sign(&creamy, "authorisations", json!({ "entry": proposed })).await;
    of.weigh(&creamy, "1.1", &emulsifier, &format!("{} g", more(0))).await;
    of.weigh(&creamy, "2.1", &sorbate, &format!("{} g", more(2))).await;
    of.weigh(&creamy, "2.2", &water, &format!("{} g", more(3))).await;
    for (step, heat) in [(1, "68 C"), (2, "70 C")] {
        of.write(&creamy, json!({ "kind": "temperature", "step": step, "quantity": heat })).await;
    }
    of.done(&creamy, 1).await;
    of.done(&creamy, 2).await;
    of.sign(&creamy, "hold-releases", json!({ "step": 2 })).await;
    of.write(&creamy, json!({ "kind": "yield", "quantity": "1080 g" })).await;
    let record = of.record(&creamy).await;
    assert_eq!(
        found(&record, &["out_of_tolerance", "deviation", "yield", "yield_low"]),
        Vec::<String>::new()
    );
    assert_eq!(record["as_made"]["missing"], json!([]));
    of.accepted(&creamy).await;

    // Of the salve a weight was misread, and is corrected: the lot gets back what was not taken.
    let salved = opened(noor, &salve).await;
    let wrong = of.weigh(&salved, "1.1", &beeswax, "90 g").await;
    let right = json!({ "kind": "weighing", "line": "1.1", "lot_id": beeswax, "quantity": "100 g",
        "corrects": wrong["entry"]["id"], "reason": "Read the balance before it had settled." });
    of.write(&salved, right).await;
    of.weigh(&salved, "1.2", &made, "500 g").await;
    of.write(&salved, json!({ "kind": "temperature", "step": 1, "quantity": "66 C" })).await;
    of.done(&salved, 1).await;
    of.write(&salved, json!({ "kind": "yield", "quantity": "590 g" })).await;
    of.accepted(&salved).await;
    assert_eq!((of.left(&made).await, of.left(&beeswax).await), ("20".into(), "400".into()));

    // The salve is filled and released by somebody who did not make it; the cream separates and is thrown away.
    let body = json!({ "jars": 4, "fill": "60 g", "samples": 1 });
    noor.post(&format!("/v1/batches/{salved}/jars"), body).await.expect(201);
    let sheet = marek.get(&format!("/v1/batches/{salved}/release")).await.expect(200).json;
    let confirmed: Vec<&Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| &one["id"]).collect();
    noor.post(&format!("/v1/batches/{salved}/release"), json!({ "confirmed": confirmed })).await.expect(403);
    of.sign(&salved, "release", json!({ "confirmed": confirmed })).await;
    of.sign(&creamy, "discard", json!({ "reason": "The phases separated overnight." })).await;
    let jars = ilse.get(&format!("/v1/batches/{salved}/jars")).await.expect(200).json;
    let jar = |at: usize, of: &str| jars["jars"][at][of].as_str().unwrap().to_owned();
    let codes: Vec<String> = (0..4).map(|at| jar(at, "code")).collect();
    let handing = json!({ "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true });
    ilse.post(&format!("/v1/jars/{}/handing", jar(0, "id")), handing).await.expect(201);
    assert!(of.page(&codes[0]).await.contains("In date. Use by "));

    // Where the herb went, and what a jar was made of.
    let nodes = |trace: &Value| -> Vec<String> {
        trace["nodes"]
            .as_array()
            .unwrap()
            .iter()
            .map(|node| node["id"].as_str().unwrap().to_owned())
            .collect()
    };
    let onward = ilse.get(&format!("/v1/lots/{flower}/trace")).await.expect(200).json;
    let mut reached = nodes(&onward);
    reached.sort();
    let mut made_of_it = vec![flower.clone(), infused.clone(), made.clone(), creamy.clone(), salved.clone()];
    made_of_it.sort();
    assert_eq!(reached, made_of_it);
    let back = nodes(&ilse.get(&format!("/v1/batches/{salved}/trace")).await.expect(200).json);
    for id in [&salved, &made, &beeswax, &infused, &flower, &olive] {
        assert!(back.contains(id), "{id} is missing in {back:?}");
    }

    // The recall: the pages of the jars say so at once.
    let reason =
        json!({ "cause": "lot", "id": flower, "reason": "The grower found ragwort among the flowers." });
    let recall = ilse.post("/v1/recalls", reason).await.expect(201);
    for code in &codes {
        assert!(
            of.page(code).await.contains("Recalled on 3 March 2026. Do not use it. Bring it back."),
            "{code}"
        );
    }
    let desk = format!("/v1/recalls/{}", recall.id());
    ilse.post(&format!("{desk}/close"), json!({})).await.fields(&["/reason"]);
    let now = ilse.get(&desk).await.expect(200).json;
    for (at, item) in (1_u32..).zip(now["reached"].as_array().unwrap()) {
        if item["id"] == json!(salved) {
            for (jars, outcome) in [(json!([1]), "returned"), (json!([2, 3, 4]), "destroyed")] {
                let body = json!({ "item": at, "jars": jars, "outcome": outcome });
                ilse.post(&format!("{desk}/jar-outcomes"), body).await.expect(201);
            }
        }
        let body = json!({ "item": at, "outcome": "destroyed" });
        ilse.post(&format!("{desk}/outcomes"), body).await.expect(201);
    }
    let closed = ilse.post(&format!("{desk}/close"), json!({})).await.expect(201).json;
    assert_eq!((&closed["state"], &closed["unaccounted"]), (&json!("closed"), &json!(0)));
    of.room.stop().await;
}
