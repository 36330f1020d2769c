//! Handing a batch over: who has it when, who writes and who reads, and who then decides about it.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, database};

use super::Bench;
use crate::amendments::{amend, material};
use crate::stock::salve;

/// A second student, who is a member of the library and has acknowledged the cautions of what is made.
async fn second(bench: &Bench) -> Caller {
    let room = &bench.room;
    let sven = room.clinic.person("sven.olsen", "student").await;
    let member = format!("/v1/libraries/{}/members/{}", room.library, sven.id);
    room.ilse.put_bare(&member).await.expect(204);
    sven
}

async fn revision(bench: &Bench) -> String {
    bench.record(&bench.room.noor).await["revision"].as_str().unwrap().to_owned()
}

async fn offer(bench: &Bench, by: &Caller, to: &Caller, reason: Option<&str>) -> Answer {
    by.post(&bench.path("handovers"), json!({ "to": to.id, "reason": reason })).await
}

async fn answer(by: &Caller, offer: &str, answer: &str) -> Answer {
    by.post(&format!("/v1/handovers/{offer}/answer"), json!({ "answer": answer })).await
}

fn first(answer: &Answer) -> String {
    answer.text_at("/handovers/0/id")
}

async fn write(bench: &Bench, by: &Caller, entry: Value) -> Answer {
    by.post(&bench.path("entries"), entry).await
}

fn weighed(line: &str, grams: &str) -> Value {
    json!({ "kind": "weighing", "line": line, "quantity": format!("{grams} g"), "lot": "L-1", "reason_later": true })
}

