//! Whom a formula suits, and what of a changed caution set is asked again.

use serde_json::{Value, json};
use stillroom_tests::clinic::TeachingClinic;

use crate::amendments::{amend, confirm, material};
use crate::formulas::infused_oil;

const SKIN: &str = "on intact skin, leave-on";

/// A balm of these oils.
fn balm(title: &str, lines: &[(&str, &str)]) -> Value {
    let lines: Vec<Value> =
        lines.iter().map(|(material, amount)| json!({ "material": material, "amount": amount })).collect();
    json!({
        "title": title, "preparation": "balm", "route": SKIN, "regime": "cosmetic",
        "phases": [{ "name": "all of it", "lines": lines }], "method": [{ "do": "Melt together" }]
    })
}

async fn asked(here: &TeachingClinic, revision: &str, audience: &str) -> Value {
    let path = format!("/v1/revisions/{revision}/suitability?audience={audience}");
    here.noor.get(&path).await.expect(200).json
}

#[tokio::test(flavor = "multi_thread")]
async fn the_gravest_answers_and_nothing_known_against_needs_every_ingredient_judged() {
    let here = TeachingClinic::start().await;
    let plain = balm("Plain balm", &[("jojoba oil", "80 g"), ("yellow beeswax", "20 g")]);
    let plain = here.approved(plain).await;
    let epilepsy = asked(&here, &plain, "condition:epilepsy").await;
    assert_eq!(epilepsy["answer"], "nothing_known_against", "{epilepsy}");
    assert_eq!(epilepsy["looked_at"], json!(["jojoba oil", "yellow beeswax"]));
    assert!(epilepsy["missing"].is_null(), "{epilepsy}");
    let bees = asked(&here, &plain, "allergy:bee-products").await;
    assert_eq!(bees["answer"], "not_suitable", "{bees}");
    // Limits were judged for adults: what was not judged is not within.
    let child = asked(&here, &plain, "age:4").await;
    assert_eq!(child["answer"], "not_known", "{child}");
    assert!(child["missing"].to_string().contains("youngest age"), "{child}");
    let mut younger = balm("Balm for children", &[("jojoba oil", "80 g"), ("yellow beeswax", "20 g")]);
    younger["youngest"] = json!("3 years");
    let younger = here.approved(younger).await;
    assert_ne!(asked(&here, &younger, "age:4").await["answer"], "not_known");
    assert_eq!(asked(&here, &younger, "age:2").await["answer"], "not_known");

    let calendula = here.approved(infused_oil()).await;
    assert_eq!(asked(&here, &calendula, "pregnant").await["answer"], "ask_first");
    assert_eq!(asked(&here, &calendula, "allergy:asteraceae").await["answer"], "not_suitable");
    let rub = [("jojoba oil", "90 g"), ("peppermint oil", "10 g")];
    let rub = here.approved(balm("Strong rub", &rub)).await;
    let child = asked(&here, &rub, "age:1").await;
    assert_eq!(child["answer"], "not_suitable", "a bar is graver than what is not known: {child}");

    // Of an oil that the clinic entered, nobody has stated anything.
    let own = json!({ "name": "grandmother's seed oil", "kind": "fixed oil", "source": "the clinic", "status": "from memory" });
    let added = amend(&here.ilse, json!({ "add_material": own })).await.expect(201);
    confirm(&here.marek, &added.id()).await.expect(200);
    let unknown = [("grandmother's seed oil", "80 g"), ("yellow beeswax", "20 g")];
    let unknown = here.approved(balm("Balm of an unknown oil", &unknown)).await;
    let epilepsy = asked(&here, &unknown, "condition:epilepsy").await;
    assert_eq!(epilepsy["answer"], "not_known", "{epilepsy}");
    assert!(epilepsy["missing"].to_string().contains("grandmother's seed oil"), "{epilepsy}");
    here.stop().await;
}

