//! Every example of a request in the OpenAPI document, sent to the demo: only ids, digests and secrets are replaced.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, pictures};

use crate::authority::document::{Operation, operations};
use crate::authority::request::dispatch;
use crate::demo::Demo;

/// The document's examples, and those that were sent.
struct Examples {
    operations: Vec<Operation>,
    sent: BTreeSet<String>,
}

impl Examples {
    /// Sends an operation's example with these members replaced, to the address with this id, or with two of them, as
    /// `id/person`.
    async fn send(&mut self, name: &str, caller: &Caller, id: &str, replaced: &[(&str, Value)]) -> Answer {
        let operation = self.operations.iter().find(|it| it.name() == name);
        let operation = operation.unwrap_or_else(|| panic!("the document has no {name}"));
        let mut body = operation.body().unwrap_or_else(|| panic!("{name} has no example"));
        for (pointer, value) in replaced {
            let at =
                body.pointer_mut(pointer).unwrap_or_else(|| panic!("no {pointer} in the example of {name}"));
            *at = value.clone();
        }
        let (first, second) = id.split_once('/').unwrap_or((id, id));
        let path = operation.address(|name, _| {
            if matches!(name, "person" | "photograph") { second } else { first }.to_owned()
        });
        let tag = if operation.changes() {
            let of = path.replace("/reinstatement", "").replace("/counts", "");
            Some(caller.get(&of).await.expect(200).etag())
        } else {
            None
        };
        self.sent.insert(name.to_owned());
        dispatch(operation, caller, &path, tag.as_deref(), Some(body)).await
    }
}

/// The formula of a title: its id and its approved revision.
async fn formula(caller: &Caller, title: &str) -> (String, String) {
    let query = title.replace(' ', "%20");
    let page = caller.get(&format!("/v1/formulas?title={query}")).await.expect(200);
    (page.text_at("/items/0/id"), page.text_at("/items/0/approved_revision"))
}

/// The shelf: a lot of the salve's wax, its identity, a count, and out of use; and a lot of what was made.
async fn keep_the_shelf(examples: &mut Examples, [petra, ilse, tomas]: [&Caller; 3]) {
    let lot = examples.send("POST /v1/lots", petra, "", &[]).await.expect(201).id();
    let of_no_plant = [("/species", json!(null)), ("/part", json!(null)), ("/condition", json!(null))];
    examples.send("POST /v1/lots/{id}/identity", ilse, &lot, &of_no_plant).await.expect(201);
    examples.send("POST /v1/lots/{id}/counts", ilse, &lot, &[]).await.expect(201);
    examples.send("POST /v1/lots/{id}/quarantine", ilse, &lot, &[]).await.expect(201);
    examples.send("POST /v1/lots/{id}/discard", ilse, &lot, &[]).await.expect(201);
    let recall =
        examples.send("POST /v1/recalls", ilse, "", &[("/id", json!(lot))]).await.expect(201).text_at("/id");
    examples.send("POST /v1/recalls/{id}/outcomes", ilse, &recall, &[]).await.expect(201);
    examples.send("POST /v1/recalls/{id}/close", ilse, &recall, &[]).await.expect(201);
    // Of the oil that stands there, some is not on the shelf yet.
    let made = tomas.get("/v1/batches?state=accepted").await.expect(200).text_at("/items/0/id");
    examples.send("POST /v1/batches/{id}/made-lots", tomas, &made, &[]).await.expect(201);
    let jars = [("/jars", json!(3)), ("/fill", json!("13 g"))];
    examples.send("POST /v1/batches/{id}/jars", tomas, &made, &jars).await.expect(201);
    released(examples, [ilse, tomas], &made).await;
    let wax = petra.get(&format!("/v1/lots/{lot}")).await.expect(200).text_at("/material");
    let least = "PUT /v1/materials/{id}/threshold";
    examples.send(least, ilse, &wax, &[]).await.expect(200);
}

/// What was made is called back, its jars are accounted for, and it is thrown away.
async fn called_back(examples: &mut Examples, ilse: &Caller, batch: &str) {
    let recall = json!({ "cause": "batch", "id": batch, "reason": "Somebody's skin reddened." });
    let recall = ilse.post("/v1/recalls", recall).await.expect(201).id();
    let jars = [("/jars", json!([1]))];
    examples.send("POST /v1/recalls/{id}/jar-outcomes", ilse, &recall, &jars).await.expect(201);
    examples.send("POST /v1/batches/{id}/discard", ilse, batch, &[]).await.expect(201);
}

