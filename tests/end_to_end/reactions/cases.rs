//! Cases: who reads them, what they have in common, how they are joined and closed.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use stillroom_tests::Caller;

use super::{Jars, finished, held, telling};
use crate::stock::made::Room;
use crate::stock::recalls::usable_herb;
use crate::stock::{cure, opened, usable, weigh};

#[tokio::test(flavor = "multi_thread")]
async fn reports_are_read_by_instructors_and_administrators_of_the_library_alone() {
    let of = Jars::start().await;
    let (ilse, noor, petra) = (&of.room.ilse, &of.room.noor, &of.room.clinic.administrator);
    let case = of.told(noor, 0, "It itched.").await;
    let path = format!("/v1/reactions/{}", case["id"].as_str().unwrap());
    assert_eq!(case["received"][0]["by_name"], "noor.haddad");
    let stranger = of.room.clinic.person("hana.voss", "instructor").await;
    noor.get("/v1/reactions").await.problem(403, "forbidden");
    noor.get(&path).await.problem(403, "forbidden");
    for outside in [&stranger, petra] {
        outside.get(&path).await.problem(404, "not-found");
        assert_eq!(outside.get("/v1/reactions").await.expect(200).json["items"], json!([]));
        let note = json!({ "text": "Seen." });
        let status = if outside.id == petra.id { 403 } else { 404 };
        outside.post(&format!("{path}/notes"), note).await.expect(status);
    }
    let jar = format!("/v1/jars/{}/reactions", of.jars[0].0);
    stranger.post(&jar, telling("It itched.")).await.problem(404, "not-found");
    // An administrator who is a member of the library reads it, and decides nothing.
    ilse.put_bare(&format!("/v1/libraries/{}/members/{}", of.room.library, petra.id)).await.expect(204);
    petra.get(&path).await.expect(200);
    petra.post(&format!("{path}/conclusion"), concluded("possible")).await.problem(403, "forbidden");
    let key = of.room.clinic.api_client(ilse, &["formulas:read", "labels:read"], &[&of.room.library]).await;
    key.get(&path).await.problem(403, "forbidden");
    // The events of a case are for whoever reads it.
    let events = format!("/v1/events?subject={}", case["id"].as_str().unwrap());
    ilse.get(&events).await.expect(200);
    noor.get(&events).await.problem(404, "not-found");
    stranger.get(&events).await.problem(404, "not-found");
    of.room.stop().await;
}

