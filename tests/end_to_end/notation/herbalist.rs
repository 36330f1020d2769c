//! The formulas of a working herbalist in the units that they would use. Expected values are worked out by hand from the
//! exact factors of the units and the densities of the reference data.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, evaluated, figure, formula, line, near, with};

/// US cup 236.5882365 mL, ounce 28.349523125 g; olive oil 0.913 to 0.916 SG 20/20, so 0.9145 x 0.998207.
const CUP: f64 = 236.588_236_5;
const OUNCE: f64 = 28.349_523_125;
const OLIVE: f64 = 0.9145 * 0.998_207;

/// The infused oil 1:10, as it is nested in cream and salve.
fn infused_oil() -> Value {
    let lines = [("dried calendula flower", "1:10 in oil"), ("olive oil", "1000 g")];
    with(formula("Calendula oil", "infused oil", SKIN, &lines), "yield", json!("850 g"))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wax_cream_is_written_in_cups_and_ounces() {
    let clinic = TeachingClinic::start().await;
    clinic.ilse.acknowledge(&clinic.approved(infused_oil()).await).await.expect(201);
    let content = formula(
        "Wax cream",
        "cream",
        SKIN,
        &[
            ("olive oil", "3/4 cup"),
            ("coconut oil", "1/3 US cup"),
            ("yellow beeswax", "1 oz"),
            ("rose water", "1 cup"),
            ("[Calendula oil]", "2 oz"),
        ],
    );
    let found = evaluated(&clinic.ilse, content).await;
    near(&line(&found, 0)["mass"], 0.75 * CUP * OLIVE, 1e-3);
    near(&line(&found, 2)["mass"], OUNCE, 1e-6);
    near(&line(&found, 3)["mass"], CUP * 0.998, 1e-6);
    near(&line(&found, 4)["mass"], 2.0 * OUNCE, 1e-6);
    assert!(line(&found, 3)["read_as"].as_str().unwrap().contains("US cup"));
    assert!(line(&found, 1)["read_as"].is_null(), "a cup that says which it is needs no reading");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_salve_takes_infused_oil_and_drops() {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    clinic.noor.acknowledge(&oil).await.expect(201);
    let content = formula(
        "Salve",
        "salve",
        SKIN,
        &[("[Calendula oil]", "1 cup"), ("yellow beeswax", "1 oz"), ("lavender oil", "30 drops")],
    );
    let salve = clinic.approved(content).await;
    clinic.noor.acknowledge(&salve).await.expect(201);
    let recipe = clinic.noor.get(&format!("/v1/revisions/{salve}/recipe")).await.expect(200).json;
    // The infused oil is dated and measured as its own oil: its density is the olive oil's.
    near(&line(&recipe, 0)["weigh"], CUP * OLIVE, 1e-2);
    near(&line(&recipe, 2)["weigh"], 30.0 / 20.0 * 0.885, 1e-6);
    assert_eq!(line(&recipe, 2)["drops_per_ml"], "20");
    assert!(line(&recipe, 2)["read_as"].as_str().unwrap().starts_with("30 drops is read at 20 drops per mL"));
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tincture_is_one_to_five_and_a_fresh_one_is_one_to_two() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried calendula flower", "1:5 in 45 %"), ("ethanol 45 %", "500 mL")];
    let dried = with(formula("Tincture", "tincture", "by mouth", &lines), "yield", json!("400 mL"));
    let found = evaluated(&clinic.ilse, dried.clone()).await;
    near(&line(&found, 0)["mass"], 100.0, 1e-9);
    assert_eq!(line(&found, 0)["read_as"], "1:5 in 45 % is read as 100 g to 500 mL (w/v)");
    // The reading travels with the recipe, for twice as much too.
    let revision = clinic.approved(dried).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let recipe =
        clinic.noor.get(&format!("/v1/revisions/{revision}/recipe?volume=800%20mL")).await.expect(200).json;
    near(&line(&recipe, 0)["weigh"], 200.0, 1e-6);
    near(&line(&recipe, 1)["measure"], 1000.0, 1e-6);
    assert_eq!(line(&recipe, 0)["read_as"], "1:5 in 45 % is read as 100 g to 500 mL (w/v)");

    let lines = [("fresh calendula flower", "1:2 fresh in 96 %"), ("ethanol 96 %", "200 mL")];
    let fresh = evaluated(&clinic.ilse, formula("Fresh", "tincture", "by mouth", &lines)).await;
    near(&line(&fresh, 0)["mass"], 100.0, 1e-9);
    assert_eq!(line(&fresh, 0)["read_as"], "1:2 fresh in 96 % is read as 100 g to 200 mL (w/v)");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_infused_oil_is_one_to_ten_by_weight() {
    let clinic = TeachingClinic::start().await;
    let found = evaluated(&clinic.ilse, infused_oil()).await;
    near(&line(&found, 0)["mass"], 100.0, 1e-9);
    assert_eq!(line(&found, 0)["read_as"], "1:10 in oil is read as 100 g to 1000 g (w/w)");
    near(figure(&found, "dried herb per gram: dried calendula flower"), 100.0, 1e-9);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_honey_syrup_is_made_of_a_decoction_by_volume() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried elder fruit", "1:10 in water"), ("purified water", "1 L")];
    let decoction =
        with(formula("Elder decoction", "decoction", "by mouth", &lines), "yield", json!("600 mL"));
    clinic.ilse.acknowledge(&clinic.approved(decoction).await).await.expect(201);
    let lines = [("[Elder decoction]", "1 part by volume"), ("honey", "1 part by volume")];
    let syrup = with(formula("Elder syrup", "syrup", "by mouth", &lines), "yield", json!("500 mL"));
    let found = evaluated(&clinic.ilse, syrup).await;
    near(&line(&found, 0)["mass"], 250.0 * 0.998_207, 1e-3);
    near(&line(&found, 1)["mass"], 250.0 * 1.42, 1e-9);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tea_blend_is_written_in_parts_with_its_cup_and_day() {
    let clinic = TeachingClinic::start().await;
    let lines = [
        ("dried chamomile flower", "2 parts"),
        ("dried lemon balm leaf", "2 parts"),
        ("dried peppermint leaf", "1 part"),
    ];
    let mut content = with(formula("Evening tea", "tea blend", "by mouth", &lines), "yield", json!("100 g"));
    content["serving"] = json!({ "amount": "2 g", "to": "150 mL", "a_day": 3 });
    let found = evaluated(&clinic.ilse, content.clone()).await;
    for (at, grams) in [(0, 40.0), (1, 40.0), (2, 20.0)] {
        near(&line(&found, at)["mass"], grams, 1e-9);
    }
    near(figure(&found, "per litre"), 2.0 / 0.15, 1e-6);
    near(figure(&found, "used in a day"), 6.0, 1e-9);
    near(figure(&found, "dried herb in a serving: dried chamomile flower"), 800.0, 1e-6);

    // It is kept as written, and no rule dates it: the label says which is missing.
    let revision = clinic.approved(content).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let recipe = clinic.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200).json;
    assert_eq!(recipe["serving"], json!({ "amount": "2 g", "to": "150 mL", "a_day": 3 }));
    near(figure(&recipe, "per litre"), 2.0 / 0.15, 1e-6);
    let label =
        clinic.noor.get(&format!("/v1/revisions/{revision}/label?made_on=2026-03-02")).await.expect(200).json;
    if label["use_by"]["day"].is_null() {
        let because = label["use_by"]["because"].as_str().unwrap();
        assert!(because.contains("the kind tea blend made as herbal medicine"), "{because}");
    }
    for (serving, field) in [
        (json!({ "amount": "a cup" }), "/serving/amount"),
        (json!({ "amount": "2 g", "to": "2 g" }), "/serving/to"),
        (json!({ "amount": "2 g", "a_day": 25 }), "/serving/a_day"),
    ] {
        let wrong = with(formula("Tea", "tea blend", "by mouth", &lines), "serving", serving);
        let refused = clinic.ilse.post("/v1/evaluations?explain=true", json!({ "content": wrong })).await;
        refused.fields(&[&format!("/content{field}")]);
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lip_balm_compress_bath_and_the_other_kinds_have_a_home() {
    let clinic = TeachingClinic::start().await;
    let balm = formula(
        "Lip balm",
        "lip balm",
        "on the lips",
        &[("yellow beeswax", "1 part"), ("cocoa butter", "1 part"), ("olive oil", "2 parts")],
    );
    let found = evaluated(&clinic.ilse, with(balm, "yield", json!("40 g"))).await;
    near(&line(&found, 2)["mass"], 20.0, 1e-9);

    let lines = [("dried calendula flower", "1:5 in 60 %"), ("ethanol 60 %", "100 mL")];
    let tincture = clinic.approved(formula("Tincture", "tincture", SKIN, &lines)).await;
    clinic.ilse.acknowledge(&tincture).await.expect(201);
    let lines = [("[Tincture]", "1 tbsp"), ("purified water", "1 cup")];
    let compress = evaluated(&clinic.ilse, formula("Compress", "compress", SKIN, &lines)).await;
    near(&line(&compress, 0)["mass"], 14.786_764_781_25 * 0.90911, 1e-3);

    let bath = with(
        formula("Chamomile bath", "bath", "in the bath", &[("dried chamomile flower", "50 g")]),
        "serving",
        json!({ "amount": "50 g", "to": "10 L" }),
    );
    near(figure(&evaluated(&clinic.ilse, bath).await, "per litre"), 5.0, 1e-9);

    for (kind, route, material) in [
        ("powder", "on intact skin", "dried calendula flower"),
        ("capsule", "by mouth", "dried peppermint leaf"),
        ("pastille", "by mouth", "honey"),
        ("electuary", "by mouth", "honey"),
        ("herbal vinegar", "by mouth", "cider vinegar"),
        ("gel", "on intact skin", "purified water"),
        ("mouthwash", "mouthwash", "purified water"),
        ("steam inhalation", "inhaled", "dried chamomile flower"),
    ] {
        let found = evaluated(&clinic.ilse, formula("Kind", kind, route, &[(material, "100 g")])).await;
        near(&found["total"], 100.0, 1e-9);
    }
    clinic.stop().await;
}
