//! Handing jars out, taking them back, and accounting for them in a recall.

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

use super::{Custody, cure, held};

fn handing(reference: &str) -> Value {
    json!({ "reference": reference, "suitability_asked": true, "cautions_told": true, "opening_told": true })
}

async fn ids(of: &Custody) -> Vec<String> {
    let jars = of.room.ilse.get(&of.path("jars")).await.expect(200).json;
    jars["jars"].as_array().unwrap().iter().map(|jar| jar["id"].as_str().unwrap().to_owned()).collect()
}

async fn hand(by: &Caller, jar: &str, reference: &str) -> Answer {
    by.post(&format!("/v1/jars/{jar}/handing"), handing(reference)).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_released_jar_goes_to_a_reference_once_and_what_comes_back_stays_out_of_stock() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    of.fill(noor, 3, "30 g").await.expect(201);
    let jars = ids(&of).await;
    let refused = hand(ilse, &jars[0], "C-1042").await.problem(409, "wrong-state");
    assert!(refused.text.contains("It is not released."), "{}", refused.text);
    let given = |jar: &str, day: &str| {
        format!(
            "INSERT INTO jar_handing SELECT gen_random_uuid(), '{jar}', 'C-1', DATE '{day}', true, true, true, by_id, at
             FROM jar_filling"
        )
    };
    held(&of, &given(&jars[0], "2026-03-02"), "jar_handed_released").await;
    of.release(marek).await.expect(201);
    held(&of, &given(&jars[0], "2027-03-02"), "jar_handed_released").await;
    let said = |what: &str| given(&jars[0], "2026-03-02").replacen("true, true, true", what, 1);
    held(&of, &said("false, true, true"), "jar_handing_asked").await;
    held(&of, &said("true, false, true"), "jar_handing_told").await;
    held(&of, &said("true, true, false"), "jar_handing_opening").await;
    held(&of, &given(&jars[0], "2026-03-02").replace("C-1'", "Noor Haddad'"), "jar_handing_reference").await;

    let sheet = ilse.get(&format!("/v1/jars/{}", jars[0])).await.expect(200).json;
    assert_eq!((sheet.get("barred"), &sheet["jar"]["number"]), (None, &json!(1)));
    assert!(sheet["cautions"].as_array().unwrap().contains(&json!("For external use only.")), "{sheet}");
    noor.get(&format!("/v1/jars/{}", jars[0])).await.expect(403);
    hand(noor, &jars[0], "C-1042").await.expect(403);
    let path = format!("/v1/jars/{}/handing", jars[0]);
    let refused = ilse.post(&path, handing("Noor Haddad")).await.fields(&["/reference"]);
    assert!(cure(&refused).ends_with("Never a name."), "{}", refused.text);
    let unsaid = json!({ "reference": "C-1042", "suitability_asked": false, "cautions_told": false, "opening_told": false });
    ilse.post(&path, unsaid).await.fields(&["/suitability_asked", "/cautions_told", "/opening_told"]);
    let handed = hand(ilse, &jars[0], "c-1042").await.expect(201).json;
    let went = &handed["jar"]["handed"];
    assert_eq!(
        (&went["reference"], &went["by"], &went["on"]),
        (&json!("C-1042"), &json!(ilse.id), &json!("2026-03-02"))
    );
    hand(marek, &jars[0], "C-7").await.problem(409, "wrong-state");
    // The maker's list says nothing of where a jar went.
    let list = noor.get(&of.path("jars")).await.expect(200);
    assert!(!list.text.contains("C-1042"), "{}", list.text);

    let back = |jar: &str| format!("/v1/jars/{jar}/return");
    marek.post(&back(&jars[1]), json!({})).await.problem(409, "wrong-state");
    let came = marek.post(&back(&jars[0]), json!({ "note": "Half used." })).await.expect(201).json;
    assert_eq!(came["jar"]["handed"]["returned"]["note"], "Half used.");
    marek.post(&back(&jars[0]), json!({})).await.problem(409, "wrong-state");
    hand(ilse, &jars[0], "C-9").await.problem(409, "wrong-state");

    let unknown = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80";
    hand(ilse, unknown, "C-1").await.expect(404);
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recall_lists_where_the_jars_went_and_is_not_closed_over_one_of_them() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    of.fill(noor, 4, "30 g").await.expect(201);
    let jars = ids(&of).await;
    of.release(marek).await.expect(201);
    hand(ilse, &jars[0], "C-1042").await.expect(201);
    hand(ilse, &jars[1], "C-1043").await.expect(201);
    let recall = json!({ "cause": "batch", "id": of.batch, "reason": "Somebody's skin reddened." });
    let started = ilse.post("/v1/recalls", recall).await.expect(201);
    let (desk, reached) = (format!("/v1/recalls/{}", started.id()), &started.json["reached"][0]);
    assert_eq!(started.json["unaccounted"], 5, "{}", started.text);
    let references: Vec<&Value> =
        reached["jars"].as_array().unwrap().iter().map(|jar| &jar["reference"]).collect();
    assert_eq!(references, [&json!("C-1042"), &json!("C-1043"), &Value::Null, &Value::Null]);
    hand(ilse, &jars[2], "C-1044").await.problem(409, "wrong-state");

    let outcomes = format!("{desk}/jar-outcomes");
    let note = |jars: &[u32], outcome: &str, note: Option<&str>| json!({ "item": 1, "jars": jars, "outcome": outcome, "note": note });
    ilse.post(&outcomes, note(&[9], "returned", None)).await.fields(&["/jars"]);
    ilse.post(&outcomes, note(&[], "returned", None)).await.fields(&["/jars"]);
    ilse.post(&outcomes, note(&[1], "not_found", None)).await.fields(&["/note"]);
    let mut wrong = note(&[1], "returned", None);
    wrong["item"] = json!(7);
    ilse.post(&outcomes, wrong).await.fields(&["/item"]);
    noor.post(&outcomes, note(&[1], "returned", None)).await.expect(403);
    ilse.post(&outcomes, note(&[1, 3, 4], "returned", None)).await.expect(201);
    ilse.post(&outcomes, note(&[3, 4], "destroyed", Some("Burnt."))).await.expect(201);
    ilse.post(&format!("{desk}/outcomes"), json!({ "item": 1, "outcome": "nothing_left" })).await.expect(201);
    let refused = ilse.post(&format!("{desk}/close"), json!({})).await.fields(&["/reason"]);
    assert!(cure(&refused).starts_with("One lot, batch or jar is not accounted for."), "{}", refused.text);
    let close = format!(
        "UPDATE recall SET state = 'closed', closed_at = at, closed_by = by_id WHERE id = '{}'",
        started.id()
    );
    held(&of, &close, "recall_closes_accounted").await;
    let now =
        ilse.post(&outcomes, note(&[2], "not_found", Some("Asked C-1043 by letter."))).await.expect(201).json;
    let came: Vec<&Value> = now["reached"][0]["jars"]
        .as_array()
        .unwrap()
        .iter()
        .map(|jar| &jar["accounted"]["outcome"])
        .collect();
    assert_eq!(came, ["returned", "not_found", "destroyed", "destroyed"]);
    assert_eq!(now["unaccounted"], 0);
    ilse.post(&format!("{desk}/close"), json!({})).await.expect(201);
    ilse.post(&outcomes, note(&[1], "destroyed", None)).await.problem(409, "wrong-state");
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_jar_that_two_hand_out_at_once_goes_to_one() {
    let of = Custody::of_salve().await;
    of.fill(&of.room.noor, 1, "30 g").await.expect(201);
    of.release(&of.room.marek).await.expect(201);
    let jar = ids(&of).await.remove(0);
    let mut racing = tokio::task::JoinSet::new();
    for number in 0..8 {
        let (by, jar) = (of.room.ilse.clone(), jar.clone());
        racing.spawn(async move { hand(&by, &jar, &format!("C-{number}00")).await.status.as_u16() });
    }
    let mut all = racing.join_all().await;
    all.sort_unstable();
    assert_eq!(all, [201, 409, 409, 409, 409, 409, 409, 409]);
    of.room.stop().await;
}