fn concluded(causality: &str) -> Value {
    json!({ "causality": causality, "conclusion": "The label names wool fat." })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_case_is_worked_on_joined_and_closed_for_good() {
    let of = Jars::start().await;
    let (ilse, marek) = (&of.room.ilse, &of.room.marek);
    let [first, second, third] = [
        of.told(ilse, 0, "It itched.").await,
        of.told(ilse, 1, "It itched, says Anna Muster.").await,
        of.told(ilse, 1, "It burned.").await,
    ]
    .map(|case| case["id"].as_str().unwrap().to_owned());
    let act = async |by: &Caller, case: &str, what: &str, body: Value| {
        by.post(&format!("/v1/reactions/{case}/{what}"), body).await
    };
    act(marek, &first, "notes", json!({ "text": " " })).await.fields(&["/text"]);
    let noted = act(marek, &first, "notes", json!({ "text": "The wax was asked about." })).await.expect(201);
    assert_eq!(noted.json["notes"][0]["by_name"], "marek.dvorsky");

    // Joined: the reports stand in the other, and what was joined before goes along.
    act(marek, &second, "joining", json!({ "case": second })).await.fields(&["/case"]);
    act(marek, &third, "joining", json!({ "case": second })).await.expect(201);
    let joined = act(marek, &second, "joining", json!({ "case": first })).await.expect(201);
    assert_eq!(joined.id(), first);
    assert_eq!(joined.json["received"].as_array().unwrap().len(), 3, "{}", joined.text);
    for ended in [&second, &third] {
        let ended = of.case(ended).await;
        assert_eq!((&ended["state"], &ended["ended"]["joined_to"]["id"]), (&json!("joined"), &json!(first)));
        assert_eq!(ended["received"], json!([]));
    }
    let refused = act(marek, &first, "joining", json!({ "case": third })).await.fields(&["/case"]);
    assert!(cure(&refused).contains("This is no open case"), "{}", refused.text);
    act(marek, &second, "notes", json!({ "text": "More." })).await.problem(409, "wrong-state");
    let listed = ilse.get("/v1/reactions").await.expect(200).json;
    assert_eq!(listed["items"].as_array().unwrap().len(), 1, "{listed}");

    // Words that name somebody go; the report stays.
    let named = joined.json["received"][1]["id"].clone();
    act(ilse, &first, "erasures", json!({ "report": first })).await.fields(&["/report"]);
    let erased = act(ilse, &first, "erasures", json!({ "report": named })).await.expect(201);
    assert!(erased.json["received"][1].get("what").is_none(), "{}", erased.text);
    assert!(!of.room.contents().await.values().any(|rows| rows.contains("Anna Muster")));
    act(ilse, &first, "erasures", json!({ "report": named })).await.problem(409, "wrong-state");

    act(ilse, &first, "conclusion", json!({ "causality": "likely", "conclusion": "x" })).await.expect(422);
    let closed = act(ilse, &first, "conclusion", concluded("probable")).await.expect(201);
    assert_eq!(
        (&closed.json["state"], &closed.json["ended"]["causality"]),
        (&json!("closed"), &json!("probable"))
    );
    act(ilse, &first, "conclusion", concluded("possible")).await.problem(409, "wrong-state");

    // What names somebody goes also after the case ended, and nothing else of it changes.
    let late = act(ilse, &first, "erasures", json!({ "report": joined.json["received"][0]["id"] })).await;
    let late = late.expect(201).json;
    assert!(late["received"][0].get("what").is_none() && late["state"] == "closed", "{late}");

    // Another report opens another case, which is held beside the closed one.
    let next = of.told(ilse, 0, "It itched again.").await;
    assert_eq!(next["number"], "R2026-0004");
    let batch = &next["shared"][0];
    assert_eq!(
        (&batch["kind"], &batch["id"], &batch["cases"][0]["id"]),
        (&json!("batch"), &json!(of.batch), &json!(first))
    );

    let (one, other) = (next["id"].as_str().unwrap(), &first);
    for (statement, by) in [
        (
            format!(
                "UPDATE reaction_case SET state = 'open', causality = NULL, conclusion = NULL, ended_by = NULL, ended_at = NULL WHERE id = '{other}'"
            ),
            "reaction_case_stays_ended",
        ),
        (
            format!("UPDATE reaction_report SET case_id = '{one}' WHERE case_id = '{other}'"),
            "reaction_report_follows",
        ),
        (
            format!("UPDATE reaction_report SET case_id = '{other}' WHERE case_id = '{one}'"),
            "reaction_in_open_case",
        ),
        (
            format!(
                "UPDATE reaction_case SET state = 'joined', joined_id = '{other}', ended_at = opened_at, ended_by = '{}' WHERE id = '{one}'",
                ilse.id
            ),
            "reaction_case_joins_open",
        ),
        (format!("UPDATE reaction_case SET state = 'closed' WHERE id = '{one}'"), "reaction_case_ended"),
        (
            format!(
                "INSERT INTO reaction_note VALUES (gen_random_uuid(), '{other}', 9, 'x', '{}', now())",
                ilse.id
            ),
            "reaction_in_open_case",
        ),
        (
            format!("UPDATE reaction_report SET outcome = 'fatal', serious = '{{}}' WHERE case_id = '{one}'"),
            "reaction_report_fatal",
        ),
        (format!("UPDATE reaction_report SET by_id = NULL WHERE case_id = '{one}'"), "reaction_report_told"),
    ] {
        held(&of.room, &statement, by).await;
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn bad_reports_are_refused_by_field() {
    let of = Jars::start().await;
    let path = format!("/v1/jars/{}/reactions", of.jars[0].0);
    let by = &of.room.noor;
    by.post(&path, telling(&"x".repeat(2001))).await.fields(&["/what"]);
    let mut late = telling("It itched.");
    late["began_on"] = json!("2026-03-09");
    by.post(&path, late.clone()).await.fields(&["/began_on"]);
    late["what"] = json!("");
    by.post(&path, late).await.fields(&["/what", "/began_on"]);
    let mut words = telling("It itched.");
    words["serious"] = json!(["grave"]);
    by.post(&path, words.clone()).await.expect(422);
    words["serious"] = json!([]);
    words["name"] = json!("Anna Muster");
    by.post(&path, words).await.fields(&["/name"]);
    // What ended in death is serious.
    let fatal = json!({ "what": "It ended in death.", "outcome": "fatal" });
    by.post(&path, fatal).await.expect(201);
    let newest = of.room.ilse.get("/v1/reactions?state=open").await.expect(200);
    assert_eq!(newest.json["items"][0]["serious"], json!(true));
    let case = of.case(&newest.text_at("/items/0/id")).await;
    assert_eq!(case["received"][0]["serious"], json!(["death"]));
    of.room.ilse.get("/v1/reactions?state=ended").await.fields(&["?state"]);
    of.room.stop().await;
}

/// Every lot and batch that a batch was made of, itself included, by a plain walk over records and lots.
async fn walked(of: &Room, from: &str) -> BTreeSet<String> {
    let (ilse, noor) = (&of.room.ilse, &of.room.noor);
    let (mut found, mut waiting) = (BTreeSet::new(), vec![from.to_owned()]);
    while let Some(id) = waiting.pop() {
        if !found.insert(id.clone()) {
            continue;
        }
        let lot = ilse.get(&format!("/v1/lots/{id}")).await;
        if lot.status == 200 {
            waiting.extend(lot.json["made"]["batch"].as_str().map(str::to_owned));
            continue;
        }
        let record = noor.get(&format!("/v1/batches/{id}")).await.expect(200).json;
        let drawn = record["entries"].as_array().unwrap().iter();
        let drawn = drawn.filter(|entry| entry.get("corrected_by").is_none_or(Value::is_null));
        waiting.extend(drawn.filter_map(|entry| entry["lot_id"].as_str().map(str::to_owned)));
    }
    found
}

#[tokio::test(flavor = "multi_thread")]
async fn cases_share_what_a_plain_walk_over_their_batches_reaches_from_both() {
    let of = Room::start().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    // An infused oil from a lot of the herb goes on the shelf and into a salve; both end in jars.
    let herb = usable_herb(&of, "500 g").await;
    let oil = opened(noor, &of.oil).await;
    weigh(noor, &oil, "1.1", &herb, "100 g").await.expect(201);
    let bought = json!({ "kind": "weighing", "line": "1.2", "quantity": "1000 g", "lot": "MO-1", "lot_expires": "2026-07" });
    noor.post(&format!("/v1/batches/{oil}/entries"), bought).await.expect(201);
    let (_, oils) = finished(&of.room, &oil, &of.oil).await;
    let made = of.shelve(noor, &oil, "500 g").await.expect(201).id();
    of.let_in(marek, &made).await.expect(201);
    let wax = usable(ilse, crate::stock::lot("yellow beeswax", "500 g")).await;
    let salve = opened(noor, &of.salve).await;
    weigh(noor, &salve, "1.1", &wax, "100 g").await.expect(201);
    weigh(noor, &salve, "1.2", &made, "500 g").await.expect(201);
    let (_, salves) = finished(&of.room, &salve, &of.salve).await;
    // A salve of its own, which has the wax in common with the other and nothing else.
    let plain = of.room.approved(crate::stock::salve()).await;
    let other = opened(noor, &plain).await;
    weigh(noor, &other, "1.1", &wax, "100 g").await.expect(201);
    let mended = weigh(noor, &other, "1.2", &made, "1 g").await;
    assert_eq!(mended.status, 422, "the made oil is of another line: {}", mended.text);
    let bought = json!({ "kind": "weighing", "line": "1.2", "quantity": "500 g", "lot": "OO-1", "lot_expires": "2026-07" });
    noor.post(&format!("/v1/batches/{other}/entries"), bought).await.expect(201);
    let (_, plains) = finished(&of.room, &other, &plain).await;

    let mut cases = BTreeMap::new();
    for (batch, jar) in [(&oil, &oils[0].0), (&salve, &salves[0].0), (&other, &plains[0].0)] {
        noor.post(&format!("/v1/jars/{jar}/reactions"), telling("It itched.")).await.expect(201);
        let newest = ilse.get("/v1/reactions?limit=1").await.expect(200).text_at("/items/0/id");
        cases.insert(batch.clone(), newest);
    }
    let reached = {
        let mut reached = BTreeMap::new();
        for batch in cases.keys() {
            reached.insert(batch.clone(), walked(&of, batch).await);
        }
        reached
    };
    for (batch, case) in &cases {
        let case = ilse.get(&format!("/v1/reactions/{case}")).await.expect(200).json;
        let mut meant: BTreeSet<(String, String)> = BTreeSet::new();
        for (beside, theirs) in cases.iter().filter(|(beside, _)| *beside != batch) {
            let both = reached[batch].intersection(&reached[beside]);
            meant.extend(both.map(|thing| (thing.clone(), theirs.clone())));
        }
        let mut told: BTreeSet<(String, String)> = BTreeSet::new();
        let shared = case["shared"].as_array().unwrap();
        for one in shared.iter().filter(|one| one["kind"] == "lot" || one["kind"] == "batch") {
            for beside in one["cases"].as_array().unwrap() {
                told.insert((text(&one["id"]), text(&beside["id"])));
            }
        }
        assert_eq!(told, meant, "{case}");
        assert!(!told.is_empty(), "{case}");
    }
    // Beside the lots: materials through every level, and their families; no formula is shared.
    let of_salve = ilse.get(&format!("/v1/reactions/{}", cases[&salve])).await.expect(200).json;
    let shared = of_salve["shared"].as_array().unwrap();
    let named = |kind: &str| -> Vec<String> {
        shared.iter().filter(|one| one["kind"] == kind).map(|one| text(&one["name"])).collect()
    };
    assert_eq!(named("formula"), Vec::<String>::new());
    assert!(named("material").contains(&"dried calendula flower".to_owned()), "{of_salve}");
    assert!(named("family").contains(&"Asteraceae".to_owned()), "{of_salve}");
    of.room.stop().await;
}

fn text(value: &Value) -> String {
    value.as_str().unwrap().to_owned()
}
