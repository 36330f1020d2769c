//! The composition on a chosen basis, and a trial of a formula that nests drafts.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, formula, line, near, with};

fn shares(evaluation: &Value) -> Vec<(String, String, f64)> {
    let of = |it: &Value| {
        let share = &it["share"];
        (
            it["name"].as_str().unwrap().to_owned(),
            share["unit"].as_str().unwrap().to_owned(),
            stillroom_tests::figures::number(share),
        )
    };
    evaluation["composition"].as_array().unwrap().iter().map(of).collect()
}

/// A cream of 300 g of infused oil 1:10 in 1000 g, on three bases, which are never mixed.
#[tokio::test(flavor = "multi_thread")]
async fn a_composition_is_given_on_the_basis_that_was_asked_for_and_on_no_other() {
    let clinic = TeachingClinic::start().await;
    let lines = [("dried calendula flower", "1:10 in oil"), ("olive oil", "1000 g")];
    let oil = with(formula("Calendula oil", "infused oil", SKIN, &lines), "yield", json!("850 g"));
    clinic.ilse.acknowledge(&clinic.approved(oil).await).await.expect(201);
    // A base that is no extract is shown by its parts, whatever the basis.
    let base = formula("Base", "ointment", SKIN, &[("lanolin", "1 part"), ("olive oil", "1 part")]);
    clinic.ilse.acknowledge(&clinic.approved(base).await).await.expect(201);
    let cream = formula(
        "Cream",
        "cream",
        SKIN,
        &[("[Calendula oil]", "300 g"), ("[Base]", "200 g"), ("purified water", "500 g")],
    );
    let asked = async |basis: &str| {
        let question = json!({ "content": cream, "composition": basis });
        clinic.ilse.post("/v1/evaluations?explain=true", question).await.expect(200).json
    };
    let materials = asked("materials").await;
    assert_eq!(materials["composition_basis"], "materials");
    let extracts = asked("native_extracts").await;
    let found = shares(&extracts);
    let of = |name: &str| found.iter().find(|it| it.0 == name).map(|it| it.2);
    assert_eq!(of("Calendula oil"), Some(0.3));
    assert_eq!((of("olive oil"), of("lanolin")), (Some(0.1), Some(0.1)), "those of the base alone");
    assert!((found.iter().map(|it| it.2).sum::<f64>() - 1.0).abs() < 1e-9);
    assert!((shares(&materials).iter().map(|it| it.2).sum::<f64>() - 1.0).abs() < 1e-9);
    // 0.1 g of herb to each g of oil, 0.3 g of oil in each g of cream: 30 mg.
    let herbs = shares(&asked("dried_herb").await);
    assert_eq!(herbs, [("dried calendula flower".to_owned(), "mg/g".to_owned(), 30.0)]);

    let revision = clinic.approved(cream.clone()).await;
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let path = format!("/v1/revisions/{revision}/evaluation?composition=native_extracts&explain=true");
    let kept = clinic.ilse.get(&path).await.expect(200).json;
    assert_eq!(kept["composition"], extracts["composition"]);
    let refused =
        clinic.ilse.get(&format!("/v1/revisions/{revision}/evaluation?composition=sums")).await.expect(422);
    assert!(refused.text.contains("native_extracts"), "{}", refused.text);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trial_nests_drafts_that_are_all_the_authors_own_and_nobody_elses() {
    let clinic = TeachingClinic::start().await;
    let draft = |title: &str| {
        let lines = [("dried calendula flower", "1:10 in oil"), ("olive oil", "1000 g")];
        json!({ "content": formula(title, "infused oil", SKIN, &lines) })
    };
    let path = format!("/v1/libraries/{}/formulas", clinic.library);
    clinic.ilse.post(&path, draft("Oil in work")).await.expect(201);
    clinic.marek.post(&path, draft("Marek's oil")).await.expect(201);
    let salve = |oil: &str| {
        let lines = [(oil, "80 g"), ("yellow beeswax", "20 g")];
        json!({ "content": formula("Salve", "salve", SKIN, &lines) })
    };
    let found =
        clinic.ilse.post("/v1/evaluations?explain=true", salve("[Oil in work]")).await.expect(200).json;
    near(&line(&found, 0)["mass"], 80.0, 1e-9);
    let olive = found["composition"].as_array().unwrap().iter().find(|it| it["name"] == "olive oil").unwrap();
    near(&olive["share"], 0.8, 1e-9);
    // Another author's draft is not there, and a trial changes nothing about what is kept.
    for (author, oil) in [(&clinic.ilse, "[Marek's oil]"), (&clinic.marek, "[Oil in work]")] {
        let refused = author.post("/v1/evaluations?explain=true", salve(oil)).await;
        refused.fields(&["/content/phases/0/lines/0/formula"]);
    }
    clinic
        .noor
        .post("/v1/evaluations?explain=true", salve("[Oil in work]"))
        .await
        .fields(&["/content/phases/0/lines/0/formula"]);
    let kept = clinic.ilse.post(&path, salve("[Oil in work]")).await;
    kept.fields(&["/content/phases/0/lines/0/formula"]);
    clinic.stop().await;
}
