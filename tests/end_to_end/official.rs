//! Official and household formulas as real input, through HTTP. The source stands beside each check.

use serde_json::{Value, json};
use stillroom_tests::{Answer, TeachingClinic};

/// Whether two numbers are within this of each other.
#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not within {within} of {expected}");
}

/// The value of a figure.
#[track_caller]
fn value(figure: &Value) -> f64 {
    stillroom_tests::figures::number(figure)
}

/// The figure of this name.
#[track_caller]
fn figure<'a>(figures: &'a Value, name: &str) -> &'a Value {
    let found = figures.as_array().unwrap().iter().find(|figure| figure["name"] == name);
    found.unwrap_or_else(|| panic!("no figure {name:?} in {figures:#}"))
}

/// The lines of an evaluation or a recipe, in their order.
fn lines(phases: &Value) -> Vec<&Value> {
    phases.as_array().unwrap().iter().flat_map(|phase| phase["lines"].as_array().unwrap()).collect()
}

/// An input of a figure.
#[track_caller]
fn input<'a>(figure: &'a Value, name: &str) -> &'a Value {
    let found = figure["inputs"].as_array().unwrap().iter().find(|input| input["name"] == name);
    found.unwrap_or_else(|| panic!("no input {name:?} in {figure:#}"))
}

async fn evaluated(house: &TeachingClinic, content: &Value) -> Answer {
    house.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(200)
}

