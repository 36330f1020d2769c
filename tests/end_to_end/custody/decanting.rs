//! A jar whose content is filled into smaller ones, and a jar that becomes a sample after it was filled.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

use super::{Custody, cure, held};

fn id(jar: &Value) -> &str {
    jar["id"].as_str().unwrap()
}

/// Two jars of 100 g.
async fn two(of: &Custody) -> Vec<Value> {
    let filled = of.fill(&of.room.noor, 2, "100 g").await.expect(201).json;
    filled["jars"].as_array().unwrap().clone()
}

async fn decant(by: &Caller, jar: &Value, into: Value) -> Answer {
    let body = json!({ "into": into, "reason": "A small jar is needed." });
    by.post(&format!("/v1/jars/{}/decanting", id(jar)), body).await
}

async fn hand(by: &Caller, jar: &Value) -> Answer {
    let handing = json!({ "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true });
    by.post(&format!("/v1/jars/{}/handing", id(jar)), handing).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_jar_is_decanted_into_smaller_ones_of_its_batch_and_is_empty_then() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let jars = two(&of).await;
    let left = noor.get(&of.path("jars")).await.expect(200).text_at("/left");
    let more = decant(noor, &jars[0], json!([{ "jars": 3, "fill": "40 g" }])).await.fields(&["/into"]);
    assert!(cure(&more).contains("The jars hold 120 g together, and jar 1 holds 100 g"), "{}", more.text);
    decant(noor, &jars[0], json!([])).await.fields(&["/into"]);
    decant(noor, &jars[0], json!([{ "jars": 0, "fill": "1 g" }])).await.fields(&["/into/0/jars"]);
    decant(noor, &jars[0], json!([{ "jars": 1, "fill": "10 mL" }])).await.fields(&["/into/0/density"]);
    let silent = json!({ "into": [{ "jars": 1, "fill": "10 g" }], "reason": " " });
    noor.post(&format!("/v1/jars/{}/decanting", id(&jars[0])), silent).await.fields(&["/reason"]);

    let sizes = json!([{ "jars": 2, "fill": "30 g" }, { "jars": 1, "fill": "35 g" }]);
    let after = decant(noor, &jars[0], sizes).await.expect(201).json;
    let all = after["jars"].as_array().unwrap();
    let fills: Vec<&Value> = all.iter().map(|jar| &jar["fill"]).collect();
    assert_eq!(fills, ["100 g", "100 g", "30 g", "30 g", "35 g"]);
    assert_eq!(
        (&all[0]["decanted_into"], &all[2]["decanted_from"], all[1].get("decanted_from")),
        (&json!([3, 4, 5]), &json!(1), None)
    );
    assert_eq!(all[2]["use_by"], all[0]["use_by"], "they keep as long as the jar did");
    assert_eq!(after["left"], json!(left), "nothing of the yield is taken twice");
    assert_ne!(all[2]["code"], all[0]["code"]);

    // The empty jar is nothing any more; the new ones are jars like others.
    decant(noor, &jars[0], json!([{ "jars": 1, "fill": "10 g" }])).await.problem(409, "wrong-state");
    of.release(marek).await.expect(201);
    let refused = hand(ilse, &jars[0]).await.problem(409, "wrong-state");
    assert!(refused.text.contains("It is empty: its content is in other jars."), "{}", refused.text);
    hand(ilse, &all[2]).await.expect(201);
    let page = of.page(all[0]["code"].as_str().unwrap()).await.expect(200);
    assert!(page.text.contains("This jar is empty.") && page.text.contains("3, 4, 5"), "{}", page.text);
    of.page(all[3]["code"].as_str().unwrap()).await.expect(200);
    let looked = json!({ "jar": 1, "seen": [] });
    noor.post(&of.path("observations"), looked).await.fields(&["/jar"]);
    let observed = noor.get(&of.path("observations")).await.expect(200).json;
    assert_eq!(observed["others"], json!([2, 4, 5]));

    // A recall reaches the new ones, and the empty one needs no account.
    let recall = json!({ "cause": "batch", "id": of.batch, "reason": "Somebody's skin reddened." });
    let recall = ilse.post("/v1/recalls", recall).await.expect(201);
    let items = recall.json["reached"].as_array().unwrap_or_else(|| panic!("{}", recall.text));
    let jars_of = items.iter().filter_map(|item| item["jars"].as_array()).flatten();
    let reached: Vec<&Value> = jars_of.map(|jar| &jar["number"]).collect();
    assert_eq!(reached, [2, 3, 4, 5], "{}", recall.text);
    let page = of.page(all[3]["code"].as_str().unwrap()).await.expect(200);
    assert!(page.text.contains("Recalled on"), "{}", page.text);
    decant(noor, &all[1], json!([{ "jars": 1, "fill": "10 g" }])).await.problem(409, "wrong-state");
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_handed_out_or_kept_as_a_sample_is_not_decanted() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let jars = two(&of).await;
    let keep = format!("/v1/jars/{}/sample", id(&jars[1]));
    noor.post(&keep, json!({ "reason": "" })).await.fields(&["/reason"]);
    let kept = noor.post(&keep, json!({ "reason": "A second one to look at." })).await.expect(201).json;
    assert_eq!(kept["jars"][1]["sample"], true);
    noor.post(&keep, json!({ "reason": "Once more." })).await.problem(409, "wrong-state");
    decant(noor, &jars[1], json!([{ "jars": 1, "fill": "10 g" }])).await.problem(409, "wrong-state");
    let due = noor.get(&of.path("observations")).await.expect(200).json;
    assert_eq!((&due["samples"], &due["next_on"]), (&json!([2]), &json!("2026-03-03")));

    of.release(marek).await.expect(201);
    hand(ilse, &jars[1]).await.problem(409, "wrong-state");
    hand(ilse, &jars[0]).await.expect(201);
    ilse.post(&format!("/v1/jars/{}/return", id(&jars[0])), json!({})).await.expect(201);
    let refused = decant(noor, &jars[0], json!([{ "jars": 1, "fill": "10 g" }])).await;
    let refused = refused.problem(409, "wrong-state");
    assert!(refused.text.contains("never goes back to the shelf"), "{}", refused.text);
    let keep = format!("/v1/jars/{}/sample", id(&jars[0]));
    noor.post(&keep, json!({ "reason": "To look at." })).await.problem(409, "wrong-state");

    // The database holds it by itself.
    for (jar, by) in [(&jars[0], "jar_handed_or_kept"), (&jars[1], "jar_handed_or_kept")] {
        let emptied = format!(
            "INSERT INTO jar_decanting SELECT '{}', batch_id, DATE '2026-03-02', 'x', by_id, at FROM jar_filling",
            id(jar)
        );
        held(&of, &emptied, by).await;
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_holds_that_decanting_makes_no_more_and_nothing_keeps_longer() {
    let of = Custody::of_salve().await;
    let (ilse, noor) = (&of.room.ilse, &of.room.noor);
    let jars = two(&of).await;
    decant(noor, &jars[0], json!([{ "jars": 1, "fill": "60 g" }])).await.expect(201);
    let again = |grams: u32, day: &str| {
        format!(
            "INSERT INTO jar_filling (id, batch_id, number, jars, fill, grams, use_by, by_id, at, decanted_from)
             SELECT gen_random_uuid(), batch_id, 9, 1, 'x', {grams}, {day}, by_id, at, decanted_from
             FROM jar_filling WHERE decanted_from IS NOT NULL"
        )
    };
    held(&of, &again(41, "use_by"), "decanted_no_more").await;
    held(&of, &again(1, "NULL"), "jar_keeps_no_longer").await;
    held(
        &of,
        &format!(
            "INSERT INTO jar_decanting SELECT '{}', batch_id, DATE '2036-03-02', 'x', by_id, at FROM jar_filling LIMIT 1",
            id(&jars[1])
        ),
        "jar_decanted_here",
    )
    .await;
    let recall = json!({ "cause": "batch", "id": of.batch, "reason": "Somebody's skin reddened." });
    ilse.post("/v1/recalls", recall).await.expect(201);
    for (statement, by) in [
        (
            format!(
                "INSERT INTO jar_decanting SELECT '{}', batch_id, DATE '2026-03-02', 'x', by_id, at FROM jar_filling
                 LIMIT 1",
                id(&jars[1])
            ),
            "jar_decanted_here",
        ),
        (
            format!(
                "INSERT INTO retained_sample SELECT '{}', batch_id, DATE '2026-03-03', by_id, at FROM jar_filling LIMIT 1",
                id(&jars[1])
            ),
            "sample_of_usable_batch",
        ),
    ] {
        held(&of, &statement, by).await;
    }
    of.room.stop().await;
}
