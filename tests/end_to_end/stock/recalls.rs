//! Where lots went, at any depth, and calling everything back that was made of one.

use std::collections::BTreeSet;

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, database};
use tokio::task::JoinSet;

use super::made::Room;
use super::{Shelf, cure, lot, opened, usable, weigh};

async fn recall(by: &Caller, cause: &str, id: &str) -> Answer {
    by.post("/v1/recalls", json!({ "cause": cause, "id": id, "reason": "The supplier withdrew it." })).await
}

async fn trace(by: &Caller, path: &str) -> Value {
    by.get(&format!("/v1/{path}")).await.expect(200).json
}

fn ids(nodes: &Value) -> Vec<String> {
    nodes.as_array().unwrap().iter().map(|node| node["id"].as_str().unwrap().to_owned()).collect()
}

/// What a plain walk over the steps of the database reaches, forwards: the answer that the trace is compared with.
async fn walked(room: &Room, from: &str) -> BTreeSet<String> {
    let (ilse, noor) = (&room.room.ilse, &room.room.noor);
    let mut found = BTreeSet::new();
    let mut waiting = vec![from.to_owned()];
    let lots = ilse.get("/v1/lots?limit=100").await.expect(200).json;
    let batches = noor.get("/v1/batches?limit=100").await.expect(200).json;
    while let Some(id) = waiting.pop() {
        if !found.insert(id.clone()) {
            continue;
        }
        for lot in lots["items"].as_array().unwrap() {
            let lot = ilse.get(&format!("/v1/lots/{}", lot["id"].as_str().unwrap())).await.expect(200).json;
            if lot["made"]["batch"] == json!(id) {
                waiting.push(lot["id"].as_str().unwrap().to_owned());
            }
        }
        for batch in batches["items"].as_array().unwrap() {
            let of = batch["id"].as_str().unwrap();
            let record = noor.get(&format!("/v1/batches/{of}")).await.expect(200).json;
            let weighed = record["entries"].as_array().unwrap().iter().any(|entry| {
                entry["lot_id"] == json!(id) && entry.get("corrected_by").is_none_or(Value::is_null)
            });
            if weighed {
                waiting.push(of.to_owned());
            }
        }
    }
    found
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bad_lot_is_traced_through_an_infused_oil_and_everything_made_of_it_is_called_back() {
    let of = Room::start().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    // The herb goes into an infused oil, the oil into two salves; one of them weighed it by mistake and said so.
    let oil = opened(noor, &of.oil).await;
    let herb = usable_herb(&of, "500 g").await;
    let entries = format!("/v1/batches/{oil}/entries");
    weigh(noor, &oil, "1.1", &herb, "100 g").await.expect(201);
    for entry in [
        json!({ "kind": "weighing", "line": "1.2", "quantity": "1000 g", "lot": "MO-1", "lot_expires": "2026-07" }),
        json!({ "kind": "yield", "quantity": "900 g" }),
    ] {
        noor.post(&entries, entry).await.expect(201);
    }
    noor.post(&format!("/v1/batches/{oil}/submissions"), json!({})).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Clear." });
    marek.post(&format!("/v1/batches/{oil}/reviews"), accept).await.expect(201);
    let made = of.shelve(noor, &oil, "800 g").await.expect(201).id();
    of.let_in(marek, &made).await.expect(201);
    let (salve, mended, untouched) =
        (opened(noor, &of.salve).await, opened(noor, &of.salve).await, opened(noor, &of.salve).await);
    weigh(noor, &salve, "1.2", &made, "500 g").await.expect(201);
    let wrong = weigh(noor, &mended, "1.2", &made, "100 g").await.expect(201);
    let right = json!({ "kind": "weighing", "line": "1.2", "quantity": "100 g", "lot": "another oil",
        "corrects": wrong.json["entry"]["id"], "reason": "It was the other jar." });
    noor.post(&format!("/v1/batches/{mended}/entries"), right).await.expect(201);

    let onward = trace(ilse, &format!("lots/{herb}/trace")).await;
    assert_eq!(ids(&onward["nodes"]), [&herb, &oil, &made, &salve].map(String::clone), "{onward}");
    let walked = walked(&of, &herb).await;
    assert_eq!(ids(&onward["nodes"]).into_iter().collect::<BTreeSet<_>>(), walked);
    assert_eq!(onward["steps"].as_array().unwrap().len(), 3);
    assert_eq!(onward["nodes"][1]["maker_name"], "noor.haddad");
    let back = trace(ilse, &format!("batches/{salve}/trace")).await;
    assert_eq!(ids(&back["nodes"]), [&salve, &made, &oil, &herb].map(String::clone));
    assert_eq!(
        ids(&trace(ilse, &format!("batches/{mended}/trace")).await["nodes"]),
        std::slice::from_ref(&mended)
    );
    noor.get(&format!("/v1/lots/{herb}/trace")).await.expect(403);

    // The recall: everything at once.
    recall(noor, "lot", &herb).await.expect(403);
    recall(&of.room.clinic.administrator, "lot", &herb).await.expect(403);
    let started = recall(ilse, "lot", &herb).await.expect(201);
    assert_eq!(started.header("location"), format!("/v1/recalls/{}", started.id()));
    assert_eq!((&started.json["items"], &started.json["unaccounted"]), (&json!(4), &json!(4)));
    assert_eq!(started.json["cause_name"], "L2026-0001 dried calendula flower");
    for lot in [&herb, &made] {
        let lot = ilse.get(&format!("/v1/lots/{lot}")).await.expect(200).json;
        assert_eq!(
            (&lot["state"], &lot["decisions"][0]["decision"]),
            (&json!("recalled"), &json!("recalled"))
        );
    }
    for batch in [&oil, &salve] {
        let record = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
        assert_eq!(record["disposition"], "recalled");
        let label = noor.get(&format!("/v1/batches/{batch}/label")).await;
        if label.status == 200 {
            assert!(label.text.contains("Recalled. Do not give out."), "{}", label.text);
        }
    }
    for batch in [&mended, &untouched] {
        assert_eq!(
            noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json["disposition"],
            "quarantine"
        );
    }
    let refused = weigh(noor, &untouched, "1.2", &made, "10 g").await.fields(&["/lot_id"]);
    assert!(cure(&refused).contains("was recalled. Put it apart"), "{}", refused.text);
    of.shelve(noor, &oil, "10 g").await.problem(409, "wrong-state");
    let check = json!({ "confirmed": true, "organoleptic": "It looks well." });
    marek.post(&format!("/v1/lots/{made}/identity"), check).await.problem(409, "wrong-state");

    // Closing asks for everything, or for a reason.
    let desk = format!("/v1/recalls/{}", started.id());
    let refused = ilse.post(&format!("{desk}/close"), json!({})).await.fields(&["/reason"]);
    assert!(
        cure(&refused).starts_with("4 lots, batches and jars are not accounted for."),
        "{}",
        refused.text
    );
    let note = |item: u32, outcome: &str, note: Option<&str>| json!({ "item": item, "outcome": outcome, "note": note });
    let outcomes = format!("{desk}/outcomes");
    ilse.post(&outcomes, note(9, "destroyed", None)).await.fields(&["/item"]);
    ilse.post(&outcomes, note(4, "not_found", None)).await.fields(&["/note"]);
    noor.post(&outcomes, note(1, "destroyed", None)).await.expect(403);
    for (item, outcome) in [(1, "returned"), (1, "destroyed"), (2, "nothing_left"), (3, "destroyed")] {
        ilse.post(&outcomes, note(item, outcome, Some("Burnt."))).await.expect(201);
    }
    let now = ilse.get(&desk).await.expect(200).json;
    assert_eq!(
        (&now["unaccounted"], &now["reached"][0]["accounted"]["outcome"]),
        (&json!(1), &json!("destroyed"))
    );
    let closed =
        ilse.post(&format!("{desk}/close"), json!({ "reason": "The last jar was thrown away." })).await;
    assert_eq!(closed.expect(201).json["closed"]["reason"], "The last jar was thrown away.");
    ilse.post(&outcomes, note(4, "destroyed", None)).await.problem(409, "wrong-state");
    let listed = ilse.get("/v1/recalls").await.expect(200).json;
    assert_eq!(
        (&listed["items"][0]["state"], listed["items"].as_array().unwrap().len()),
        (&json!("closed"), 1)
    );
    assert_eq!(ilse.get("/v1/recalls?state=open").await.expect(200).json["items"], json!([]));
    let events = ilse.get(&format!("/v1/events?subject={}", started.id())).await.expect(200);
    assert!(events.text.contains("accounted"), "{}", events.text);

    // Not even the owner of the database puts it back, or writes into what is closed.
    for attempt in [
        format!("UPDATE lot SET state = 'usable' WHERE id = '{made}'"),
        format!("UPDATE batch SET disposition = 'quarantine' WHERE id = '{salve}'"),
        format!(
            "UPDATE recall SET state = 'open', closed_at = NULL, closed_by = NULL, closed_because = NULL
             WHERE id = '{}'",
            started.id()
        ),
        format!(
            "INSERT INTO recall_outcome (id, recall_id, item, number, outcome, by_id, at)
             SELECT gen_random_uuid(), id, 4, 9, 'destroyed', by_id, at FROM recall WHERE id = '{}'",
            started.id()
        ),
    ] {
        let mut owner = database::owner(&of.room.clinic.database).await;
        assert!(owner.batch_execute(&attempt).await.is_err(), "{attempt}");
    }
    of.room.stop().await;
}

/// A lot of the herb that the infused oil is made of.
/// A lot of dried calendula that an instructor confirmed.
pub(crate) async fn usable_herb(of: &Room, amount: &str) -> String {
    let ilse = &of.room.ilse;
    let id = ilse.post("/v1/lots", lot("dried calendula flower", amount)).await.expect(201).id();
    let check = json!({ "confirmed": true, "species": "Calendula officinalis", "part": "flower",
        "condition": "dried, whole", "organoleptic": "Orange, faint smell.", "look_alikes": "The receptacle is convex." });
    ilse.post(&format!("/v1/lots/{id}/identity"), check).await.expect(201);
    id
}

#[tokio::test(flavor = "multi_thread")]
async fn a_material_and_a_formula_are_called_back_with_everything_made_of_them() {
    let shelf = Shelf::start().await;
    let (ilse, noor) = (&shelf.room.ilse, &shelf.room.noor);
    let refused = recall(ilse, "material", "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80").await.fields(&["/id"]);
    assert_eq!(cure(&refused), "No material has this ID. Send the ID of a material.");
    let wax = shelf.usable(lot("yellow beeswax", "500 g")).await;
    let more = shelf.usable(lot("yellow beeswax", "200 g")).await;
    shelf.weigh(&wax, "50 g").await.expect(201);
    let of = shelf.lot(&wax).await["material"].as_str().unwrap().to_owned();
    let blank = json!({ "cause": "material", "id": of, "reason": " " });
    ilse.post("/v1/recalls", blank).await.fields(&["/reason"]);
    let reached = recall(ilse, "material", &of).await.expect(201);
    assert_eq!(ids(&reached.json["reached"]), [&wax, &more, &shelf.batch].map(String::clone));
    let salve = ilse.get(&format!("/v1/revisions/{}", shelf.salve)).await.expect(200).text_at("/formula");
    let other = opened(noor, &shelf.salve).await;
    let reached = recall(ilse, "formula", &salve).await.expect(201);
    assert_eq!(ids(&reached.json["reached"]), [&shelf.batch, &other].map(String::clone));
    // What was recalled before is in both recalls, and nothing is said of it twice.
    let decisions = shelf.lot(&wax).await["decisions"].as_array().unwrap().len();
    recall(ilse, "lot", &wax).await.expect(201);
    assert_eq!(shelf.lot(&wax).await["decisions"].as_array().unwrap().len(), decisions);
    let petra = &shelf.room.clinic.administrator;
    let why = json!({ "reason": "Burnt." });
    petra.post(&format!("/v1/lots/{wax}/discard"), why).await.expect(201);
    assert_eq!(shelf.lot(&wax).await["state"], "discarded");
    shelf.stop().await;
}

/// Who weighs while a lot is recalled is either in the recall or refused.
#[tokio::test(flavor = "multi_thread")]
async fn whoever_weighs_while_a_lot_is_recalled_is_in_the_recall_or_refused() {
    let shelf = Shelf::start_with(&[("STILLROOM_CONNECTIONS", "8")]).await;
    let (ilse, noor) = (&shelf.room.ilse, &shelf.room.noor);
    for _ in 0..6 {
        let wax = usable(ilse, lot("yellow beeswax", "5000 g")).await;
        let mut batches = vec![];
        for _ in 0..5 {
            batches.push(opened(noor, &shelf.salve).await);
        }
        let mut at_once = JoinSet::new();
        for batch in batches {
            let (noor, wax) = (noor.clone(), wax.clone());
            at_once.spawn(async move {
                let answer = weigh(&noor, &batch, "1.1", &wax, "50 g").await;
                (batch, answer.status.as_u16())
            });
        }
        let (by, of) = (ilse.clone(), wax.clone());
        let started = tokio::spawn(async move { recall(&by, "lot", &of).await });
        let mut weighed = BTreeSet::from([wax.clone()]);
        while let Some(done) = at_once.join_next().await {
            let (batch, status) = done.unwrap();
            assert!([201, 422].contains(&status), "{status}");
            if status == 201 {
                weighed.insert(batch);
            }
        }
        let reached = started.await.unwrap().expect(201);
        assert_eq!(ids(&reached.json["reached"]).into_iter().collect::<BTreeSet<_>>(), weighed);
    }
    shelf.stop().await;
}
