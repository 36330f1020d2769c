//! Labels: what stands on a jar, open before the gate, without a share, an amount or a word of the method.

use serde_json::{Value, json};
use stillroom_tests::figures::tells;
use stillroom_tests::{Caller, TeachingClinic};

use crate::amendments::{amend, confirm, material};
use crate::formulas::{cream, infused_oil};

fn names(label: &Value) -> Vec<&str> {
    let items = label["ingredients"]["items"].as_array().unwrap();
    items.iter().map(|item| item["name"].as_str().unwrap()).collect()
}

fn texts(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|fact| fact["text"].as_str().unwrap()).collect()
}

fn warned(label: &Value, audience: &str) -> Vec<String> {
    label["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|group| group["audiences"].as_array().unwrap().contains(&json!(audience)))
        .flat_map(|group| texts(&group["warnings"]))
        .map(str::to_owned)
        .collect()
}

async fn label(caller: &Caller, path: &str) -> Value {
    caller.get(&format!("{path}/label")).await.expect(200).json
}

/// The cream of the infused oil, in a clinic where both may be made.
pub(crate) async fn with_cream() -> (TeachingClinic, String) {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let revision = clinic.approved(cream()).await;
    (clinic, revision)
}

/// The same, where the student has acknowledged the cautions of the oil and of the cream.
async fn with_cream_at_every_level() -> (TeachingClinic, String) {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let revision = clinic.approved(cream()).await;
    for revision in [&oil, &revision] {
        clinic.noor.acknowledge(revision).await.expect(201);
    }
    (clinic, revision)
}

/// Hands a batch in.
async fn submit(caller: &Caller, batch: &str) {
    caller.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
}

/// A batch of 100 g of the cream, with these entries.
async fn batch_of_cream(caller: &Caller, revision: &str, sorbate: &str, entries: &[Value]) -> String {
    let asked = json!({ "revision": revision, "make_for": { "mass": "100 g" } });
    let batch = format!("/v1/batches/{}", caller.post("/v1/batches", asked).await.expect(201).id());
    let weighings = [("1.1", "8 g"), ("1.2", "30 g"), ("2.1", sorbate), ("2.2", "61.6 g")];
    let weighings = weighings.map(|(line, quantity)| {
        json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "lot_expires": "2027-01", "reason_later": true })
    });
    for entry in weighings.iter().chain(entries) {
        caller.post(&format!("{batch}/entries"), entry.clone()).await.expect(201);
    }
    batch
}

