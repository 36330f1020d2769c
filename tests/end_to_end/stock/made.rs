//! What a batch made, as a lot: put on the shelf, let in by somebody else, and drawn from by what nests it.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, database};

use super::{count, cure, opened, weigh};
use crate::formulas::infused_oil;

/// A salve that nests the infused oil.
pub(crate) fn salve_of_oil() -> Value {
    json!({
        "title": "Calendula salve", "preparation": "salve", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all of it", "lines": [
            { "material": "yellow beeswax", "amount": "100 g", "function": "stiffening agent" },
            { "formula": "Infused oil of calendula", "amount": "500 g", "function": "vehicle" } ] }],
        "method": [{ "do": "Melt the wax in the oil", "temperature": "70 C at most" }],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

/// A clinic with an infused oil, and what is made from it.
pub(crate) struct Room {
    pub(crate) room: TeachingClinic,
    pub(crate) oil: String,
    pub(crate) salve: String,
}

impl Room {
    pub(crate) async fn start() -> Self {
        let room = TeachingClinic::start().await;
        let oil = room.approved(infused_oil()).await;
        for instructor in [&room.ilse, &room.marek] {
            instructor.acknowledge(&oil).await.expect(201);
        }
        let salve = room.approved(salve_of_oil()).await;
        Self { room, oil, salve }
    }

    /// A batch of the oil that yielded 840 g, accepted by the second instructor.
    pub(crate) async fn accepted(&self, maker: &Caller) -> String {
        let batch = self.submitted(maker).await;
        let accept = json!({ "verdict": "accept", "summary": "Clear." });
        let reviewer = if maker.id == self.room.marek.id { &self.room.ilse } else { &self.room.marek };
        reviewer.post(&format!("/v1/batches/{batch}/reviews"), accept).await.expect(201);
        batch
    }

    pub(crate) async fn submitted(&self, maker: &Caller) -> String {
        let batch = opened(maker, &self.oil).await;
        let entries = format!("/v1/batches/{batch}/entries");
        for entry in [
            json!({ "kind": "weighing", "line": "1.1", "quantity": "100 g" }),
            json!({ "kind": "weighing", "line": "1.2", "quantity": "1000 g", "lot": "MO-1", "lot_expires": "2026-07" }),
            json!({ "kind": "yield", "quantity": "900 g" }),
        ] {
            maker.post(&entries, entry).await.expect(201);
        }
        let record = maker.get(&format!("/v1/batches/{batch}")).await.expect(200);
        let wrong = &record.json["entries"][2]["id"];
        let right = json!({ "kind": "yield", "quantity": "840 g", "corrects": wrong, "reason": "Misread." });
        maker.post(&entries, right).await.expect(201);
        maker.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.expect(201);
        batch
    }

    pub(crate) async fn shelve(&self, by: &Caller, batch: &str, amount: &str) -> Answer {
        by.post(&format!("/v1/batches/{batch}/made-lots"), json!({ "amount": amount })).await
    }

