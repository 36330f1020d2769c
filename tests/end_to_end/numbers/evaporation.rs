//! Evaporation: what stays is the stronger for it, in recipes and in batches.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{figure, formula, near, number, opened, ready, share, weighed};

const SKIN: &str = "on intact skin, leave-on";

#[tokio::test(flavor = "multi_thread")]
async fn a_planned_loss_concentrates_the_recipe_and_cannot_be_more_than_what_can_leave() {
    let clinic = TeachingClinic::start().await;
    let lines = [("glycerol", "300 g"), ("purified water", "700 g")];
    let revision = ready(&clinic, formula("lotion", SKIN, "teaching_only", &lines)).await;
    let recipe = async |loss: &str| {
        let path = format!("/v1/revisions/{revision}/recipe?mass=500%20g&evaporation_loss={loss}%20%25");
        clinic.noor.get(&path).await
    };
    let reduced = recipe("50").await.expect(200).json;
    near(number(figure(&reduced, "water")), 0.4, 1e-9);
    let refused = recipe("71").await.fields(&["?evaporation_loss"]);
    assert!(refused.text.contains("At most 70 % can evaporate"), "{}", refused.text);
    recipe("69.9").await.expect(200);
    clinic.stop().await;
}

/// 40 % of spirit preserve; of what evaporated nobody knows how much was spirit, so that what is left is dated as
/// unpreserved, and its strength is unknown until it is measured.
#[tokio::test(flavor = "multi_thread")]
async fn spirit_that_may_have_evaporated_preserves_nothing() {
    let clinic = TeachingClinic::start().await;
    let lines = [("glycerol", "100 g"), ("ethanol 40 %", "900 g")];
    let revision = ready(&clinic, formula("liniment", SKIN, "herbal_medicine", &lines)).await;
    let dated = async |query: &str| {
        let path = format!("/v1/revisions/{revision}/recipe?explain=true&made_on=2026-03-02{query}");
        clinic.noor.get(&path).await.expect(200).json["use_by"]["date"].clone()
    };
    // Preserved and watery: 35 days, of which the day of making is the first. Unpreserved: 14.
    assert_eq!(dated("").await, "2026-04-05");
    assert_eq!(dated("&mass=500%20g&evaporation_loss=30%20%25").await, "2026-03-15");

    let entries = opened(
        &clinic,
        &revision,
        json!({
        "mass": "700 g", "evaporation_loss": "30 %", "made_on": "2026-03-02" }),
    )
    .await;
    let record = weighed(&clinic, &entries, &[("1.1", "100 g"), ("1.2", "900 g")]).await;
    let made = &record["as_made"];
    near(share(&made["evaluation"], "glycerol"), 100.0 / 700.0, 1e-9);
    assert!(figure(&made["evaluation"], "alcohol by volume")["value"].is_null(), "nobody measured it");
    assert_eq!(made["use_by"]["date"], "2026-03-15");
    // The yield says how much left; what cannot leave stays and is told.
    let came = async |grams: &str| {
        let entry = json!({ "kind": "yield", "quantity": grams });
        clinic.noor.entered(&entries, entry).await.json["as_made"].clone()
    };
    near(share(&came("800 g").await["evaluation"], "glycerol"), 100.0 / 800.0, 1e-9);
    let dry = came("60 g").await;
    let yields = json!({ "figures": dry["yields"] });
    near(number(figure(&yields, "more than can evaporate")), 40.0, 1e-6);
    near(share(&dry["evaluation"], "glycerol"), 1.0, 1e-6);
    clinic.stop().await;
}

/// The texts of cautions in a list of them.
fn texts(cautions: &Value) -> Vec<String> {
    let all = cautions.as_array().into_iter().flatten();
    all.map(|caution| caution["text"].as_str().unwrap().to_owned()).collect()
}

const UNPRESERVED: &str = "no proven preservative";

/// Whether a text is among the warnings of a batch's label.
async fn on_label(clinic: &TeachingClinic, entries: &str, text: &str) -> bool {
    let path = entries.replace("/entries", "/label");
    let label = clinic.noor.get(&path).await.expect(200).json;
    label["warnings"].to_string().contains(text)
}