#[tokio::test(flavor = "multi_thread")]
async fn a_member_reads_the_label_of_a_cream_before_acknowledging_anything() {
    let (clinic, revision) = with_cream().await;
    clinic.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.problem(403, "gate-closed");
    let path = format!("/v1/revisions/{revision}/label?made_on=2026-03-02&net=30%20g");
    let answer = clinic.noor.get(&path).await.expect(200);
    let label = &answer.json;

    // 616 g of water, 300 g of oil, 80 g of wax, 4 g of sorbate; the flowers stayed in the press.
    let order =
        ["purified water", "olive oil", "emulsifying wax", "potassium sorbate", "dried calendula flower"];
    assert_eq!(names(label), order);
    let items = &label["ingredients"]["items"];
    assert_eq!(items[1]["inci"], "Olea Europaea Fruit Oil");
    assert_eq!((&items[4]["drawn_out"], &items[1]["drawn_out"]), (&json!(true), &Value::Null));
    assert_eq!(label["ingredients"]["of"], "planned");
    // Not one of the numbers that the recipe holds.
    for amount in ["616", "300", "0.4", "850", "1000"] {
        assert!(!tells(&answer.text, amount), "{amount} in {}", answer.text);
    }
    assert!(!answer.text.contains("share"), "{}", answer.text);
    assert!(!answer.text.contains("Melt the wax"), "no method");

    let daisy = warned(label, "allergy:asteraceae");
    assert!(daisy[0].contains("daisy family"), "{daisy:?}");
    let levels: Vec<&str> = label["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|group| group["warnings"][0]["level"].as_str().unwrap())
        .collect();
    let first_note = levels.iter().position(|level| *level == "note").unwrap_or(levels.len());
    assert_eq!(levels[0], "contraindication");
    assert!(levels[first_note..].iter().all(|level| *level == "note"), "strongest first: {levels:?}");
    assert!(label["patch_test"]["text"].as_str().unwrap().contains("inside the elbow"));
    // A week is the time of a remedy: a cosmetic for unbroken skin treats nothing.
    assert_eq!(label["longest_use"], json!([]));

    assert_eq!(label["directions"], json!({ "text": "Apply thinly to intact skin.", "from": "formula" }));
    assert_eq!(label["net_contents"], json!({ "text": "30 g", "from": "request" }));
    assert_eq!(label["regime"]["text"], "Cosmetic.");
    assert_eq!(label["clinic"]["from"], "policy");
    assert_eq!(label["children"]["from"], "common_practice");
    assert_eq!(label["children"]["source"]["text"], "common practice, no source");
    assert_eq!(label["made_on"], json!({ "day": "2026-03-02", "from": "request" }));
    // Three weeks at room temperature or fourteen days unpreserved: whatever the recipe's own date is.
    clinic.noor.acknowledge(&revision).await.expect(201);
    let recipe =
        clinic.noor.get(&format!("/v1/revisions/{revision}/recipe?made_on=2026-03-02")).await.expect(200);
    assert_eq!(label["use_by"]["day"], recipe.json["use_by"]["date"]);
    assert_eq!(label["use_by"]["because"], recipe.json["use_by"]["limited_by"]);
    let kept = texts(&label["storage"]);
    assert_eq!(kept, ["Keep cool.", "Keep refrigerated. The use-by date applies only when refrigerated."]);
    // A trade name for blends of several makes: the materia medica knows no one INCI name of it.
    assert_eq!(label["missing"], json!(["ingredients: The INCI name of emulsifying wax is unknown."]));
    assert_eq!(label["marks"], json!([]));
    assert!(label["batch_number"].is_null() && label["room"].is_null());
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_label_says_what_it_lacks_and_what_finds_no_room_and_leaves_nothing_out() {
    let (clinic, revision) = with_cream().await;
    let path = format!("/v1/revisions/{revision}/label");
    let bare = clinic.noor.get(&path).await.expect(200).json;
    assert_eq!(
        bare["missing"],
        json!([
            "net_contents: Enter the net contents, such as net=30 g.",
            "made_on: Enter the day of making, such as made_on=2026-03-21.",
            "ingredients: The INCI name of emulsifying wax is unknown."
        ])
    );
    let roomy = clinic.noor.get(&format!("{path}?area=400%20cm2")).await.expect(200).json;
    assert_eq!((&roomy["room"]["fits"], &roomy["room"]["exceeding"]), (&json!(true), &Value::Null));
    let needed = &roomy["room"]["needed"];
    assert!(needed["source"]["text"].as_str().unwrap().contains("common practice, no source"), "{needed}");

    let small = clinic.noor.get(&format!("{path}?area=10%20cm2")).await.expect(200).json;
    let over: Vec<&str> = small["room"]["exceeding"]
        .as_array()
        .unwrap()
        .iter()
        .map(|part| part["part"].as_str().unwrap())
        .collect();
    assert_eq!(small["room"]["fits"], false);
    assert!(over.contains(&"warnings") && over.ends_with(&["notice", "clinic"]), "{over:?}");
    assert!(!over.contains(&"name"), "{over:?}");
    for part in ["warnings", "ingredients", "notice", "storage"] {
        assert_eq!(small[part], roomy[part], "{part} is whole");
    }
    for (query, field) in [
        ("area=40", "?area"),
        ("area=0%20cm2", "?area"),
        ("net=a%20jar", "?net"),
        ("net=20%20drops", "?net"),
        ("made_on=3000-01-01", "?made_on"),
        ("made_on=soon", "?made_on"),
        ("size=40", "?size"),
    ] {
        clinic.noor.get(&format!("{path}?{query}")).await.fields(&[field]);
    }
    clinic.noor.get(&format!("{path}?net=0%20g&area=0%20cm2")).await.fields(&["?area", "?net"]);
    clinic.stop().await;
}

/// A salve in which two oils are nearly alike, so that the bench decides which is more.
fn two_oils() -> Value {
    json!({
        "title": "Salve of two oils", "preparation": "salve", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "oil phase", "lines": [
            { "material": "yellow beeswax", "amount": "20 g" },
            { "material": "olive oil", "amount": "52 g" },
            { "material": "sunflower oil", "amount": "48 g" } ] }],
        "method": [{ "do": "Melt" }],
        "label": { "directions": "Apply thinly.", "storage": "Keep cool.", "after_opening": "Once opened: six months." }
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_is_labelled_by_what_was_weighed_once_every_line_was() {
    let clinic = TeachingClinic::start().await;
    let revision = clinic.approved(two_oils()).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let make_for = json!({ "containers": 4, "fill": "30 g" });
    let made = clinic.noor.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await;
    let (batch, number) = {
        let made = made.expect(201);
        (format!("/v1/batches/{}", made.id()), made.text_at("/number"))
    };
    let weigh = async |line: &str, quantity: &str| {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true });
        clinic.noor.post(&format!("{batch}/entries"), entry).await.expect(201)
    };
    let before = label(&clinic.noor, &batch).await;
    assert_eq!(before["ingredients"]["of"], "planned");
    let follows = "The label follows the weighings once the record is submitted.";
    assert_eq!(before["ingredients"]["why_planned"], format!("The record is planned. {follows}"));
    weigh("1.1", "20 g").await;
    weigh("1.3", "54 g").await;
    submit(&clinic.noor, &batch).await;
    let half = label(&clinic.noor, &batch).await;
    // One oil is not weighed: a label without it would be untrue.
    assert_eq!(half["ingredients"]["why_planned"], "These lines have not been weighed: 1.2.");
    assert_eq!(names(&half), ["olive oil", "sunflower oil", "yellow beeswax"]);
    clinic.marek.acknowledge(&revision).await.expect(201);
    let back = json!({ "verdict": "return", "summary": "Weigh the olive oil too." });
    clinic.marek.post(&format!("{batch}/reviews"), back).await.expect(201);
    weigh("1.2", "46 g").await;
    // Weighed whole, it may still be corrected until it is handed in.
    let returned = label(&clinic.noor, &batch).await;
    assert_eq!(returned["ingredients"]["why_planned"], format!("The record is returned. {follows}"));
    assert_eq!(names(&returned), names(&half));
    submit(&clinic.noor, &batch).await;
    let whole = label(&clinic.noor, &batch).await;
    assert_eq!(whole["ingredients"]["of"], "made");
    assert_eq!(names(&whole), ["sunflower oil", "olive oil", "yellow beeswax"]);
    assert_eq!(whole["batch_number"], json!({ "text": number, "from": "batch" }));
    assert_eq!(whole["net_contents"], json!({ "text": "30 g", "from": "batch" }));
    assert_eq!(whole["made_on"], json!({ "day": "2026-03-02", "from": "batch" }));
    // Remembered keeping time of salves: twelve months.
    assert_eq!(whole["use_by"]["day"], "2027-03-02");
    assert_eq!(whole["after_opening"], json!({ "text": "Once opened: six months.", "from": "formula" }));
    assert_eq!(texts(&whole["marks"]), ["In quarantine. Do not give out."]);
    assert_eq!(whole["missing"], json!([]));

    // An instructor reads it once the door to the record is open, a stranger never.
    clinic.ilse.get(&format!("{batch}/label")).await.problem(403, "gate-closed");
    clinic.ilse.acknowledge(&revision).await.expect(201);
    assert_eq!(label(&clinic.ilse, &batch).await, whole);
    let tomas = clinic.clinic.person("tomas.lind", "student").await;
    tomas.get(&format!("{batch}/label")).await.problem(404, "not-found");
    clinic.noor.get(&format!("{batch}/label?made_on=2026-03-02")).await.fields(&["?made_on"]);

    // Withdrawn since: no new label by the formula, and the jars that are there say so.
    let reason = json!({ "reason": "The oil was rancid." });
    clinic.marek.post(&format!("/v1/revisions/{revision}/withdrawal"), reason).await.expect(200);
    clinic.noor.get(&format!("/v1/revisions/{revision}/label")).await.problem(409, "wrong-state");
    let marks = label(&clinic.noor, &batch).await;
    assert_eq!(texts(&marks["marks"])[0], "Formula withdrawn. Do not give out.");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_api_client_labels_jars_as_made_once_the_cautions_are_acknowledged_for_it_and_reads_no_record() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(two_oils()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let made = room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
    let batch = format!("/v1/batches/{}", made.id());
    // More of the second oil than of the first, against the plan.
    for (line, quantity) in [("1.1", "20 g"), ("1.2", "46 g"), ("1.3", "54 g")] {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true });
        room.noor.post(&format!("{batch}/entries"), entry).await.expect(201);
    }
    submit(&room.noor, &batch).await;

    let key = async |scopes: &[&str], libraries: &[&str]| {
        room.clinic.api_client(&room.ilse, scopes, libraries).await
    };
    let printer = key(&["labels:read", "acknowledge", "formulas:read"], &[&room.library]).await;
    let planned = label(&printer, &batch).await;
    assert_eq!(planned["ingredients"]["of"], "planned");
    assert_eq!(names(&planned), ["olive oil", "sunflower oil", "yellow beeswax"]);
    let why = planned["ingredients"]["why_planned"].as_str().unwrap();
    assert!(why.contains("acknowledged the cautions of the formula"), "{why}");
    let missing = planned["missing"].as_array().unwrap();
    assert!(missing.iter().any(|one| one.as_str().unwrap().starts_with("weighings: ")), "{missing:?}");
    assert!(!planned["warnings"].as_array().unwrap().is_empty());

    printer.acknowledge(&revision).await.expect(201);
    let as_made = label(&printer, &batch).await;
    assert_eq!(as_made, label(&room.noor, &batch).await, "what its maker reads");
    assert_eq!(names(&as_made), ["sunflower oil", "olive oil", "yellow beeswax"]);
    // The record stays closed, and so do other tools' labels.
    for path in [batch.clone(), "/v1/batches".into()] {
        printer.get(&path).await.problem(403, "forbidden");
    }
    let lacking = key(&["formulas:read", "recipes:read"], &[&room.library]).await;
    let refused = lacking.get(&format!("{batch}/label")).await.problem(403, "forbidden");
    assert!(refused.text_at("/detail").contains("lacks the scope labels:read"), "{}", refused.text);
    let elsewhere = key(&["labels:read"], &[]).await;
    elsewhere.get(&format!("{batch}/label")).await.problem(404, "not-found");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_that_was_given_up_has_no_label() {
    let clinic = TeachingClinic::start().await;
    let revision = clinic.approved(two_oils()).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    clinic.noor.post_bare(&format!("/v1/batches/{batch}/abandonment"), &[]).await.expect(200);
    clinic.noor.get(&format!("/v1/batches/{batch}/label")).await.problem(409, "wrong-state");
    clinic.stop().await;
}

/// Regulation (EC) 1223/2009, Annex V entry 4: at most 0.6 % as sorbic acid. Planned within it, weighed past it.
#[tokio::test(flavor = "multi_thread")]
async fn a_batch_weighed_past_a_limit_says_so_on_its_label() {
    let (clinic, revision) = with_cream_at_every_level().await;
    let passes = "Do not use: an ingredient is above the limit for this use.";
    let batch = batch_of_cream(&clinic.noor, &revision, "0.9 g", &[]).await;
    assert!(!warned(&label(&clinic.noor, &batch).await, "everyone").contains(&passes.to_owned()));
    submit(&clinic.noor, &batch).await;
    let made = label(&clinic.noor, &batch).await;
    let first =
        &made["warnings"].as_array().unwrap().iter().find(|it| it["heading"] == "For everyone").unwrap();
    assert_eq!(first["warnings"][0]["text"], passes);
    assert_eq!(first["warnings"][0]["from"], "calculation");
    clinic.stop().await;
}

/// Potassium sorbate 0.4 g in 61.6 g of water preserves at pH 5.3 and not at 5.4: held where what was made is judged.
#[tokio::test(flavor = "multi_thread")]
async fn a_measured_ph_and_an_expired_lot_date_the_jar_as_they_date_its_record() {
    let (clinic, revision) = with_cream_at_every_level().await;
    let handed_in = async |entry: Value| {
        let batch = batch_of_cream(&clinic.noor, &revision, "0.4 g", &[entry]).await;
        submit(&clinic.noor, &batch).await;
        (clinic.noor.get(&batch).await.expect(200).json, label(&clinic.noor, &batch).await)
    };
    let unpreserved = |label: &Value| {
        warned(label, "everyone")
            .iter()
            .any(|text| text.starts_with("Contains water and no proven preservative"))
    };
    let mut dates = Vec::new();
    for (ph, preserved) in [("5.4", false), ("5.3", true)] {
        let (record, label) = handed_in(json!({ "kind": "ph", "quantity": ph })).await;
        assert_eq!(label["use_by"]["day"], record["as_made"]["use_by"]["date"], "pH {ph}");
        assert_eq!(unpreserved(&label), !preserved, "pH {ph}");
        dates.push(label["use_by"]["day"].as_str().unwrap().to_owned());
    }
    assert!(dates[0] < dates[1], "{dates:?}");
    let short = json!({ "kind": "weighing", "line": "2.2", "quantity": "0.1 g", "lot": "B", "lot_expires": "2026-03-05" });
    let (_, label) = handed_in(short).await;
    assert_eq!(label["use_by"]["day"], "2026-03-05");
    assert!(label["use_by"]["because"].as_str().unwrap().contains("lot B"), "{}", label["use_by"]);
    clinic.stop().await;
}

/// Weighed in part, whatever its pH, it is what was planned: unpreserved, and dated for the refrigerator.
#[tokio::test(flavor = "multi_thread")]
async fn a_half_weighed_batch_never_bears_a_date_of_the_refrigerator_without_saying_so() {
    let (clinic, revision) = with_cream_at_every_level().await;
    let asked = json!({ "revision": revision, "make_for": { "mass": "100 g" } });
    let batch = format!("/v1/batches/{}", clinic.noor.post("/v1/batches", asked).await.expect(201).id());
    let cold = ["Keep cool.", "Keep refrigerated. The use-by date applies only when refrigerated."];
    let enter = async |entry: Value| {
        clinic.noor.post(&format!("{batch}/entries"), entry).await.expect(201);
    };
    let weigh = async |line: &str, quantity: &str| {
        enter(json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true })).await;
    };
    let opened = label(&clinic.noor, &batch).await;
    assert_eq!(texts(&opened["storage"]), cold);
    weigh("1.1", "8 g").await;
    let first = label(&clinic.noor, &batch).await;
    enter(json!({ "kind": "ph", "quantity": "4.8" })).await;
    let measured = label(&clinic.noor, &batch).await;
    for label in [&first, &measured] {
        assert_eq!(label["ingredients"]["of"], "planned");
        assert_eq!(label["use_by"], opened["use_by"]);
        assert_eq!(texts(&label["storage"]), cold);
    }
    // A lot that ends sooner shortens the date of what was planned, and it is kept as that is.
    let short = json!({ "kind": "weighing", "line": "1.2", "quantity": "30 g", "lot": "B", "lot_expires": "2026-03-08" });
    enter(short).await;
    let shorter = label(&clinic.noor, &batch).await;
    assert_eq!(shorter["use_by"]["day"], "2026-03-08");
    assert_eq!(texts(&shorter["storage"]), cold);
    // Weighed whole and handed in, it is preserved at the pH that was measured, and keeps on the shelf.
    weigh("2.1", "0.4 g").await;
    weigh("2.2", "61.6 g").await;
    submit(&clinic.noor, &batch).await;
    let whole = label(&clinic.noor, &batch).await;
    assert_eq!(whole["ingredients"]["of"], "made");
    assert_eq!(texts(&whole["storage"]), ["Keep cool."]);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_for_the_maker_is_acknowledged_and_stays_off_the_label() {
    let (clinic, _) = with_cream().await;
    let mut tea = infused_oil();
    tea["title"] = json!("Infusion of calendula");
    tea["preparation"] = json!("infusion");
    tea["phases"][0]["lines"][1] = json!({ "material": "purified water", "amount": "1000 g" });
    let tea = clinic.approved(tea).await;
    clinic.ilse.acknowledge(&tea).await.expect(201);
    let mut rich = cream();
    rich["title"] = json!("Cream of infusion and glycerol");
    rich["phases"][1]["lines"] = json!([
        { "material": "potassium sorbate", "amount": "0.4 %" },
        { "material": "glycerol", "amount": "5 %" },
        { "material": "lavender oil", "amount": "0.2 %" },
        { "formula": "Infusion of calendula", "amount": "300 g" },
        { "material": "purified water", "amount": "q.s. 1000 g" } ]);
    let revision = clinic.approved(rich).await;
    let path = format!("/v1/revisions/{revision}");
    let all_of = async |path: &str| clinic.noor.get(&format!("{path}/label")).await.expect(200).text;
    let for_the_maker = ["Measure the pH", "oxidised linalool often causes allergy"];
    let kept_for_a_day = "discard after one day";
    let on_the_jar = all_of(&path).await;
    for text in for_the_maker.iter().chain(&[kept_for_a_day]) {
        assert!(!on_the_jar.contains(text), "{text} in {on_the_jar}");
    }
    for text in ["daisy family", "discard if it changes", "Try a little inside the elbow"] {
        assert!(on_the_jar.contains(text), "{text} not in {on_the_jar}");
    }
    // What is for the maker is in the set that they acknowledge. How the infusion keeps stands with the infusion.
    let set = clinic.noor.get(&format!("{path}/cautions")).await.expect(200).json;
    let (raised, silent) = (set["cautions"].to_string(), set["not_raised"].to_string());
    for text in for_the_maker {
        assert!(raised.contains(text), "{text} not in {raised}");
    }
    assert!(!raised.contains(kept_for_a_day) && silent.contains(kept_for_a_day), "{silent}");
    // The infusion itself is kept as its kind is.
    assert!(all_of(&format!("/v1/revisions/{tea}")).await.contains(kept_for_a_day));
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_kept_is_used_on_the_day_of_making_and_is_not_put_into_a_refrigerator() {
    let clinic = TeachingClinic::start().await;
    let poultice = |title: &str, storage: &str| {
        json!({
            "title": title, "preparation": "poultice", "route": "on intact skin, leave-on", "regime": "herbal_medicine",
            "phases": [{ "name": "paste", "lines": [
                { "material": "dried flax seed", "amount": "100 g" },
                { "material": "purified water", "amount": "300 g" } ] }],
            "method": [{ "do": "Stir the seed into the hot water" }],
            "label": { "directions": "Lay on while warm.", "storage": storage }
        })
    };
    let kept = clinic.approved(poultice("Poultice that is kept", "Do not keep in the sun.")).await;
    let fresh = clinic.approved(poultice("Poultice made fresh", "Do not keep.")).await;
    let dated = async |revision: &str| {
        let path = format!("/v1/revisions/{revision}/label?made_on=2026-03-02");
        clinic.noor.get(&path).await.expect(200).json
    };
    // Common practice for poultices: 24 hours, and only in the cold.
    let kept = dated(&kept).await;
    let cold = "Keep refrigerated. The use-by date applies only when refrigerated.";
    assert_eq!(kept["use_by"]["day"], "2026-03-03");
    assert_eq!(texts(&kept["storage"]), ["Do not keep in the sun.", cold]);
    let label_of_fresh = dated(&fresh).await;
    let same_day = json!({
        "day": "2026-03-02", "because": "its storage, which says that it is not kept", "from": "calculation",
    });
    assert_eq!(label_of_fresh["use_by"], same_day);
    assert_eq!(texts(&label_of_fresh["storage"]), ["Do not keep."]);
    // The jar says the same, whatever was weighed.
    clinic.noor.acknowledge(&fresh).await.expect(201);
    let recipe =
        clinic.noor.get(&format!("/v1/revisions/{fresh}/recipe?made_on=2026-03-02")).await.expect(200);
    assert_eq!(recipe.text_at("/use_by/date"), "2026-03-02");
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": fresh })).await.expect(201).id();
    let jar = label(&clinic.noor, &format!("/v1/batches/{batch}")).await;
    assert_eq!(jar["use_by"], same_day);
    assert_eq!(texts(&jar["storage"]), ["Do not keep."]);
    let entries = format!("/v1/batches/{batch}/entries");
    for (line, quantity) in [("1.1", "100 g"), ("1.2", "300 g")] {
        let weighing = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A", "reason_later": true });
        clinic.noor.post(&entries, weighing).await.expect(201);
    }
    let record = clinic.noor.get(&format!("/v1/batches/{batch}")).await.expect(200);
    assert_eq!(record.text_at("/as_made/use_by/date"), "2026-03-02");
    let jar = label(&clinic.noor, &format!("/v1/batches/{batch}")).await;
    assert_eq!(jar["use_by"], same_day);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_made_for_teaching_and_what_its_author_approved_say_so_on_the_label() {
    let clinic = TeachingClinic::start().await;
    let policy = clinic.clinic.administrator.get("/v1/policy").await.expect(200);
    let mut rules = policy.json["content"].clone();
    rules["second_person"] = json!(false);
    rules["clinic_name"] = json!("Aldergrove Teaching Clinic");
    rules["reason"] = json!("One instructor is away.");
    clinic.clinic.administrator.put("/v1/policy", &policy.etag(), rules).await.expect(200);
    let mut content = two_oils();
    content["regime"] = json!("teaching_only");
    let revision = clinic.clinic.proposed(&clinic.ilse, &clinic.library, content).await;
    let waiting = label(&clinic.ilse, &format!("/v1/revisions/{revision}")).await;
    let not_yet = "Formula not approved. Do not make.";
    assert_eq!(texts(&waiting["marks"]), ["For practice, not for use.", not_yet]);
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let approve = json!({ "decision": "approve", "comment": "Nobody else is here this week." });
    clinic.ilse.post(&format!("/v1/revisions/{revision}/decision"), approve).await.expect(200);
    let planned = label(&clinic.noor, &format!("/v1/revisions/{revision}")).await;
    assert_eq!(texts(&planned["marks"]), ["For practice, not for use.", "Approved by its author."]);
    assert_eq!(planned["clinic"]["text"], "Aldergrove Teaching Clinic");
    clinic.noor.acknowledge(&revision).await.expect(201);
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let made = label(&clinic.noor, &format!("/v1/batches/{batch}")).await;
    let practice = "Practice only. Do not give out.";
    assert_eq!(texts(&made["marks"]), ["For practice, not for use.", "Approved by its author.", practice]);
    clinic.stop().await;
}

/// Regulation (EU) 2023/1545: in what stays on the skin an allergen above 0.001 % is named on the label.
#[tokio::test(flavor = "multi_thread")]
async fn fragrance_allergens_are_declared_on_a_cosmetic_and_food_allergens_on_a_food() {
    let clinic = TeachingClinic::start().await;
    let mut balm = two_oils();
    balm["title"] = json!("Lavender balm");
    balm["phases"][0]["lines"][2] = json!({ "material": "lavender oil", "amount": "1 g" });
    let balm = clinic.approved(balm).await;
    let declared = |label: &Value| -> Vec<String> {
        let all = label["allergens"].as_array().unwrap();
        all.iter().map(|one| one["label_name"].as_str().unwrap().to_owned()).collect()
    };
    let found = label(&clinic.noor, &format!("/v1/revisions/{balm}")).await;
    let all = declared(&found);
    assert!(
        all.contains(&"Linalool".to_owned()) && all.contains(&"Lavandula Oil/Extract".to_owned()),
        "{all:?}"
    );
    assert_eq!(found["allergens"][0]["from"], "calculation");
    assert!(!warned(&found, "everyone").iter().any(|text| text.contains("the label must name")), "said once");

    let mut sweet = two_oils();
    sweet["title"] = json!("Sesame honey");
    sweet["youngest"] = json!("3 years");
    sweet["preparation"] = json!("syrup");
    sweet["route"] = json!("by mouth");
    sweet["regime"] = json!("food");
    sweet["phases"][0]["lines"] = json!([
        { "material": "honey", "amount": "90 g" }, { "material": "sesame oil", "amount": "10 g" } ]);
    let sweet = clinic.approved(sweet).await;
    let found = label(&clinic.noor, &format!("/v1/revisions/{sweet}")).await;
    assert_eq!(declared(&found), ["sesame"]);
    assert_eq!(found["meant_for"], json!({ "text": "From the age of 3 years.", "from": "formula" }));
    assert_eq!(found["allergens"][0]["from"], "materia");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_clinic_says_of_a_material_later_stands_on_the_labels_of_jars_that_are_there() {
    let (clinic, revision) = with_cream().await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let (planned, made) = (format!("/v1/revisions/{revision}"), format!("/v1/batches/{batch}"));
    let flower = material(&clinic.ilse, "dried calendula flower").await;
    let add = |level: &str, text: &str| {
        json!({ "add_caution": {
        "on": { "material": flower }, "level": level, "text": text, "audiences": ["pregnant"] } })
    };
    amend(&clinic.ilse, add("caution", "Ask Ilse first.")).await.expect(201);
    for path in [&planned, &made] {
        let label = label(&clinic.noor, path).await;
        let of =
            label["warnings"].as_array().unwrap().iter().find(|it| it["audiences"] == json!(["pregnant"]));
        let of = of.unwrap()["warnings"].as_array().unwrap();
        let said = of.iter().find(|warning| warning["text"] == "Ask Ilse first.").unwrap();
        assert_eq!((&said["from"], &said["level"]), (&json!("clinic"), &json!("caution")));
    }
    // Set aside it stays to be read, with what became of it.
    let aside = json!({ "change_caution": { "key": "allergy-asteraceae" } });
    let aside = amend(&clinic.ilse, aside).await.expect(201).id();
    confirm(&clinic.marek, &aside).await.expect(200);
    let now = label(&clinic.noor, &planned).await;
    let daisy = now["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|it| it["audiences"] == json!(["allergy:asteraceae"]));
    let daisy = &daisy.unwrap()["warnings"][0];
    assert_eq!((&daisy["level"], &daisy["changed"]["was"]), (&json!("note"), &json!("contraindication")));
    // A stop withholds the formula: no new label, and the jars that are there say so.
    amend(&clinic.ilse, add("stop", "Recalled by its grower.")).await.expect(201);
    clinic.noor.get(&format!("{planned}/label")).await.problem(409, "wrong-state");
    let held = label(&clinic.noor, &made).await;
    let marks = ["Formula withheld. Do not give out.", "In quarantine. Do not give out."];
    assert_eq!(texts(&held["marks"]), marks);
    clinic.stop().await;
}
