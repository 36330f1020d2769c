//! The main job, end to end, in the order it is lived: a formula is written, returned once and approved; a student
//! acknowledges, makes it, and has the record accepted; another tool pulls it until its key is revoked.

use client::Client;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TestClinic};
use wire::recipe::MakeFor;
use wire::safety::Acknowledge;

use crate::formulas::{cream, infused_oil};

/// The figure of this name in a list of figures.
#[track_caller]
fn figure<'a>(figures: &'a Value, name: &str) -> &'a Value {
    figures
        .as_array()
        .unwrap()
        .iter()
        .find(|figure| figure["name"] == name)
        .unwrap_or_else(|| panic!("no figure {name:?} in {figures}"))
}

/// Every figure in a value says by what rule it came and either its value or what is missing.
fn every_figure_explains_itself(value: &Value) -> usize {
    match value {
        Value::Object(fields) => {
            let mut count = 0;
            if let (Some(rule), Some(sentence)) = (fields.get("rule"), fields.get("sentence"))
                && fields.contains_key("unit")
            {
                assert!(
                    !rule.as_str().unwrap().is_empty() && !sentence.as_str().unwrap().is_empty(),
                    "{value}"
                );
                assert!(fields.contains_key("value") != fields.contains_key("unknown"), "{value}");
                count = 1;
            }
            count + fields.values().map(every_figure_explains_itself).sum::<usize>()
        }
        Value::Array(items) => items.iter().map(every_figure_explains_itself).sum(),
        _ => 0,
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_is_approved_its_cautions_acknowledged_the_batch_made_and_the_record_accepted() {
    lived(TestClinic::start().await).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn behind_a_pooler_the_story_is_the_same() {
    lived(TestClinic::start_behind_the_pooler(&[]).await).await;
}

async fn lived(clinic: TestClinic) {
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let noor = clinic.person("noor.haddad", "student").await;
    let library = clinic.library(&ilse, "First-year creams", &[&marek, &noor]).await;
    let oil = clinic.approved(&ilse, &marek, &library, infused_oil()).await;
    ilse.acknowledge(&oil).await.expect(201);

    let revision = written_returned_and_approved(&ilse, &marek, &library).await;
    let record = made_and_accepted(&noor, &marek, &revision).await;
    pulled_by_another_tool(&clinic, &ilse, &library, &revision).await;
    everything_is_an_event(&ilse, &marek, &noor, &revision, &record).await;

    let verdict = clinic::journal::verify(&clinic.service.clinic).await.unwrap();
    assert!(verdict.breaks.is_empty(), "{verdict:?}");
    assert!(verdict.events > 20);
    clinic.stop().await;
}

/// Ilse writes a cream, sees it evaluated, proposes it; Marek returns it once with a comment, then approves it.
async fn written_returned_and_approved(ilse: &Caller, marek: &Caller, library: &str) -> String {
    let made = ilse
        .post(&format!("/v1/libraries/{library}/formulas"), json!({ "content": cream() }))
        .await
        .expect(201);
    let draft = made.text_at("/revisions/0/id");

    let evaluation =
        ilse.get(&format!("/v1/revisions/{draft}/draft/evaluation?explain=true")).await.expect(200);
    assert!(every_figure_explains_itself(&evaluation.json) > 20);
    assert_eq!(evaluation.json["total"]["value"], "1000");
    let shares: f64 = evaluation.json["composition"]
        .as_array()
        .unwrap()
        .iter()
        .map(|leaf| stillroom_tests::figures::number(&leaf["share"]))
        .sum();
    assert!((shares - 1.0).abs() < 1e-9, "{shares}");
    // 80 g of wax to 300 g of oil; the water makes up to 1000 g beside 4 g of sorbate.
    let ratio = stillroom_tests::figures::number(figure(&evaluation.json["figures"], "emulsifier to oil"));
    assert!((ratio - 80.0 / 300.0).abs() < 1e-9, "{ratio}");
    let oil_to_water = stillroom_tests::figures::number(figure(&evaluation.json["figures"], "oil to water"));
    assert!((oil_to_water - 300.0 / 616.0).abs() < 1e-9, "{oil_to_water}");

    // Nobody else sees a draft.
    marek.get(&format!("/v1/revisions/{draft}")).await.problem(404, "not-found");
    let tag = ilse.get(&format!("/v1/revisions/{draft}/draft")).await.expect(200).etag();
    let proposal = format!("/v1/revisions/{draft}/proposal");
    ilse.post_bare(&proposal, &[("if-match", &tag)]).await.expect(200);

    // The author cannot decide, and nobody decides before they have acknowledged.
    let decision = format!("/v1/revisions/{draft}/decision");
    ilse.post(&decision, json!({ "decision": "approve" })).await.problem(403, "forbidden");
    marek.post(&decision, json!({ "decision": "approve" })).await.problem(403, "gate-closed");
    marek.acknowledge(&draft).await.expect(201);
    marek.post(&decision, json!({ "decision": "return" })).await.fields(&["/comment"]);
    let returned = marek
        .post(&decision, json!({ "decision": "return", "comment": "Say until when to stir." }))
        .await
        .expect(200);
    assert_eq!(returned.json["state"], "returned");

    // A new draft followed, with what had been written; the comment is there to be read.
    let formula = ilse.get(&format!("/v1/formulas/{}", returned.text_at("/formula"))).await.expect(200);
    let second = formula.text_at("/revisions/0/id");
    assert_eq!(formula.json["revisions"][0]["state"], "draft");
    let comments = ilse.get(&format!("/v1/revisions/{draft}/comments")).await.expect(200);
    assert_eq!(comments.json[0]["comment"], "Say until when to stir.");
    let kept = ilse.get(&format!("/v1/revisions/{second}/draft")).await.expect(200);
    let mut content = kept.json.clone();
    content["method"]
        .as_array_mut()
        .unwrap()
        .push(json!({ "do": "Stir until cool", "temperature": "35 C at most" }));
    let changed = ilse.put(&format!("/v1/revisions/{second}/draft"), &kept.etag(), content).await.expect(200);
    ilse.post_bare(&format!("/v1/revisions/{second}/proposal"), &[("if-match", &changed.etag())])
        .await
        .expect(200);
    marek.acknowledge(&second).await.expect(201);
    let approved = marek
        .post(&format!("/v1/revisions/{second}/decision"), json!({ "decision": "approve" }))
        .await
        .expect(200);
    assert_eq!(approved.json["state"], "approved");
    assert_eq!(approved.json["decided_by"], marek.id);
    second
}

/// Noor is refused, acknowledges, works it out, makes it, corrects herself and submits; Marek returns, then accepts.
async fn made_and_accepted(noor: &Caller, marek: &Caller, revision: &str) -> Answer {
    let asked = format!(
        "/v1/revisions/{revision}/recipe?containers=12&fill=30%20g&transfer_loss=4%20%25&readability=0.1%20g&explain=true"
    );
    let refused = noor.get(&asked).await.problem(403, "gate-closed");
    let outstanding = &refused.json["outstanding"];
    let cautions = outstanding["caution_set"]["cautions"].as_array().unwrap();
    assert!(cautions.iter().any(|caution| caution["text"] == "For external use only."));
    // What the nested oil is made of speaks too, and says by which path it got here.
    assert!(
        cautions.iter().any(|caution| {
            caution["origins"].to_string().contains(
                "Infused oil of calendula > dried calendula flower > allergy group daisy family (Asteraceae)",
            )
        }),
        "{cautions:#?}"
    );
    assert_eq!(outstanding["acknowledge"], format!("/v1/revisions/{revision}/acknowledgements"));

    let acknowledged = noor.acknowledge(revision).await.expect(201);
    assert_eq!(acknowledged.json["purpose"], "make");
    let brief = noor.get(&asked.replace("&explain=true", "")).await.expect(200);
    assert!(brief.text.len() < 6000, "{} bytes", brief.text.len());
    let recipe = noor.get(&asked).await.expect(200);
    assert!(every_figure_explains_itself(&recipe.json) > 15);
    // 12 x 30 g = 360 g net; 360 / (1 - 0.04) = 375 g to weigh.
    assert_eq!(figure(&recipe.json["figures"], "to weigh in all")["value"], "375");
    assert_eq!(recipe.json["total"]["value"], "375");
    let weigh = |line: &str| {
        recipe.json["phases"]
            .as_array()
            .unwrap()
            .iter()
            .flat_map(|phase| phase["lines"].as_array().unwrap())
            .find(|found| found["line"] == line)
            .unwrap()["weigh"]["value"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    assert_eq!([weigh("1.1"), weigh("1.2"), weigh("2.1"), weigh("2.2")], ["30.0", "112.5", "1.5", "231.0"]);

    let made = noor
        .post(
            "/v1/batches",
            json!({ "revision": revision, "make_for": { "containers": 12, "fill": "30 g", "transfer_loss": "4 %", "readability": "0.1 g" } }),
        )
        .await
        .expect(201);
    assert_eq!(made.json["number"], "2026-0001");
    assert_eq!(made.json["recipe"]["total"]["value"], "375");
    let batch = format!("/v1/batches/{}", made.id());
    assert_eq!(made.header("location"), batch);
    let entries = format!("{batch}/entries");

    let write = async |body: Value| noor.post(&entries, body).await.expect(201);
    write(json!({ "kind": "weighing", "line": "1.1", "quantity": "30.1 g", "lot": "EW-12" })).await;
    write(json!({ "kind": "weighing", "line": "1.2", "quantity": "4 oz", "lot": "CO-3" })).await;
    let wrong = write(
        json!({ "kind": "weighing", "line": "2.1", "quantity": "15 g", "lot": "PS-9", "reason_later": true }),
    )
    .await;
    // What is off is said at once, in an answer that is small enough for a phone at the bench.
    assert!(wrong.text.len() < 2000, "{} bytes", wrong.text.len());
    assert_eq!(wrong.json["line"]["deviation"]["sentence"], "13.5 g over (900 %): 15 g weighed for 1.5 g");
    assert_eq!(wrong.json["findings"][0]["kind"], "out_of_tolerance");
    let wrong_id = wrong.text_at("/entry/id");
    let corrected = write(json!({
        "kind": "weighing", "line": "2.1", "quantity": "1.5 g", "lot": "PS-9",
        "corrects": wrong_id, "reason": "Misread the point."
    }))
    .await;
    assert_eq!(
        (&corrected.json["line"]["weighed"]["value"], &corrected.json["findings"]),
        (&json!("1.5"), &json!([]))
    );
    // Both stay readable: the wrong one as typed, with what corrects it.
    let corrected = noor.get(&batch).await.expect(200);
    assert_eq!(corrected.json["entries"][2]["quantity"], "15 g");
    assert_eq!(corrected.json["entries"][2]["corrected_by"], corrected.json["entries"][3]["id"]);
    assert_eq!(corrected.json["entries"][3]["reason"], "Misread the point.");
    write(json!({ "kind": "weighing", "line": "2.2", "quantity": "231 g" })).await;
    write(json!({ "kind": "temperature", "step": 1, "quantity": "72 C" })).await;
    write(json!({ "kind": "observation", "note": "Smooth and pale." })).await;
    write(json!({ "kind": "step_done", "step": 1 })).await;
    noor.post(&entries, json!({ "kind": "weighing", "line": "9.9", "quantity": "-3 g" }))
        .await
        .fields(&["/line", "/quantity"]);

    // 4 oz are 113.398 g for 112.5 g, 0.8 % off: within the 2 % of the policy.
    let submitted = noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    assert_eq!(submitted.json["state"], "submitted");
    let findings = submitted.json["submissions"][0]["findings"].as_array().unwrap();
    let found: Vec<(&str, &Value, &Value)> = findings
        .iter()
        .map(|finding| (finding["kind"].as_str().unwrap(), &finding["line"], &finding["step"]))
        .collect();
    let null = Value::Null;
    let (one, two, three) = (json!(1), json!(2), json!(3));
    assert_eq!(
        found,
        [
            ("missing", &json!("2.2"), &null),
            ("temperature", &null, &one),
            ("missing", &null, &two),
            ("missing", &null, &two),
            ("missing", &null, &three),
            ("missing", &null, &three),
            ("missing", &null, &null),
            ("check", &null, &null),
        ],
        "{findings:#?}"
    );

    let reviews = format!("{batch}/reviews");
    let entry = submitted.text_at("/entries/5/id");
    noor.post(&reviews, json!({ "verdict": "accept", "summary": "Fine." })).await.problem(403, "forbidden");
    let returned = marek
        .post(
            &reviews,
            json!({ "verdict": "return", "summary": "Please finish it.", "comments": [{ "entry": entry, "text": "Too hot?" }] }),
        )
        .await
        .expect(201);
    assert_eq!(returned.json["state"], "returned");
    assert_eq!(returned.json["submissions"][0]["review"]["comments"][0]["entry"], entry);
    let water = submitted.text_at("/entries/4/id");
    write(json!({ "kind": "weighing", "line": "2.2", "quantity": "231 g", "lot": "W-1", "corrects": water, "reason": "Lot added." })).await;
    for degrees in ["70 C", "68 C"] {
        write(json!({ "kind": "temperature", "step": 2, "quantity": degrees })).await;
    }
    write(json!({ "kind": "step_done", "step": 2 })).await;
    // The second step is a hold: nothing is written of the third until another person has released it.
    let cool = json!({ "kind": "temperature", "step": 3, "quantity": "34 C" });
    noor.post(&entries, cool.clone()).await.fields(&["/step"]);
    marek.post(&format!("{batch}/hold-releases"), json!({ "step": 2 })).await.expect(201);
    write(cool).await;
    write(json!({ "kind": "step_done", "step": 3 })).await;
    write(json!({ "kind": "yield", "quantity": "362 g" })).await;
    noor.check_before_start(&made.id()).await;
    let again = noor
        .post(
            &format!("{batch}/submissions"),
            json!({ "answer": "It was the water bath; I let it cool before adding." }),
        )
        .await
        .expect(201);
    assert_eq!(
        again.json["findings"].as_array().unwrap().len(),
        4,
        "the heat remains, and that the checks came late: {}",
        again.json["findings"]
    );
    let accepted =
        marek.post(&reviews, json!({ "verdict": "accept", "summary": "Good work." })).await.expect(201);
    assert_eq!(accepted.json["state"], "accepted");
    assert_eq!(accepted.json["disposition"], "quarantine");
    marek.post(&reviews, json!({ "verdict": "reject", "summary": "No." })).await.problem(409, "wrong-state");
    noor.post(&entries, json!({ "kind": "observation", "note": "Later." })).await.problem(409, "wrong-state");
    accepted
}

/// A label printer lists, is refused, acknowledges by its responsible person's authority, pulls, and is revoked.
async fn pulled_by_another_tool(clinic: &TestClinic, ilse: &Caller, library: &str, revision: &str) {
    let printer =
        clinic.api_client(ilse, &["formulas:read", "recipes:read", "acknowledge"], &[library]).await;
    let tool = Client::new(&clinic.nobody.base, printer.token.as_deref().unwrap()).unwrap();
    let listed = tool.formulas(&client::FormulaQuery::default()).await.unwrap();
    assert_eq!(
        listed.items.iter().map(|formula| formula.title.as_str()).collect::<Vec<_>>(),
        ["Calendula cream", "Infused oil of calendula"]
    );
    let id = revision.parse().unwrap();
    let refused = tool.recipe(id, &MakeFor::default()).await.unwrap_err();
    let outstanding = refused.closed_gate().expect("the gate is closed");
    let request = Acknowledge {
        caution_set: outstanding.caution_set.digest.clone(),
        contraindications: client::must_be_named(&outstanding.caution_set).map(str::to_owned).collect(),
        meant_for: Vec::new(),
        for_api_client: None,
    };
    let given = tool.acknowledge(id, &request).await.unwrap();
    assert_eq!(given.given_by.to_string(), ilse.id);
    let pulled = tool.recipe(id, &MakeFor::default()).await.unwrap();
    assert_eq!(pulled.value.title, "Calendula cream");
    assert_eq!(pulled.value.total.value.as_deref(), Some("1000"));
    assert!(
        tool.recipe_if_changed(id, &MakeFor::default(), pulled.tag.as_deref().unwrap())
            .await
            .unwrap()
            .is_none()
    );

    clinic.administrator.delete(&format!("/v1/api-clients/{}", printer.id)).await.expect(200);
    for path in ["/v1/formulas", "/v1/me", &format!("/v1/revisions/{revision}/recipe")] {
        printer.get(path).await.problem(401, "not-known");
    }
}

/// Every one of these is readable afterwards, with who and when.
async fn everything_is_an_event(
    ilse: &Caller,
    marek: &Caller,
    noor: &Caller,
    revision: &str,
    record: &Answer,
) {
    let of = async |caller: &Caller, subject: &str| {
        let events = caller.get(&format!("/v1/events?subject={subject}")).await.expect(200);
        events.json["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|event| {
                assert!(event["at"].as_str().unwrap().starts_with("2026-03-02T08:00:00"));
                (event["action"].as_str().unwrap().to_owned(), event["actor"].as_str().unwrap().to_owned())
            })
            .collect::<Vec<_>>()
    };
    let events = of(marek, revision).await;
    let has = |action: &str, who: &str| events.contains(&(action.to_owned(), who.to_owned()));
    assert!(has("drafted", &marek.id), "a return begins the author's next draft: {events:?}");
    assert!(has("draft_changed", &ilse.id));
    assert!(has("proposed", &ilse.id));
    assert!(has("approved", &marek.id));
    assert!(has("acknowledged", &noor.id));
    let actions: Vec<String> = of(marek, &record.id()).await.into_iter().map(|(action, _)| action).collect();
    assert_eq!(actions.first().map(String::as_str), Some("opened"));
    for action in ["entry_written", "entry_corrected", "submitted", "returned", "accepted"] {
        assert!(actions.iter().any(|found| found == action), "{action} is missing in {actions:?}");
    }
}
