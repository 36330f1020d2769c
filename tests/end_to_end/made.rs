//! What was made: the pH that was measured, the lots that went in with their dates and prices, and the use-by date and
//! cost that follow.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic};

use crate::formulas::{cream, infused_oil};

/// A clinic with the calendula cream approved and its cautions acknowledged by the student, those of the oil in it too.
async fn with_cream() -> (TeachingClinic, String) {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let revision = clinic.approved(cream()).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    clinic.noor.acknowledge(&oil).await.expect(201);
    (clinic, revision)
}

/// Opens a batch of the cream, 4 jars of 25 g made on 2 March 2026, and answers where its entries go.
async fn opened(caller: &Caller, revision: &str) -> String {
    let make_for = json!({ "containers": 4, "fill": "25 g", "made_on": "2026-03-02" });
    let batch = caller.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await;
    format!("/v1/batches/{}/entries", batch.expect(201).id())
}

/// The four weighings of 100 g of cream, each with further fields.
async fn weighed(caller: &Caller, entries: &str, more: [Value; 4]) -> Value {
    let mut record = Value::Null;
    let lines = [("1.1", "8 g"), ("1.2", "30 g"), ("2.1", "0.4 g"), ("2.2", "61.6 g")];
    for ((line, quantity), more) in lines.into_iter().zip(more) {
        let mut entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A" });
        for (name, value) in more.as_object().unwrap() {
            entry[name] = value.clone();
        }
        record = caller.entered(entries, entry).await.json;
    }
    record
}

fn nothing_more() -> [Value; 4] {
    [json!({}), json!({}), json!({}), json!({})]
}

#[expect(clippy::panic, reason = "an answer without it fails the test")]
#[track_caller]
fn figure<'a>(of: &'a Value, name: &str) -> &'a Value {
    let figures = of["figures"].as_array().unwrap();
    figures.iter().find(|figure| figure["name"] == name).unwrap_or_else(|| panic!("no {name:?} in {of}"))
}

/// Potassium sorbate 0.4 g in 61.6 g of water is 0.48 % of it as acid (112.127 of 150.217 g/mol, 99 % pure). Of that,
/// by Henderson and Hasselbalch with a pKa of 4.76, 22.4 % is undissociated at pH 5.3, which is 0.107 %, and 18.6 % at
/// pH 5.4, which is 0.089 %. Remembered: 0.1 % preserves.
#[tokio::test(flavor = "multi_thread")]
async fn a_measured_ph_shows_whether_an_acid_preservative_works_and_dates_what_was_made() {
    let (clinic, revision) = with_cream().await;
    let noor = &clinic.noor;
    let entries = opened(noor, &revision).await;
    let record = weighed(noor, &entries, nothing_more()).await;
    // Nobody has measured: unpreserved and watery, 14 days of which the day of making is the first.
    assert_eq!(record["as_made"]["use_by"]["date"], "2026-03-15");
    assert_eq!(record["as_made"]["evaluation"]["preservation"]["value"], "unpreserved");

    let ph = async |ph: &str| noor.entered(&entries, json!({ "kind": "ph", "quantity": ph })).await.json;
    let high = ph("5.4").await;
    let judged = figure(&high["as_made"]["use_by"], "preserved");
    assert_eq!(judged["value"], "unpreserved", "{judged}");
    assert!(judged["sentence"].as_str().unwrap().contains("pH 5.4"), "{judged}");
    assert_eq!(high["as_made"]["use_by"]["date"], "2026-03-15");

    // The last measurement counts; about three weeks unrefrigerated (common practice).
    let entry = json!({ "kind": "ph", "quantity": "pH 5.3", "note": "meter 2, calibrated at 4 and 7" });
    let low = noor.entered(&entries, entry).await.json;
    let judged = figure(&low["as_made"]["use_by"], "preserved");
    assert_eq!(judged["value"], "preserved", "{judged}");
    let inputs = judged["inputs"].as_array().unwrap();
    let input = |name: &str| inputs.iter().find(|input| input["name"] == name).unwrap();
    let share = stillroom_tests::figures::number(input("share"));
    assert!((share - 0.001_075).abs() < 1e-5, "{share}");
    assert_eq!(input("least")["source"]["status"], "from memory", "no law, and it says so");
    assert_eq!(low["as_made"]["use_by"]["date"], "2026-03-23");
    assert_eq!(low["as_made"]["evaluation"]["preservation"]["value"], "preserved");
    let written = low["entries"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&written["quantity"], &written["ph"]["value"]),
        (&json!("pH 5.3"), &json!("5.3")),
        "as typed, and as a number"
    );

    // A correction takes the measurement back.
    let corrects = json!({ "kind": "ph", "quantity": "7", "corrects": written["id"], "reason": "Read the wrong meter." });
    let corrected = noor.entered(&entries, corrects).await.json;
    assert_eq!(corrected["as_made"]["use_by"]["date"], "2026-03-15");

    for wrong in ["14.1", "-1", "15", "sour", "pH", "7 C", "NaN"] {
        let refused = noor.post(&entries, json!({ "kind": "ph", "quantity": wrong })).await;
        assert!(refused.text.contains("from 0 to 14"), "{}", refused.text);
        refused.fields(&["/quantity"]);
    }
    for edge in ["0", "14"] {
        noor.entered(&entries, json!({ "kind": "ph", "quantity": edge })).await;
    }
    noor.post(&entries, json!({ "kind": "ph" })).await.fields(&["/quantity"]);
    noor.post(&entries, json!({ "kind": "ph", "quantity": "5", "line": "1.1" })).await.fields(&["/line"]);
    clinic.stop().await;
}

