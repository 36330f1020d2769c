//! Peppermint oil and small children.

use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::{SKIN, asked_for, formula};

fn keys(answer: &serde_json::Value) -> Vec<&str> {
    answer["meant_for_it"]
        .as_array()
        .unwrap()
        .iter()
        .map(|caution| caution["key"].as_str().unwrap())
        .collect()
}

/// HMPC monograph on peppermint oil, Rev. 1 of 2020, section 4.3 (read in a copy): not under two years. PMC7997686, table
/// 3: never on or near the face of infants and children.
#[tokio::test(flavor = "multi_thread")]
async fn a_chest_rub_with_peppermint_oil_is_not_for_a_toddler() {
    let clinic = TeachingClinic::start().await;
    let lines = [("peppermint oil", "1 g"), ("yellow beeswax", "19 g"), ("olive oil", "80 g")];
    let rub = clinic.approved(formula("Peppermint rub", "balm", SKIN, "herbal_medicine", &lines)).await;
    clinic.ilse.acknowledge(&rub).await.expect(201);
    let lines = [("lavender oil", "1 g"), ("yellow beeswax", "19 g"), ("olive oil", "80 g")];
    let mild = clinic.approved(formula("Lavender rub", "balm", SKIN, "herbal_medicine", &lines)).await;
    // Thinned out inside another formula it is still not for that child.
    let lines = [("[Peppermint rub]", "5 g"), ("shea butter", "95 g")];
    let thin = clinic.approved(formula("Thin rub", "balm", SKIN, "herbal_medicine", &lines)).await;

    for revision in [&rub, &thin] {
        let child = asked_for(&clinic.noor, revision, "age:23m").await;
        assert_eq!(child["suitability"], "not_suitable");
        assert_eq!(keys(&child)[..2], ["menthol-face-child", "menthol-toddler"], "{child}");
        let statuses = [&child["meant_for_it"][0]["status"], &child["meant_for_it"][1]["status"]];
        assert_eq!(statuses, ["verified", "secondary"], "how far each was checked is told: {child}");
    }
    let path = &asked_for(&clinic.noor, &thin, "age:23m").await["meant_for_it"][0]["origins"];
    assert_eq!(*path, json!(["Peppermint rub > peppermint oil > contains menthol"]));
    // The face stays out of bounds when the toddler has outgrown the other.
    let older = asked_for(&clinic.noor, &rub, "age:24m").await;
    assert!(
        !keys(&older).contains(&"menthol-toddler") && keys(&older).contains(&"menthol-face-child"),
        "{older}"
    );
    let grown = asked_for(&clinic.noor, &rub, "age:6").await;
    assert_ne!(grown["suitability"], "not_suitable", "{grown}");
    // Lavender holds no menthol; no essential oil at all is for the newborn.
    assert_ne!(asked_for(&clinic.noor, &mild, "age:2").await["suitability"], "not_suitable");
    assert_eq!(asked_for(&clinic.noor, &mild, "age:2m").await["suitability"], "not_suitable");
    clinic.stop().await;
}
