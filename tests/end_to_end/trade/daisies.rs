//! An allergy to the daisy family: what carries it, through every level, and what does not.

use serde_json::json;
use stillroom_tests::TeachingClinic;

use super::{SKIN, acknowledge_all_but, asked_for, caution, formula};
use crate::formulas::{cream, infused_oil};

const ASTERACEAE: &str = "allergy:asteraceae";

/// HMPC monograph on calendula flower, contraindications: hypersensitivity to plants of the Asteraceae (Compositae).
#[tokio::test(flavor = "multi_thread")]
async fn whoever_makes_a_calendula_cream_acknowledges_the_daisy_allergy_on_its_own() {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let inner = clinic.approved(cream()).await;
    clinic.ilse.acknowledge(&inner).await.expect(201);
    // Three levels: a lotion of the cream of the oil, and a daisy of its own.
    let lines =
        [("[Calendula cream]", "200 g"), ("dried chamomile flower", "1 g"), ("purified water", "800 g")];
    let revision = clinic.approved(formula("Thin cream", "lotion", SKIN, "cosmetic", &lines)).await;

    let daisy = caution(&clinic.noor, &revision, "allergy-asteraceae").await.unwrap();
    assert_eq!(daisy["level"], "contraindication");
    assert_eq!(daisy["status"], "secondary");
    let why = "allergy group daisy family (Asteraceae)";
    let paths = [
        format!("Calendula cream > Infused oil of calendula > dried calendula flower > {why}"),
        format!("dried chamomile flower > {why}"),
    ];
    assert_eq!(daisy["origins"], json!(paths), "one caution with every path");
    assert_eq!(asked_for(&clinic.noor, &revision, ASTERACEAE).await["suitability"], "not_suitable");

    acknowledge_all_but(&clinic.noor, &revision, "allergy-asteraceae").await.fields(&["/contraindications"]);
    clinic.noor.acknowledge(&revision).await.expect(201);
    clinic.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    let label = clinic.noor.get(&format!("/v1/revisions/{revision}/label")).await.expect(200).json;
    let group =
        label["warnings"].as_array().unwrap().iter().find(|group| group["audiences"] == json!([ASTERACEAE]));
    assert_eq!(group.unwrap()["heading"], "Allergy: daisy family (Asteraceae)");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_distilled_daisy_carries_the_allergy_and_the_pressed_oil_of_one_does_not() {
    let clinic = TeachingClinic::start().await;
    for (title, lines, suitability) in [
        ("Roman chamomile balm", [("Roman chamomile oil", "0.2 g"), ("olive oil", "99.8 g")], "not_suitable"),
        ("Chamomile toner", [("chamomile water", "60 g"), ("purified water", "40 g")], "not_suitable"),
        // A sunflower is a daisy; its pressed oil holds no protein to speak of and is not counted among them.
        ("Sunflower salve", [("sunflower oil", "85 g"), ("candelilla wax", "15 g")], "nothing_recorded"),
    ] {
        let revision = clinic.approved(formula(title, "balm", SKIN, "cosmetic", &lines)).await;
        let answer = asked_for(&clinic.noor, &revision, ASTERACEAE).await;
        assert_eq!(answer["suitability"], suitability, "{title}: {answer}");
        // The answer says that the absence of a caution does not mean safety.
        let safe = answer["sentence"].as_str().unwrap().contains("does not mean it is safe");
        assert_eq!(safe, suitability == "nothing_recorded", "{answer}");
    }
    clinic.stop().await;
}