/// Rose Water Ointment, USP 30-NF 25, page 3147: amounts, temperatures, "to make about 1000 g", container.
fn rose_water_ointment(regime: &str) -> Value {
    json!({
        "title": format!("Rose Water Ointment as {regime}"), "preparation": "ointment",
        "route": "on intact skin, leave-on", "regime": regime, "yield": "about 1000 g",
        "phases": [
            { "name": "oil phase", "lines": [
                { "material": "cetyl esters wax", "amount": "125 g", "function": "stiffening agent" },
                { "material": "white wax", "amount": "120 g", "function": "stiffening agent" },
                { "material": "almond oil", "amount": "560 g", "function": "vehicle" } ] },
            { "name": "water phase", "lines": [
                { "material": "sodium borate", "amount": "5.0 g", "function": "alkali" },
                { "material": "stronger rose water", "amount": "25 mL", "function": "vehicle" },
                { "material": "purified water", "amount": "165 mL", "function": "vehicle" } ] },
            { "name": "cool-down phase", "lines": [
                { "material": "rose oil", "amount": "200 uL", "function": "fragrance" } ] } ],
        "method": [
            { "do": "Melt the waxes in small pieces on a steam bath, add the oil and heat", "phase": "oil phase", "temperature": "70 C" },
            { "do": "Dissolve the borate in the waters and warm them", "phase": "water phase", "temperature": "70 C" },
            { "do": "Add the watery phase by and by, stirring fast, until it has cooled", "temperature": "45 C at most", "hold": true },
            { "do": "Work in the rose oil", "phase": "cool-down phase" } ],
        "label": { "container": "tight, light-resistant jar" }
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn rose_water_ointment_comes_to_its_thousand_grams_by_densities_that_name_their_source() {
    let house = TeachingClinic::start().await;
    let evaluation = evaluated(&house, &rose_water_ointment("teaching_only")).await;
    // USP 30-NF 25, page 3147: "to make about 1000 g".
    near(value(&evaluation.json["total"]), 1000.0, 10.0);
    near(value(figure(&evaluation.json["figures"], "against the stated yield")), 1.0, 0.01);
    assert_eq!(evaluation.json["unknown"], json!([]));

    let lines = lines(&evaluation.json["phases"]);
    let mut total = 0.0;
    for (name, amount, grams, within) in [
        ("cetyl esters wax", "125 g", 125.0, 0.0),
        ("white beeswax", "120 g", 120.0, 0.0),
        ("almond oil", "560 g", 560.0, 0.0),
        ("sodium borate", "5.0 g", 5.0, 0.0),
        // 25 mL of what is water but for a trace; the density of water at 20 C is 0.9982 g/mL (Metrologia 38, 301).
        ("stronger rose water", "25 mL", 25.0 * 0.9982, 0.01),
        // 165 mL at 0.998207 g/mL (M. Tanaka and others, Metrologia 38 (2001) 301): 164.704155 g.
        ("purified water", "165 mL", 164.704_155, 1e-9),
        // 0.2 mL of an oil lighter than water: between 0.16 and 0.2 g whatever its density.
        ("rose oil", "200 uL", 0.18, 0.02),
    ] {
        let line = lines.iter().find(|line| line["name"] == name).unwrap_or_else(|| panic!("no {name}"));
        near(value(&line["mass"]), grams, within);
        assert_eq!(input(&line["mass"], "amount")["value"], amount, "what was typed is kept");
        if amount.ends_with('L') {
            let density = input(&line["mass"], "density");
            assert_eq!(density["unit"], "g/mL");
            let source = density["source"]["text"].as_str().unwrap();
            assert!(source.contains("g/mL"), "the source says what was published: {source}");
            assert!(
                ["verified", "secondary", "from memory"]
                    .contains(&density["source"]["status"].as_str().unwrap()),
                "{density}"
            );
        }
        total += value(&line["mass"]);
    }
    near(value(&evaluation.json["total"]), total, 1e-6);
    let water = lines.iter().find(|line| line["name"] == "purified water").unwrap();
    let density = input(&water["mass"], "density");
    assert_eq!(density["exact"], "0.998207");
    assert!(density["source"]["text"].as_str().unwrap().contains("Metrologia 38 (2001) 301"), "{density}");
    assert_eq!(density["source"]["status"], "verified");
    // Whoever relies on a remembered density sees that it is one.
    let rose = lines.iter().find(|line| line["name"] == "rose oil").unwrap();
    assert_eq!(input(&rose["mass"], "density")["source"]["status"], "from memory");
    house.stop().await;
}

/// Cautions that name the prohibition: Regulation (EC) No 1223/2009, Annex II, entry 1396.
fn of_the_prohibition(cautions: &Value) -> Vec<&Value> {
    cautions["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|caution| {
            let source = caution["source"].as_str().unwrap();
            source.contains("1223/2009") && source.contains("Annex II,") && source.contains("entry 1396")
        })
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn borax_stops_the_ointment_as_a_cosmetic_and_leaves_it_to_teaching() {
    let house = TeachingClinic::start().await;
    let cosmetic = house.clinic.proposed(&house.ilse, &house.library, rose_water_ointment("cosmetic")).await;
    let set = house.marek.get(&format!("/v1/revisions/{cosmetic}/cautions")).await.expect(200);
    let named = of_the_prohibition(&set.json);
    let stop = named.iter().find(|caution| caution["level"] == "stop").expect("a stop");
    assert_eq!(stop["origins"], json!(["sodium borate"]));
    assert_eq!(stop["status"], "secondary");
    assert!(stop["text"].as_str().unwrap().contains("prohibited in cosmetic products in EU"), "{stop}");

    // Acknowledging it is not resolving it.
    house.marek.acknowledge(&cosmetic).await.expect(201);
    let decision = format!("/v1/revisions/{cosmetic}/decision");
    let refused =
        house.marek.post(&decision, json!({ "decision": "approve" })).await.problem(409, "wrong-state");
    let detail = refused.text_at("/detail");
    assert!(detail.contains("entry 1396") && detail.contains("stop"), "{detail}");
    house.marek.get(&format!("/v1/revisions/{cosmetic}")).await.expect(200);
    let state = house.marek.get(&format!("/v1/revisions/{cosmetic}")).await.expect(200).text_at("/state");
    assert_eq!(state, "proposed");

    // For teaching only it is approved, still says so, and what is made of it is never released.
    let teaching = house.approved(rose_water_ointment("teaching_only")).await;
    let set = house.noor.get(&format!("/v1/revisions/{teaching}/cautions")).await.expect(200);
    let named = of_the_prohibition(&set.json);
    assert!(!named.is_empty() && named.iter().all(|caution| caution["level"] == "caution"), "{named:#?}");
    assert!(named.iter().any(|caution| caution["text"].as_str().unwrap().contains("EU")), "{named:#?}");
    house.noor.acknowledge(&teaching).await.expect(201);
    let batch = house.noor.post("/v1/batches", json!({ "revision": teaching })).await.expect(201);
    assert_eq!(batch.json["disposition"], "practice_only");
    assert_eq!(batch.json["recipe"]["regime"], "teaching_only");
    house.stop().await;
}

/// Rose Water Ointment of the USP of about 1890 to 1910, as reprinted in the U.S. Dispensatory: grams, and beside them
/// the avoirdupois ounces and grains that the book prints.
const AVOIRDUPOIS: [(&str, f64, &str); 5] = [
    ("spermaceti", 125.0, "4 oz av. 179 gr"),
    ("white wax", 120.0, "4 oz av. 102 gr"),
    ("almond oil", 560.0, "19 oz av. 330 gr"),
    ("sodium borate", 5.0, "77 gr"),
    ("stronger rose water", 190.0, "6 oz av. 307 gr"),
];

/// The columns are rounded to the grain, 64.79891 mg exactly (NIST unit tables): they agree to half of one.
const HALF_A_GRAIN: f64 = 0.064_798_91 / 2.0;

#[tokio::test(flavor = "multi_thread")]
async fn the_old_avoirdupois_columns_agree_with_the_grams_to_half_a_grain() {
    let house = TeachingClinic::start().await;
    let of = |amounts: Vec<Value>| {
        json!({
            "title": "Rose Water Ointment of old", "preparation": "ointment", "route": "on intact skin, leave-on",
            "regime": "teaching_only", "phases": [{ "name": "all", "lines": amounts }],
            "method": [{ "do": "Melt, warm, mix and stir until cold" }],
        })
    };
    let ounces: Vec<Value> =
        AVOIRDUPOIS.iter().map(|(name, _, amount)| json!({ "material": name, "amount": amount })).collect();
    let evaluation = evaluated(&house, &of(ounces)).await;
    let found = lines(&evaluation.json["phases"]);
    assert_eq!(found.len(), AVOIRDUPOIS.len());
    for ((_, grams, amount), line) in AVOIRDUPOIS.iter().zip(&found) {
        near(value(&line["mass"]), *grams, HALF_A_GRAIN);
        assert_eq!(input(&line["mass"], "amount")["value"], *amount);
    }
    // The book's sum: about 1000 g, 35 oz av. 120 gr.
    let total = value(&evaluation.json["total"]);
    let whole =
        evaluated(&house, &of(vec![json!({ "material": "white wax", "amount": "35 oz av. 120 gr" })])).await;
    near(value(&whole.json["total"]), 1000.0, HALF_A_GRAIN);
    // Five roundings of half a grain each.
    near(total, 1000.0, 5.0 * HALF_A_GRAIN);
    house.stop().await;
}

/// The infused oil: 100 g of dried flowers in 1000 g of oil, 850 g pressed out.
fn oil() -> Value {
    crate::formulas::infused_oil()
}

/// The infusion: 30 g of dried flowers on 1000 g of water, 900 g strained.
fn infusion() -> Value {
    json!({
        "title": "Infusion of calendula", "preparation": "infusion", "route": "on intact skin, leave-on",
        "regime": "cosmetic", "yield": "900 g",
        "phases": [{ "name": "infusion", "lines": [
            { "material": "dried calendula flower", "amount": "30 g", "function": "active" },
            { "material": "purified water", "amount": "1000 g", "function": "vehicle" } ] }],
        "method": [{ "do": "Pour boiling water over the flowers, cover, let stand, strain" }],
    })
}

/// Common practice, no source: equal volumes of oil and water, one ounce of wax to one cup of oil.
fn household_cream() -> Value {
    json!({
        "title": "Household calendula cream", "preparation": "cream", "route": "on intact skin, leave-on",
        "regime": "cosmetic",
        "phases": [
            { "name": "oil phase", "lines": [
                { "formula": "Infused oil of calendula", "amount": "1 US cup", "function": "vehicle" },
                { "material": "yellow beeswax", "amount": "1 oz", "function": "stiffening agent" } ] },
            { "name": "water phase", "lines": [
                { "formula": "Infusion of calendula", "amount": "1 US cup", "function": "vehicle" } ] } ],
        "method": [
            { "do": "Melt the wax in the oil over hot water", "phase": "oil phase", "temperature": "70 C at most" },
            { "do": "Pour the infusion in a little at a time, stirring", "temperature": "60 C, phases within 5 C", "hold": true } ],
    })
}

// By hand:
//   one US cup is a sixteenth of 231 cubic inches (NIST unit tables):  3785.411784 mL / 16 = 236.5882365 mL
//   olive oil, relative density 0.913 to 0.916 at 20/20 C (Codex Stan 33), the middle:  0.9145
//   water at 20 C (Metrologia 38, 301):  0.998207 g/mL, so that the oil weighs 0.9145 x 0.998207 = 0.91286 g/mL
//   oil       236.5882365 mL x 0.91286  g/mL = 215.9719 g
//   wax       1 oz avoirdupois               =  28.3495 g
//   infusion  236.5882365 mL x 0.998207 g/mL = 236.1640 g
//   together                                   480.4855 g
const OIL: f64 = 215.9719;
const WAX: f64 = 28.3495;
const INFUSION: f64 = 236.1640;
const TOGETHER: f64 = 480.4855;
// Dried flowers:
//   the oil took up 100 g per 1000 g of oil, 100 mg/g:      215.9719 g x 100 mg/g = 21597.19 mg
//   the infusion 30 g per 1000 g of water, 30 mg/g:         236.1640 g x  30 mg/g =  7084.92 mg
//   together 28682.11 mg in 480.4855 g:                     59.694 mg of dried flowers per g of cream
const HERB_PER_GRAM: f64 = 59.694;

#[tokio::test(flavor = "multi_thread")]
async fn the_household_cream_in_cups_and_ounces_is_evaluated_and_scaled() {
    let house = TeachingClinic::start().await;
    for nested in [oil(), infusion()] {
        let revision = house.approved(nested).await;
        house.ilse.acknowledge(&revision).await.expect(201);
    }
    let evaluation = evaluated(&house, &household_cream()).await;
    let found: Vec<f64> = lines(&evaluation.json["phases"]).iter().map(|line| value(&line["mass"])).collect();
    for (found, expected) in found.iter().zip([OIL, WAX, INFUSION]) {
        near(*found, expected, 0.0001);
    }
    near(value(&evaluation.json["total"]), TOGETHER, 0.0001);
    let herb = figure(&evaluation.json["figures"], "dried herb per gram: dried calendula flower");
    assert_eq!(herb["unit"], "mg/g");
    near(value(herb), HERB_PER_GRAM, 0.001);

    // A student, who was not asked for the nested formulas' own cautions apart: the cream's set holds them all.
    let revision = house.approved(household_cream()).await;
    house.noor.acknowledge(&revision).await.expect(201);
    let worked_out = async |query: &str| {
        house
            .noor
            .get(&format!("/v1/revisions/{revision}/recipe?{query}&readability=0.1%20g"))
            .await
            .expect(200)
    };
    let weigh = |recipe: &Answer| -> Vec<f64> {
        lines(&recipe.json["phases"]).iter().map(|line| value(&line["weigh"])).collect()
    };

    // 2.5 cups of oil: everything two and a half times, to the tenth of a gram.
    let cups = worked_out("line=1.1&line_amount=2.5%20US%20cups").await;
    assert_eq!(value(figure(&cups.json["figures"], "factor")), 2.5);
    assert_eq!(weigh(&cups), [539.9, 70.9, 590.4]);
    let found = lines(&cups.json["phases"]);
    assert_eq!(
        (&found[0]["measure"]["value"], &found[0]["measure"]["unit"]),
        (&json!("2.5"), &json!("US cup"))
    );
    assert_eq!((&found[1]["measure"]["value"], &found[1]["measure"]["unit"]), (&json!("2.5"), &json!("oz")));
    // 70.8738 g were wanted (2.5 x 28.349523125): the rounding is stated.
    near(value(&found[1]["rounding"]).abs(), 0.0262, 0.0001);

    // 500 g: 500 / 480.4855 = 1.040614 times: 224.743, 29.501 and 245.756 g.
    let half_a_kilogram = worked_out("mass=500%20g").await;
    assert_eq!(weigh(&half_a_kilogram), [224.7, 29.5, 245.8]);
    near(value(&half_a_kilogram.json["total"]), 500.0, 0.15);

    // 20 jars of 50 g: 1000 g, 1000 / 480.4855 = 2.081228 times: 449.487, 59.002 and 491.511 g.
    let jars = worked_out("containers=20&fill=50%20g").await;
    assert_eq!(value(figure(&jars.json["figures"], "net")), 1000.0);
    assert_eq!(weigh(&jars), [449.5, 59.0, 491.5]);
    near(value(&jars.json["total"]), 1000.0, 0.15);

    // However much is made, a gram of it holds as much of the flowers: told to a reader of the nested formulas too.
    house.ilse.acknowledge(&revision).await.expect(201);
    for query in ["line=1.1&line_amount=2.5%20US%20cups", "mass=500%20g", "containers=20&fill=50%20g"] {
        let path = format!("/v1/revisions/{revision}/recipe?{query}&application=1%20g");
        let recipe = house.ilse.get(&path).await.expect(200);
        let herb = figure(&recipe.json["figures"], "dried herb of dried calendula flower in one application");
        assert_eq!(herb["unit"], "mg");
        near(value(herb), HERB_PER_GRAM, 0.001);
    }
    house.stop().await;
}