/// IFRA standards: 2 % of expressed lemon oil in what stays on the skin.
#[tokio::test(flavor = "multi_thread")]
async fn silence_can_be_checked_and_tells_no_share() {
    let here = TeachingClinic::start().await;
    let little = balm("Lemon balm", &[("jojoba oil", "99 g"), ("lemon oil", "1 g")]);
    let little = here.approved(little).await;
    let set = here.noor.get(&format!("/v1/revisions/{little}/cautions")).await.expect(200).json;
    let told = set["not_raised"].as_array().unwrap();
    let sun = told.iter().find(|one| one["key"] == "furocoumarin-sun").unwrap();
    assert!(sun["because"].as_str().unwrap().contains("not above 2 % of the product"), "{sun}");
    assert!(sun["source"].as_str().is_some_and(|source| !source.is_empty()), "{sun}");
    assert!(set["cautions"].as_array().unwrap().iter().all(|one| one["key"] != "furocoumarin-sun"));
    let sun = asked(&here, &little, "condition:sun").await;
    assert!(sun["not_raised"].to_string().contains("furocoumarin-sun"), "{sun}");
    let much = balm("Strong lemon balm", &[("jojoba oil", "97 g"), ("lemon oil", "3 g")]);
    let much = here.approved(much).await;
    let set = here.noor.get(&format!("/v1/revisions/{much}/cautions")).await.expect(200).json;
    assert!(set["cautions"].as_array().unwrap().iter().any(|one| one["key"] == "furocoumarin-sun"));
    // The author sees the share beside the threshold.
    let evaluation =
        json!({ "content": balm("Lemon balm", &[("jojoba oil", "99 g"), ("lemon oil", "1 g")]) });
    let evaluation = here.ilse.post("/v1/evaluations?explain=true", evaluation).await.expect(200).json;
    let looked = evaluation["thresholds"].as_array().unwrap();
    let lemon = looked.iter().find(|one| one["caution"] == "furocoumarin-sun").unwrap();
    assert_eq!((&lemon["below"], &lemon["share"]["value"]), (&json!(true), &json!("1")), "{lemon}");
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_a_changed_set_only_what_changed_is_acknowledged_again_under_the_whole_digest() {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    let changes =
        async || here.noor.get(&format!("/v1/revisions/{oil}/cautions/changes")).await.expect(200).json;
    let acknowledge = async |contraindications: Vec<&str>| {
        let digest = changes().await["caution_set"].clone();
        let body = json!({ "caution_set": digest, "contraindications": contraindications });
        here.noor.post(&format!("/v1/revisions/{oil}/acknowledgements"), body).await
    };
    let first = changes().await;
    assert!(first["since"].is_null() && first["unchanged"] == 0, "{first}");
    acknowledge(vec![]).await.fields(&["/contraindications"]);
    here.noor.acknowledge(&oil).await.expect(201);

    let flower = material(&here.ilse, "dried calendula flower").await;
    let caution = json!({ "level": "contraindication", "audiences": ["condition:asthma"],
        "text": "Not with asthma: the clinic saw attacks.", "on": { "material": flower } });
    amend(&here.ilse, json!({ "add_caution": caution })).await.expect(201);
    let now = changes().await;
    assert_eq!((now["new"].as_array().unwrap().len(), now["changed"].as_array().unwrap().len()), (1, 0));
    assert!(now["since"].is_string(), "{now}");
    let unchanged = now["unchanged"].as_u64().unwrap();
    assert_eq!(now["sentence"], format!("1 new, 0 stronger or reworded, {unchanged} unchanged."));
    // The daisy allergy was acknowledged before; the new bar was not.
    let new = now["new"][0]["key"].as_str().unwrap();
    acknowledge(vec![]).await.fields(&["/contraindications"]);
    here.noor.get(&format!("/v1/revisions/{oil}/recipe")).await.problem(403, "gate-closed");
    let given = acknowledge(vec![new]).await.expect(201).json;
    let kept = given["contraindications"].to_string();
    assert!(kept.contains(new) && kept.contains("allergy-asteraceae"), "kept with all of them: {kept}");
    here.noor.get(&format!("/v1/revisions/{oil}/recipe")).await.expect(200);
    // Another member reads the whole set, and has nothing to leave out.
    let ilse = here.ilse.get(&format!("/v1/revisions/{oil}/cautions/changes")).await.expect(200).json;
    assert!(
        ilse["since"].is_null()
            && ilse["new"].as_array().map(Vec::len) == usize::try_from(unchanged + 1).ok()
    );
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_author_says_whom_a_caution_is_for_and_is_offered_the_text_that_is_there() {
    let here = TeachingClinic::start().await;
    let mut content = infused_oil();
    content["cautions"] = json!([
        { "level": "caution", "text": "Stir the flowers down every day.", "stage": "making" },
        { "level": "caution", "text": "Daisy family: never if allergic to that family.", "audiences": ["allergy:asteraceae"] },
        { "level": "caution", "text": "Keep it on the windowsill.", "stage": "keeping" }
    ]);
    let formulas = format!("/v1/libraries/{}/formulas", here.library);
    let made = here.ilse.post(&formulas, json!({ "content": content.clone() })).await.expect(201);
    let revision = made.text_at("/revisions/0/id");
    let set = here.ilse.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
    let of = |part: &str| {
        let all = set["cautions"].as_array().unwrap();
        all.iter().find(|one| one["text"].as_str().unwrap().contains(part)).unwrap().clone()
    };
    assert_eq!((&of("Stir")["group"], &of("Stir")["stage"]), (&json!("for_the_maker"), &json!("making")));
    assert_eq!(of("windowsill")["group"], "how_to_keep");
    assert_eq!(of("never if allergic")["audiences"], json!(["allergy:asteraceae"]));
    let offers = set["offers"].as_array().unwrap();
    assert_eq!(offers.len(), 1, "{offers:?}");
    assert_eq!(offers[0]["key"], "allergy-asteraceae");
    let mut wrong = content;
    wrong["cautions"][0]["audiences"] = json!(["somebody"]);
    here.ilse.post(&formulas, json!({ "content": wrong })).await.fields(&["/content/cautions/0/audiences/0"]);
    here.stop().await;
}
