//! Requests that are sent twice.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use stillroom_tests::database::photographs;
use stillroom_tests::{Answer, Caller, TeachingClinic, pictures};

use crate::formulas::infused_oil;

/// What has been sent twice so far, as the document names it.
struct Twice<'a> {
    room: &'a TeachingClinic,
    done: BTreeSet<String>,
}

impl Twice<'_> {
    /// Sends a creating request twice with one key: nothing is done twice, and the same thing is answered, without
    /// the secret that is shown once.
    async fn send(
        &mut self,
        caller: &Caller,
        operation: &str,
        path: &str,
        body: Option<Value>,
        secret: &str,
    ) -> Answer {
        let key = uuid::Uuid::now_v7().to_string();
        let tag = match path.strip_suffix("/counts") {
            Some(lot) => Some(caller.get(lot).await.expect(200).etag()),
            None => None,
        };
        let send = async || match &body {
            Some(body) if tag.is_some() => {
                let headers = [
                    ("content-type", "application/json"),
                    ("idempotency-key", key.as_str()),
                    ("if-match", tag.as_deref().unwrap_or_default()),
                ];
                let body = body.to_string().into_bytes();
                caller.send(reqwest::Method::POST, path, &headers, Some(body)).await.expect(201)
            }
            Some(body) => caller.post_with_key(path, &key, body.clone()).await.expect(201),
            None => caller.post_bare(path, &[("idempotency-key", &key)]).await.expect(201),
        };
        let first = send().await;
        let before = self.room.contents().await;
        let second = send().await;
        assert_eq!(self.room.contents().await, before, "{operation} did something twice");
        assert_eq!(second.header("location"), first.header("location"));
        assert_eq!(second.etag(), first.etag());
        let mut shown_once = first.json.clone();
        if !secret.is_empty() {
            let removed = shown_once.as_object_mut().unwrap().remove(secret);
            assert!(removed.is_some_and(|secret| secret.as_str().unwrap().len() > 40));
        }
        assert_eq!(second.json, shown_once, "{operation}");
        self.done.insert(operation.to_owned());
        first
    }

    /// Sends a photograph twice with one key, and another one with it. Answers the id of the first.
    async fn photograph(&mut self, caller: &Caller, batch: &str) -> String {
        let path = format!("{batch}/photographs?subject=jars");
        let headers = [("content-type", "image/jpeg"), ("idempotency-key", "of-a-photograph")];
        let send = async |bytes| caller.send(reqwest::Method::POST, &path, &headers, Some(bytes)).await;
        let first = send(pictures::photograph()).await.expect(201);
        let before = self.room.contents().await;
        let second = send(pictures::photograph()).await.expect(201);
        assert_eq!(self.room.contents().await, before);
        assert_eq!(
            (second.json, second.headers["location"].clone()),
            (first.json.clone(), first.headers["location"].clone())
        );
        let files = std::fs::read_dir(photographs(&self.room.clinic.database)).unwrap().count();
        assert_eq!(files, 2, "a repetition leaves no files");
        let another = pictures::file(32, 32, image::ImageFormat::Png);
        send(another).await.problem(422, "idempotency-key-reused");
        self.done.insert("/v1/batches/{id}/photographs".to_owned());
        first.id()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_creating_request_sent_twice_does_nothing_twice_and_answers_the_same() {
    let room = TeachingClinic::start().await;
    let administrator = &room.clinic.administrator;
    let (ilse, marek, noor) = (&room.ilse, &room.marek, &room.noor);
    let mut twice = Twice { room: &room, done: BTreeSet::new() };

    let invite = json!({ "sign_in_name": "tomas.reyl", "name": "Tomas Reyl", "role": "student" });
    twice.send(administrator, "/v1/invitations", "/v1/invitations", Some(invite), "code").await;
    let reset = format!("/v1/people/{}/reset", noor.id);
    twice.send(administrator, "/v1/people/{id}/reset", &reset, None, "code").await;
    let client = json!({
        "name": "Label printer", "responsible": ilse.id, "scopes": ["formulas:read"], "valid_until": "2026-12-31T00:00:00Z"
    });
    twice.send(administrator, "/v1/api-clients", "/v1/api-clients", Some(client), "key").await;
    twice.send(ilse, "/v1/libraries", "/v1/libraries", Some(json!({ "name": "Once" })), "").await;

    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let content = json!({ "content": infused_oil() });
    let made = twice.send(ilse, "/v1/libraries/{id}/formulas", &formulas, Some(content.clone()), "").await;
    let (formula, revision) = (made.id(), made.text_at("/revisions/0/id"));
    ilse.post_bare(&format!("/v1/revisions/{revision}/proposal"), &[("if-match", "\"v1\"")])
        .await
        .expect(200);
    marek.acknowledge(&revision).await.expect(201);
    let decision = format!("/v1/revisions/{revision}/decision");
    marek.post(&decision, json!({ "decision": "approve" })).await.expect(200);
    let revisions = format!("/v1/formulas/{formula}/revisions");
    twice.send(ilse, "/v1/formulas/{id}/revisions", &revisions, Some(content), "").await;

    let cautions = noor.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
    let named: Vec<&Value> = cautions.json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|caution| caution["level"] == "contraindication")
        .map(|caution| &caution["key"])
        .collect();
    let acknowledge = json!({ "caution_set": cautions.json["digest"], "contraindications": named });
    let path = format!("/v1/revisions/{revision}/acknowledgements");
    twice.send(noor, "/v1/revisions/{id}/acknowledgements", &path, Some(acknowledge), "").await;
    let meant_for = json!({
        "caution_set": cautions.json["digest"], "contraindications": named, "meant_for": ["pregnant"],
    });
    let waiting = ilse.post(&path, meant_for).await.expect(201).id();
    let sign = format!("/v1/acknowledgements/{waiting}/countersignature");
    twice.send(marek, "/v1/acknowledgements/{id}/countersignature", &sign, None, "").await;
    let note = json!({
        "reason": "Agreed among the teachers.",
        "change": { "add_caution": { "level": "note", "text": "Ask when in doubt." } },
    });
    twice.send(ilse, "/v1/amendments", "/v1/amendments", Some(note), "").await;
    let open = json!({ "revision": revision, "make_for": { "mass": "500 g" } });
    let batch = twice.send(noor, "/v1/batches", "/v1/batches", Some(open), "").await;
    assert_eq!(batch.json["number"], "2026-0001");
    let batch = format!("/v1/batches/{}", batch.id());
    let entry = json!({ "kind": "weighing", "line": "1.1", "quantity": "58.8 g", "lot": "CF-7" });
    let record =
        twice.send(noor, "/v1/batches/{id}/entries", &format!("{batch}/entries"), Some(entry), "").await;
    assert_eq!(record.json["entry"]["number"], 1);
    crate::stock::usable(ilse, crate::stock::lot("olive oil", "9 kg")).await;
    let (name, path) = ("/v1/batches/{id}/reservations", format!("{batch}/reservations"));
    twice.send(noor, name, &path, Some(json!({ "days": 3 })), "").await;
    let check = json!({ "kind": "line_clearance", "passed": true });
    twice.send(noor, "/v1/batches/{id}/checks", &format!("{batch}/checks"), Some(check), "").await;
    for (act, body) in [
        ("look-plans", Some(json!({ "what": ["shake"], "every_days": 1, "until": "2026-03-20" }))),
        ("pauses", Some(json!({ "why": "macerating", "until": "2026-03-20" }))),
        ("resumptions", None),
    ] {
        twice.send(noor, &format!("/v1/batches/{{id}}/{act}"), &format!("{batch}/{act}"), body, "").await;
    }
    let entries = format!("{batch}/entries");
    for step in [1, 2] {
        noor.post(&entries, json!({ "kind": "step_done", "step": step })).await.expect(201);
    }
    let name = "/v1/batches/{id}/hold-releases";
    twice.send(marek, name, &format!("{batch}/hold-releases"), Some(json!({ "step": 2 })), "").await;
    let other = json!({ "kind": "deviation", "note": "A second water bath was used." });
    let other = noor.post(&entries, other).await.expect(201).text_at("/entry/id");
    let name = "/v1/batches/{id}/authorisations";
    twice.send(marek, name, &format!("{batch}/authorisations"), Some(json!({ "entry": other })), "").await;
    let submissions = format!("{batch}/submissions");
    let answer = json!({ "answer": "Done." });
    twice.send(noor, "/v1/batches/{id}/submissions", &submissions, Some(answer), "").await;
    let review = json!({ "verdict": "accept", "summary": "Good.", "comments": [{ "text": "Neat." }] });
    twice.send(marek, "/v1/batches/{id}/reviews", &format!("{batch}/reviews"), Some(review), "").await;
    let next = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
    assert_eq!(next.json["number"], "2026-0002", "a repetition takes no number");
    crate::examples::too_much(noor, &next.id()).await;
    let (name, path) = ("/v1/batches/{id}/adjustments", format!("/v1/batches/{}/adjustments", next.id()));
    twice.send(noor, name, &path, Some(json!({ "reason": "It was weighed twice." })), "").await;

    keep_twice(&mut twice).await;
    shelve_twice(&mut twice, &revision).await;
    let (name, path) = ("/v1/batches/{id}/handovers", format!("/v1/batches/{}/handovers", next.id()));
    let offer = twice.send(noor, name, &path, Some(json!({ "to": marek.id })), "").await;
    let path = format!("/v1/handovers/{}/answer", offer.text_at("/handovers/0/id"));
    let accept = Some(json!({ "answer": "accepted" }));
    twice.send(marek, "/v1/handovers/{id}/answer", &path, accept, "").await;
    teach_twice(&mut twice, &revision).await;

    // Nothing that creates was left out, by the document's own account.
    let document = noor.get("/openapi.json").await.expect(200);
    let creating: BTreeSet<String> = document.json["paths"]
        .as_object()
        .unwrap()
        .iter()
        .filter(|(_, item)| item["post"]["parameters"].to_string().contains("Idempotency-Key"))
        .map(|(path, _)| path.clone())
        .collect();
    assert_eq!(twice.done, creating);
    room.stop().await;
}

