//! Dividing what a batch made into jars.

use std::collections::BTreeSet;

use serde_json::json;

use super::{Custody, cure, held, made};

#[tokio::test(flavor = "multi_thread")]
async fn jars_are_numbered_hold_no_more_than_is_left_and_keep_no_longer_than_the_label() {
    let of = Custody::of_salve().await;
    let (ilse, noor) = (&of.room.ilse, &of.room.noor);
    let empty = noor.get(&of.path("jars")).await.expect(200).json;
    assert_eq!((&empty["left"], &empty["jars"]), (&json!("570 g"), &json!([])));
    let refused = of.fill(noor, 20, "30 g").await.fields(&["/fill"]);
    assert_eq!(
        cure(&refused),
        "20 jars of 30 g hold 600 g. Of the recorded yield of 590 g, 20 g was lost or kept as a sample; 570 g is left. \
         Fill fewer jars, or put less into each."
    );
    let filled = of.fill(noor, 12, "30 g").await.expect(201);
    assert_eq!((&filled.json["left"], &filled.json["disposition"]), (&json!("210 g"), &json!("quarantine")));
    // A lot of the oil lasts to the end of August, so no jar does longer.
    let date = filled.json["jars"][0]["use_by"].as_str().unwrap().to_owned();
    assert!(date.as_str() <= "2026-08-31", "{date}");
    let label = noor.get(&of.path("label")).await.expect(200).json;
    assert_eq!(label["use_by"]["day"], json!(date));

    // A lot takes of the same yield, and jars of what it leaves.
    noor.post(&of.path("made-lots"), json!({ "amount": "211 g" })).await.fields(&["/amount"]);
    noor.post(&of.path("made-lots"), json!({ "amount": "100 g" })).await.expect(201);
    let refused = of.fill(ilse, 4, "30 g").await.fields(&["/fill"]);
    assert!(
        cure(&refused).contains("100 g is on the shelf, 360 g is in jars; 110 g is left."),
        "{}",
        refused.text
    );
    // By volume only with a density that was measured.
    let volume = |density: &str| json!({ "jars": 2, "fill": "50 mL", "density": density });
    let refused =
        noor.post(&of.path("jars"), json!({ "jars": 2, "fill": "50 mL" })).await.fields(&["/density"]);
    assert!(cure(&refused).contains("enter the density that you measured"), "{}", refused.text);
    noor.post(&of.path("jars"), volume("heavy")).await.fields(&["/density"]);
    let more = noor.post(&of.path("jars"), volume("0.9 g/mL")).await.expect(201).json;
    assert_eq!((&more["left"], &more["jars"][13]["fill"]), (&json!("20 g"), &json!("50 mL")));
    let numbers: Vec<u64> =
        more["jars"].as_array().unwrap().iter().map(|jar| jar["number"].as_u64().unwrap()).collect();
    assert_eq!(numbers, (1..=14).collect::<Vec<_>>());
    let codes = of.codes().await;
    assert_eq!(codes.iter().collect::<BTreeSet<_>>().len(), 14);
    assert!(codes.iter().all(|code| code.len() == 26), "{codes:?}");

    let sooner = |day: &str| json!({ "jars": 1, "fill": "10 g", "use_by": day });
    noor.post(&of.path("jars"), sooner("2027-01-01")).await.fields(&["/use_by"]);
    noor.post(&of.path("jars"), sooner("2026-03-01")).await.fields(&["/use_by"]);
    let jar = noor.post(&of.path("jars"), sooner("2026-03-20")).await.expect(201).json;
    assert_eq!(jar["jars"][14]["use_by"], "2026-03-20");
    for (body, field) in [
        (json!({ "jars": 0, "fill": "1 g" }), "/jars"),
        (json!({ "jars": 501, "fill": "1 mg" }), "/jars"),
        (json!({ "jars": 1, "fill": "a little" }), "/fill"),
        (json!({ "jars": 1, "fill": "3 drops" }), "/fill"),
        (json!({ "jars": 1, "fill": "1 g", "density": "0.9 g/mL" }), "/density"),
    ] {
        noor.post(&of.path("jars"), body).await.fields(&[field]);
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn only_an_accepted_record_fills_jars_and_the_database_holds_how_many() {
    let of = Custody::of_salve().await;
    let noor = &of.room.noor;
    let then = [json!({ "kind": "yield", "quantity": "590 g" })];
    let weighed = [("1.1", "100 g"), ("1.2", "500 g")];
    let waiting = made(&of.room, noor, &of.revision, &weighed, &then).await;
    let jars = json!({ "jars": 1, "fill": "30 g" });
    noor.post(&format!("/v1/batches/{waiting}/jars"), jars).await.problem(409, "wrong-state");
    of.fill(noor, 10, "30 g").await.expect(201);

    let filling = |jars: u32, use_by: &str| {
        format!(
            "INSERT INTO jar_filling (id, batch_id, number, jars, fill, grams, use_by, by_id, at)
             SELECT gen_random_uuid(), batch_id, 2, {jars}, fill, grams, {use_by}, by_id, at FROM jar_filling"
        )
    };
    let of_batch = format!("WHERE id = '{}'", of.batch);
    for (attempt, by) in [
        (filling(10, "use_by"), "jar_no_more"),
        (filling(1, "use_by + 1"), "jar_keeps_no_longer"),
        (filling(1, "NULL"), "jar_keeps_no_longer"),
        (format!("UPDATE batch SET disposition = 'released' {of_batch}"), "batch_was_decided"),
        (format!("UPDATE batch SET disposition = 'discarded' {of_batch}"), "batch_was_decided"),
        (
            "INSERT INTO jar SELECT gen_random_uuid(), batch_id, filling_id, 99, 'short' FROM jar LIMIT 1"
                .into(),
            "jar_token_form",
        ),
        (
            "INSERT INTO jar SELECT gen_random_uuid(), batch_id, filling_id, 99, token FROM jar LIMIT 1"
                .into(),
            "jar_token",
        ),
        (
            "INSERT INTO jar SELECT gen_random_uuid(), batch_id, filling_id, 1, reverse(token) FROM jar
          WHERE number = 2"
                .into(),
            "jar_number",
        ),
    ] {
        held(&of, &attempt, by).await;
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn many_who_fill_at_once_fill_no_more_than_there_is() {
    let of = Custody::of_salve().await;
    // 570 g are left: of ten who fill 100 g, five succeed.
    let filled = futures(&of).await;
    assert_eq!(filled.iter().filter(|status| **status == 201).count(), 5, "{filled:?}");
    assert!(filled.iter().all(|status| [201, 422].contains(status)), "{filled:?}");
    let codes = of.codes().await;
    assert_eq!(codes.len(), 5);
    of.room.stop().await;
}

async fn futures(of: &Custody) -> Vec<u16> {
    let mut racing = tokio::task::JoinSet::new();
    for _ in 0..10 {
        let (by, path) = (of.room.noor.clone(), of.path("jars"));
        racing.spawn(
            async move { by.post(&path, json!({ "jars": 1, "fill": "100 g" })).await.status.as_u16() },
        );
    }
    racing.join_all().await
}
