//! Comfrey root: for whom an ointment is not, how much root it may hold, and never by mouth.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, acknowledge_all_but, asked_for, caution, evaluated, formula, outcome};

fn oil() -> Value {
    let lines = [("dried comfrey root", "200 g"), ("olive oil", "1000 g")];
    let mut oil = formula("Comfrey oil", "infused oil", SKIN, "herbal_medicine", &lines);
    oil["yield"] = json!("880 g");
    oil
}

fn ointment() -> Value {
    let lines = [("yellow beeswax", "120 g"), ("[Comfrey oil]", "700 g"), ("shea butter", "80 g")];
    formula("Comfrey ointment", "ointment", SKIN, "herbal_medicine", &lines)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_comfrey_root_ointment_is_not_for_a_breast_feeding_parent() {
    let clinic = TeachingClinic::start().await;
    let noor = &clinic.noor;
    let oil = clinic.approved(oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let revision = clinic.approved(ointment()).await;

    let parent = asked_for(noor, &revision, "breast-feeding").await;
    assert_eq!(parent["suitability"], "not_suitable");
    let harm = &parent["meant_for_it"][0];
    assert_eq!(harm["key"], "pregnancy-breast-feeding-known-harm");
    assert!(harm["text"].as_str().unwrap().starts_with("Do not use"), "{harm}");
    assert_eq!(harm["origins"], json!(["Comfrey oil > dried comfrey root"]), "through the oil");
    for (audience, key) in [
        ("pregnant", "pregnancy-breast-feeding-known-harm"),
        ("age:17", "comfrey-adults"),
        ("condition:broken-skin", "pyrrolizidine-broken-skin"),
        ("condition:liver", "pyrrolizidine-liver"),
    ] {
        let answer = asked_for(noor, &revision, audience).await;
        assert_eq!(answer["suitability"], "not_suitable", "{audience}");
        let keys = answer["meant_for_it"].to_string();
        assert!(keys.contains(key), "{audience}: {keys}");
    }
    assert_ne!(asked_for(noor, &revision, "age:18").await["suitability"], "not_suitable");

    // Whoever would make it acknowledges that one on its own.
    acknowledge_all_but(noor, &revision, "pregnancy-breast-feeding-known-harm")
        .await
        .fields(&["/contraindications"]);
    noor.get(&format!("/v1/revisions/{revision}/recipe")).await.problem(403, "gate-closed");
    let given = noor.acknowledge(&revision).await.expect(201);
    assert!(given.json["contraindications"].to_string().contains("pregnancy-breast-feeding-known-harm"));
    noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);

    // The jar says so too, and for how long it is used (HMPC monograph on comfrey root: ten days at most).
    let label = noor.get(&format!("/v1/revisions/{revision}/label")).await.expect(200).json;
    let headings = label["warnings"].to_string();
    assert!(headings.contains("While breast-feeding") && headings.contains("Under 18 years"), "{headings}");
    assert!(label["longest_use"][0]["text"].as_str().unwrap().contains("ten days"), "{label}");
    clinic.stop().await;
}

/// Commission E, comfrey root: ointments of 5 to 20 % of dried drug. What was strained off counts by what it gave.
#[tokio::test(flavor = "multi_thread")]
async fn an_ointment_holds_at_most_20_per_cent_of_dried_comfrey_root() {
    let clinic = TeachingClinic::start().await;
    let with = |root: &str| {
        let lines = [("dried comfrey root", root), ("lanolin", "q.s. 100 g")];
        formula("Root in fat", "ointment", SKIN, "herbal_medicine", &lines)
    };
    let on = "dried comfrey root";
    assert_eq!(outcome(&evaluated(&clinic.ilse, with("20 g")).await, on, "DE"), "within");
    let past = evaluated(&clinic.ilse, with("20.1 g")).await;
    assert_eq!(outcome(&past, on, "DE"), "exceeded");
    // How much of the alkaloids there is in a lot nobody knows without an assay, and that is no pass.
    let alkaloids = "unsaturated pyrrolizidine alkaloids with their N-oxides";
    assert_eq!(outcome(&past, alkaloids, "EU"), "unknown");
    // As a cosmetic the limit does not bind: it is one of medicines.
    let mut cosmetic = with("20.1 g");
    cosmetic["regime"] = json!("cosmetic");
    let cosmetic = evaluated(&clinic.ilse, cosmetic).await;
    assert!(!cosmetic["limits"].to_string().contains(on), "{}", cosmetic["limits"]);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn comfrey_by_mouth_is_stopped_however_deep_it_is_nested() {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let lines = [("[Comfrey oil]", "10 g"), ("honey", "90 g")];
    let syrup = formula("Comfrey honey", "syrup", "by mouth", "food", &lines);
    let revision = clinic.clinic.proposed(&clinic.ilse, &clinic.library, syrup).await;
    let stop = caution(&clinic.marek, &revision, "pyrrolizidine-herb-by-mouth").await.unwrap();
    assert_eq!(
        (&stop["level"], &stop["origins"][0]),
        (&json!("stop"), &json!("Comfrey oil > dried comfrey root"))
    );
    clinic.marek.acknowledge(&revision).await.expect(201);
    let decision = format!("/v1/revisions/{revision}/decision");
    let refused =
        clinic.marek.post(&decision, json!({ "decision": "approve" })).await.problem(409, "wrong-state");
    assert!(refused.text_at("/detail").contains("liver"), "{}", refused.text);
    clinic.stop().await;
}