/// A class, the work set to it on a revision, and what a student does with it.
async fn teach_twice(twice: &mut Twice<'_>, revision: &str) {
    let room = twice.room;
    let (ilse, marek, noor) = (&room.ilse, &room.marek, &room.noor);
    let cohort = crate::teaching::cohort("Once a year");
    let made = twice.send(ilse, "/v1/cohorts", "/v1/cohorts", Some(cohort), "").await;
    let at = |what: &str| format!("/v1/cohorts/{}/{what}", made.id());
    let marker = json!({ "person": marek.id, "role": "instructor" });
    twice.send(ilse, "/v1/cohorts/{id}/members", &at("members"), Some(marker), "").await;
    let class = json!({ "csv": "Noor Haddad, noor.haddad" });
    twice.send(ilse, "/v1/cohorts/{id}/class", &at("class"), Some(class), "").await;
    let until = json!({ "valid_until": "2026-03-31T18:00:00Z" });
    let code = twice.send(ilse, "/v1/cohorts/{id}/codes", &at("codes"), Some(until), "code").await;
    let code = json!({ "code": code.text_at("/code") });
    twice.send(noor, "/v1/enrolments", "/v1/enrolments", Some(code), "").await;
    let bank = json!({
        "text": "How much wax is 5 % of 250 g?", "worked": "250 g × 5 / 100 = 12.5 g.",
        "answer": { "number": { "value": "12.5 g", "tolerance_percent": "1" } },
    });
    let asked = twice.send(ilse, "/v1/cohorts/{id}/questions", &at("questions"), Some(bank), "").await.id();
    let work = json!({
        "title": "Make the oil", "formulas": [revision], "quantity": "300 g", "opens": "2026-03-02T08:00",
        "due": "2026-03-20T18:00", "attempts": 3, "returns_allowed": 1, "rubric": crate::teaching::rubric(),
        "questions": [{ "kind": "bank", "bank_question": asked }],
    });
    let set = twice.send(ilse, "/v1/cohorts/{id}/assignments", &at("assignments"), Some(work), "").await.id();
    let of = |what: &str| (format!("/v1/assignments/{{id}}/{what}"), format!("/v1/assignments/{set}/{what}"));
    let (name, path) = of("publication");
    twice.send(ilse, &name, &path, None, "").await;
    let (name, path) = of("questions");
    let question = twice.send(noor, &name, &path, None, "").await.text_at("/questions/0/id");
    let answer = json!({ "answers": [{ "part": "answer", "values": ["12.5 g"] }] });
    let path = format!("/v1/questions/{question}/answers");
    twice.send(noor, "/v1/questions/{id}/answers", &path, Some(answer), "").await;
    let name = "/v1/assignments/{id}/students/{person}/allowances";
    let path = format!("/v1/assignments/{set}/students/{}/allowances", noor.id);
    let extra = json!({ "kind": "extra_time", "extra_minutes": 60, "reason": "As agreed." });
    twice.send(ilse, name, &path, Some(extra), "").await;
    let batch = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "50 g" });
    noor.post(&format!("/v1/batches/{batch}/entries"), weighed).await.expect(201);
    let (name, path) = of("submissions");
    let slow = json!({ "batch": batch, "reflection": "Slow." });
    let handed = twice.send(noor, &name, &path, Some(slow), "").await.id();
    mark_twice(twice, (&made.id(), &handed), &batch).await;
    let (name, path) = of("withdrawal");
    twice.send(ilse, &name, &path, Some(json!({ "reason": "It did not arrive." })), "").await;
}

