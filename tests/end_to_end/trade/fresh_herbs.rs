//! A fresh herb brings its own water.

use materia::{Materia, Measured};
use rust_decimal::{Decimal, prelude::ToPrimitive};
use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, asked_for, evaluated, formula, outcome};

#[tokio::test(flavor = "multi_thread")]
async fn the_water_of_a_fresh_herb_thins_its_tincture_and_the_label_calls_it_water() {
    let clinic = TeachingClinic::start().await;
    let lines = [("fresh purple coneflower herb", "500 g"), ("ethanol 96 %", "500 g")];
    let fresh = formula("Fresh tincture", "tincture", "by mouth", "herbal_medicine", &lines);
    let evaluation = evaluated(&clinic.ilse, fresh.clone()).await;
    let composition = evaluation["composition"].as_array().unwrap();
    let share = |name: &str| -> f64 {
        let found = composition.iter().find(|part| part["name"] == name);
        stillroom_tests::figures::number(
            &found.unwrap_or_else(|| panic!("no {name} in {composition:?}"))["share"],
        )
    };
    let water = share("water of fresh purple coneflower herb");
    assert!((water + share("ethanol 96 %") - 1.0).abs() < 1e-9, "nothing else is in it");
    // More than half of a fresh herb is water, whichever it is: the spirit is thinned by a third and more.
    assert!(water > 0.3, "{water}");
    let strength =
        evaluation["figures"].as_array().unwrap().iter().find(|it| it["name"] == "alcohol by volume");
    let strength = stillroom_tests::figures::number(strength.unwrap());
    assert!((0.3..0.75).contains(&strength), "{strength}");

    let revision = clinic.approved(fresh).await;
    let label = clinic.noor.get(&format!("/v1/revisions/{revision}/label")).await.expect(200).json;
    let items = label["ingredients"]["items"].as_array().unwrap();
    let water = items.iter().find(|item| item["name"] == "water of fresh purple coneflower herb").unwrap();
    assert_eq!(water["inci"], "Aqua");
    let herb = items.last().unwrap();
    assert_eq!((&herb["name"], &herb["drawn_out"]), (&json!("fresh purple coneflower herb"), &json!(true)));
    clinic.stop().await;
}

/// Water of calendula flowers, fresh and once dried, per cent by mass as the reference data have it: remembered figures,
/// which no test may rest on, so the sums below hold whatever they are.
struct Waters {
    fresh: Measured,
    dried: Measured,
}

impl Waters {
    fn of_calendula() -> Self {
        let materia = Materia::embedded().unwrap();
        let flower = materia.material("calendula-flower-fresh").unwrap();
        let [fresh, dried] = [&flower.water_content_fresh, &flower.water_content_dried]
            .map(|water| water.clone().expect("a fresh herb needs its waters"));
        Self { fresh, dried }
    }
}

/// What a gram of fresh flowers weighs once dried, by its water before and after: the solids stay.
fn dried_gram(fresh: Decimal, dried: Decimal) -> f64 {
    let solids = |water: Decimal| 1.0 - water.to_f64().unwrap() / 100.0;
    solids(fresh) / solids(dried)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_fresh_herb_counts_as_what_it_would_weigh_dried() {
    let clinic = TeachingClinic::start().await;
    let lines = [("fresh calendula flower", "200 g"), ("olive oil", "1000 g")];
    let mut oil = formula("Oil of fresh flowers", "infused oil", SKIN, "cosmetic", &lines);
    oil["yield"] = json!("1000 g");
    let herb = "dried herb per gram: fresh calendula flower";
    let per_gram = |evaluation: &Value| {
        let found = evaluation["figures"].as_array().unwrap().iter().find(|it| it["name"] == herb).unwrap();
        (stillroom_tests::figures::number(found), found.to_string())
    };
    let waters = Waters::of_calendula();
    // 200 g in 1000 g of oil: 200 mg of fresh flowers a gram.
    let expected = 200.0 * dried_gram(waters.fresh.value, waters.dried.value);
    let (mass, why) = per_gram(&evaluated(&clinic.ilse, oil.clone()).await);
    assert!((mass - expected).abs() < 0.001, "{mass} and not {expected}");
    for water in [&waters.fresh, &waters.dried] {
        assert!(why.contains(&water.source.text), "both waters say where they are from: {why}");
    }

    // And through the next level: a quarter of the ointment is that oil.
    let revision = clinic.approved(oil).await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let lines = [("[Oil of fresh flowers]", "250 g"), ("shea butter", "750 g")];
    let ointment = formula("Fresh flower ointment", "ointment", SKIN, "cosmetic", &lines);
    let (mass, _) = per_gram(&evaluated(&clinic.ilse, ointment).await);
    assert!((mass - expected / 4.0).abs() < 0.001, "{mass} and not a quarter of {expected}");
    clinic.stop().await;
}

// The monograph's 10 % of herb in what is spread on the skin is judged with the flowers as dry as they come: the least
// water fresh, the most once dried.
#[tokio::test(flavor = "multi_thread")]
async fn a_limit_counts_a_fresh_herb_as_dry_as_it_comes_and_together_with_the_dried() {
    let clinic = TeachingClinic::start().await;
    let waters = Waters::of_calendula();
    let driest = dried_gram(waters.fresh.low, waters.dried.high);
    assert!(
        driest > 1.1 * dried_gram(waters.fresh.value, waters.dried.value),
        "the test tells the two apart"
    );
    let ointment = async |parts: &[(&str, f64)]| {
        let rest = 1000.0 - parts.iter().map(|(_, grams)| grams).sum::<f64>();
        let grams: Vec<_> = parts.iter().map(|(name, grams)| (*name, format!("{grams:.1} g"))).collect();
        let rest = format!("{rest:.1} g");
        let mut lines: Vec<_> = grams.iter().map(|(name, grams)| (*name, grams.as_str())).collect();
        lines.push(("lanolin", &rest));
        let content = formula("Flower ointment", "ointment", SKIN, "herbal_medicine", &lines);
        let evaluation = evaluated(&clinic.ilse, content).await;
        outcome(&evaluation, "Calendula officinalis", "EU").to_owned()
    };
    // That much, as dry as it comes, is 100 g dried: a tenth of 1000 g.
    let (fresh, dried) = ("fresh calendula flower", "dried calendula flower");
    let most = 100.0 / driest;
    assert_eq!(ointment(&[(fresh, most * 0.98)]).await, "within");
    assert_eq!(ointment(&[(fresh, most * 1.02)]).await, "exceeded");
    assert_eq!(ointment(&[(fresh, most * 0.5), (dried, 48.0)]).await, "within");
    assert_eq!(ointment(&[(fresh, most * 0.5), (dried, 52.0)]).await, "exceeded");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_caution_for_everyone_that_names_an_age_counts_for_that_age() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried purple coneflower herb", "100 g"), ("ethanol 70 %", "500 g")];
    let revision = clinic
        .approved(formula("Coneflower tincture", "tincture", "by mouth", "herbal_medicine", &lines))
        .await;
    let names_twelve = |texts: &Value| texts.to_string().contains("under 12 years");
    let child = asked_for(&clinic.noor, &revision, "age:11").await;
    assert!(names_twelve(&child["meant_for_it"]), "{child}");
    assert!(!names_twelve(&child["meant_for_everyone"]), "said once");
    let adult = asked_for(&clinic.noor, &revision, "age:40").await;
    assert!(!names_twelve(&adult["meant_for_it"]), "{adult}");
    clinic.stop().await;
}
