//! Whether what is in the jars may be used: released by somebody else, or discarded.

use serde_json::{Value, json};

use super::{Custody, cure, held};

/// A decision as the owner of the database would write it.
fn decision(decision: &str, by: &str, own: bool, reason: &str) -> String {
    format!(
        "INSERT INTO batch_decision (id, batch_id, maker_id, number, decision, reason, own_decision, by_id, at)
         SELECT gen_random_uuid(), id, maker_id, 1, '{decision}', {reason}, {own}, {by}, opened_at FROM batch"
    )
}

#[tokio::test(flavor = "multi_thread")]
async fn an_instructor_who_did_not_make_it_confirms_every_caution_and_releases() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    of.fill(noor, 12, "30 g").await.expect(201);
    noor.get(&of.path("release")).await.expect(403);
    noor.post(&of.path("release"), json!({ "confirmed": [] })).await.expect(403);
    let sheet = of.sheet(ilse).await;
    assert_eq!(sheet["barred"], json!([]), "{sheet}");
    let by = format!("'{}'", ilse.id);
    for (attempt, constraint) in [
        (decision("released", "maker_id", false, "NULL"), "decided_by_another"),
        (decision("released", &by, true, "'why'"), "decided_by_another"),
        (decision("released", "maker_id", true, "NULL"), "batch_decision_says_why"),
        (decision("discarded", &by, false, "NULL"), "batch_decision_says_why"),
    ] {
        held(&of, &attempt, constraint).await;
    }
    assert_eq!(sheet["label"]["ingredients"]["of"], "made");
    let ids: Vec<Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| one["id"].clone()).collect();
    assert!(!ids.is_empty());
    let refused =
        ilse.post(&of.path("release"), json!({ "confirmed": ids[1..] })).await.fields(&["/confirmed"]);
    let text = sheet["cautions"][0]["text"].as_str().unwrap();
    assert!(cure(&refused).contains(&format!("Not confirmed: “{text}”")), "{}", refused.text);
    let mut more = ids.clone();
    more.push(json!("7f83b1657ff1fc53b92dc18148a1d65d"));
    let refused = ilse.post(&of.path("release"), json!({ "confirmed": more })).await.fields(&["/confirmed"]);
    assert!(cure(&refused).contains("have changed since you read them"), "{}", refused.text);

    let released = ilse.post(&of.path("release"), json!({ "confirmed": ids })).await.expect(201).json;
    assert_eq!(
        (&released["disposition"], &released["decisions"][0]["by"], released["decisions"][0].get("note")),
        (&json!("released"), &json!(ilse.id), None)
    );
    let again = of.release(marek).await.problem(409, "wrong-state");
    assert!(again.text.contains("This batch is released already."), "{}", again.text);
    // More may be filled from it; thrown away, it stays so.
    of.fill(noor, 1, "30 g").await.expect(201);
    ilse.post(&of.path("discard"), json!({ "reason": " " })).await.fields(&["/reason"]);
    noor.post(&of.path("discard"), json!({ "reason": "It separated." })).await.expect(403);
    let gone = ilse.post(&of.path("discard"), json!({ "reason": "It separated." })).await.expect(201).json;
    assert_eq!(
        (&gone["disposition"], &gone["decisions"][1]["reason"]),
        (&json!("discarded"), &json!("It separated."))
    );
    ilse.post(&of.path("discard"), json!({ "reason": "Again." })).await.problem(409, "wrong-state");
    of.fill(noor, 1, "30 g").await.problem(409, "wrong-state");
    let events = ilse.get(&format!("/v1/events?subject={}", of.batch)).await.expect(200);
    for action in ["jars_filled", "released", "discarded"] {
        assert!(events.text.contains(&format!("\"{action}\"")), "{action}: {}", events.text);
    }
    of.room.stop().await;
}