/// Work, from its claim until its mark is changed.
async fn mark_twice(twice: &mut Twice<'_>, (cohort, handed): (&str, &str), batch: &str) {
    let (ilse, marek, noor) = (&twice.room.ilse, &twice.room.marek, &twice.room.noor);
    let path = format!("/v1/cohorts/{cohort}/moderation-shares");
    let all = json!({ "percent": 100 });
    twice.send(ilse, "/v1/cohorts/{id}/moderation-shares", &path, Some(all), "").await;
    let at =
        |what: &str| (format!("/v1/submissions/{{id}}/{what}"), format!("/v1/submissions/{handed}/{what}"));
    let (name, claim) = at("claim");
    twice.send(ilse, &name, &claim, None, "").await;
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "As asked.", "mark": mark });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    moderate_twice(twice, [ilse, marek]).await;
    crate::teaching::act(ilse, &claim).await.expect(201);
    let (name, path) = at("marks");
    let change = json!({ "reason": "wrong_level", "criteria": [{ "criterion": 1, "level": 1 }] });
    twice.send(ilse, &name, &path, Some(change), "").await;
    let (name, path) = at("appeal");
    let appeal = json!({ "reason": "record_misread", "criteria": [1] });
    twice.send(noor, &name, &path, Some(appeal), "").await;
    let (name, path) = at("appeal/decision");
    crate::teaching::act(&twice.room.marek, &claim).await.expect(201);
    twice.send(&twice.room.marek, &name, &path, Some(json!({ "outcome": "stands" })), "").await;
    let phrase = json!({ "text": "Wait until the balance stands still." });
    twice.send(ilse, "/v1/phrases", "/v1/phrases", Some(phrase), "").await;
    let competency = json!({ "name": "Salves", "says": "Makes a salve.", "rule": { "accepted": { "works": 1 } },
        "lasts_months": 12 });
    let competency =
        twice.send(ilse, "/v1/competencies", "/v1/competencies", Some(competency), "").await.id();
    let name = "/v1/cohorts/{id}/students/{person}/sign-offs";
    let path = format!("/v1/cohorts/{cohort}/students/{}/sign-offs", noor.id);
    let signed = json!({ "competency": competency });
    let signed = twice.send(ilse, name, &path, Some(signed), "").await.id();
    let path = format!("/v1/sign-offs/{signed}/revocation");
    let why = json!({ "reason": "not_shown_again" });
    twice.send(ilse, "/v1/sign-offs/{id}/revocation", &path, Some(why), "").await;
    let path = format!("/v1/cohorts/{cohort}/work-limits");
    let told = json!({ "cannot_work_with": "wool fat", "consent": true });
    twice.send(noor, "/v1/cohorts/{id}/work-limits", &path, Some(told), "").await;
    let related = json!({ "student": noor.id });
    twice.send(ilse, "/v1/relations", "/v1/relations", Some(related), "").await;
}

