//! Spirit and water in formulas: one strength, one volume, and bottles that are full; and the water of every solution.

use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::{evaluated, figure, formula, near, number, ready, share, with};

const SKIN: &str = "on intact skin, leave-on";
const MOUTH: &str = "by mouth";

/// By OIML R 22 500 mL of 96 % and 500 mL of water weigh 902.8 g and fill 969.6 mL, not a litre; 480 mL of ethanol in
/// them are 49.5 % by volume.
#[tokio::test(flavor = "multi_thread")]
async fn spirit_and_water_in_a_formula_are_what_the_calculator_says() {
    let clinic = TeachingClinic::start().await;
    let streams = json!({ "mixture": { "streams": [
        { "amount": "500 mL", "strength": "96 %" }, { "amount": "500 mL", "strength": "0 %" } ] } });
    let calculated = clinic.noor.post("/v1/calculations/alcohol", streams).await.expect(200).json;
    let lines = [("ethanol 96 %", "500 mL"), ("purified water", "500 mL")];
    let content = formula("liniment", SKIN, "teaching_only", &lines);
    let evaluation = evaluated(&clinic.ilse, &content).await;
    let (volume, mass) = (number(figure(&evaluation, "volume")), number(figure(&evaluation, "product")));
    near(volume, 969.61, 0.02);
    near(mass, 902.81, 0.02);
    near(volume, number(figure(&calculated, "volume")), 0.02);
    let strength = number(figure(&evaluation, "alcohol by volume"));
    near(strength, 480.0 / 969.61, 0.0001);
    assert_eq!(
        figure(&evaluation, "alcohol by volume")["value"],
        figure(&evaluation, "alcohol of the watery part")["value"],
        "one strength in one answer"
    );
    // What is not ethanol is water.
    near(number(figure(&evaluation, "water")) + number(figure(&evaluation, "alcohol by mass")), 1.0, 1e-9);

    // Nine bottles of 100 mL: the recipe weighs what fills them.
    let revision = ready(&clinic, content).await;
    let path = format!("/v1/revisions/{revision}/recipe?containers=9&fill=100%20mL");
    let recipe = clinic.noor.get(&path).await.expect(200).json;
    near(number(&recipe["total"]), 900.0 * mass / volume, 0.01);
    clinic.stop().await;
}

/// What is made up to a volume fills it: 416.7 mL of 96 % make a litre of 40 %, with 612.7 mL of water beside them.
#[tokio::test(flavor = "multi_thread")]
async fn what_is_made_up_to_a_volume_takes_the_water_that_contraction_leaves_room_for() {
    let clinic = TeachingClinic::start().await;
    let lines = [("ethanol 96 %", "416.667 mL"), ("purified water", "q.s. 1000 mL")];
    let evaluation = evaluated(&clinic.ilse, &formula("liniment", SKIN, "teaching_only", &lines)).await;
    let water = number(&evaluation["phases"][0]["lines"][1]["mass"]);
    near(water, 612.72 * 0.9982, 0.1);
    near(number(figure(&evaluation, "volume")), 1000.0, 1e-6);
    near(number(figure(&evaluation, "alcohol by volume")), 0.4, 0.00002);
    clinic.stop().await;
}

/// Vinegar is 93 to 95 % water, honey 17 to 18 % (from memory); the rest of a spirit is water.
#[tokio::test(flavor = "multi_thread")]
async fn solutions_bring_their_water_to_the_watery_phase() {
    let clinic = TeachingClinic::start().await;
    let of = async |lines: &[(&str, &str)]| {
        let content = formula("lotion", SKIN, "cosmetic", lines);
        let evaluation = evaluated(&clinic.ilse, &content).await;
        assert!(!evaluation["preservation"].is_null(), "it is watery: {evaluation}");
        number(figure(&evaluation, "water"))
    };
    near(of(&[("cider vinegar", "50 g"), ("olive oil", "50 g")]).await, 0.47, 1e-9);
    near(of(&[("honey", "100 g")]).await, 0.175, 1e-9);
    near(of(&[("ethanol 40 %", "100 g")]).await, 1.0 - 0.3330, 0.0001);
    near(of(&[("rose water", "10 g"), ("olive oil", "90 g")]).await, 0.1, 1e-9);
    // An emulsion of tincture and oil has a watery phase of its own.
    let lines = [("ethanol 40 %", "40 g"), ("olive oil", "50 g"), ("emulsifying wax", "10 g")];
    let evaluation = evaluated(&clinic.ilse, &formula("cream", SKIN, "cosmetic", &lines)).await;
    assert!(!evaluation["emulsion"].is_null(), "{evaluation}");
    near(number(figure(&evaluation, "oil to water")), 0.5 / (0.4 * 0.667), 0.001);
    clinic.stop().await;
}

/// 100 g of herb to 500 mL of 45 %: the menstruum keeps its strength, as a formula and nested in another.
#[tokio::test(flavor = "multi_thread")]
async fn a_tincture_of_one_to_five_keeps_its_strength_wherever_it_goes() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried thyme herb", "100 g"), ("ethanol 45 %", "500 mL")];
    let tincture =
        with(formula("tincture", MOUTH, "herbal_medicine", &lines), "title", json!("Tincture of thyme"));
    let tincture = with(tincture, "yield", json!("400 mL"));
    let evaluation = evaluated(&clinic.ilse, &tincture).await;
    near(number(figure(&evaluation, "alcohol by volume")), 0.45, 0.0001);
    near(number(figure(&evaluation, "volume")), 400.0, 0.001);
    let revision = clinic.approved(tincture).await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let mut mixture = formula("liniment", MOUTH, "herbal_medicine", &[("purified water", "100 mL")]);
    let nested = json!({ "formula": "Tincture of thyme", "amount": "100 mL" });
    mixture["phases"][0]["lines"].as_array_mut().unwrap().push(nested);
    let evaluation = evaluated(&clinic.ilse, &mixture).await;
    // 45 mL of ethanol in less than 200 mL.
    let volume = number(figure(&evaluation, "volume"));
    assert!(volume < 199.7, "{volume}");
    near(number(figure(&evaluation, "alcohol by volume")), 45.0 / volume, 0.0002);
    near(share(&evaluation, "ethanol 45 %") + share(&evaluation, "purified water"), 1.0, 1e-9);
    clinic.stop().await;
}
