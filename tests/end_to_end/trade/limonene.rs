//! Limonene at the threshold from which a cosmetic's label names it.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, evaluated, formula};

const RINSED: &str = "on intact skin, rinse-off";

/// Frankincense oil holds at most 20 % of limonene in the data. The range is remembered; what is checked is the
/// threshold of the law, strictly above which it is named.
fn scented(title: &str, route: &str, oil: &str) -> Value {
    let lines = [("frankincense oil", oil), ("almond oil", "q.s. 1000 g")];
    formula(title, "liniment", route, "cosmetic", &lines)
}

fn declared(evaluation: &Value) -> Option<bool> {
    let all = evaluation["allergens"].as_array().unwrap();
    all.iter().find(|one| one["label_name"] == "Limonene").unwrap()["declare"].as_bool()
}

/// Regulation (EC) 1223/2009, Annex III entry 88 as amended by (EU) 2023/1545: named above 0.001 % in what stays on the
/// skin and above 0.01 % in what is rinsed off. A fifth of 0.005 % is 0.001 %, of 0.05 % it is 0.01 %.
#[tokio::test(flavor = "multi_thread")]
async fn limonene_is_named_above_the_threshold_and_not_at_it() {
    let clinic = TeachingClinic::start().await;
    for (route, oil, expected) in [
        (SKIN, "0.005 %", false),
        (SKIN, "0.0050001 %", true),
        (RINSED, "0.0050001 %", false),
        (RINSED, "0.05 %", false),
        (RINSED, "0.0500001 %", true),
    ] {
        let evaluation = evaluated(&clinic.ilse, scented("Oil", route, oil)).await;
        assert_eq!(declared(&evaluation), Some(expected), "{oil} {route}");
    }
    // What is no cosmetic has no such list.
    let mut medicine = scented("Oil", SKIN, "1 %");
    medicine["regime"] = json!("herbal_medicine");
    assert_eq!(evaluated(&clinic.ilse, medicine).await["allergens"], json!([]));
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_label_names_it_in_the_one_and_not_in_the_other() {
    let clinic = TeachingClinic::start().await;
    for (title, route, oil, named) in [
        ("At it, left on", SKIN, "0.005 %", false),
        ("Above it, left on", SKIN, "0.0050001 %", true),
        ("At it, rinsed off", RINSED, "0.05 %", false),
        ("Above it, rinsed off", RINSED, "0.0500001 %", true),
    ] {
        let revision = clinic.approved(scented(title, route, oil)).await;
        let label = clinic.noor.get(&format!("/v1/revisions/{revision}/label")).await.expect(200).json;
        let names = label["allergens"].to_string();
        assert_eq!(names.contains("Limonene"), named, "{title}: {names}");
    }
    clinic.stop().await;
}