/// The only mark that was drawn: its second marker is named, gives another mark, and the two are settled.
async fn moderate_twice(twice: &mut Twice<'_>, [first, second]: [&Caller; 2]) {
    let drawn = second.get("/v1/moderations").await.expect(200).text_at("/items/0/id");
    let at =
        |what: &str| (format!("/v1/moderations/{{id}}/{what}"), format!("/v1/moderations/{drawn}/{what}"));
    let (name, path) = at("second-marker");
    twice.send(first, &name, &path, Some(json!({ "person": second.id })), "").await;
    let (name, path) = at("mark");
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 1 },
        { "criterion": 3, "met": true }] });
    twice.send(second, &name, &path, Some(mark), "").await;
    let (name, path) = at("settlement");
    twice.send(first, &name, &path, Some(json!({ "outcome": "second_taken" })), "").await;
}

/// A lot, from its receipt until it is thrown away.
async fn keep_twice(twice: &mut Twice<'_>) {
    let ilse = &twice.room.ilse;
    let received = crate::stock::lot("yellow beeswax", "500 g");
    let lot = twice.send(ilse, "/v1/lots", "/v1/lots", Some(received), "").await.id();
    let why = json!({ "reason": "It smells rancid." });
    for (act, body) in [
        ("identity", json!({ "confirmed": true, "organoleptic": "Colour and smell as they should be." })),
        ("counts", json!({ "counted": "412 g", "reason": "Counted." })),
        ("quarantine", why.clone()),
        ("discard", why),
    ] {
        let path = format!("/v1/lots/{lot}/{act}");
        twice.send(ilse, &format!("/v1/lots/{{id}}/{act}"), &path, Some(body), "").await;
    }
    let recall = json!({ "cause": "lot", "id": lot, "reason": "The supplier withdrew it." });
    let recall = twice.send(ilse, "/v1/recalls", "/v1/recalls", Some(recall), "").await.id();
    for (act, body) in [("outcomes", json!({ "item": 1, "outcome": "nothing_left" })), ("close", json!({}))] {
        let path = format!("/v1/recalls/{recall}/{act}");
        twice.send(ilse, &format!("/v1/recalls/{{id}}/{act}"), &path, Some(body), "").await;
    }
}