/// Of what evaporated nobody knows how much was spirit, so that what the formula keeps is not shown to be kept.
#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_says_which_cautions_its_evaporation_loss_raises_and_the_label_carries_them() {
    let clinic = TeachingClinic::start().await;
    let lines = [("glycerol", "100 g"), ("ethanol 40 %", "900 g")];
    let revision = ready(&clinic, formula("liniment", SKIN, "herbal_medicine", &lines)).await;
    let recipe = async |loss: &str| {
        let path = format!("/v1/revisions/{revision}/recipe?mass=700%20g{loss}");
        clinic.noor.get(&path).await.expect(200).json["caution_set"].clone()
    };
    let plain = recipe("").await;
    assert!(!plain.to_string().contains(UNPRESERVED), "{plain}");
    assert!(plain["by_loss"].is_null() && plain["loss_not_judged"].is_null(), "{plain}");
    let boiled = recipe("&evaporation_loss=30%20%25").await;
    assert!(texts(&boiled["by_loss"]).iter().any(|text| text.contains(UNPRESERVED)), "{boiled}");
    assert_eq!(boiled["cautions"], plain["cautions"], "what was acknowledged stays what it is");

    let without = opened(&clinic, &revision, json!({ "mass": "700 g" })).await;
    assert!(!on_label(&clinic, &without, UNPRESERVED).await);
    let entries = opened(&clinic, &revision, json!({ "mass": "700 g", "evaporation_loss": "30 %" })).await;
    assert!(on_label(&clinic, &entries, UNPRESERVED).await, "before it is made");
    let record = weighed(&clinic, &entries, &[("1.1", "100 g"), ("1.2", "900 g")]).await;
    assert_eq!(record["recipe"]["caution_set"]["by_loss"], boiled["by_loss"]);
    assert_eq!(texts(&record["as_made"]["cautions"]), texts(&boiled["by_loss"]));
    // Nothing left: then nothing is raised by what was made.
    let entry = json!({ "kind": "yield", "quantity": "1000 g" });
    let kept = clinic.noor.entered(&entries, entry).await.json;
    assert!(kept["as_made"]["cautions"].is_null(), "{}", kept["as_made"]);
    clinic.stop().await;
}

/// Clove oil irritates above 0.5 % of what stays on the skin (Tisserand and Young, as the data have it).
#[tokio::test(flavor = "multi_thread")]
async fn a_threshold_is_passed_by_the_loss_of_a_recipe_and_not_by_its_formula() {
    let clinic = TeachingClinic::start().await;
    let lines = [("clove oil", "0.48 g"), ("glycerol", "49.52 g"), ("purified water", "50 g")];
    let revision = ready(&clinic, formula("lotion", SKIN, "teaching_only", &lines)).await;
    let path =
        |loss: &str| format!("/v1/revisions/{revision}/recipe?mass=100%20g&evaporation_loss={loss}%20%25");
    let raised = async |loss: &str| {
        let set = clinic.noor.get(&path(loss)).await.expect(200).json["caution_set"].clone();
        let keys = set["by_loss"].as_array().into_iter().flatten().map(|it| it["key"].clone());
        keys.filter(|key| key == "phenols-irritate").count()
    };
    // 0.48 % of 98 g are 0.490 %; of 95 g, 0.505 %.
    assert_eq!(raised("2").await, 0);
    assert_eq!(raised("5").await, 1);
    clinic.stop().await;
}

/// What nobody acknowledged is no recipe: a loss that raises a contraindication is refused with its text, and a batch is
/// not opened with it.
#[tokio::test(flavor = "multi_thread")]
async fn a_loss_that_raises_a_contraindication_is_refused() {
    let clinic = TeachingClinic::start().await;
    let lines = [("phenoxyethanol", "0.95 g"), ("glycerol", "49.05 g"), ("purified water", "50 g")];
    let revision = ready(&clinic, formula("lotion", SKIN, "cosmetic", &lines)).await;
    let path =
        |loss: &str| format!("/v1/revisions/{revision}/recipe?mass=100%20g&evaporation_loss={loss}%20%25");
    // Annex V, entry 29 of Regulation (EC) No 1223/2009: 1.0 % at most. 0.95 of 96 g are 0.99 %, of 90 g 1.06 %.
    clinic.noor.get(&path("4")).await.expect(200);
    let refused = clinic.noor.get(&path("10")).await.fields(&["?evaporation_loss"]);
    assert!(refused.text.contains("an ingredient is above the limit"), "{}", refused.text);
    let batch = json!({ "revision": revision, "make_for": { "mass": "100 g", "evaporation_loss": "10 %" } });
    clinic.noor.post("/v1/batches", batch).await.fields(&["/make_for/evaporation_loss"]);
    clinic.stop().await;
}