/// What was made is released by somebody who did not make it, and a jar of it is handed out and comes back.
async fn released(examples: &mut Examples, [ilse, tomas]: [&Caller; 2], batch: &str) {
    let revision = tomas.get(&format!("/v1/batches/{batch}")).await.expect(200).text_at("/revision");
    ilse.acknowledge(&revision).await.expect(201);
    let sheet = ilse.get(&format!("/v1/batches/{batch}/release")).await.expect(200).json;
    let ids: Vec<Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| one["id"].clone()).collect();
    assert_eq!(sheet["barred"], json!([]), "{sheet}");
    let confirmed = [("/confirmed", json!(ids))];
    examples.send("POST /v1/batches/{id}/release", ilse, batch, &confirmed).await.expect(201);
    let jar = ilse.get(&format!("/v1/batches/{batch}/jars")).await.expect(200).text_at("/jars/0/id");
    examples.send("POST /v1/jars/{id}/handing", ilse, &jar, &[]).await.expect(201);
    examples.send("POST /v1/jars/{id}/return", ilse, &jar, &[]).await.expect(201);
    let of_sample = [("/jar", json!(3))];
    examples.send("POST /v1/batches/{id}/observations", tomas, batch, &of_sample).await.expect(201);
    let seen = ilse.get(&format!("/v1/batches/{batch}/observations")).await.expect(200);
    let day: chrono::NaiveDate = seen.text_at("/last_day").parse().unwrap();
    let sooner = [
        ("/observation", json!(seen.text_at("/observations/0/id"))),
        ("/last_day", json!(day.pred_opt().unwrap())),
    ];
    examples.send("POST /v1/batches/{id}/shortenings", ilse, batch, &sooner).await.expect(201);
    let jars = ilse.get(&format!("/v1/batches/{batch}/jars")).await.expect(200).json;
    let on_shelf = |jar: &&Value| jar["sample"] == false && jar.get("handed").is_none();
    let full =
        jars["jars"].as_array().unwrap().iter().find(on_shelf).unwrap()["id"].as_str().unwrap().to_owned();
    let small = examples.send("POST /v1/jars/{id}/decanting", tomas, &full, &[]).await.expect(201);
    let kept = small.json["jars"].as_array().unwrap().last().unwrap()["id"].as_str().unwrap();
    examples.send("POST /v1/jars/{id}/sample", tomas, kept, &[]).await.expect(201);
    for _ in 0..2 {
        examples.send("POST /v1/jars/{id}/reactions", tomas, &jar, &[]).await.expect(201);
    }
    let cases = ilse.get("/v1/reactions").await.expect(200);
    let (second, first) = (cases.text_at("/items/0/id"), cases.text_at("/items/1/id"));
    examples.send("POST /v1/reactions/{id}/notes", ilse, &first, &[]).await.expect(201);
    let into = [("/case", json!(first))];
    examples.send("POST /v1/reactions/{id}/joining", ilse, &second, &into).await.expect(201);
    let report = ilse.get(&format!("/v1/reactions/{first}")).await.expect(200).text_at("/received/0/id");
    let report = [("/report", json!(report))];
    examples.send("POST /v1/reactions/{id}/erasures", ilse, &first, &report).await.expect(201);
    examples.send("POST /v1/reactions/{id}/conclusion", ilse, &first, &[]).await.expect(201);
}