/// What a batch made, put on the shelf.
async fn shelve_twice(twice: &mut Twice<'_>, revision: &str) {
    let (noor, marek) = (&twice.room.noor, &twice.room.marek);
    let batch = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let batch = format!("/v1/batches/{batch}");
    for entry in [
        json!({ "kind": "weighing", "line": "1.1", "quantity": "100 g" }),
        json!({ "kind": "weighing", "line": "1.2", "quantity": "1000 g" }),
        json!({ "kind": "yield", "quantity": "840 g" }),
    ] {
        noor.post(&format!("{batch}/entries"), entry).await.expect(201);
    }
    let photograph = twice.photograph(noor, &batch).await;
    let name = "/v1/batches/{id}/photographs/{photograph}/withdrawal";
    let path = format!("{batch}/photographs/{photograph}/withdrawal");
    twice.send(noor, name, &path, Some(json!({ "reason": "It is blurred." })), "").await;
    noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Good." });
    marek.post(&format!("{batch}/reviews"), accept).await.expect(201);
    let (name, path) = ("/v1/batches/{id}/made-lots", format!("{batch}/made-lots"));
    twice.send(noor, name, &path, Some(json!({ "amount": "250 g" })), "").await;
    let (name, path) = ("/v1/batches/{id}/jars", format!("{batch}/jars"));
    twice.send(noor, name, &path, Some(json!({ "jars": 3, "fill": "30 g" })), "").await;
    let (name, path) = ("/v1/batches/{id}/observations", format!("{batch}/observations"));
    twice.send(noor, name, &path, Some(json!({ "jar": 3, "seen": ["smell_changed"] })), "").await;
    marek.acknowledge(revision).await.expect(201);
    let seen = marek.get(&path).await.expect(200).text_at("/observations/0/id");
    let shorten = json!({ "observation": seen, "last_day": "2026-03-20", "reason": "It turns early." });
    let (name, path) = ("/v1/batches/{id}/shortenings", format!("{batch}/shortenings"));
    twice.send(marek, name, &path, Some(shorten), "").await;
    let sheet = marek.get(&format!("{batch}/release")).await.expect(200).json;
    let ids: Vec<&Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| &one["id"]).collect();
    let (name, path) = ("/v1/batches/{id}/release", format!("{batch}/release"));
    twice.send(marek, name, &path, Some(json!({ "confirmed": ids })), "").await;
    let jar = marek.get(&format!("{batch}/jars")).await.expect(200).text_at("/jars/0/id");
    let handing =
        json!({ "reference": "C-1", "suitability_asked": true, "cautions_told": true, "opening_told": true });
    let path = format!("/v1/jars/{jar}/handing");
    twice.send(marek, "/v1/jars/{id}/handing", &path, Some(handing), "").await;
    let path = format!("/v1/jars/{jar}/return");
    twice.send(marek, "/v1/jars/{id}/return", &path, Some(json!({ "note": "Full." })), "").await;
    let next = marek.get(&format!("{batch}/jars")).await.expect(200).text_at("/jars/1/id");
    let into = json!({ "into": [{ "jars": 1, "fill": "10 g" }], "reason": "A small jar is needed." });
    let name = "/v1/jars/{id}/decanting";
    let small = twice.send(noor, name, &format!("/v1/jars/{next}/decanting"), Some(into), "").await;
    let path = format!("/v1/jars/{}/sample", small.text_at("/jars/3/id"));
    twice.send(noor, "/v1/jars/{id}/sample", &path, Some(json!({ "reason": "To look at." })), "").await;
    react_twice(twice, &jar).await;
    let of = batch.rsplit('/').next().unwrap();
    let recall = json!({ "cause": "batch", "id": of, "reason": "Somebody's skin reddened." });
    let recall = marek.post("/v1/recalls", recall).await.expect(201).id();
    let (name, path) = ("/v1/recalls/{id}/jar-outcomes", format!("/v1/recalls/{recall}/jar-outcomes"));
    let outcome = json!({ "item": 1, "jars": [1, 3], "outcome": "destroyed" });
    twice.send(marek, name, &path, Some(outcome), "").await;
    let (name, path) = ("/v1/batches/{id}/discard", format!("{batch}/discard"));
    twice.send(marek, name, &path, Some(json!({ "reason": "It separated." })), "").await;
}

