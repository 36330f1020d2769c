//! Retained samples, what is seen in them, and the earlier last day that follows from it.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Answer, Caller, database};

use super::{Custody, cure, held};
use crate::custody::labels::{bare, words};

/// Two jars to be handed out, and the third as a sample.
async fn three(of: &Custody) -> Vec<Value> {
    let body = json!({ "jars": 3, "fill": "30 g", "samples": 1 });
    let filled = of.room.noor.post(&of.path("jars"), body).await.expect(201).json;
    filled["jars"].as_array().unwrap().clone()
}

fn id(jar: &Value) -> &str {
    jar["id"].as_str().unwrap()
}

async fn hand(by: &Caller, jar: &Value) -> Answer {
    let handing = json!({ "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true });
    by.post(&format!("/v1/jars/{}/handing", id(jar)), handing).await
}

async fn observe(of: &Custody, by: &Caller, body: Value) -> Answer {
    by.post(&of.path("observations"), body).await
}

/// Somebody, days later.
async fn later(of: &Custody, days: i64, name: &str) -> Caller {
    of.room.clinic.service.clinic.clock().advance(Duration::days(days));
    sign_in(&of.room.clinic.nobody, name).await
}

async fn due(by: &Caller) -> Vec<Value> {
    by.get("/v1/observations").await.expect(200).json["items"].as_array().unwrap().clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_retained_sample_is_never_handed_out_and_says_so() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let many = json!({ "jars": 2, "fill": "30 g", "samples": 3 });
    let refused = noor.post(&of.path("jars"), many).await.fields(&["/samples"]);
    assert!(cure(&refused).contains("no more than are filled"), "{}", refused.text);
    let jars = three(&of).await;
    let samples: Vec<bool> = jars.iter().map(|jar| jar["sample"].as_bool().unwrap()).collect();
    assert_eq!(samples, [false, false, true]);
    of.release(marek).await.expect(201);

    let refused = hand(ilse, &jars[2]).await.problem(409, "wrong-state");
    assert!(refused.text.contains("It is kept as a sample. It is never handed out."), "{}", refused.text);
    let sheet = ilse.get(&format!("/v1/jars/{}", id(&jars[2]))).await.expect(200).json;
    assert_eq!(sheet["jar"]["sample"], true);
    hand(ilse, &jars[0]).await.expect(201);
    // The database holds it from both sides.
    let handed = format!(
        "INSERT INTO jar_handing SELECT gen_random_uuid(), '{}', 'C-1', DATE '2026-03-02', true, true, true, by_id, at
         FROM jar_filling",
        id(&jars[2])
    );
    held(&of, &handed, "jar_handed_or_kept").await;
    let kept = format!(
        "INSERT INTO retained_sample SELECT '{}', batch_id, first_on, by_id, at FROM retained_sample",
        id(&jars[0])
    );
    held(&of, &kept, "jar_handed_or_kept").await;

    let page = of.page(jars[2]["code"].as_str().unwrap()).await.expect(200);
    assert!(page.text.contains("Kept as a sample. Do not use it."), "{}", page.text);
    let page = of.page(jars[1]["code"].as_str().unwrap()).await.expect(200);
    assert!(!page.text.contains("sample"), "{}", page.text);
    let printed = noor.get(&format!("{}?size=70%20x%2040%20mm&paper=roll", of.path("jars/labels.pdf"))).await;
    let printed = printed.expect(200);
    let mark = bare("Retained sample. Do not give out.");
    let marked: Vec<bool> = (1..=3).map(|page| words(&printed.bytes, page).contains(&mark)).collect();
    assert_eq!(marked, [false, false, true]);
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn samples_are_due_on_their_days_until_somebody_looks_or_the_last_day_has_passed() {
    let of = Custody::of_salve().await;
    of.room.clinic.person("sven.olsen", "student").await;
    of.fill(&of.room.noor, 1, "30 g").await.expect(201);
    let none = of.room.noor.get(&of.path("observations")).await.expect(200).json;
    assert_eq!((none.get("next_on"), &none["others"]), (None, &json!([1])), "{none}");
    three(&of).await;
    let first = of.room.noor.get(&of.path("observations")).await.expect(200).json;
    assert_eq!((&first["next_on"], &first["samples"]), (&json!("2026-03-03"), &json!([4])));
    assert_eq!(due(&of.room.noor).await, Vec::<Value>::new());

    let noor = later(&of, 1, "noor.haddad").await;
    let today = due(&noor).await;
    assert_eq!(
        (today.len(), &today[0]["due"], &today[0]["overdue"]),
        (1, &json!("2026-03-03"), &json!(false))
    );
    let noor = later(&of, 2, "noor.haddad").await;
    let ilse = sign_in(&of.room.clinic.nobody, "ilse.brandt").await;
    assert_eq!(due(&noor).await[0]["overdue"], true);
    assert_eq!(due(&ilse).await[0]["batch"], json!(of.batch));
    let sven = sign_in(&of.room.clinic.nobody, "sven.olsen").await;
    assert_eq!(due(&sven).await, Vec::<Value>::new(), "only whoever reads the record is asked");

    // Whoever looked is asked again a week after the samples were put aside, and then every month.
    let seen = observe(&of, &noor, json!({ "jar": 4, "seen": [] })).await.expect(201).json;
    assert_eq!(seen["next_on"], "2026-03-09");
    assert_eq!(due(&ilse).await, Vec::<Value>::new());
    let noor = later(&of, 5, "noor.haddad").await;
    let seen =
        observe(&of, &noor, json!({ "jar": 4, "seen": [], "note": "As before." })).await.expect(201).json;
    assert_eq!(seen["next_on"], "2026-04-02");
    let noor = later(&of, 150, "noor.haddad").await;
    assert_eq!(due(&noor).await.len(), 1, "overdue on 7 August");
    let last = noor.get(&of.path("observations")).await.expect(200).text_at("/last_day");
    let days =
        last.parse::<chrono::NaiveDate>().unwrap() - "2026-08-07".parse::<chrono::NaiveDate>().unwrap();
    let noor = later(&of, days.num_days() + 1, "noor.haddad").await;
    assert_eq!(due(&noor).await, Vec::<Value>::new(), "past its last day it is looked at no more");
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_observation_stays_and_its_correction_stands_beside_it() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let early = observe(&of, noor, json!({ "jar": 1, "seen": [] })).await.fields(&["/jar"]);
    assert!(cure(&early).contains("No jar of this batch is filled."), "{}", early.text);
    let jars = three(&of).await;
    let written =
        observe(&of, noor, json!({ "jar": 3, "seen": ["mould", "separated", "mould"], "note": " A film. " }))
            .await;
    let written = written.expect(201).json;
    let first = &written["observations"][0];
    assert_eq!(
        (&first["seen"], &first["note"], &first["by"], &first["on"]),
        (&json!(["separated", "mould"]), &json!("A film."), &json!(noor.id), &json!("2026-03-02"))
    );
    observe(&of, noor, json!({ "jar": 9, "seen": [] })).await.fields(&["/jar"]);
    observe(&of, noor, json!({ "jar": 3, "seen": [], "note": "x".repeat(1001) })).await.fields(&["/note"]);
    observe(&of, noor, json!({ "jar": 3, "seen": [], "reason": "Wrong." })).await.fields(&["/reason"]);
    observe(&of, noor, json!({ "jar": 3, "seen": ["green"] })).await.expect(422);

    let correct = |reason: Option<&str>| {
        let mut body = json!({ "jar": 3, "seen": [], "corrects": first["id"] });
        if let Some(reason) = reason {
            body["reason"] = json!(reason);
        }
        body
    };
    observe(&of, ilse, correct(None)).await.fields(&["/reason"]);
    let both = observe(&of, ilse, correct(Some("It was the light."))).await.expect(201).json;
    let [new, old] = [&both["observations"][0], &both["observations"][1]];
    assert_eq!((&new["corrects"], &old["corrected_by"]), (&first["id"], &new["id"]));
    assert_eq!(old["seen"], first["seen"], "what was written stays legible");
    observe(&of, noor, correct(Some("Once more."))).await.problem(409, "conflict");
    let mut unknown = correct(Some("Wrong."));
    unknown["corrects"] = json!(of.batch);
    observe(&of, noor, unknown).await.fields(&["/corrects"]);

    of.release(marek).await.expect(201);
    hand(ilse, &jars[0]).await.expect(201);
    let away = observe(&of, noor, json!({ "jar": 1, "seen": [] })).await.fields(&["/jar"]);
    assert!(cure(&away).contains("Jar 1 was handed out or is empty."), "{}", away.text);
    let copy = |change: &str| {
        format!(
            "INSERT INTO batch_observation SELECT (r).* FROM (SELECT jsonb_populate_record(o, '{change}'::jsonb
                 || jsonb_build_object('id', gen_random_uuid(), 'number', 9)) AS r
             FROM batch_observation o WHERE corrects_id IS NULL) c"
        )
    };
    let away = format!(r#"{{"jar_id": "{}"}}"#, id(&jars[0]));
    held(&of, &copy(&away), "observation_of_jar_here").await;
    held(&of, &copy(r#"{"seen": ["green"]}"#), "batch_observation_seen").await;
    held(&of, &copy(r#"{"reason": "Because."}"#), "batch_observation_reason").await;
    held(&of, &copy(r#"{"next_on": "2026-03-02"}"#), "batch_observation_next").await;
    let mut owner = database::owner(&of.room.clinic.database).await;
    for act in [
        "UPDATE batch_observation SET seen = '{}'",
        "DELETE FROM batch_observation",
        "DELETE FROM retained_sample",
        "UPDATE batch_shortening SET last_day = last_day + 1",
        "DELETE FROM batch_shortening",
    ] {
        let refused = owner.batch_execute(&format!("BEGIN; SET LOCAL ROLE stillroom_service; {act}")).await;
        let refused = refused.unwrap_err().to_string();
        assert!(refused.contains("permission denied"), "{act}: {refused}");
        owner.batch_execute("ROLLBACK").await.unwrap();
    }
    ilse.post(&of.path("discard"), json!({ "reason": "It separated." })).await.expect(201);
    observe(&of, noor, json!({ "jar": 3, "seen": [] })).await.problem(409, "wrong-state");
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_earlier_last_day_binds_everywhere_and_is_never_put_off() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    let jars = three(&of).await;
    let lot = noor.post(&of.path("made-lots"), json!({ "amount": "100 g" })).await.expect(201).id();
    of.release(marek).await.expect(201);
    let before = noor.get(&of.path("observations")).await.expect(200).text_at("/last_day");
    let seen = observe(&of, noor, json!({ "jar": 3, "seen": ["rancid_smell"] })).await.expect(201);
    let observation = seen.text_at("/observations/0/id");
    let shorten =
        |day: &str, reason: &str| json!({ "observation": observation, "last_day": day, "reason": reason });
    let path = of.path("shortenings");
    noor.post(&path, shorten("2026-03-10", "It turns.")).await.expect(403);
    for (day, reason, field) in [
        (before.as_str(), "It turns.", "/last_day"),
        ("2027-03-10", "It turns.", "/last_day"),
        ("2026-02-28", "It turns.", "/last_day"),
        ("2026-03-10", " ", "/reason"),
    ] {
        ilse.post(&path, shorten(day, reason)).await.fields(&[field]);
    }
    let mut unknown = shorten("2026-03-10", "It turns.");
    unknown["observation"] = json!(of.batch);
    ilse.post(&path, unknown).await.fields(&["/observation"]);
    let said = ilse.post(&path, shorten("2026-03-10", "It turns rancid early.")).await.expect(201).json;
    assert_eq!(said["last_day"], "2026-03-10");
    assert_eq!(said["shortenings"][0]["reason"], "It turns rancid early.");

    let page = of.page(jars[1]["code"].as_str().unwrap()).await.expect(200);
    assert!(page.text.contains("In date. Use by 10 March 2026."), "{}", page.text);
    assert!(page.text.contains("brought the last day forward"), "{}", page.text);
    assert!(!page.text.contains("rancid"), "what was seen stays at the clinic: {}", page.text);
    let listed = noor.get(&of.path("jars")).await.expect(200).json;
    assert!(listed["jars"].as_array().unwrap().iter().all(|jar| jar["use_by"] == "2026-03-10"), "{listed}");
    let label = noor.get(&of.path("label")).await.expect(200).json;
    assert_eq!(label["use_by"]["day"], "2026-03-10");
    assert!(label["use_by"]["because"].as_str().unwrap().contains("2026-03-02"), "{label}");
    let printed = noor.get(&format!("{}?size=70%20x%2040%20mm&paper=roll", of.path("jars/labels.pdf"))).await;
    assert!(words(&printed.expect(200).bytes, 1).contains(&bare("Use by: 2026-03-10")));
    let shelf = ilse.get(&format!("/v1/lots/{lot}")).await.expect(200).json;
    assert_eq!(shelf["keeps_until"], "2026-03-10");
    // What is filled or shelved from now on keeps no longer either.
    let more = |day: &str| json!({ "jars": 1, "fill": "10 g", "use_by": day });
    noor.post(&of.path("jars"), more(&before)).await.fields(&["/use_by"]);
    let filled = noor.post(&of.path("jars"), json!({ "jars": 1, "fill": "10 g" })).await.expect(201).json;
    assert_eq!(filled["jars"][3]["use_by"], "2026-03-10");
    noor.post(&of.path("made-lots"), json!({ "amount": "50 g", "use_by": before }))
        .await
        .fields(&["/use_by"]);

    let put_off = |day: &str| {
        format!(
            "INSERT INTO batch_shortening SELECT gen_random_uuid(), batch_id, 9, observation_id, DATE '{day}', on_day, reason,
             by_id, at FROM batch_shortening"
        )
    };
    held(&of, &put_off("2026-03-10"), "batch_only_shortened").await;
    held(&of, &put_off("2026-02-28"), "batch_shortening_from_here_on").await;
    hand(ilse, &jars[0]).await.expect(201);
    // Yesterday: nobody uses it any more.
    ilse.post(&path, shorten("2026-03-01", "Mould.")).await.expect(201);
    let page = of.page(jars[1]["code"].as_str().unwrap()).await.expect(200);
    assert!(page.text.contains("Past its date. Do not use it."), "{}", page.text);
    let refused = hand(ilse, &jars[1]).await.problem(409, "wrong-state");
    assert!(refused.text.contains("Its last day was 2026-03-01."), "{}", refused.text);
    let handed = format!(
        "INSERT INTO jar_handing SELECT gen_random_uuid(), '{}', 'C-1', DATE '2026-03-02', true, true, true, by_id, at
         FROM jar_filling LIMIT 1",
        id(&jars[1])
    );
    held(&of, &handed, "jar_handed_released").await;
    let over = ilse.post(&path, shorten("2026-03-01", "Mould.")).await.fields(&["/last_day"]);
    assert!(cure(&over).contains("It cannot be brought forward."), "{}", over.text);
    // A correction takes nothing back, and what was corrected leads to nothing further.
    let correction = json!({ "jar": 3, "seen": [], "corrects": observation, "reason": "It was the lid." });
    let after = observe(&of, ilse, correction).await.expect(201).json;
    assert_eq!(after["last_day"], "2026-03-01");
    let corrected = ilse.post(&path, shorten("2026-03-01", "Mould.")).await;
    assert!(corrected.text.contains("This observation was corrected."), "{}", corrected.text);
    of.room.stop().await;
}
