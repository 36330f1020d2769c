//! What is measured rather than weighed: the clinic's own drops, servings by spoon, syrups by the litre, and decoctions that
//! are boiled down to a volume.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{evaluated, figure, formula, near, number, ready, share, with};

const SKIN: &str = "on intact skin, leave-on";
const MOUTH: &str = "by mouth";

fn line(evaluation: &Value, at: usize) -> &Value {
    &evaluation["phases"][0]["lines"][at]
}

/// 95 % spirit of 0.81138 g/mL and 45 % of 0.93954 g/mL at 20 °C (OIML R 22), water of 0.9982 g/mL.
#[tokio::test(flavor = "multi_thread")]
async fn drops_are_those_of_the_material_then_of_the_clinic_then_the_published_ones() {
    let clinic = TeachingClinic::start().await;
    let administrator = &clinic.clinic.administrator;
    let policy = administrator.get("/v1/policy").await.expect(200);
    assert_eq!(policy.json["content"]["drops_per_ml"], json!({}));
    let put = async |drops: Value| {
        let mut content = policy.json["content"].clone();
        content["drops_per_ml"] = drops;
        content["reason"] = json!("Counted with our own dropper.");
        administrator.put("/v1/policy", &policy.etag(), content).await
    };
    let lines = [("ethanol 45 %", "90 drops"), ("purified water", "40 drops"), ("olive oil", "30 drops")];
    let liniment = formula("liniment", SKIN, "cosmetic", &lines);
    let before = evaluated(&clinic.ilse, &liniment).await;
    assert!(line(&before, 0)["mass"]["unknown"].as_str().unwrap().contains("drops per mL of ethanol 45 %"));
    // USP <1101>: 20 drops of water are a mL.
    near(number(&line(&before, 1)["mass"]), 2.0 * 0.9982, 1e-3);

    for (drops, field) in [
        (json!({ "oil": "3" }), "/drops_per_ml/oil"),
        (json!({ "spirit": "many" }), "/drops_per_ml/spirit"),
        (json!({ "water": "201" }), "/drops_per_ml/water"),
    ] {
        put(drops).await.fields(&[field]);
    }
    let counted = json!({ "spirit": "45", "water": "16", "glycerol": "24" });
    let kept = put(counted.clone()).await.expect(200).json;
    assert_eq!(kept["content"]["drops_per_ml"], counted);

    let after = evaluated(&clinic.ilse, &liniment).await;
    near(number(&line(&after, 0)["mass"]), 2.0 * 0.93954, 1e-3);
    near(number(&line(&after, 1)["mass"]), 40.0 / 16.0 * 0.9982, 1e-3);
    let said = "90 drops is read at 45 drops per mL (the clinic's own dropper, policy version 2; ";
    assert!(line(&after, 0)["read_as"].as_str().unwrap().starts_with(said), "{}", line(&after, 0));
    // Nobody counted oil.
    assert!(line(&after, 2)["mass"]["value"].is_null(), "{}", line(&after, 2));

    // A tincture of the clinic drops as its spirit does, on a line and as a serving.
    let lines = [("dried thyme herb", "1:5 in 45 %"), ("ethanol 45 %", "500 mL")];
    let tincture = with(formula("tincture", MOUTH, "herbal_medicine", &lines), "title", json!("Thyme drops"));
    let tincture = with(tincture, "serving", json!({ "amount": "30 drops", "a_day": 3 }));
    let found = evaluated(&clinic.ilse, &tincture).await;
    near(number(figure(&found, "serving")), 30.0 / 45.0 * 0.93954, 1e-3);
    let revision = ready(&clinic, tincture).await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let syrup = [("sucrose", "65 g"), ("purified water", "35 g")];
    let mut syrup = formula("syrup", MOUTH, "herbal_medicine", &syrup);
    let nested = json!({ "formula": "Thyme drops", "amount": "90 drops" });
    syrup["phases"][0]["lines"].as_array_mut().unwrap().push(nested);
    let found = evaluated(&clinic.ilse, &syrup).await;
    near(number(&line(&found, 2)["mass"]), 2.0 * 0.93954, 1e-3);

    // A frozen formula keeps the drops that it was kept with.
    let latest = administrator.get("/v1/policy").await.expect(200);
    let mut content = latest.json["content"].clone();
    content["drops_per_ml"] = json!({ "spirit": "60" });
    administrator.put("/v1/policy", &latest.etag(), content).await.expect(200);
    let recipe = clinic.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200).json;
    near(number(figure(&recipe, "serving")), 30.0 / 45.0 * 0.93954, 1e-3);

    // What the clinic recorded of a material goes before its dropper.
    let listed = clinic.ilse.get("/v1/materials?search=ethanol").await.expect(200).json;
    let found = listed["items"].as_array().unwrap();
    let spirit = found.iter().find(|one| one["name"] == "ethanol 45 %").expect("ethanol 45 %")["id"].clone();
    let path = format!("/v1/materials/{}/entry", spirit.as_str().unwrap());
    let entry = clinic.ilse.get(&path).await.expect(200).json;
    let mut revised = entry["entry"].clone();
    revised["drops_per_ml"] = json!("50");
    let change =
        json!({ "revise_material": { "material": spirit, "version": entry["version"], "entry": revised } });
    let asked = json!({ "change": change, "reason": "Counted with our dropper." });
    let made = clinic.ilse.post("/v1/amendments", asked).await.expect(201);
    if made.json["state"] == "awaiting_second_person" {
        let path = format!("/v1/amendments/{}/decision", made.id());
        clinic.marek.post(&path, json!({ "decision": "confirm" })).await.expect(200);
    }
    let own = evaluated(&clinic.ilse, &liniment).await;
    near(number(&line(&own, 0)["mass"]), 90.0 / 50.0 * 0.93954, 1e-3);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_serving_is_weighed_measured_or_counted_and_says_what_is_missing() {
    let clinic = TeachingClinic::start().await;
    // 100 g of herb in 500 mL of 45 % spirit, which weigh 469.77 g: 212.9 mg behind each gram.
    let lines = [("dried thyme herb", "1:5 in 45 %"), ("ethanol 45 %", "500 mL")];
    let tincture = formula("tincture", MOUTH, "herbal_medicine", &lines);
    let served =
        async |serving: Value| evaluated(&clinic.ilse, &with(tincture.clone(), "serving", serving)).await;
    let found = served(json!({ "amount": "10 mL", "to": "100 mL", "a_day": 3 })).await;
    near(number(figure(&found, "serving")), 9.3954, 1e-3);
    near(number(figure(&found, "used in a day")), 28.186, 1e-2);
    near(number(figure(&found, "per litre")), 93.954, 1e-2);
    // Drug to solvent, 1:5 by volume: 10 mL bring the extract of 2 g (the equivalence of the Expanded Commission E).
    let herb = figure(&found, "dried herb in a serving: dried thyme herb");
    near(number(herb) * if herb["unit"] == "g" { 1000.0 } else { 1.0 }, 2000.0, 1.0);
    let why = figure(&found, "serving")["explanation"]["sentence"].as_str().unwrap_or_default().to_owned();
    let why = if why.is_empty() { figure(&found, "serving").to_string() } else { why };
    assert!(why.contains("10 mL") && why.contains("density"), "{why}");
    // The US teaspoon of a new clinic is 4.92892 mL.
    let spoons = served(json!({ "amount": "2 tsp" })).await;
    near(number(figure(&spoons, "serving")), 2.0 * 4.928_921_593_75 * 0.93954, 1e-3);
    let drops = served(json!({ "amount": "30 drops at 45 per mL" })).await;
    near(number(figure(&drops, "serving")), 30.0 / 45.0 * 0.93954, 1e-3);
    let uncounted = served(json!({ "amount": "30 drops" })).await;
    let missing = figure(&uncounted, "serving")["unknown"].as_str().unwrap().to_owned();
    assert!(missing.contains("drops per mL of Trial tincture"), "{missing}");

    // Of a capsule's powder no density is recorded.
    let powder = formula("powder", MOUTH, "food", &[("dried thyme herb", "10 g")]);
    let powder = evaluated(&clinic.ilse, &with(powder, "serving", json!({ "amount": "1 tsp" }))).await;
    let missing = figure(&powder, "serving")["unknown"].as_str().unwrap().to_owned();
    assert!(missing.contains("density of dried thyme herb"), "{missing}");
    for wrong in ["a cup", "0 mL", "two", "-1 g"] {
        let content = with(tincture.clone(), "serving", json!({ "amount": wrong }));
        let refused = clinic.ilse.post("/v1/evaluations", json!({ "content": content })).await;
        refused.fields(&["/content/serving/amount"]);
    }
    clinic.stop().await;
}