#[tokio::test(flavor = "multi_thread")]
async fn why_a_batch_is_offered_is_read_while_the_other_may_make_it_and_nothing_of_it_outside_the_library() {
    let bench = Bench::with(salve()).await;
    let (noor, ilse, marek) = (&bench.room.noor, &bench.room.ilse, &bench.room.marek);
    let sven = second(&bench).await;
    let of = revision(&bench).await;
    sven.acknowledge(&of).await.expect(201);
    let id = first(&offer(&bench, noor, &sven, Some("100 g of wax are in the pan.")).await.expect(201));
    let read = async |by: &Caller| by.get(&format!("/v1/handovers/{id}")).await.expect(200).json;
    assert_eq!(read(&sven).await["reason"], "100 g of wax are in the pan.");
    // The cautions change, and with them the acknowledgement of the other ends: what a person wrote may tell amounts.
    let olive = material(ilse, "olive oil").await;
    let caution = json!({ "add_caution": { "on": { "material": olive }, "level": "caution", "text": "Keep it dark." } });
    amend(marek, caution).await.expect(201);
    assert_eq!(read(&sven).await.get("reason"), None);
    let listed = sven.get("/v1/handovers").await.expect(200);
    assert!(listed.text.contains(&id) && !listed.text.contains("wax"), "{}", listed.text);
    assert_eq!(read(noor).await["reason"], "100 g of wax are in the pan.");
    let member = format!("/v1/libraries/{}/members/{}", bench.room.library, sven.id);
    ilse.delete(&member).await.expect(204);
    sven.get(&format!("/v1/handovers/{id}")).await.expect(404);
    assert_eq!(sven.get("/v1/handovers").await.expect(200).json["items"], json!([]));
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_goes_over_when_the_other_accepts_it_and_both_have_made_it() {
    let bench = Bench::with(salve()).await;
    let (noor, ilse, marek) = (&bench.room.noor, &bench.room.ilse, &bench.room.marek);
    let sven = second(&bench).await;
    let of = revision(&bench).await;
    write(&bench, noor, weighed("1.1", "100")).await.expect(201);

    let early = offer(&bench, noor, &sven, None).await.fields(&["/to"]);
    assert!(early.text.contains("This person may not make the formula now."), "{}", early.text);
    offer(&bench, noor, noor, None).await.fields(&["/to"]);
    sven.acknowledge(&of).await.expect(201);
    let stands = noor.get(&bench.path("handovers")).await.expect(200).json;
    let candidates: Vec<&Value> =
        stands["candidates"].as_array().unwrap().iter().map(|one| &one["person"]).collect();
    assert!(candidates.contains(&&json!(sven.id)), "{candidates:?}");
    let may_not = [&json!(noor.id), &json!(ilse.id)];
    assert!(
        !may_not.iter().any(|one| candidates.contains(one)),
        "only others who may make it: {candidates:?}"
    );
    sven.get(&bench.path("handovers")).await.expect(404);
    offer(&bench, &sven, &sven, None).await.expect(404);

    let offered = offer(&bench, noor, &sven, Some(" I am away. ")).await.expect(201);
    let id = first(&offered);
    offer(&bench, noor, &sven, None).await.problem(409, "wrong-state");
    let waiting = sven.get("/v1/handovers").await.expect(200).json;
    assert_eq!(
        (&waiting["items"][0]["id"], &waiting["items"][0]["reason"], &waiting["items"][0]["from"]),
        (&json!(id), &json!("I am away."), &json!(noor.id))
    );
    marek.get(&format!("/v1/handovers/{id}")).await.expect(404);
    answer(noor, &id, "accepted").await.problem(403, "forbidden");
    answer(&sven, &id, "withdrawn").await.problem(403, "forbidden");
    // Until it is accepted nothing is different.
    sven.get(&format!("/v1/batches/{}", bench.batch)).await.expect(404);
    write(&bench, noor, json!({ "kind": "observation", "note": "Clear." })).await.expect(201);

    let accepted = answer(&sven, &id, "accepted").await.expect(201).json;
    assert_eq!(accepted["answer"], "accepted");
    answer(&sven, &id, "declined").await.problem(409, "wrong-state");
    assert_eq!(sven.get("/v1/handovers").await.expect(200).json["items"], json!([]));

    // From then on the one writes, and the other reads.
    write(&bench, &sven, weighed("1.2", "500")).await.expect(201);
    write(&bench, noor, json!({ "kind": "observation", "note": "Clear." })).await.problem(403, "forbidden");
    noor.post(&bench.path("checks"), json!({ "kind": "line_clearance", "passed": true }))
        .await
        .problem(403, "forbidden");
    let record = bench.record(noor).await;
    assert_eq!(record["maker"], json!(sven.id));
    let makers: Vec<&Value> = record["makers"].as_array().unwrap().iter().map(|one| &one["person"]).collect();
    assert_eq!(makers, [&json!(noor.id), &json!(sven.id)]);
    assert_eq!(record["entries"][0]["by"], json!(noor.id));
    assert_eq!(record["entries"][2]["by"], json!(sven.id));
    noor.get(&format!("/v1/events?subject={}", bench.batch)).await.expect(200);
    // The new maker mends what the first one wrote.
    let mut mended = weighed("1.1", "101");
    mended["corrects"] = record["entries"][0]["id"].clone();
    mended["reason"] = json!("Read wrongly.");
    write(&bench, &sven, mended).await.expect(201);

    write(&bench, &sven, json!({ "kind": "step_done", "step": 1 })).await.expect(201);
    write(&bench, &sven, json!({ "kind": "yield", "quantity": "590 g" })).await.expect(201);
    sven.post(&bench.path("submissions"), json!({})).await.expect(201);
    offer(&bench, &sven, noor, None).await.problem(409, "wrong-state");
    ilse.acknowledge(&of).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Clear." });
    ilse.post(&bench.path("reviews"), accept).await.expect(201);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_offer_that_waits_is_withdrawn_when_its_batch_is_handed_in_or_abandoned() {
    for ends in ["submissions", "abandonment"] {
        let bench = Bench::with(salve()).await;
        let noor = &bench.room.noor;
        let sven = second(&bench).await;
        sven.acknowledge(&revision(&bench).await).await.expect(201);
        write(&bench, noor, weighed("1.1", "100")).await.expect(201);
        let id = first(&offer(&bench, noor, &sven, None).await.expect(201));
        match ends {
            "submissions" => noor.post(&bench.path(ends), json!({})).await.expect(201),
            _ => crate::teaching::act(noor, &bench.path(ends)).await.expect(200),
        };
        let ended = sven.get(&format!("/v1/handovers/{id}")).await.expect(200).json;
        assert_eq!(ended["answer"], "withdrawn");
        let refused = answer(&sven, &id, "accepted").await.problem(409, "wrong-state");
        assert!(refused.text.contains("This offer was withdrawn before."), "{}", refused.text);
        let offers = noor.get(&bench.path("handovers")).await.expect(200).json;
        assert_eq!(offers["handovers"][0]["answer"], "withdrawn");
        let events = noor.get(&format!("/v1/events?subject={}", bench.batch)).await.expect(200).json;
        let withdrawn = |event: &&Value| event["action"] == "handover_withdrawn";
        assert_eq!(events["items"].as_array().unwrap().iter().filter(withdrawn).count(), 1, "{events}");
        bench.stop().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_instructor_hands_over_for_somebody_who_is_absent_and_says_why() {
    let bench = Bench::with(salve()).await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    let sven = second(&bench).await;
    let of = revision(&bench).await;
    for person in [&sven, ilse] {
        person.acknowledge(&of).await.expect(201);
    }
    offer(&bench, ilse, &sven, None).await.fields(&["/reason"]);
    let offered = offer(&bench, ilse, &sven, Some("Noor is ill.")).await.expect(201);
    assert_eq!(offered.text_at("/handovers/0/by"), ilse.id);
    // Whoever has it may take the offer back; the other declines the next one, and accepts the third.
    answer(noor, &first(&offered), "withdrawn").await.expect(201);
    let again = offer(&bench, ilse, &sven, Some("Noor is ill.")).await.expect(201);
    answer(&sven, &first(&again), "declined").await.expect(201);
    let third = offer(&bench, ilse, &sven, Some("Noor is ill, really.")).await.expect(201);
    answer(&sven, &first(&third), "accepted").await.expect(201);
    let all = sven.get(&bench.path("handovers")).await.expect(200).json;
    let answers: Vec<&Value> =
        all["handovers"].as_array().unwrap().iter().map(|one| &one["answer"]).collect();
    assert_eq!(answers, ["accepted", "declined", "withdrawn"]);
    write(&bench, &sven, weighed("1.1", "100")).await.expect(201);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_who_had_a_batch_reviews_signs_or_releases_it() {
    let bench = Bench::with(salve()).await;
    let (noor, ilse, marek) = (&bench.room.noor, &bench.room.ilse, &bench.room.marek);
    let of = revision(&bench).await;
    for instructor in [ilse, marek] {
        instructor.acknowledge(&of).await.expect(201);
    }
    // It goes to an instructor and back again.
    let there = first(&offer(&bench, noor, ilse, None).await.expect(201));
    answer(ilse, &there, "accepted").await.expect(201);
    write(&bench, ilse, weighed("1.1", "100")).await.expect(201);
    let back = first(&offer(&bench, ilse, noor, None).await.expect(201));
    answer(noor, &back, "accepted").await.expect(201);
    write(&bench, ilse, json!({ "kind": "observation", "note": "Clear." })).await.problem(403, "forbidden");
    let deviated = json!({ "kind": "deviation", "note": "A second water bath was used." });
    let deviated = write(&bench, noor, deviated).await.expect(201).text_at("/entry/id");
    for entry in [
        weighed("1.2", "500"),
        json!({ "kind": "step_done", "step": 1 }),
        json!({ "kind": "yield", "quantity": "590 g" }),
    ] {
        write(&bench, noor, entry).await.expect(201);
    }
    ilse.post(&bench.path("authorisations"), json!({ "entry": deviated })).await.problem(403, "forbidden");
    marek.post(&bench.path("authorisations"), json!({ "entry": deviated })).await.expect(201);
    noor.post(&bench.path("submissions"), json!({})).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Clear." });
    ilse.post(&bench.path("reviews"), accept.clone()).await.problem(403, "forbidden");

    // The database holds it by itself, too.
    let mut owner = database::owner(&bench.room.clinic.database).await;
    let review = |own: bool| {
        format!(
            "INSERT INTO review (id, batch_id, submission_number, maker_id, reviewer_id, verdict, summary, own_review, at)
             SELECT gen_random_uuid(), id, 1, maker_id, '{}', 'accept', 'Clear.', {own}, opened_at FROM batch",
            ilse.id
        )
    };
    let decision = format!(
        "INSERT INTO batch_decision (id, batch_id, maker_id, number, decision, own_decision, by_id, at)
         SELECT gen_random_uuid(), id, maker_id, 1, 'released', false, '{}', opened_at FROM batch",
        ilse.id
    );
    let entry = "INSERT INTO batch_entry (id, batch_id, number, kind, note, by_id, at, before_acknowledged)
        SELECT gen_random_uuid(), b.id, 99, 'observation', 'Clear.', m.person_id, b.opened_at, false
        FROM batch b JOIN maker_of_batch m ON m.batch_id = b.id AND m.person_id <> b.maker_id";
    let authorised = format!(
        "INSERT INTO batch_authorisation SELECT (r).* FROM (SELECT jsonb_populate_record(o, jsonb_build_object(
             'by_id', '{}')) AS r FROM batch_authorisation o) c",
        ilse.id
    );
    for (wrong, constraint) in [
        (review(false), "decided_by_another"),
        (authorised, "decided_by_another"),
        (entry.to_owned(), "written_by_maker"),
        (format!("UPDATE batch SET maker_id = '{}'", marek.id), "batch_was_handed_over"),
        (format!("UPDATE batch SET maker_id = '{}'", ilse.id), "batch_was_handed_over"),
    ] {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused} of {wrong}");
    }
    marek.post(&bench.path("reviews"), accept).await.expect(201);
    let made = json!({ "jars": 2, "fill": "30 g" });
    noor.post(&bench.path("jars"), made).await.expect(201);
    let refused = owner.batch_execute(&decision).await.unwrap_err();
    assert!(store::violates(&refused, "decided_by_another"), "{refused}");
    let sheet = ilse.get(&bench.path("release")).await.expect(200).json;
    assert_eq!(sheet["own"], true);
    let ids: Vec<&Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| &one["id"]).collect();
    let release = json!({ "confirmed": ids });
    ilse.post(&bench.path("release"), release.clone()).await.problem(403, "forbidden");
    let lot = ilse.post(&bench.path("made-lots"), json!({ "amount": "100 g" })).await.expect(201).id();
    let let_in = json!({ "confirmed": true, "organoleptic": "Yellow, of wax." });
    ilse.post(&format!("/v1/lots/{lot}/identity"), let_in).await.problem(403, "forbidden");
    marek.post(&bench.path("release"), release).await.expect(201);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_holds_whom_a_batch_is_offered_to_and_who_answers() {
    let bench = Bench::with(salve()).await;
    let (noor, marek) = (&bench.room.noor, &bench.room.marek);
    let sven = second(&bench).await;
    sven.acknowledge(&revision(&bench).await).await.expect(201);
    let made = |to: &str, by: &str| {
        format!(
            "INSERT INTO batch_handover SELECT gen_random_uuid(), id, 1, maker_id, '{to}', NULL, '{by}', opened_at FROM batch"
        )
    };
    let mut owner = database::owner(&bench.room.clinic.database).await;
    for (wrong, constraint) in [
        (made(&bench.room.ilse.id, &noor.id), "handover_of_making"),
        (made(&noor.id, &noor.id), "batch_handover_another"),
        (made(&sven.id, &marek.id), "batch_handover_says_why"),
    ] {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, constraint), "{constraint}: {refused}");
    }
    offer(&bench, noor, &sven, None).await.expect(201);
    let answered = |answer: &str, by: &str| {
        format!(
            "INSERT INTO batch_handover_answer SELECT id, batch_id, '{answer}', '{by}', at FROM batch_handover"
        )
    };
    for wrong in [
        made(&sven.id, &noor.id).replace(", 1, maker_id", ", 2, maker_id"),
        answered("accepted", &noor.id),
        answered("declined", &marek.id),
        answered("withdrawn", &sven.id),
    ] {
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        let constraint = if wrong.contains("_answer") { "handover_answered" } else { "handover_of_making" };
        assert!(store::violates(&refused, constraint), "{refused} of {wrong}");
    }
    bench.stop().await;
}
