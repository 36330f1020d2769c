//! A fresh herb brings its own water.

use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::{evaluated, formula};

#[tokio::test(flavor = "multi_thread")]
async fn the_water_of_a_fresh_herb_thins_its_tincture_and_the_label_calls_it_water() {
    let clinic = TeachingClinic::start().await;
    let lines = [("fresh purple coneflower herb", "500 g"), ("ethanol 96 %", "500 g")];
    let fresh = formula("Fresh tincture", "tincture", "by mouth", "herbal_medicine", &lines);
    let evaluation = evaluated(&clinic.ilse, fresh.clone()).await;
    let composition = evaluation["composition"].as_array().unwrap();
    let share = |name: &str| -> f64 {
        let found = composition.iter().find(|part| part["name"] == name);
        found.unwrap_or_else(|| panic!("no {name} in {composition:?}"))["share"]["value"]
            .as_str()
            .unwrap()
            .parse()
            .unwrap()
    };
    let water = share("water of fresh purple coneflower herb");
    assert!((water + share("ethanol 96 %") - 1.0).abs() < 1e-9, "nothing else is in it");
    // More than half of a fresh herb is water, whichever it is: the spirit is thinned by a third and more.
    assert!(water > 0.3, "{water}");
    let strength =
        evaluation["figures"].as_array().unwrap().iter().find(|it| it["name"] == "alcohol by volume");
    let strength: f64 = strength.unwrap()["value"].as_str().unwrap().parse().unwrap();
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