/// Syrup USP: 850 g of sucrose and water to make a litre, of specific gravity 1.313 at 25 °C, which is 1309 g.
#[tokio::test(flavor = "multi_thread")]
async fn a_syrup_is_weighed_by_its_sugar() {
    let clinic = TeachingClinic::start().await;
    let lines = [("sucrose", "850 g"), ("purified water", "q.s. 1000 mL")];
    let syrup = with(formula("syrup", MOUTH, "food", &lines), "serving", json!({ "amount": "10 mL" }));
    let found = evaluated(&clinic.ilse, &syrup).await;
    near(number(figure(&found, "product")), 1309.1, 1.0);
    near(number(figure(&found, "serving")), 13.09, 0.02);
    // Loose sugar by the cup is not weighed by that.
    let lines = [("sucrose", "1 cup"), ("purified water", "100 g")];
    let loose = evaluated(&clinic.ilse, &formula("syrup", MOUTH, "food", &lines)).await;
    assert!(line(&loose, 0)["mass"]["unknown"].as_str().unwrap().contains("density of sucrose"));
    clinic.stop().await;
}

/// By hand: 1000 g of water go in, 500 g come out and 50 g stay in the marc of 50 g of bark, so that 450 g boiled off. What
/// cannot leave is then in 550 g.
#[tokio::test(flavor = "multi_thread")]
async fn a_decoction_is_as_strong_as_it_was_boiled_down_and_its_limits_are_judged_so() {
    let clinic = TeachingClinic::start().await;
    let decoction = |yields: &str| {
        let lines = [("dried oak bark", "50 g"), ("sodium benzoate", "5 g"), ("purified water", "995 g")];
        with(formula("decoction", SKIN, "cosmetic", &lines), "yield", json!(yields))
    };
    let limit = |evaluation: &Value| {
        let limits = evaluation["limits"].as_array().unwrap();
        let one = limits.iter().find(|one| one["subject"].as_str().unwrap().contains("benz"));
        one.unwrap_or_else(|| panic!("no limit of benzoate in {evaluation}"))["outcome"].clone()
    };
    // 0.5 % of sodium benzoate are 0.42 % as acid, within 0.5 % (Regulation 1223/2009, Annex V/1); 0.91 % are 0.77 %.
    let whole = evaluated(&clinic.ilse, &decoction("950 g")).await;
    near(share(&whole, "sodium benzoate"), 0.005, 1e-9);
    assert_eq!(limit(&whole), "within");
    let down = evaluated(&clinic.ilse, &decoction("500 g")).await;
    near(number(figure(&down, "boiled off")), 450.0, 1e-6);
    near(share(&down, "sodium benzoate"), 5.0 / 550.0, 1e-9);
    assert_eq!(limit(&down), "exceeded");
    near(number(figure(&down, "dried herb per gram: dried oak bark")), 50_000.0 / 550.0, 1e-3);

    // A litre of it weighs what water with the salt weighs; less than what cannot boil off is refused.
    let by_volume = evaluated(&clinic.ilse, &decoction("0.5 L")).await;
    assert!(
        figure(&by_volume, "product")["unknown"].is_string() || number(figure(&by_volume, "product")) > 498.0
    );
    let lines = [("dried oak bark", "50 g"), ("glycerol", "400 g"), ("purified water", "600 g")];
    let dry = with(formula("decoction", SKIN, "cosmetic", &lines), "yield", json!("300 g"));
    let refused = clinic.ilse.post("/v1/evaluations", json!({ "content": dry })).await;
    let refused = refused.fields(&["/content/yield"]);
    assert!(refused.text.contains("350 g cannot evaporate"), "{}", refused.text);

    // What is kept of it when it is approved, and what a syrup takes from it.
    let revision = ready(&clinic, with(decoction("500 g"), "title", json!("Oak bark, boiled down"))).await;
    let recipe =
        clinic.noor.get(&format!("/v1/revisions/{revision}/recipe?mass=1%20kg")).await.expect(200).json;
    near(number(figure(&recipe, "water")), 545.0 / 550.0, 1e-6);
    // 1050 g go into the pot for 500 g.
    near(number(figure(&recipe, "made before losses")), 1000.0, 1.0);
    near(number(figure(&recipe, "to weigh in all")), 2100.0, 1.0);
    clinic.stop().await;
}