    pub(crate) async fn let_in(&self, by: &Caller, lot: &str) -> Answer {
        let seen = json!({ "confirmed": true, "organoleptic": "Clear, smells of the flower." });
        by.post(&format!("/v1/lots/{lot}/identity"), seen).await
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_batch_made_is_let_in_by_somebody_else_and_drawn_by_what_nests_it() {
    let of = Room::start().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let batch = of.accepted(noor).await;
    let made = of.shelve(noor, &batch, "800 g").await.expect(201);
    let lot = made.id();
    assert_eq!(made.header("location"), format!("/v1/lots/{lot}"));
    assert_eq!((&made.json["state"], &made.json["supplier"]), (&json!("quarantine"), &json!("made here")));
    assert_eq!((&made.json["revision"], made.json.get("material")), (&json!(of.oil), None));
    assert_eq!(made.json["material_name"], "Infused oil of calendula");
    assert_eq!(
        (&made.json["made"]["batch"], &made.json["made"]["maker_name"]),
        (&json!(batch), &json!("noor.haddad"))
    );
    // The oil that it was made from lasts to the end of July, so it does not last longer.
    assert_eq!(made.json["keeps_until"], "2026-07-31");
    // Who made it is told no balance, as of any lot.
    assert_eq!((made.json.get("on_hand_grams"), made.json.get("amount")), (None, None));
    assert_eq!(marek.get(&format!("/v1/lots/{lot}")).await.expect(200).json["on_hand_grams"], "800");

    let salve = opened(noor, &of.salve).await;
    let refused = weigh(noor, &salve, "1.2", &lot, "10 g").await.fields(&["/lot_id"]);
    assert!(
        cure(&refused).contains("An instructor who did not make it can confirm its identity."),
        "{}",
        refused.text
    );
    of.let_in(noor, &lot).await.expect(403);
    of.let_in(marek, &lot).await.expect(201);

    let lots = noor.get(&format!("/v1/batches/{salve}/lots")).await.expect(200);
    let choice = &lots.json["lines"][1]["lots"][0];
    assert_eq!((&choice["id"], &choice["enough"]), (&json!(lot), &json!(true)));
    let written = weigh(noor, &salve, "1.2", &lot, "500 g").await.expect(201);
    assert_eq!(written.json["entry"]["lot_expires"], "2026-07-31");
    assert_eq!(ilse.get(&format!("/v1/lots/{lot}")).await.expect(200).json["on_hand_grams"], "300");
    // Its date binds what was made from it: an oil turns rancid wherever it goes.
    let record = noor.get(&format!("/v1/batches/{salve}")).await.expect(200);
    assert_eq!(
        record.json["as_made"]["use_by"]["date"], "2026-07-31",
        "{}",
        record.json["as_made"]["use_by"]
    );
    assert_eq!(record.json["entries"][0]["lot_id"], json!(lot));
    // More than is left, and what a volume of it weighs, which nobody is told.
    let more = weigh(noor, &salve, "1.2", &lot, "301 g").await.fields(&["/lot_id"]);
    assert!(cure(&more).starts_with("L2026-0001 holds 300 g, less than this weighing."), "{}", more.text);
    let counted = json!({ "counted": "300 mL", "reason": "Counted." });
    let refused = count(ilse, &lot, counted).await.fields(&["/counted"]);
    assert_eq!(cure(&refused), "What the clinic made is weighed. Enter its mass, such as 500 g.");
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_lots_of_a_batch_hold_no_more_than_it_yielded_and_keep_no_longer() {
    let of = Room::start().await;
    let noor = &of.room.noor;
    let waiting = of.submitted(noor).await;
    of.shelve(noor, &waiting, "10 g").await.problem(409, "wrong-state");
    let batch = of.accepted(noor).await;
    let path = format!("/v1/batches/{batch}/made-lots");
    let refused = of.shelve(noor, &batch, "840.5 g").await.fields(&["/amount"]);
    assert_eq!(cure(&refused), "The recorded yield is 840 g. Enter that much or less.");
    of.shelve(noor, &batch, "500 mL").await.fields(&["/amount"]);
    of.shelve(noor, &batch, "0 g").await.fields(&["/amount"]);
    let first = of.shelve(noor, &batch, "600 g").await.expect(201).id();
    let refused = of.shelve(noor, &batch, "241 g").await.fields(&["/amount"]);
    assert!(
        cure(&refused).starts_with("Of the recorded yield, 240 g is not on the shelf yet."),
        "{}",
        refused.text
    );
    for (day, accepted) in [("2026-08-01", false), ("2026-03-01", false), ("2026-05-01", true)] {
        let answer = noor.post(&path, json!({ "amount": "100 g", "use_by": day })).await;
        if accepted {
            assert_eq!(answer.expect(201).json["keeps_until"], day);
        } else {
            let refused = answer.fields(&["/use_by"]);
            assert!(
                cure(&refused).contains("to the use-by date of the batch, 2026-07-31"),
                "{}",
                refused.text
            );
        }
    }
    // What was thrown away does not come back on the shelf.
    let why = json!({ "reason": "It was spilt." });
    of.room.marek.post(&format!("/v1/lots/{first}/discard"), why).await.expect(201);
    of.shelve(noor, &batch, "141 g").await.fields(&["/amount"]);
    assert_eq!(
        noor.get(&format!("/v1/lots?batch={batch}&state=quarantine")).await.expect(200).json["items"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
    // Not even the owner of the database puts more of it there, or the yield of a record that is not accepted.
    for attempt in [
        format!("INSERT INTO lot_movement (id, lot_id, number, kind, grams, by_id, at)
             SELECT gen_random_uuid(), '{first}', 3, 'received', 700, received_by, received_at FROM lot WHERE id = '{first}'"),
        format!("INSERT INTO lot (id, number, state, supplier, supplier_lot, received_on, keeps_until, keeps_rule, amount,
                 version, last_decision, received_by, received_at, batch_id, revision_id)
             SELECT gen_random_uuid(), 'L2026-0099', 'quarantine', 'made here', b.number, l.received_on, l.keeps_until, 'x', '1 g',
                 0, 0, l.received_by, l.received_at, b.id, b.revision_id FROM lot l, batch b
             WHERE l.id = '{first}' AND b.id = '{waiting}'"),
        format!("INSERT INTO lot_decision (id, lot_id, number, decision, organoleptic, by_id, at)
             SELECT gen_random_uuid(), l.id, 9, 'confirmed', 'x', b.maker_id, l.received_at
             FROM lot l JOIN batch b ON b.id = l.batch_id WHERE l.id = '{first}'"),
    ] {
        let mut owner = database::owner(&of.room.clinic.database).await;
        assert!(owner.batch_execute(&attempt).await.is_err(), "{attempt}");
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn another_revision_of_the_same_formula_is_not_drawn() {
    let of = Room::start().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let old = of.accepted(noor).await;
    let old = of.shelve(noor, &old, "800 g").await.expect(201).id();
    of.let_in(marek, &old).await.expect(201);
    let salve = opened(noor, &of.salve).await;
    weigh(noor, &salve, "1.2", &old, "100 g").await.expect(201);
    // A stronger oil is another composition.
    let formula = ilse.get(&format!("/v1/revisions/{}", of.oil)).await.expect(200).text_at("/formula");
    let mut stronger = infused_oil();
    stronger["phases"][0]["lines"][0]["amount"] = json!("200 g");
    let next = ilse
        .post(&format!("/v1/formulas/{formula}/revisions"), json!({ "content": stronger }))
        .await
        .expect(201);
    let next_id = next.id();
    let proposal = format!("/v1/revisions/{next_id}/proposal");
    let tag = ilse.get(&format!("/v1/revisions/{next_id}/draft")).await.expect(200).etag();
    ilse.post_bare(&proposal, &[("if-match", &tag)]).await.expect(200);
    marek.acknowledge(&next_id).await.expect(201);
    let approve = json!({ "decision": "approve", "comment": "Stronger." });
    marek.post(&format!("/v1/revisions/{next_id}/decision"), approve).await.expect(200);
    let newer = Room { room: of.room, oil: next_id, salve: of.salve };
    let noor = &newer.room.noor;
    let batch = newer.accepted(noor).await;
    let lot = newer.shelve(noor, &batch, "700 g").await.expect(201).id();
    newer.let_in(&newer.room.marek, &lot).await.expect(201);
    let refused = weigh(noor, &salve, "1.2", &lot, "10 g").await.fields(&["/lot_id"]);
    assert_eq!(
        cure(&refused),
        "L2026-0002 was not made by the revision that line 1.2 asks for. Another revision is another composition. \
         Choose another lot: L2026-0001 (until 2026-07-31)."
    );
    newer.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_more_is_drawn_of_what_was_made_by_a_formula_that_was_withdrawn() {
    let of = Room::start().await;
    let noor = &of.room.noor;
    let batch = of.accepted(noor).await;
    let lot = of.shelve(noor, &batch, "800 g").await.expect(201).id();
    of.let_in(&of.room.marek, &lot).await.expect(201);
    let salve = opened(noor, &of.salve).await;
    weigh(noor, &salve, "1.2", &lot, "100 g").await.expect(201);
    let why = json!({ "reason": "The oil is to be pressed otherwise." });
    of.room.ilse.post(&format!("/v1/revisions/{}/withdrawal", of.oil), why).await.expect(200);
    let refused = weigh(noor, &salve, "1.2", &lot, "10 g").await.fields(&["/lot_id"]);
    assert!(
        cure(&refused).contains("was made by a formula that has been withdrawn since"),
        "{}",
        refused.text
    );
    let lots = noor.get(&format!("/v1/batches/{salve}/lots")).await.expect(200);
    assert_eq!(lots.json["lines"][1]["lots"], json!([]));
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_clinic_made_is_named_to_members_of_its_library_and_to_who_keeps_the_stock() {
    let of = Room::start().await;
    let batch = of.accepted(&of.room.marek).await;
    let lot = of.shelve(&of.room.ilse, &batch, "300 g").await.expect(201).id();
    of.let_in(&of.room.marek, &lot).await.expect(403);
    of.let_in(&of.room.ilse, &lot).await.expect(201);
    let sven = of.room.clinic.person("sven.aalto", "student").await;
    sven.get(&format!("/v1/lots/{lot}")).await.expect(404);
    assert_eq!(sven.get("/v1/lots").await.expect(200).json["items"], json!([]));
    assert_eq!(sven.get("/v1/lots?number=L2026-0001").await.expect(200).json["items"], json!([]));
    let petra = &of.room.clinic.administrator;
    let seen = petra.get(&format!("/v1/lots/{lot}")).await.expect(200);
    assert_eq!((&seen.json["on_hand_grams"], seen.json["made"].get("batch")), (&json!("300"), None));
    let key = of.room.clinic.api_client(&of.room.ilse, &["lots:read"], &[]).await;
    key.get(&format!("/v1/lots/{lot}")).await.expect(404);
    // Fields of a plant do not belong to it.
    let batch = of.accepted(&of.room.marek).await;
    let lot = of.shelve(&of.room.marek, &batch, "300 g").await.expect(201).id();
    let check = json!({ "confirmed": true, "organoleptic": "Clear.", "species": "Calendula officinalis" });
    of.room.ilse.post(&format!("/v1/lots/{lot}/identity"), check).await.fields(&["/species"]);
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_clinic_without_a_second_person_lets_in_its_own_and_says_so() {
    let of = Room::start().await;
    let marek = &of.room.marek;
    let batch = of.accepted(marek).await;
    let lot = of.shelve(marek, &batch, "300 g").await.expect(201).id();
    let petra = &of.room.clinic.administrator;
    let policy = petra.get("/v1/policy").await.expect(200);
    let mut content = policy.json["content"].clone();
    content["second_person"] = json!(false);
    content["reason"] = json!("One instructor this term.");
    petra.put("/v1/policy", &policy.etag(), content).await.expect(200);
    let refused = of.let_in(marek, &lot).await.fields(&["/reason"]);
    assert!(cure(&refused).contains("You made this yourself."), "{}", refused.text);
    let own = json!({ "confirmed": true, "organoleptic": "Clear.", "reason": "Nobody else is here." });
    let let_in = marek.post(&format!("/v1/lots/{lot}/identity"), own).await.expect(201);
    assert_eq!(let_in.json["decisions"][0]["note"], "let in by its maker");
    of.room.stop().await;
}