/// Work that was handed in is marked, and the mark is changed.
async fn marked(
    examples: &mut Examples,
    [ilse, marek, noor]: [&Caller; 3],
    cohort: &str,
    [handed, made]: [&str; 2],
) {
    // The rubric is that of the example, so its mark can be given as it stands.
    let claim = format!("/v1/submissions/{handed}/claim");
    crate::teaching::act(marek, &claim).await.expect(201);
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "Careful work.", "mark": mark });
    let all = [("/percent", json!(100))];
    examples.send("POST /v1/cohorts/{id}/moderation-shares", ilse, cohort, &all).await.expect(201);
    marek.post(&format!("/v1/batches/{made}/reviews"), review).await.expect(201);
    // A marker names nobody.
    let enrol = json!({ "person": marek.id, "role": "instructor" });
    ilse.post(&format!("/v1/cohorts/{cohort}/members"), enrol).await.expect(201);
    let drawn = ilse.get("/v1/moderations").await.expect(200).text_at("/items/0/id");
    let second = [("/person", json!(ilse.id))];
    examples.send("POST /v1/moderations/{id}/second-marker", marek, &drawn, &second).await.expect(201);
    let other = [("/criteria/1/level", json!(1))];
    examples.send("POST /v1/moderations/{id}/mark", ilse, &drawn, &other).await.expect(201);
    examples.send("POST /v1/moderations/{id}/settlement", ilse, &drawn, &[]).await.expect(201);
    crate::teaching::act(marek, &claim).await.expect(201);
    examples.send("POST /v1/submissions/{id}/marks", marek, handed, &[]).await.expect(201);
    examples.send("POST /v1/submissions/{id}/appeal", noor, handed, &[]).await.expect(201);
    crate::teaching::act(ilse, &claim).await.expect(201);
    examples.send("POST /v1/submissions/{id}/appeal/decision", ilse, handed, &[]).await.expect(201);
    examples.send("POST /v1/phrases", marek, "", &[]).await.expect(201);
    let rule = [("/rule", json!({ "accepted": { "works": 1 } }))];
    let competency = examples.send("POST /v1/competencies", ilse, "", &rule).await.expect(201).id();
    let signed = [("/competency", json!(competency))];
    let whom = format!("{cohort}/{}", noor.id);
    let sign = "POST /v1/cohorts/{id}/students/{person}/sign-offs";
    let signed = examples.send(sign, ilse, &whom, &signed).await.expect(201).id();
    examples.send("POST /v1/sign-offs/{id}/revocation", ilse, &signed, &[]).await.expect(201);
    examples.send("POST /v1/cohorts/{id}/work-limits", noor, cohort, &[]).await.expect(201);
    let related = [("/student", json!(noor.id))];
    examples.send("POST /v1/relations", marek, "", &related).await.expect(201);
}

/// A batch that is handed over to somebody who may make it.
async fn given_over(examples: &mut Examples, [noor, marek]: [&Caller; 2], revision: &str) {
    marek.acknowledge(revision).await.expect(201);
    let batch = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let whom = [("/to", json!(marek.id))];
    let offered = examples.send("POST /v1/batches/{id}/handovers", noor, &batch, &whom).await.expect(201);
    let offer = offered.text_at("/handovers/0/id");
    examples.send("POST /v1/handovers/{id}/answer", marek, &offer, &[]).await.expect(201);
}

/// What is checked before a batch, and what a second person signs of it.
async fn sign_off(examples: &mut Examples, [noor, marek]: [&Caller; 2], batch: &str, revision: &str) {
    examples.send("POST /v1/batches/{id}/checks", noor, batch, &[]).await.expect(201);
    let today = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).text_at("/opened_at");
    let today: chrono::DateTime<chrono::Utc> = today.parse().unwrap();
    let until = [("/until", json!(today.date_naive() + chrono::Days::new(12)))];
    examples.send("POST /v1/batches/{id}/look-plans", noor, batch, &until).await.expect(201);
    examples.send("POST /v1/batches/{id}/pauses", noor, batch, &until).await.expect(201);
    crate::teaching::act(noor, &format!("/v1/batches/{batch}/resumptions")).await.expect(201);
    given_over(examples, [noor, marek], revision).await;
    let entries = format!("/v1/batches/{batch}/entries");
    for step in [1, 2] {
        noor.post(&entries, json!({ "kind": "step_done", "step": step })).await.expect(201);
    }
    marek.acknowledge(revision).await.expect(201);
    let step = [("/step", json!(2))];
    examples.send("POST /v1/batches/{id}/hold-releases", marek, batch, &step).await.expect(201);
    let other = json!({ "kind": "deviation", "note": "A second water bath was used." });
    let entry = [("/entry", json!(noor.post(&entries, other).await.expect(201).text_at("/entry/id")))];
    examples.send("POST /v1/batches/{id}/authorisations", marek, batch, &entry).await.expect(201);
    let other = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    too_much(noor, &other).await;
    examples.send("POST /v1/batches/{id}/adjustments", noor, &other, &[]).await.expect(201);
}

/// Weighs twice what the first line of a batch asks for.
pub(crate) async fn too_much(maker: &Caller, batch: &str) {
    let record = maker.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let line = &record["recipe"]["phases"][0]["lines"][0];
    let asked: f64 = line["weigh"]["value"].as_str().unwrap().parse().unwrap();
    let entry = json!({
        "kind": "weighing", "line": line["line"], "quantity": format!("{:.1} g", asked * 2.0), "lot": "T-1",
        "deviation": "It was weighed twice.",
    });
    maker.post(&format!("/v1/batches/{batch}/entries"), entry).await.expect(201);
}

