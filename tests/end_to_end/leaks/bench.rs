//! Ladders of typed weighings, readings and prices.

use serde_json::{Value, json};
use stillroom_tests::Caller;

use super::ladder::{Learned, climb};
use super::{House, SUNFLOWER, seen};

/// A batch of a revision with what was typed into it. Answers its address.
async fn batch_with(caller: &Caller, revision: &str, entries: &[Value]) -> String {
    let make_for = json!({ "mass": "100 g", "made_on": "2026-03-02" });
    let made = caller.post("/v1/batches", json!({ "revision": revision, "make_for": make_for })).await;
    let batch = format!("/v1/batches/{}", made.expect(201).id());
    for entry in entries {
        caller.post(&format!("{batch}/entries"), entry.clone()).await.expect(201);
    }
    batch
}

fn weighing(line: &str, grams: f64) -> Value {
    json!({ "kind": "weighing", "line": line, "quantity": format!("{grams:.6} g"), "lot": "A", "reason_later": true })
}

/// What the label of a batch says of its composition.
async fn label(caller: &Caller, batch: &str) -> String {
    let label = caller.get(&format!("{batch}/label")).await.expect(200).json;
    let parts = ["ingredients", "allergens", "warnings", "use_by", "storage", "missing", "patch_test"];
    seen(&parts.map(|part| &label[part]))
}

