//! Methyl eugenol out of three oils, summed.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, evaluated, formula, outcome};

/// The most of it that the data give: 3.5 % in rose oil, 0.2 % in clove and in lemongrass oil. These ranges are
/// remembered; what is checked is that they are counted at their top and added up.
fn blend(rose: &str, clove: &str, lemongrass: &str) -> Value {
    let mut lines = Vec::new();
    for (oil, amount) in [("rose oil", rose), ("clove oil", clove), ("lemongrass oil", lemongrass)] {
        if amount != "none" {
            lines.push((oil, amount));
        }
    }
    lines.push(("almond oil", "q.s. 1000 g"));
    formula("Blend", "liniment", SKIN, "cosmetic", &lines)
}

/// Regulation (EC) 1223/2009, Annex III entry 102: at most 0.0002 % in other leave-on products, 0.001 % in rinse-off
/// ones. By hand: 0.002 % of rose oil bring 0.00007 %, 0.035 % of clove oil the same, 0.03 % of lemongrass oil
/// 0.00006 %: together 0.0002 %, which is allowed.
#[tokio::test(flavor = "multi_thread")]
async fn three_oils_that_are_each_within_the_limit_are_past_it_together() {
    let clinic = TeachingClinic::start().await;
    let judged = async |content: Value| {
        let evaluation = evaluated(&clinic.ilse, content).await;
        let of = evaluation["limits"].as_array().unwrap().iter().find(|it| it["subject"] == "methyl eugenol");
        (outcome(&evaluation, "methyl eugenol", "EU").to_owned(), of.unwrap().clone())
    };
    for alone in
        [blend("0.003 %", "none", "none"), blend("none", "0.04 %", "none"), blend("none", "none", "0.04 %")]
    {
        assert_eq!(judged(alone).await.0, "within");
    }
    let (exactly, limit) = judged(blend("0.002 %", "0.035 %", "0.03 %")).await;
    assert_eq!(exactly, "within", "the limit itself is allowed: {limit}");
    assert_eq!(limit["of_limit"]["value"], "1");
    assert_eq!(limit["share"]["value"], "0.0002");
    let (past, limit) = judged(blend("0.003 %", "0.04 %", "0.04 %")).await;
    assert_eq!(past, "exceeded");
    // 0.000105 % and twice 0.00008 % are 0.000265 %.
    assert_eq!(limit["share"]["value"], "0.000265");
    assert_eq!((&limit["force"], &limit["source"]["status"]), (&json!("law"), &json!("secondary")));
    assert_eq!(
        limit["would_pass"].as_array().unwrap().len(),
        3,
        "what of each oil would still pass: {limit}"
    );

    // Washed off, five times as much is allowed.
    let mut washed = blend("0.003 %", "0.04 %", "0.04 %");
    washed["route"] = json!("on intact skin, rinse-off");
    assert_eq!(judged(washed).await.0, "within");
    clinic.stop().await;
}

/// The same three, brought in by two formulas of which neither passes the limit.
#[tokio::test(flavor = "multi_thread")]
async fn what_nested_formulas_bring_is_summed_with_the_rest() {
    let clinic = TeachingClinic::start().await;
    let scented = blend("0.003 %", "0.04 %", "none");
    let mut scented_oil = scented;
    scented_oil["title"] = json!("Scented oil");
    let oil = clinic.approved(scented_oil).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let with = |lemongrass: &str| {
        let lines =
            [("[Scented oil]", "900 g"), ("lemongrass oil", lemongrass), ("jojoba oil", "q.s. 1000 g")];
        formula("Outer", "liniment", SKIN, "cosmetic", &lines)
    };
    // Nine tenths of 0.000185 % are 0.0001665 %; 0.0167 % of lemongrass oil bring 0.0000334 %, 0.0168 % 0.0000336 %.
    for (lemongrass, expected) in [("0.0167 %", "within"), ("0.0168 %", "exceeded")] {
        let evaluation = evaluated(&clinic.ilse, with(lemongrass)).await;
        assert_eq!(outcome(&evaluation, "methyl eugenol", "EU"), expected, "{lemongrass}");
    }
    clinic.stop().await;
}