/// A cream whose only preservative is an acid one.
fn cream() -> Value {
    json!({
        "title": "Plain cream", "preparation": "cream", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [
            { "name": "oil phase", "lines": [
                { "material": "emulsifying wax", "amount": "80 g", "function": "emulsifier" },
                { "material": "olive oil", "amount": "300 g", "function": "vehicle" } ] },
            { "name": "water phase", "lines": [
                { "material": "potassium sorbate", "amount": "4 g", "function": "preservative" },
                { "material": "purified water", "amount": "q.s. 1000 g", "function": "vehicle" } ] } ],
        "method": [{ "do": "Melt the wax in the oil", "temperature": "70 C at most" },
            { "do": "Add the water phase slowly", "hold": true }],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

const WEIGHED: [(&str, &str); 4] = [("1.1", "80 g"), ("1.2", "300 g"), ("2.1", "4 g"), ("2.2", "616 g")];

async fn cream_at(ph: Option<&str>) -> Custody {
    let mut then = vec![
        json!({ "kind": "step_done", "step": 1 }),
        json!({ "kind": "step_done", "step": 2 }),
        json!({ "kind": "yield", "quantity": "970 g" }),
    ];
    then.extend(ph.map(|ph| json!({ "kind": "ph", "quantity": ph })));
    Custody::start(cream(), &WEIGHED, &then, &[]).await
}

#[tokio::test(flavor = "multi_thread")]
async fn an_acid_preservative_is_released_only_at_a_measured_ph_at_which_it_works() {
    let unmeasured = cream_at(None).await;
    assert_eq!(unmeasured.bars().await, ["ph"]);
    unmeasured.fill(&unmeasured.room.noor, 2, "30 g").await.expect(201);
    let refused = unmeasured.release(&unmeasured.room.marek).await.problem(409, "conflict");
    assert!(refused.text.contains("No pH is recorded, and sorbic acid"), "{}", refused.text);
    unmeasured.room.stop().await;

    let neutral = cream_at(Some("pH 7.4")).await;
    assert_eq!(neutral.bars().await, ["ph"]);
    let refused = neutral.release(&neutral.room.marek).await.problem(409, "conflict");
    assert!(refused.text.contains("At pH 7.4, sorbic acid does not preserve it."), "{}", refused.text);
    neutral.room.stop().await;

    let acid = cream_at(Some("pH 4.6")).await;
    assert_eq!(acid.bars().await, Vec::<String>::new());
    acid.release(&acid.room.marek).await.expect(201);
    acid.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_unknown_unsigned_or_stopped_is_not_released() {
    // One line was not weighed, so what is in the jar is not known; and the hold was not released.
    let then = [json!({ "kind": "step_done", "step": 1 }), json!({ "kind": "yield", "quantity": "590 g" })];
    let mut formula = crate::stock::salve();
    formula["method"][0]["hold"] = json!(true);
    let of = Custody::start(formula, &[("1.2", "500 g")], &then, &[]).await;
    let bars = of.bars().await;
    for kind in ["hold", "composition"] {
        assert!(bars.iter().any(|bar| bar == kind), "{kind}: {bars:?}");
    }
    of.release(&of.room.marek).await.problem(409, "conflict");
    // Not even the owner of the database decides so.
    let marek = format!("'{}'", of.room.marek.id);
    held(&of, &decision("released", &marek, false, "NULL"), "batch_released_checked").await;
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_made_for_practice_is_never_released_and_who_made_it_does_not_release_it() {
    let mut formula = crate::stock::salve();
    formula["regime"] = json!("teaching_only");
    let weighed = [("1.1", "100 g"), ("1.2", "500 g")];
    let then = [json!({ "kind": "step_done", "step": 1 }), json!({ "kind": "yield", "quantity": "590 g" })];
    let practice = Custody::start(formula, &weighed, &then, &[]).await;
    assert!(practice.bars().await.contains(&"disposition".to_owned()));
    let refused = practice.release(&practice.room.marek).await.problem(409, "wrong-state");
    assert!(refused.text.contains("made for practice. It is never released."), "{}", refused.text);
    practice.fill(&practice.room.noor, 3, "30 g").await.expect(201);
    let gone = json!({ "reason": "The lesson is over." });
    practice.room.ilse.post(&practice.path("discard"), gone).await.expect(201);
    practice.room.stop().await;

    // An instructor's own batch is another's to release, unless the policy has no second person; then it says why.
    let of = Custody::of_salve().await;
    let (ilse, marek) = (&of.room.ilse, &of.room.marek);
    let batch = super::made(&of.room, ilse, &of.revision, &weighed, &then).await;
    let accept = json!({ "verdict": "accept", "summary": "Clear." });
    marek.post(&format!("/v1/batches/{batch}/reviews"), accept).await.expect(201);
    let own = Custody { batch, ..of };
    let (ilse, administrator) = (&own.room.ilse, &own.room.clinic.administrator);
    own.fill(ilse, 1, "30 g").await.expect(201);
    own.release(ilse).await.expect(403);
    let policy = administrator.get("/v1/policy").await.expect(200);
    let mut content = policy.json["content"].clone();
    content["second_person"] = json!(false);
    content["reason"] = json!("Only one instructor is left.");
    administrator.put("/v1/policy", &policy.etag(), content).await.expect(200);
    own.release(ilse).await.fields(&["/reason"]);
    let sheet = own.sheet(ilse).await;
    let ids: Vec<&Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| &one["id"]).collect();
    let body = json!({ "confirmed": ids, "reason": "The other instructor is away." });
    let released = ilse.post(&own.path("release"), body).await.expect(201).json;
    assert_eq!(released["decisions"][0]["note"], "released by its maker");
    own.room.stop().await;
}