/// From memory: 20 % by volume of alcohol preserve a watery phase that is acid, 25 % one that is not or that holds fresh
/// plant. 18 g of ethanol 96 % in 98 g of spirit and water are about 21 %.
#[tokio::test(flavor = "multi_thread")]
async fn a_fifth_of_alcohol_preserves_what_is_acid_and_not_what_comes_from_fresh_plant() {
    let clinic = TeachingClinic::start().await;
    let wash = |title: &str, first: &str| {
        json!({
            "title": title, "preparation": "liniment", "route": "on intact skin, leave-on", "regime": "teaching_only",
            "phases": [{ "name": "all", "lines": [
                { "material": first, "amount": "2 g" }, { "material": "ethanol 96 %", "amount": "18 g" },
                { "material": "purified water", "amount": "80 g" } ] }],
            "method": [{ "do": "Mix" }],
        })
    };
    for (title, first, ph, expected) in [
        ("Wash of sorbitol", "sorbitol solution 70 %", "7", "unpreserved"),
        ("Sour wash of sorbitol", "sorbitol solution 70 %", "6.9", "preserved"),
        ("Sour wash of fresh flower", "fresh calendula flower", "4", "unpreserved"),
    ] {
        let revision = clinic.approved(wash(title, first)).await;
        clinic.noor.acknowledge(&revision).await.expect(201);
        let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
        let entries = format!("/v1/batches/{}/entries", batch.id());
        for (line, quantity) in [("1.1", "2 g"), ("1.2", "18 g"), ("1.3", "80 g")] {
            let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A" });
            clinic.noor.entered(&entries, entry).await;
        }
        let entry = json!({ "kind": "ph", "quantity": ph });
        let record = clinic.noor.entered(&entries, entry).await.json;
        let judged = figure(&record["as_made"]["use_by"], "preserved");
        assert_eq!(judged["value"], expected, "{title}: {judged}");
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lots_date_what_was_made_of_them_and_one_past_its_date_is_a_finding() {
    let (clinic, revision) = with_cream().await;
    let noor = &clinic.noor;
    let entries = opened(noor, &revision).await;
    let mut lots = nothing_more();
    // A month ends with its last day; the day of making itself is still good.
    lots[0] = json!({ "lot_expires": "2026-03" });
    lots[1] = json!({ "lot_expires": "2026-03-10" });
    lots[2] = json!({ "lot_expires": "2026-03-02" });
    lots[3] = json!({ "lot_expires": "2026-02" });
    let record = weighed(noor, &entries, lots).await;
    let expired = |record: &Value| -> Vec<String> {
        let findings = record["findings"].as_array().unwrap().iter();
        findings
            .filter(|finding| finding["kind"] == "lot_expired")
            .map(|finding| finding["line"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(expired(&record), ["2.2"]);
    let use_by = &record["as_made"]["use_by"];
    assert_eq!(
        (&use_by["date"], &use_by["limited_by"]),
        (&json!("2026-02-28"), &json!("purified water (line 2.2, lot A)"))
    );
    let said = use_by["rules"].as_array().unwrap();
    let of_month = said.iter().find(|rule| rule["by"] == "emulsifying wax (line 1.1, lot A)").unwrap();
    assert_eq!(of_month["date"], "2026-03-31");
    let oil = said.iter().filter(|rule| rule["by"].as_str().unwrap().starts_with("Infused oil of calendula"));
    assert_eq!(oil.count(), 2, "the lot's date, and the one its own formula gives");
    let water = record["entries"].as_array().unwrap().last().unwrap().clone();
    assert_eq!(water["lot_expires"], "2026-02", "as typed");

    let corrects = json!({ "kind": "weighing", "line": "2.2", "quantity": "61.6 g", "lot": "B", "lot_expires": "2027-03-31",
        "corrects": water["id"], "reason": "Took the label of the old can." });
    let record = noor.entered(&entries, corrects).await.json;
    assert_eq!(expired(&record), [""; 0]);
    assert_eq!(record["as_made"]["use_by"]["date"], "2026-03-02", "the sorbate's last day");

    let weighing = |more: Value| {
        let mut entry = json!({ "kind": "weighing", "line": "1.1", "quantity": "1 g", "lot": "A" });
        entry.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        entry
    };
    for wrong in ["2027-13", "March 2027", "2027-02-30", "2027", "+2027-1", ""] {
        noor.post(&entries, weighing(json!({ "lot_expires": wrong }))).await.fields(&["/lot_expires"]);
    }
    for wrong in ["12.50", "EUR 12.50 per 100 g", "12.50 per 20 drops", "-2 per 1 kg", "1 per 1 ng", ""] {
        let refused = noor.post(&entries, weighing(json!({ "price": wrong }))).await;
        refused.fields(&["/price"]);
    }
    let observed =
        json!({ "kind": "observation", "note": "smooth", "lot_expires": "2027-03", "price": "1 per 1 g" });
    noor.post(&entries, observed).await.fields(&["/lot_expires", "/price"]);
    clinic.stop().await;
}

/// By hand: 8 g at 18.50 for 1 kg are 0.148; 30 g at 25 for 1 kg 0.75; 0.4 g at 12.50 for 100 g 0.05; 61.6 g of water at
/// 0.9982 g/mL at 0.80 for 1 L 0.04937; together 0.99737, for each of four jars 0.24934.
#[tokio::test(flavor = "multi_thread")]
async fn a_batch_costs_what_its_lots_cost_and_a_line_without_a_price_is_named() {
    let (clinic, revision) = with_cream().await;
    let noor = &clinic.noor;
    let entries = opened(noor, &revision).await;
    let none = weighed(noor, &entries, nothing_more()).await;
    assert!(none["as_made"]["cost"].is_null(), "nobody wrote a price");

    // A line that has not been weighed has not been paid for: the total waits for it.
    let entries = opened(noor, &revision).await;
    let wax = json!({ "kind": "weighing", "line": "1.1", "quantity": "8 g", "lot": "A", "price": "18.50 per 1 kg" });
    let record = noor.entered(&entries, wax).await.json;
    let cost = &record["as_made"]["cost"];
    for name in ["total", "each container"] {
        let unknown = figure(cost, name)["unknown"].as_str().unwrap();
        assert!(unknown.contains("weighing of purified water (line 2.2)"), "{unknown}");
        assert!(figure(cost, name)["value"].is_null(), "{cost}");
    }
    let said = figure(cost, "emulsifying wax (line 1.1, lot A)")["sentence"].as_str().unwrap();
    assert!(said.ends_with(": 0.15 EUR"), "{said}");

    let entries = opened(noor, &revision).await;
    let price = |price: &str| json!({ "price": price });
    let prices = [price("18.50 per 1 kg"), price("25 per 1 kg"), price("12.50 per 100 g"), json!({})];
    let record = weighed(noor, &entries, prices).await;
    let total = figure(&record["as_made"]["cost"], "total");
    assert!(total["value"].is_null(), "never taken as nothing: {total}");
    assert_eq!(total["unknown"], "unknown: price of purified water (line 2.2, lot A)");

    let water = record["entries"].as_array().unwrap().last().unwrap();
    let corrects = json!({ "kind": "weighing", "line": "2.2", "quantity": "61.6 g", "lot": "A", "price": "0.80 per 1 L",
        "corrects": water["id"], "reason": "The price was left out." });
    let record = noor.entered(&entries, corrects).await.json;
    let cost = &record["as_made"]["cost"];
    assert_eq!(cost["currency"], "EUR");
    assert_eq!(figure(cost, "total")["value"], "1");
    assert!(figure(cost, "total")["sentence"].as_str().unwrap().contains("rounded half up"));
    assert_eq!(figure(cost, "each container")["value"], "0.25");
    assert_eq!(figure(cost, "emulsifying wax (line 1.1, lot A)")["exact"], "0.148", "a line is not rounded");
    assert_eq!(figure(cost, "potassium sorbate (line 2.1, lot A)")["value"], "0.05");
    clinic.stop().await;
}

/// The remark that the phases were apart, by how much.
fn apart(evaluation: &Value) -> Option<String> {
    let advice = evaluation["emulsion"]["advice"].as_array().unwrap();
    let remark = advice.iter().find(|advice| advice["name"] == "phase temperatures apart")?;
    Some(remark["value"].as_str().unwrap().to_owned())
}

/// Common practice: phases are put together within 5 C of each other.
#[tokio::test(flavor = "multi_thread")]
async fn phases_put_together_too_far_apart_are_remarked_on_as_written_and_as_made() {
    let (clinic, revision) = with_cream().await;
    let noor = &clinic.noor;
    for (asked, remark) in
        [("70 C, phases within 5 C", None), ("70 C, phases within 8 C", Some("8")), ("70 C", None)]
    {
        let mut content = cream();
        content["method"][1]["temperature"] = json!(asked);
        let found =
            clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(200);
        assert_eq!(apart(&found.json).as_deref(), remark, "{asked}");
    }
    let entries = opened(noor, &revision).await;
    let record = weighed(noor, &entries, nothing_more()).await;
    assert_eq!(apart(&record["as_made"]["evaluation"]), None, "as the method asks");
    let reading = async |step: u16, reading: &str| {
        let entry = json!({ "kind": "temperature", "step": step, "quantity": reading });
        noor.entered(&entries, entry).await.json
    };
    reading(1, "50 C").await;
    let one = reading(2, "71 C").await;
    assert_eq!(apart(&one["as_made"]["evaluation"]), None, "one reading is one phase");
    let both = reading(2, "62.5 C").await;
    assert_eq!(apart(&both["as_made"]["evaluation"]).as_deref(), Some("8.5"));
    clinic.stop().await;
}

fn text<'a>(answer: &'a Answer, name: &str, field: &str) -> Option<&'a str> {
    figure(&answer.json, name)[field].as_str()
}

/// 100 g of flower were macerated in 1000 g of oil, so that 100 mg stand behind each gram of it, pressed out or not; 300 g
/// of the oil are in 1000 g of cream, 30 mg in a gram.
#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_says_what_one_application_brings() {
    let (clinic, revision) = with_cream().await;
    let recipe = async |query: &str| {
        clinic.noor.get(&format!("/v1/revisions/{revision}/recipe?{query}&explain=true")).await
    };
    let herb = "dried herb of dried calendula flower in one application";
    let two = recipe("application=2%20g").await.expect(200);
    assert_eq!(text(&two, herb, "value"), Some("60"));
    assert_eq!(text(&two, herb, "unit"), Some("mg"));
    assert_eq!(text(&two, "ethanol in one application", "value"), Some("0"));
    // The oil is open to this reader too, so it is said how it comes about.
    assert!(!figure(&two.json, herb)["inputs"].as_array().unwrap().is_empty());
    // A teaspoon of cream weighs what nobody knows.
    for spoon in ["teaspoon", "5%20mL", "1%20teaspoon"] {
        let unknown = recipe(&format!("application={spoon}")).await.expect(200);
        let missing = text(&unknown, herb, "unknown").unwrap();
        assert!(missing.contains("density"), "{missing}");
    }
    for wrong in ["handful", "", "2", "20%20drops", "0%20g"] {
        recipe(&format!("application={wrong}")).await.fields(&["?application"]);
    }
    let none = recipe("mass=50%20g").await.expect(200);
    assert!(!none.text.contains("one application"), "only where it is asked");

    // What evaporates leaves the rest the stronger: a tenth of the whole boils off as water.
    let boiled = recipe("application=2%20g&mass=500%20g&evaporation_loss=10%20%25").await.expect(200);
    assert_eq!(text(&boiled, herb, "value"), Some("66.67"));

    // Two grams of an oil with 1 % of lavender oil, of which linalool is at most 45 %.
    let oil = json!({
        "title": "Lavender oil for the shoulders", "preparation": "infused oil", "route": "on intact skin, leave-on",
        "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": [
            { "material": "lavender oil", "amount": "1 %" }, { "material": "olive oil", "amount": "q.s. 100 g" } ] }],
        "method": [{ "do": "Mix" }],
    });
    let revision = clinic.approved(oil).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let path = format!("/v1/revisions/{revision}/recipe?application=2%20g&explain=true");
    let plain = clinic.noor.get(&path).await.expect(200);
    let linalool = figure(&plain.json, "at most of linalool in one application");
    assert_eq!(linalool["unit"], "mg");
    assert!(!linalool["inputs"].as_array().unwrap().is_empty(), "nothing is nested here: {linalool}");
    // A batch keeps what was asked, the application too.
    let batch = json!({ "revision": revision, "make_for": { "application": "teaspoon" } });
    let batch = clinic.noor.post("/v1/batches", batch).await.expect(201);
    assert!(
        text(&Answer { json: batch.json["recipe"].clone(), ..batch.clone() }, "one application", "value")
            .is_some()
    );
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_clinic_switches_a_dating_rule_set_off_only_with_a_reason_that_every_answer_repeats() {
    let clinic = TeachingClinic::start().await;
    let salve = json!({
        "title": "Plain salve", "preparation": "salve", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": [
            { "material": "yellow beeswax", "amount": "20 g" }, { "material": "olive oil", "amount": "80 g" } ] }],
        "method": [{ "do": "Melt" }],
    });
    let revision = clinic.approved(salve).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let recipe = async || {
        let path = format!("/v1/revisions/{revision}/recipe?explain=true&made_on=2026-03-02");
        clinic.noor.get(&path).await.expect(200).json["use_by"].clone()
    };
    let by = |use_by: &Value| -> Value {
        let rules = use_by["rules"].as_array().unwrap();
        rules.iter().find(|rule| rule["by"] == "remembered keeping time of salves").unwrap().clone()
    };
    // From memory: a salve keeps twelve months.
    assert_eq!(recipe().await["date"], "2027-03-02");
    let opened = json!({ "revision": revision, "make_for": { "made_on": "2026-03-02" } });
    let batch = clinic.noor.post("/v1/batches", opened).await.expect(201).id();

    let administrator = &clinic.clinic.administrator;
    let policy = administrator.get("/v1/policy").await.expect(200);
    assert_eq!(policy.json["content"]["dating_sets_off"], json!([]));
    let put = async |off: Value| {
        let mut content = policy.json["content"].clone();
        content["dating_sets_off"] = off;
        content["reason"] = json!("What the teachers agreed on.");
        administrator.put("/v1/policy", &policy.etag(), content).await
    };
    let unknown = put(json!([{ "set": "salves", "reason": "ours are tested" }])).await;
    assert!(unknown.text.contains("remembered-salves"), "the known ones are named: {}", unknown.text);
    unknown.fields(&["/dating_sets_off/0/set"]);
    put(json!([{ "set": "remembered-salves", "reason": "  " }])).await.fields(&["/dating_sets_off/0/reason"]);
    put(json!([{ "set": "remembered-salves" }])).await.fields(&["/dating_sets_off/0/reason"]);
    let off = json!({ "set": "remembered-salves", "reason": "We date salves by their oil." });
    put(json!([off, off])).await.fields(&["/dating_sets_off/1/set"]);
    let kept = put(json!([off])).await.expect(200);
    assert_eq!(kept.json["content"]["dating_sets_off"], json!([off]));

    let dated = recipe().await;
    assert!(dated["date"].is_null(), "no other rule dates it: {dated}");
    let said = by(&dated);
    assert_eq!(
        (&said["outcome"], &said["reason"]),
        (&json!("switched off"), &json!("We date salves by their oil."))
    );
    // A batch keeps the policy that it was made under.
    let entry = json!({ "kind": "weighing", "line": "1.1", "quantity": "20 g", "lot": "A" });
    let record = clinic.noor.entered(&format!("/v1/batches/{batch}/entries"), entry).await.json;
    assert_eq!(by(&record["as_made"]["use_by"])["outcome"], "dated");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cream_fills_jars_by_volume_at_the_density_that_was_measured_of_it() {
    let (clinic, revision) = with_cream().await;
    let path = |query: &str| format!("/v1/revisions/{revision}/recipe?containers=12&fill=30%20mL{query}");
    let unknown = clinic.noor.get(&path("")).await.fields(&["?fill"]);
    assert!(unknown.text.contains("enter the measured density of the product"), "{}", unknown.text);

    // 12 times 30 mL at 0.95 g/mL are 342 g, and 342 / 0.96 are 356.25 g to be weighed out.
    let recipe = clinic
        .noor
        .get(&path(
            "&transfer_loss=4%20%25&density=0.95%20g%2FmL%20at%2025%20C&application=5%20mL&explain=true",
        ))
        .await
        .expect(200)
        .json;
    let figure = |name: &str| {
        let all = recipe["figures"].as_array().unwrap();
        all.iter().find(|it| it["name"] == name).unwrap_or_else(|| panic!("no {name} in {all:?}")).clone()
    };
    assert_eq!((&figure("net")["value"], &figure("net")["unit"]), (&json!("342"), &json!("g")));
    assert_eq!(figure("to weigh in all")["exact"], "356.25");
    let why = figure("net").to_string();
    assert!(why.contains("measured") && why.contains("0.95") && why.contains("25"), "{why}");
    // 5 mL weigh 4.75 g.
    assert_eq!(figure("one application")["value"], "4.75");
    // What is in it is as it was approved, whatever was measured: a gram holds as much as in a recipe by mass.
    let by_mass = format!("/v1/revisions/{revision}/recipe?mass=342%20g&application=4.75%20g");
    let by_mass = clinic.noor.get(&by_mass).await.expect(200).json;
    let name = "dried herb of dried calendula flower in one application";
    let same = by_mass["figures"].as_array().unwrap().iter().find(|it| it["name"] == name).unwrap();
    assert_eq!(figure(name)["value"], same["value"]);

    // The record keeps what was asked for, density and all.
    let make_for = json!({ "containers": 4, "fill": "30 mL", "density": "0.95 g/mL" });
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await;
    let record = clinic.noor.get(&format!("/v1/batches/{}", batch.expect(201).id())).await.expect(200).json;
    assert!(record.to_string().contains("4 containers of 30 mL, density 0.95 g/mL"), "{record}");
    clinic.stop().await;
}
