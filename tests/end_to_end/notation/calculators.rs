//! Calculators with volumes in and out, a portion that is given, and several strengths at once.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{figure, near};

async fn asked(clinic: &TeachingClinic, subject: &str, question: Value) -> Value {
    clinic.noor.post(&format!("/v1/calculations/{subject}"), question).await.expect(200).json
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_added_to_a_portion_that_is_there_and_several_strengths_at_once() {
    let clinic = TeachingClinic::start().await;
    // 10 % and 2 % for 4 %: 2 parts to 6, so 240 g of the weaker take 80 g of the stronger.
    let question = json!({ "one": "2 %", "other": "10 %", "wanted": "4 %", "amount_of_one": "240 g" });
    let found = asked(&clinic, "strength", json!({ "alligation_alternate": question })).await;
    near(figure(&found, "of the other to add"), 80.0, 1e-9);
    near(figure(&found, "made"), 320.0, 1e-9);
    let turned = json!({ "one": "10 %", "other": "2 %", "wanted": "4 %", "amount_of_one": "80 mL" });
    let found = asked(&clinic, "strength", json!({ "alligation_alternate": turned })).await;
    near(figure(&found, "of the other to add"), 240.0, 1e-9);
    assert_eq!(figure(&found, "made")["unit"], "mL");
    let both =
        json!({ "one": "10 %", "other": "2 %", "wanted": "4 %", "amount_of_one": "80 mL", "amount": "1 L" });
    let refused =
        clinic.noor.post("/v1/calculations/strength", json!({ "alligation_alternate": both })).await;
    refused.fields(&["/alligation_alternate/amount_of_one"]);
    // Wanted is the other alone: no amount of it is enough.
    let never = json!({ "one": "10 %", "other": "2 %", "wanted": "2 %", "amount_of_one": "80 mL" });
    let refused =
        clinic.noor.post("/v1/calculations/strength", json!({ "alligation_alternate": never })).await;
    refused.fields(&["/alligation_alternate/amount_of_one"]);

    // 20 with 3, 15 with 5: 7, 5, 5 and 10 parts, 27 in all, which are 10 g each of 270 g.
    let question =
        json!({ "strengths": ["20 %", "15 %", "5 %", "3 %"], "wanted": "10 %", "amount": "270 g" });
    let found = asked(&clinic, "strength", json!({ "alligation_of_many": question })).await;
    for (strength, parts) in [("20 %", 7.0), ("15 %", 5.0), ("5 %", 5.0), ("3 %", 10.0)] {
        near(figure(&found, &format!("parts of {strength}")), parts, 1e-9);
        near(figure(&found, &format!("of {strength}")), parts * 10.0, 1e-9);
    }
    for (strengths, wanted, field) in [
        (json!(["20 %", "15 %", "12 %"]), "10 %", "/alligation_of_many/wanted"),
        (json!(["20 %", "10 %", "5 %"]), "10 %", "/alligation_of_many/strengths"),
        (json!(["20 %", "sour"]), "10 %", "/alligation_of_many/strengths/1"),
    ] {
        let question = json!({ "alligation_of_many": { "strengths": strengths, "wanted": wanted } });
        clinic.noor.post("/v1/calculations/strength", question).await.fields(&[field]);
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn pressing_macerating_and_pouring_are_measured_in_millilitres() {
    let clinic = TeachingClinic::start().await;
    let question = json!({ "pressed": { "herb": "100 g", "menstruum": "500 mL", "pressed": "425 mL" } });
    let found = asked(&clinic, "extraction", question).await;
    near(figure(&found, "parts of native extract to one of drug"), 4.25, 1e-9);
    near(figure(&found, "yield of the menstruum"), 0.85, 1e-9);
    let mixed = json!({ "pressed": { "herb": "100 g", "menstruum": "500 mL", "pressed": "425 g" } });
    clinic.noor.post("/v1/calculations/extraction", mixed).await.fields(&["/pressed/pressed"]);

    let turns = json!({ "herb": "100 g", "retained": "0.75", "turns": ["500 mL", "300 mL"] });
    let found = asked(&clinic, "extraction", json!({ "maceration": turns })).await;
    near(figure(&found, "pressed altogether"), 725.0, 1e-9);
    assert_eq!(figure(&found, "pressed altogether")["unit"], "mL");
    let turns = json!({ "herb": "100 g", "retained": "0.75", "turns": ["500 mL", "300 g"] });
    clinic
        .noor
        .post("/v1/calculations/extraction", json!({ "maceration": turns }))
        .await
        .fields(&["/maceration/turns"]);

    // 100 g of fresh herb bring 80 g of water to 200 mL of menstruum: what it needs, mixed with that water by the
    // calculator of spirits, has the 45 % that were wanted.
    let fresh = json!({ "herb": "100 g", "water": "80 %", "menstruum": "200 mL", "wanted": "45 %" });
    let found = asked(&clinic, "extraction", json!({ "fresh_menstruum": fresh })).await;
    near(figure(&found, "menstruum to pour"), 200.0, 1e-9);
    let percent = stillroom_tests::figures::number(figure(&found, "strength of the menstruum")) * 100.0;
    let streams = json!({ "streams": [
        { "amount": "200 mL", "strength": format!("{percent:.6} %") }, { "amount": "80 g", "strength": "0 %" } ] });
    let mixed = asked(&clinic, "alcohol", json!({ "mixture": streams })).await;
    near(figure(&mixed, "by volume"), 0.45, 1e-5);
    // The spirit and the water of it contract to the 200 mL.
    let [spirit, water] = ["of it the strongest spirit, by volume", "of it water, by volume"]
        .map(|name| stillroom_tests::figures::number(figure(&found, name)));
    assert!(spirit + water > 200.0 && spirit + water < 210.0, "{spirit} + {water}");
    clinic.stop().await;
}
