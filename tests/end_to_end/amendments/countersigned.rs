//! Some people need an instructor's signature beside the maker's.

use serde_json::json;
use stillroom_tests::Caller;
use stillroom_tests::clinic::TeachingClinic;

use super::recipe;
use crate::formulas::infused_oil;

pub(super) async fn acknowledge_for(
    caller: &Caller,
    revision: &str,
    meant_for: &[&str],
) -> stillroom_tests::Answer {
    let set = caller.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
    let keys: Vec<_> = set.json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|it| matches!(it["level"].as_str(), Some("contraindication" | "stop")))
        .map(|it| it["key"].clone())
        .collect();
    let body = json!({
        "caution_set": set.json["digest"], "contraindications": keys, "meant_for": meant_for,
    });
    caller.post(&format!("/v1/revisions/{revision}/acknowledgements"), body).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_for_somebody_pregnant_opens_when_an_instructor_has_signed_too() {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    here.noor.acknowledge(&oil).await.expect(201);
    recipe(&here.noor, &oil).await.expect(200);
    // For whom the policy names, and for a child below the age that it names.
    let given = acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201);
    assert_eq!(given.json["needs_countersignature"], true);
    assert_eq!(given.json["open"], false);
    let shut = recipe(&here.noor, &oil).await.problem(403, "gate-closed").text_at("/detail");
    assert!(shut.contains("awaits an instructor's countersignature"), "{shut}");
    assert!(shut.contains(&given.id()), "{shut}");
    let path = format!("/v1/acknowledgements/{}/countersignature", given.id());
    let waiting = here.marek.get("/v1/countersignatures/awaited").await.expect(200);
    assert_eq!(waiting.json["items"][0]["id"], given.id().as_str());
    assert_eq!(waiting.json["items"][0]["meant_for"], json!(["pregnant"]));
    assert_eq!(waiting.json["items"][0]["title"], "Infused oil of calendula");
    assert_eq!(waiting.json["items"][0]["holder_name"], "noor.haddad");
    let key = [("idempotency-key", "sign-1")];
    here.noor.post_bare(&path, &key).await.problem(403, "forbidden");
    // Ilse has not acknowledged the cautions herself: she has not been shown what she would sign.
    here.ilse.post_bare(&path, &key).await.problem(403, "gate-closed");
    let signed = here.marek.post_bare(&path, &key).await.expect(201);
    assert_eq!(signed.json["countersigned_by"], here.marek.id.as_str());
    assert_eq!(signed.json["open"], true);
    recipe(&here.noor, &oil).await.expect(200);
    here.marek.post_bare(&path, &[("idempotency-key", "sign-2")]).await.problem(409, "wrong-state");
    assert_eq!(here.marek.get("/v1/countersignatures/awaited").await.expect(200).json["items"], json!([]));
    let events = here.ilse.get(&format!("/v1/events?subject={oil}")).await.expect(200);
    assert!(events.text.contains("countersigned"), "{}", events.text);

    let for_a_child = acknowledge_for(&here.noor, &oil, &["age:2"]).await.expect(201);
    assert_eq!(for_a_child.json["needs_countersignature"], true);
    let awaited =
        async || here.marek.get("/v1/countersignatures/awaited").await.expect(200).json["items"].clone();
    assert_eq!(awaited().await.as_array().unwrap().len(), 1);
    let for_an_older = acknowledge_for(&here.noor, &oil, &["age:9"]).await.expect(201);
    assert_eq!(for_an_older.json["needs_countersignature"], false);
    // The older acknowledgement has been followed by another: there is nothing to sign any more.
    assert_eq!(awaited().await, json!([]));
    let late = format!("/v1/acknowledgements/{}/countersignature", for_a_child.id());
    here.marek.post_bare(&late, &[("idempotency-key", "sign-3")]).await.problem(409, "wrong-state");
    acknowledge_for(&here.noor, &oil, &["everyone", "age:old"]).await.fields(&["/meant_for/0"]);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_contraindication_for_whom_it_is_meant_asks_for_a_signature_whatever_the_policy_names() {
    let here = TeachingClinic::start().await;
    let policy = here.clinic.administrator.get("/v1/policy").await.expect(200);
    let mut rules = policy.json["content"].clone();
    rules["countersign_audiences"] = json!([]);
    here.clinic.administrator.put("/v1/policy", &policy.etag(), rules.clone()).await.expect(200);
    let salve = super::of_lines(
        "Comfrey salve",
        "salve",
        &json!([
            { "material": "dried comfrey root", "amount": "10 g" },
            { "material": "olive oil", "amount": "75 g" },
            { "material": "yellow beeswax", "amount": "15 g" } ]),
    );
    let salve = here.approved(salve).await;
    let given = acknowledge_for(&here.noor, &salve, &["breast-feeding"]).await.expect(201);
    assert_eq!(given.json["needs_countersignature"], true);
    let tag = here.clinic.administrator.get("/v1/policy").await.expect(200).etag();
    rules["countersign_audiences"] = json!(["everyone", "under:zero"]);
    here.clinic
        .administrator
        .put("/v1/policy", &tag, rules)
        .await
        .fields(&["/countersign_audiences/0", "/countersign_audiences/1"]);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_signature_opens_nothing_that_nobody_makes_any_more() {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    here.ilse.acknowledge(&oil).await.expect(201);
    let salve = super::of_lines(
        "Calendula salve",
        "salve",
        &json!([
            { "formula": "Infused oil of calendula", "amount": "85 g" },
            { "material": "yellow beeswax", "amount": "15 g" } ]),
    );
    let salve = here.approved(salve).await;
    // The leaves are behind two doors: it is said which of the two is shut.
    here.noor.acknowledge(&salve).await.expect(201);
    let leaves = here.noor.get(&format!("/v1/revisions/{salve}/evaluation")).await;
    let shut = leaves.problem(403, "gate-closed").text_at("/detail");
    let named = "You do not have access to \"Infused oil of calendula\", an ingredient of this formula: ";
    assert!(shut.starts_with(named) && shut.contains("Acknowledge the current cautions first"), "{shut}");
    let waiting = acknowledge_for(&here.noor, &salve, &["pregnant"]).await.expect(201);
    let reason = json!({ "reason": "The flowers were another plant's." });
    here.marek.post(&format!("/v1/revisions/{oil}/withdrawal"), reason).await.expect(200);
    let shut = here.noor.get(&format!("/v1/revisions/{oil}/recipe")).await.problem(403, "gate-closed");
    assert!(shut.text_at("/detail").contains("This revision was withdrawn"), "{}", shut.text);
    here.marek.acknowledge(&salve).await.expect(201);
    let path = format!("/v1/acknowledgements/{}/countersignature", waiting.id());
    here.marek.post_bare(&path, &[("idempotency-key", "sign-1")]).await.problem(409, "wrong-state");
    recipe(&here.noor, &salve).await.problem(403, "gate-closed");
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_left_the_library_and_came_back_acknowledges_anew_before_it_is_signed() {
    let here = TeachingClinic::start().await;
    let oil = here.approved(infused_oil()).await;
    let waiting = acknowledge_for(&here.noor, &oil, &["pregnant"]).await.expect(201);
    here.clinic.service.clinic.clock().advance(chrono::Duration::minutes(1));
    let member = format!("/v1/libraries/{}/members/{}", here.library, here.noor.id);
    here.ilse.delete(&member).await.expect(204);
    here.ilse.put_bare(&member).await.expect(204);
    let path = format!("/v1/acknowledgements/{}/countersignature", waiting.id());
    here.marek.post_bare(&path, &[("idempotency-key", "sign-1")]).await.problem(409, "wrong-state");
    here.stop().await;
}
