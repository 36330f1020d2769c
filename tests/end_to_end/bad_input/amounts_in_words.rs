//! Amounts as people write them: what can be read is read, and what cannot is told how it is written.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{refused, with};
use crate::formulas::cream;

#[tokio::test(flavor = "multi_thread")]
async fn a_share_may_be_written_out_and_other_habits_are_told_their_cure() {
    let room = TeachingClinic::start().await;
    let oil = room.approved(crate::formulas::infused_oil()).await;
    room.ilse.acknowledge(&oil).await.expect(201);
    let amount = "/content/phases/1/lines/0/amount";
    let ask = |text: &str| with(json!({ "content": cream() }), amount, json!(text));
    for text in ["0.4 percent", "0.4 per cent", "0.4per cent w/w"] {
        room.ilse.post("/v1/evaluations?explain=true", ask(text)).await.expect(200);
    }
    for (text, cure) in [
        ("ad 500 g", "Write q.s. 500 g"),
        ("8-10 %", "Enter one amount, such as 8 %"),
        ("8 to 10 g", "Enter one amount, such as 8 g"),
        ("8 per jar", "Use one of these"),
    ] {
        refused(room.ilse.post("/v1/evaluations?explain=true", ask(text)).await, amount, cure);
    }
    // What is wrong with a formula without phases is said once.
    let empty: Value = with(json!({ "content": cream() }), "/content/phases", json!([]));
    room.ilse.post("/v1/evaluations?explain=true", empty).await.fields(&["/content/phases"]);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_can_only_be_meant_comes_with_the_refusal() {
    let room = TeachingClinic::start().await;
    let line = "/content/phases/0/lines/1";
    let ask = |field: &str, text: &str| {
        let content = json!({ "content": crate::formulas::infused_oil() });
        with(content, &format!("{line}/{field}"), json!(text))
    };
    let evaluate = async |asked: Value, field: &str| {
        let answer = room.ilse.post("/v1/evaluations", asked).await;
        answer.fields(&[&format!("{line}/{field}")]).json["errors"][0]["instead"].clone()
    };
    assert_eq!(evaluate(ask("amount", "1000,5 g"), "amount").await, json!(["1000.5 g"]));
    // This comma may part thousands, and this one stands in what is wrong besides.
    assert_eq!(evaluate(ask("amount", "1,000 g"), "amount").await, Value::Null);
    assert_eq!(evaluate(ask("amount", "30,0 furlongs"), "amount").await, Value::Null);
    assert_eq!(evaluate(ask("material", "sunflowr oil"), "material").await[0], "sunflower oil");
    assert_eq!(evaluate(ask("material", "no such thing at all"), "material").await, Value::Null);
    // What comes with the refusal is accepted.
    room.ilse.post("/v1/evaluations", ask("amount", "1000.5 g")).await.expect(200);
    room.ilse.post("/v1/evaluations", ask("material", "sunflower oil")).await.expect(200);

    let oil = room.approved(crate::formulas::infused_oil()).await;
    room.noor.acknowledge(&oil).await.expect(201);
    let recipe =
        room.noor.get(&format!("/v1/revisions/{oil}/recipe?mass=500,5%20g")).await.fields(&["?mass"]);
    assert_eq!(recipe.json["errors"][0]["instead"], json!(["500.5 g"]));
    let batch = room.noor.post("/v1/batches", json!({ "revision": oil })).await.expect(201).text_at("/id");
    let weighing = json!({ "kind": "weighing", "line": "1.1", "quantity": "200,5 g" });
    let refused =
        room.noor.post(&format!("/v1/batches/{batch}/entries"), weighing).await.fields(&["/quantity"]);
    assert_eq!(refused.json["errors"][0]["instead"], json!(["200.5 g"]));
    let cup = json!({ "quantity": "1,5 cups", "to": "mL" });
    let refused = room.noor.post("/v1/calculations/quantity", cup).await.fields(&["/quantity"]);
    assert_eq!(refused.json["errors"][0]["instead"], json!(["1.5 cups"]));
    room.stop().await;
}