/// What the label of a submitted batch says, by the wax weighed to 100 g of the hidden oils.
async fn label_by_wax(caller: &Caller, revision: &str, wax: f64) -> String {
    let batch = batch_with(caller, revision, &[weighing("1.1", 100.0), weighing("1.2", wax)]).await;
    caller.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    label(caller, &batch).await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_order_on_a_batchs_label_tells_no_share_to_a_reader_of_the_outer_formula() {
    let house = House::start().await;
    // The wax passes the sunflower oil at its share. Who may know finds it to four digits.
    let told = climb(30.0, 45.0, 1, async |wax| label_by_wax(&house.ilse, &house.balm, wax).await).await;
    assert!(told.found(SUNFLOWER, 5_000.0), "{told:?}");
    let untold = climb(5.0, 80.0, 8, async |wax| label_by_wax(&house.noor, &house.balm, wax).await).await;
    assert_eq!(untold, Learned::Nothing);

    // It is the approved order, and the label says that, and what to do.
    let batch = batch_with(&house.noor, &house.balm, &[weighing("1.1", 100.0), weighing("1.2", 90.0)]).await;
    house.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    let of_batch = house.noor.get(&format!("{batch}/label")).await.expect(200).json;
    let planned = house.otto.get(&format!("/v1/revisions/{}/label", house.balm)).await.expect(200).json;
    assert_eq!(of_batch["ingredients"]["items"], planned["ingredients"]["items"]);
    assert_eq!(of_batch["ingredients"]["of"], "planned");
    assert_eq!(
        of_batch["ingredients"]["why_planned"],
        "This is the order of the approved formula. The order by the weighings is shown only to readers who have \
         acknowledged the cautions of the formula and of every nested formula."
    );
    let missing = of_batch["missing"].as_array().unwrap();
    assert!(missing.iter().any(|one| one.as_str().unwrap().starts_with("weighings: ")), "{missing:?}");
    // The same jar, for a reader who may know: what was weighed.
    let made = house.ilse.get(&format!("{batch}/label")).await.expect(200).json;
    assert_eq!(made["ingredients"]["of"], "made");
    assert_ne!(made["ingredients"]["items"], planned["ingredients"]["items"]);
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_order_on_a_batchs_label_tells_no_share_to_an_api_client_without_every_level() {
    let house = House::start().await;
    let scopes = ["labels:read", "formulas:read", "acknowledge"];
    let outside = house.clinic.api_client(&house.ilse, &scopes, &[&house.outer_library]).await;
    let inside =
        house.clinic.api_client(&house.ilse, &scopes, &[&house.outer_library, &house.hidden_library]).await;
    let open = house.ilse.get(&format!("/v1/revisions/{}", house.balm)).await.expect(200).json;
    let nested = |one: &Value| one["nested_revision"].as_str().map(str::to_owned);
    let hidden = open["ingredients"].as_array().unwrap().iter().find_map(nested).unwrap();
    for (client, revision) in [(&outside, &house.balm), (&inside, &house.balm), (&inside, &hidden)] {
        client.acknowledge(revision).await.expect(201);
    }
    // A student weighs, and the tool reads the label.
    let by_wax = async |client: &Caller, wax: f64| {
        let weighings = [weighing("1.1", 100.0), weighing("1.2", wax)];
        let batch = batch_with(&house.noor, &house.balm, &weighings).await;
        house.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
        label(client, &batch).await
    };
    let told = climb(30.0, 45.0, 1, async |wax| by_wax(&inside, wax).await).await;
    assert!(told.found(SUNFLOWER, 5_000.0), "{told:?}");
    let untold = climb(5.0, 80.0, 8, async |wax| by_wax(&outside, wax).await).await;
    assert_eq!(untold, Learned::Nothing);
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_allergen_declared_from_a_threshold_tells_no_share() {
    let house = House::start().await;
    // A trace of the hidden oils in wax: linalool passes 0.001 % somewhere.
    let by_oils = async |caller: &Caller, oils: f64| {
        let batch = batch_with(caller, &house.balm, &[weighing("1.1", oils), weighing("1.2", 1000.0)]).await;
        caller.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
        label(caller, &batch).await
    };
    let told = climb(0.1, 50.0, 1, async |oils| by_oils(&house.ilse, oils).await).await;
    assert_ne!(told, Learned::Nothing);
    let untold = climb(0.1, 50.0, 8, async |oils| by_oils(&house.noor, oils).await).await;
    assert_eq!(untold, Learned::Nothing);
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_label_by_weighings_is_given_to_nobody_before_the_submission() {
    let house = House::start().await;
    let unsubmitted = async |wax: f64| {
        let weighings = [weighing("1.1", 100.0), weighing("1.2", wax)];
        let batch = batch_with(&house.ilse, &house.balm, &weighings).await;
        label(&house.ilse, &batch).await
    };
    assert_eq!(climb(5.0, 80.0, 8, unsubmitted).await, Learned::Nothing);

    // Returned, the record is being changed: again by the plan, until it is handed in again.
    let batch = batch_with(&house.noor, &house.balm, &[weighing("1.1", 100.0), weighing("1.2", 90.0)]).await;
    let why = async || {
        let label = house.ilse.get(&format!("{batch}/label")).await.expect(200);
        label.json["ingredients"]["why_planned"].as_str().unwrap_or_default().to_owned()
    };
    let follows = "The label follows the weighings once the record is submitted.";
    assert_eq!(why().await, format!("The record is making. {follows}"));
    house.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    assert_eq!(why().await, "");
    let verdict = json!({ "verdict": "return", "summary": "Weigh the wax again." });
    house.ilse.post(&format!("{batch}/reviews"), verdict).await.expect(201);
    assert_eq!(why().await, format!("The record is returned. {follows}"));
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_typed_ph_tells_no_share_of_a_hidden_preservative() {
    let house = House::start().await;
    let by_ph = async |caller: &Caller, ph: f64| {
        let typed = [
            weighing("1.1", 90.0),
            weighing("1.2", 10.0),
            json!({ "kind": "ph", "quantity": format!("{ph:.6}") }),
        ];
        let batch = batch_with(caller, &house.lotion, &typed).await;
        let record = caller.get(&batch).await.expect(200).json;
        let made = &record["as_made"];
        caller.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
        format!(
            "{}\n{}",
            seen(&[&made["use_by"]["date"], &made["use_by"]["limited_by"], &made["use_by"]["refrigerate"]]),
            label(caller, &batch).await
        )
    };
    let told = climb(4.0, 7.0, 1, async |ph| by_ph(&house.ilse, ph).await).await;
    assert_ne!(told, Learned::Nothing);
    let untold = climb(3.0, 8.0, 10, async |ph| by_ph(&house.noor, ph).await).await;
    assert_eq!(untold, Learned::Nothing);

    // Nor does the record say in words why it counts as preserved, or what it came to leaf by leaf.
    let typed = [weighing("1.1", 90.0), weighing("1.2", 10.0), json!({ "kind": "ph", "quantity": "4.2" })];
    let batch = batch_with(&house.noor, &house.lotion, &typed).await;
    let made = house.noor.get(&batch).await.expect(200).json["as_made"].clone();
    assert_eq!(made["evaluation"], Value::Null);
    let names: Vec<_> = made["use_by"]["figures"].as_array().unwrap().iter().map(|it| &it["name"]).collect();
    assert_eq!(names, ["use by"]);
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_typed_price_by_volume_tells_no_density_of_a_nested_preparation() {
    let house = House::start().await;
    let cost = async |caller: &Caller| {
        let mut oils = weighing("1.1", 80.0);
        oils["price"] = json!("1000000 per 1 L");
        let batch = batch_with(caller, &house.balm, &[oils, weighing("1.2", 20.0)]).await;
        let record = caller.get(&batch).await.expect(200).json;
        let figures = record["as_made"]["cost"]["figures"].as_array().unwrap().clone();
        figures.into_iter().find(|it| it["name"].as_str().unwrap().contains("Hidden oils")).unwrap()
    };
    // The density that was worked out of a nested preparation prices nothing, whoever asks.
    for caller in [&house.ilse, &house.noor] {
        let untold = cost(caller).await;
        assert_eq!(untold["value"], Value::Null, "{untold}");
        assert_eq!(untold["unknown"], "unknown: density of Hidden oils (line 1.1, lot A)");
    }
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_nested_line_weighed_by_volume_is_refused_to_every_maker() {
    let house = House::start().await;
    for maker in [&house.ilse, &house.noor] {
        let batch = batch_with(maker, &house.balm, &[]).await;
        for millilitres in [1, 80, 500] {
            let mut typed = weighing("1.1", 1.0);
            typed["quantity"] = json!(format!("{millilitres} mL"));
            let refused = maker.post(&format!("{batch}/entries"), typed).await.fields(&["/quantity"]);
            assert!(refused.text.contains("The density of Hidden oils is unknown."), "{}", refused.text);
        }
        // Nor is the yield turned into a mass by the density that was worked out.
        let came = json!({ "kind": "yield", "quantity": "100 mL" });
        maker.post(&format!("{batch}/entries"), came).await.fields(&["/quantity"]);
    }
    house.stop().await;
}
