//! What an author is warned of while writing, before anybody is asked to approve it.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use crate::formulas::{cream, infused_oil};

#[tokio::test(flavor = "multi_thread")]
async fn the_author_reads_what_a_draft_would_be_warned_of_and_it_is_what_others_read_of_the_proposal() {
    let clinic = TeachingClinic::start().await;
    let oil = clinic.approved(infused_oil()).await;
    clinic.ilse.acknowledge(&oil).await.expect(201);
    let made = clinic
        .ilse
        .post(&format!("/v1/libraries/{}/formulas", clinic.library), json!({ "content": cream() }))
        .await
        .expect(201);
    let draft = made.text_at("/revisions/0/id");
    let cautions = format!("/v1/revisions/{draft}/cautions");
    let suitability = format!("/v1/revisions/{draft}/suitability?audience=allergy:asteraceae");

    let early = clinic.ilse.get(&cautions).await.expect(200).json;
    // The flowers are two levels down.
    let daisies = early["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .find(|caution| caution["key"] == "allergy-asteraceae")
        .unwrap_or_else(|| panic!("no warning of the daisy family in {early}"));
    assert!(daisies["origins"].to_string().contains("Infused oil of calendula"), "{daisies}");
    let asked = clinic.ilse.get(&suitability).await.expect(200).json;
    assert_eq!(asked["suitability"], "not_suitable");

    // A draft is nobody else's, and cannot be acknowledged: it may change under whoever does.
    for other in [&clinic.marek, &clinic.noor] {
        other.get(&cautions).await.problem(404, "not-found");
        other.get(&suitability).await.problem(404, "not-found");
    }
    let acknowledged = clinic.ilse.acknowledge(&draft).await;
    assert_eq!(acknowledged.status, 409, "{}", acknowledged.text);

    // A change of the draft changes what it is warned of.
    let read = clinic.ilse.get(&format!("/v1/revisions/{draft}/draft")).await.expect(200);
    let mut content = read.json.clone();
    content["phases"][1]["lines"].as_array_mut().unwrap().remove(0);
    let tag = clinic
        .ilse
        .put(&format!("/v1/revisions/{draft}/draft"), &read.etag(), content)
        .await
        .expect(200)
        .etag();
    let unpreserved = clinic.ilse.get(&cautions).await.expect(200).json;
    let has = |set: &Value| {
        let cautions = set["cautions"].as_array().unwrap();
        cautions.iter().any(|caution| caution["key"] == "unpreserved-watery")
    };
    assert!(has(&unpreserved), "{unpreserved}");

    clinic
        .ilse
        .post_bare(&format!("/v1/revisions/{draft}/proposal"), &[("if-match", &tag)])
        .await
        .expect(200);
    // Of a draft the author is offered texts besides; of the proposal nobody is.
    let mut read_by_the_author = unpreserved;
    read_by_the_author.as_object_mut().unwrap().remove("offers");
    assert_eq!(clinic.marek.get(&cautions).await.expect(200).json, read_by_the_author);
    clinic.stop().await;
}