#[tokio::test(flavor = "multi_thread")]
async fn every_example_of_a_request_does_what_it_says_in_the_demo() {
    let demo = Box::pin(Demo::load()).await;
    let [petra, ilse, marek, noor, tomas] =
        ["petra.hollweg", "ilse.brandt", "marek.dvorsky", "noor.haddad", "tomas.lind"]
            .map(|name| demo.person(name).clone());
    let nobody = demo.nobody();
    let all = operations(&nobody).await;
    let with_body: BTreeSet<String> =
        all.iter().filter(|operation| operation.body_schema().is_some()).map(Operation::name).collect();
    let mut examples = Examples { operations: all, sent: BTreeSet::new() };

    // What answers without anything that is kept.
    for name in with_body.iter().filter(|name| name.contains("/v1/calculations/")) {
        examples.send(name, &noor, "", &[]).await.expect(200);
    }
    examples.send("POST /v1/evaluations", &ilse, "", &[]).await.expect(200);

    // A library, a formula in it, and what becomes of the formula.
    let library = examples.send("POST /v1/libraries", &ilse, "", &[]).await.expect(201).id();
    examples.send("PUT /v1/libraries/{id}", &ilse, &library, &[]).await.expect(200);
    ilse.put_bare(&format!("/v1/libraries/{library}/members/{}", marek.id)).await.expect(204);
    let made = examples.send("POST /v1/libraries/{id}/formulas", &ilse, &library, &[]).await.expect(201);
    let draft = made.text_at("/revisions/0/id");
    let saved = examples.send("PUT /v1/revisions/{id}/draft", &ilse, &draft, &[]).await.expect(200);
    let proposal = format!("/v1/revisions/{draft}/proposal");
    ilse.post_bare(&proposal, &[("if-match", saved.etag().as_str())]).await.expect(200);
    marek.acknowledge(&draft).await.expect(201);
    examples.send("POST /v1/revisions/{id}/decision", &marek, &draft, &[]).await.expect(200);
    let (salve, revision) = formula(&noor, "Plain salve").await;
    examples.send("POST /v1/formulas/{id}/revisions", &ilse, &salve, &[]).await.expect(201);

    // A batch.
    let set = noor.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
    let cautions = set["cautions"].as_array().unwrap().iter();
    let keys: Vec<&Value> =
        cautions.filter(|it| it["level"] == "contraindication").map(|it| &it["key"]).collect();
    let read = [("/caution_set", set["digest"].clone()), ("/contraindications", json!(keys))];
    let name = "POST /v1/revisions/{id}/acknowledgements";
    examples.send(name, &noor, &revision, &read).await.expect(201);
    examples.send("POST /v1/revisions/{id}/self-check", &noor, &revision, &[]).await.expect(200);
    let of = [("/revision", json!(revision))];
    let batch = examples.send("POST /v1/batches", &noor, "", &of).await.expect(201).id();
    examples.send("POST /v1/batches/{id}/entries", &noor, &batch, &[]).await.expect(201);
    Box::pin(sign_off(&mut examples, [&noor, &marek], &batch, &revision)).await;
    let photograph = noor.photograph(&batch, pictures::photograph()).await.expect(201).id();
    let name = "POST /v1/batches/{id}/photographs/{photograph}/withdrawal";
    examples.send(name, &noor, &format!("{batch}/{photograph}"), &[]).await.expect(201);
    examples.send("POST /v1/batches/{id}/reservations", &noor, &batch, &[]).await.expect(201);
    examples.send("POST /v1/batches/{id}/submissions", &noor, &batch, &[]).await.expect(201);
    examples.send("POST /v1/batches/{id}/reviews", &marek, &batch, &[]).await.expect(201);

    Box::pin(keep_the_shelf(&mut examples, [&petra, &ilse, &tomas])).await;

    // A class, the work set to it, and a question answered.
    let cohort = examples.send("POST /v1/cohorts", &ilse, "", &[]).await.expect(201).id();
    examples.send("PUT /v1/cohorts/{id}", &ilse, &cohort, &[]).await.expect(200);
    let enrol = [("/person", json!(marek.id)), ("/role", json!("marker"))];
    examples.send("POST /v1/cohorts/{id}/members", &ilse, &cohort, &enrol).await.expect(201);
    examples.send("POST /v1/cohorts/{id}/class", &petra, &cohort, &[]).await.expect(201);
    let until = [("/valid_until", json!(demo.now() + chrono::Duration::days(20)))];
    let code = examples.send("POST /v1/cohorts/{id}/codes", &ilse, &cohort, &until).await.expect(201);
    let code = [("/code", json!(code.text_at("/code")))];
    examples.send("POST /v1/enrolments", &noor, "", &code).await.expect(201);
    let asked = examples.send("POST /v1/cohorts/{id}/questions", &ilse, &cohort, &[]).await.expect(201).id();
    let day = |days| json!((demo.now() + chrono::Duration::days(days)).format("%Y-%m-%dT12:00").to_string());
    let questions = json!([{ "kind": "bank", "bank_question": asked }]);
    let work = |at: &'static [&'static str; 5]| {
        let values = [json!([revision]), day(-1), day(10), day(20), questions.clone()];
        at.iter().copied().zip(values).collect::<Vec<_>>()
    };
    let at = work(&["/formulas", "/opens", "/due", "/late_until", "/questions"]);
    let set = examples.send("POST /v1/cohorts/{id}/assignments", &ilse, &cohort, &at).await.expect(201).id();
    let at = work(&[
        "/content/formulas",
        "/content/opens",
        "/content/due",
        "/content/late_until",
        "/content/questions",
    ]);
    examples.send("PUT /v1/assignments/{id}", &ilse, &set, &at).await.expect(200);
    crate::teaching::act(&ilse, &format!("/v1/assignments/{set}/publication")).await.expect(201);
    let begun = crate::teaching::begin(&noor, &set).await.expect(201).json["questions"][0].clone();
    let answer = [("/answers/0/part", json!("answer"))];
    let question = begun["id"].as_str().unwrap();
    examples.send("POST /v1/questions/{id}/answers", &noor, question, &answer).await.expect(201);
    // The answer is that to another question, so it is not final.
    crate::teaching::give_up(&noor, &begun).await;
    let extra = "POST /v1/assignments/{id}/students/{person}/allowances";
    examples.send(extra, &ilse, &format!("{set}/{}", noor.id), &[]).await.expect(201);
    examples.send("PUT /v1/assignments/{id}/reflection", &noor, &set, &[]).await.expect(200);
    let made = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "50 g" });
    noor.post(&format!("/v1/batches/{made}/entries"), weighed).await.expect(201);
    let of = [("/batch", json!(made))];
    let handed =
        examples.send("POST /v1/assignments/{id}/submissions", &noor, &set, &of).await.expect(201).id();
    Box::pin(marked(&mut examples, [&ilse, &marek, &noor], &cohort, [&handed, &made])).await;
    examples.send("POST /v1/assignments/{id}/withdrawal", &ilse, &set, &[]).await.expect(201);

    let oil = tomas.get("/v1/batches?state=accepted").await.expect(200).text_at("/items/0/id");
    Box::pin(called_back(&mut examples, &ilse, &oil)).await;

    // What everybody relies on. Nothing is withheld in the demo, so nothing can be reinstated.
    let amendment = examples.send("POST /v1/amendments", &ilse, "", &[]).await.expect(201);
    let decided = examples.send("POST /v1/amendments/{id}/decision", &marek, &amendment.id(), &[]).await;
    decided.expect(if amendment.json["state"] == "in_force" { 409 } else { 200 });
    let name = "POST /v1/revisions/{id}/reinstatement";
    examples.send(name, &marek, &revision, &[]).await.problem(409, "wrong-state");
    examples.send("POST /v1/revisions/{id}/withdrawal", &marek, &revision, &[]).await.expect(200);
    examples.send("PUT /v1/policy", &petra, "", &[]).await.expect(200);

    // People and tools.
    let responsible = [("/responsible", json!(ilse.id))];
    examples.send("POST /v1/api-clients", &petra, "", &responsible).await.expect(201);
    let code = examples.send("POST /v1/invitations", &petra, "", &[]).await.expect(201).text_at("/code");
    let invited = [("/code", json!(code))];
    examples.send("POST /v1/one-time-codes/use", &nobody, "", &invited).await.expect(204);
    examples.send("PATCH /v1/people/{id}", &petra, &tomas.id, &[]).await.expect(200);
    let old = [("/current", json!(demo.password("ilse.brandt")))];
    examples.send("PUT /v1/me/password", &ilse, "", &old).await.expect(204);
    let new = [("/password", json!("another phrase that is long"))];
    let entered = examples.send("POST /v1/sessions", &nobody, "", &new).await.expect(201);
    let token = [("/refresh_token", json!(entered.text_at("/refresh_token")))];
    examples.send("POST /v1/sessions/refresh", &nobody, "", &token).await.expect(201);

    assert_eq!(examples.sent, with_body, "every operation that takes a body");
    demo.stop().await;
}
