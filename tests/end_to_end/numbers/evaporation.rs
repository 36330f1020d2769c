//! Evaporation: what stays is the stronger for it, in recipes and in batches.

use serde_json::json;
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
