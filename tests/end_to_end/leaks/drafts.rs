//! Ladders of drafts: an author who nests a formula beside others, and reads what the draft comes to.

use serde_json::{Value, json};
use stillroom_tests::Answer;
use stillroom_tests::figures::tells;

use super::{House, balm};

/// A draft that nests the hidden oils, written while they were open to its author. Answers its revision and tag.
async fn drafted(house: &House, title: &str) -> (String, String) {
    let path = format!("/v1/libraries/{}/formulas", house.outer_library);
    let made = house.ilse.post(&path, json!({ "content": balm(title) })).await.expect(201);
    let revision = made.text_at("/revisions/0/id");
    let tag = house.ilse.get(&format!("/v1/revisions/{revision}/draft")).await.expect(200).etag();
    (revision, tag)
}

#[tokio::test(flavor = "multi_thread")]
async fn an_author_to_whom_a_nested_formula_was_closed_learns_nothing_more_by_drafts() {
    let house = House::start().await;
    let (revision, tag) = drafted(&house, "Drafted balm").await;
    let (proposed, _) = drafted(&house, "Proposed balm").await;
    let draft = format!("/v1/revisions/{revision}");
    let reads = ["cautions", "suitability?audience=pregnant", "draft/evaluation"];
    for read in reads {
        house.ilse.get(&format!("{draft}/{read}")).await.expect(200);
    }
    // It comes back to its author as a draft; nobody reads what it nests on the way.
    let tag_of_other = house.ilse.get(&format!("/v1/revisions/{proposed}/draft")).await.expect(200).etag();
    let proposal = format!("/v1/revisions/{proposed}/proposal");
    house.ilse.post_bare(&proposal, &[("if-match", &tag_of_other)]).await.expect(200);

    let member = format!("/v1/libraries/{}/members/{}", house.hidden_library, house.ilse.id);
    house.clinic.administrator.delete(&member).await.expect(204);
    house.marek.acknowledge(&proposed).await.expect(201);
    let back = json!({ "decision": "return", "comment": "Less wax." });
    house.marek.post(&format!("/v1/revisions/{proposed}/decision"), back).await.expect(200);
    let formula = house.ilse.get(&format!("/v1/revisions/{proposed}")).await.expect(200).text_at("/formula");
    let revisions = house.ilse.get(&format!("/v1/formulas/{formula}")).await.expect(200);
    let copied = revisions.text_at("/revisions/0/id");
    assert_eq!(revisions.text_at("/revisions/0/state"), "draft");
    for revision in [&revision, &copied] {
        for read in reads {
            shut(house.ilse.get(&format!("/v1/revisions/{revision}/{read}")).await);
        }
    }
    shut(house.ilse.post_bare(&format!("{draft}/proposal"), &[("if-match", &tag)]).await);
    for wax in 1..20 {
        let mut content = balm("Drafted balm");
        content["phases"][0]["lines"][1]["amount"] = json!(format!("{wax} g"));
        nowhere(house.ilse.put(&format!("{draft}/draft"), &tag, content.clone()).await);
        nowhere(house.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await);
        let formulas = format!("/v1/libraries/{}/formulas", house.outer_library);
        nowhere(house.ilse.post(&formulas, json!({ "content": content.clone() })).await);
        // What nests it is closed for nesting too: the grant of the outer formula is not enough.
        content["phases"][0]["lines"][0]["formula"] = json!("Balm of hidden oils");
        shut(house.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await);
        shut(house.ilse.post(&formulas, json!({ "content": content })).await);
    }
    // The draft is the author's own, and is read and kept as it was written.
    house.ilse.get(&format!("{draft}/draft")).await.expect(200);
    house.stop().await;
}

/// The nested formula is in none of the caller's libraries, or its gate is closed.
#[track_caller]
fn shut(answer: Answer) {
    assert!(matches!(answer.status.as_u16(), 403 | 404), "answered: {}", answer.text);
    tells_nothing(&answer);
}

#[track_caller]
fn nowhere(answer: Answer) {
    let answer = answer.problem(422, "invalid-request");
    tells_nothing(&answer);
}

#[track_caller]
fn tells_nothing(answer: &Answer) {
    for part in ["composition", "figures", "ingredients"] {
        assert_eq!(answer.json[part], Value::Null, "{}", answer.text);
    }
    for amount in ["37.31", "61.86", "0.83"] {
        assert!(!tells(&answer.text, amount), "{}", answer.text);
    }
}