/// A reaction to what is in a jar, and the cases that follow.
async fn react_twice(twice: &mut Twice<'_>, jar: &str) {
    let marek = &twice.room.marek;
    let path = format!("/v1/jars/{jar}/reactions");
    let telling = json!({ "what": "It itched.", "outcome": "recovered" });
    twice.send(marek, "/v1/jars/{id}/reactions", &path, Some(telling.clone()), "").await;
    marek.post(&path, telling).await.expect(201);
    let cases = marek.get("/v1/reactions").await.expect(200);
    let (second, first) = (cases.text_at("/items/0/id"), cases.text_at("/items/1/id"));
    let report = marek.get(&format!("/v1/reactions/{first}")).await.expect(200).text_at("/received/0/id");
    for (case, act, body) in [
        (&first, "notes", json!({ "text": "The wax was asked about." })),
        (&first, "erasures", json!({ "report": report })),
        (&second, "joining", json!({ "case": first })),
        (&first, "conclusion", json!({ "causality": "possible", "conclusion": "Wool fat." })),
    ] {
        let path = format!("/v1/reactions/{case}/{act}");
        twice.send(marek, &format!("/v1/reactions/{{id}}/{act}"), &path, Some(body), "").await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_repetition_is_shown_as_things_are_now_and_only_to_whoever_may_see_them_now() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let open = json!({ "revision": revision });
    let made = room.noor.post_with_key("/v1/batches", "opened", open.clone()).await.expect(201);
    let entries = format!("/v1/batches/{}/entries", made.id());
    let entry = json!({ "kind": "observation", "note": "Golden." });
    room.noor.post_with_key(&entries, "seen", entry.clone()).await.expect(201);
    room.noor.post(&format!("/v1/batches/{}/submissions", made.id()), json!({})).await.expect(201);
    let before = room.contents().await;
    // The record has been handed in meanwhile: a repetition writes nothing and shows it so.
    for (path, key, body) in [("/v1/batches", "opened", &open), (entries.as_str(), "seen", &entry)] {
        let again = room.noor.post_with_key(path, key, body.clone()).await.expect(201).json;
        let batch = again["batch"].as_str().or_else(|| again["id"].as_str()).unwrap();
        assert_eq!((batch, &again["state"]), (made.id().as_str(), &json!("submitted")));
    }
    assert_eq!(room.contents().await, before);
    // A new request with another key is what it would have been all along.
    room.noor.post(&entries, entry.clone()).await.problem(409, "wrong-state");
    let member = format!("/v1/libraries/{}/members/{}", room.library, room.noor.id);
    room.ilse.delete(&member).await.expect(204);
    for (path, key, body) in [("/v1/batches", "opened", open), (entries.as_str(), "seen", entry)] {
        room.noor.post_with_key(path, key, body).await.problem(404, "not-found");
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_request_that_was_refused_may_be_sent_again_with_its_key() {
    let room = TeachingClinic::start().await;
    let refused = json!({ "name": "" });
    room.ilse.post_with_key("/v1/libraries", "again", refused).await.fields(&["/name"]);
    room.ilse
        .post_with_key("/v1/libraries", "again", json!({ "name": "First-year creams" }))
        .await
        .problem(409, "conflict");
    room.ilse.post_with_key("/v1/libraries", "again", json!({ "name": "A new name" })).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_moves_a_state_moves_it_once() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let batch = room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let abandonment = format!("/v1/batches/{batch}/abandonment");
    let withdrawal = format!("/v1/revisions/{revision}/withdrawal");
    let member = format!("/v1/libraries/{}/members/{}", room.library, room.noor.id);
    room.noor.post_bare(&abandonment, &[]).await.expect(200);
    room.ilse.put_bare(&member).await.expect(204);
    let before = room.contents().await;
    assert_eq!(
        room.noor.post_bare(&abandonment, &[]).await.problem(409, "wrong-state").json["state"],
        "abandoned"
    );
    let approve = json!({ "decision": "approve" });
    let again = room.marek.post(&format!("/v1/revisions/{revision}/decision"), approve).await;
    assert_eq!(again.problem(409, "wrong-state").json["state"], "approved");
    room.ilse.put_bare(&member).await.expect(204);
    assert_eq!(room.contents().await, before);
    room.marek.post(&withdrawal, json!({ "reason": "A better way." })).await.expect(200);
    let before = room.contents().await;
    let again = room.marek.post(&withdrawal, json!({ "reason": "A better way." })).await;
    assert_eq!(again.problem(409, "wrong-state").json["state"], "withdrawn");
    assert_eq!(room.contents().await, before);
    room.stop().await;
}
