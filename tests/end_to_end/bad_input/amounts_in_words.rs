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
