//! The record of long work on paper: what happened beside the entries, in order of time.

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, pictures};

use super::{bare, text};
use crate::stock::{opened, salve};

/// A salve whose phases are warmed apart, with a step for rescue.
fn rescued() -> Value {
    let mut formula = salve();
    formula["method"] = json!([
        { "do": "Warm both apart", "temperature": "70 C" },
        { "do": "Pour one into the other", "temperature": "70 C, phases within 5 C" },
        { "do": "If it separates, warm it and stir", "rescue": true }
    ]);
    formula
}

/// A batch whose makers post, each request ten seconds after the one before.
struct Bench {
    room: TeachingClinic,
    batch: String,
}

impl Bench {
    async fn post(&self, by: &Caller, path: &str, body: Value) -> Answer {
        self.room.clinic.service.clinic.clock().advance(Duration::seconds(10));
        by.post(path, body).await.expect(201)
    }

    async fn write(&self, by: &Caller, of: &str, body: Value) -> Answer {
        self.post(by, &format!("{}/{of}", self.batch), body).await
    }

    async fn resume(&self, by: &Caller) {
        self.room.clinic.service.clinic.clock().advance(Duration::seconds(10));
        crate::teaching::act(by, &format!("{}/resumptions", self.batch)).await.expect(201);
    }
}

/// The place behind the last of these words, which follow each other.
#[track_caller]
fn in_order(said: &str, words: &[&str]) {
    let mut rest = said;
    for words in words {
        let sought = bare(words);
        let Some((_, after)) = rest.split_once(&sought) else {
            panic!("{words} after the words before it: {said}")
        };
        rest = after;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_for_the_file_tells_pauses_looks_makers_and_jars_in_order_of_time() {
    let room = TeachingClinic::start_with(&[]).await;
    let revision = room.approved(rescued()).await;
    let sven = room.clinic.person("sven.olsen", "student").await;
    room.ilse.put_bare(&format!("/v1/libraries/{}/members/{}", room.library, sven.id)).await.expect(204);
    for person in [&sven, &room.ilse] {
        person.acknowledge(&revision).await.expect(201);
    }
    let batch = format!("/v1/batches/{}", opened(&room.noor, &revision).await);
    let bench = Bench { room, batch };
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);

    let wax = json!({ "kind": "weighing", "line": "1.1", "quantity": "110 g", "lot": "W 1", "deviation": "The spoon slipped." });
    bench.write(noor, "entries", wax).await;
    let adjusted =
        bench.write(noor, "adjustments", json!({ "reason": "More of it is needed anyway." })).await;
    bench.write(ilse, "authorisations", json!({ "entry": adjusted.text_at("/entry/id") })).await;
    let interrupted = json!({ "why": "interrupted", "until": "2026-03-09", "note": "The stove failed." });
    bench.write(noor, "pauses", interrupted).await;
    bench.resume(noor).await;
    let plan = json!({ "what": ["shake", "mould"], "every_days": 2, "until": "2026-03-12" });
    bench.write(noor, "look-plans", plan).await;
    bench.room.clinic.service.clinic.clock().advance(Duration::seconds(10));
    let id = bench.batch.rsplit('/').next().unwrap();
    let photograph = noor.photograph(id, pictures::photograph()).await.expect(201);
    let offered = bench.write(noor, "handovers", json!({ "to": sven.id, "reason": "I am away." })).await;
    let answer = format!("/v1/handovers/{}/answer", offered.text_at("/handovers/0/id"));
    bench.post(&sven, &answer, json!({ "answer": "accepted" })).await;
    let macerating = json!({ "why": "macerating", "until": "2026-03-16", "note": "By the window." });
    bench.write(&sven, "pauses", macerating).await;
    bench.write(&sven, "entries", json!({ "kind": "observation", "note": "Shaken, and clear." })).await;
    bench.resume(&sven).await;
    bench.write(&sven, "look-plans", json!({ "what": [] })).await;
    for entry in [
        json!({ "kind": "weighing", "line": "1.2", "quantity": "550 g", "lot": "O 2" }),
        json!({ "kind": "step_done", "step": 1 }),
        json!({ "kind": "step_done", "step": 2 }),
        json!({ "kind": "step_done", "step": 3 }),
        json!({ "kind": "yield", "quantity": "640 g" }),
        json!({ "kind": "labels_printed", "quantity": "12" }),
        json!({ "kind": "labels_used", "quantity": "9" }),
        json!({ "kind": "labels_destroyed", "quantity": "3" }),
    ] {
        bench.write(&sven, "entries", entry).await;
    }
    bench.write(&sven, "submissions", json!({})).await;
    let review = json!({ "verdict": "accept", "summary": "Clear." });
    bench.write(ilse, "reviews", review).await;
    let filled = bench.write(&sven, "jars", json!({ "jars": 2, "fill": "100 g" })).await;
    let decanting = json!({ "into": [{ "jars": 1, "fill": "30 g" }, { "jars": 1, "fill": "60 g" }], "reason": "Small jars are needed." });
    bench.post(&sven, &format!("/v1/jars/{}/decanting", filled.text_at("/jars/0/id")), decanting).await;

    let printed = ilse.get(&format!("{}/record.pdf", bench.batch)).await.expect(200);
    let said = bare(&text(&printed.bytes));
    in_order(
        &said,
        &[
            "opened 2026-03-02 08:00 UTC by noor.haddad",
            "Course of the work",
            "outside the tolerance: The spoon slipped.",
            "noor.haddad",
            "adjustment proposed: all other lines raised to what was weighed of line 1.1",
            "More of it is needed anyway.",
            "adjustment of entry 2 authorised",
            "ilse.brandt",
            "paused: interrupted",
            "to be taken up again on 2026-03-09",
            "The stove failed.",
            "noor.haddad",
            "taken up again after the pause of 2026-03-02",
            "noor.haddad",
            "plan of looks: shake, mould",
            "every 2 days",
            "last on 2026-03-12",
            "photograph 1: preparation",
            "handed over by noor.haddad",
            "accepted",
            "I am away.",
            "sven.olsen",
            "paused: macerating",
            "to be taken up again on 2026-03-16",
            "By the window.",
            "sven.olsen",
            "Shaken, and clear.",
            "taken up again",
            "looked at by a plan no more",
            "step 1: Warm both apart",
            "step 3, rescue: If it separates, warm it and stir",
            "labels printed",
            "12",
            "submission 1",
            "sven.olsen",
            "review of submission 1",
            "accept",
            "jar 1 (100 g) decanted into jar 3 (30 g), jar 4 (60 g)",
            "Small jars are needed.",
            "Who had the batch",
            "noor.haddad",
            "opened it",
            "sven.olsen",
            "has it now",
            "accepted it, offered by noor.haddad",
            "Photographs",
            "Photograph 1: SHA-256",
            &photograph.text_at("/picture/sha256"),
            "Labels",
            "Printed 12, used 9, destroyed 3.",
        ],
    );
    // What stands beside the record is told as it is filed, to whoever reads the record alone.
    let filed = sven.get(&format!("{}/record", bench.batch)).await.expect(200).json;
    assert_eq!(
        (&filed["makers"][0]["maker"], &filed["makers"][0]["until"], &filed["makers"][1]["maker"]),
        (&json!(noor.id), &filed["makers"][1]["from"], &json!(sven.id))
    );
    assert_eq!(filed["makers"][1]["offer"]["reason"], "I am away.");
    assert_eq!((filed["makers"][0].get("offer"), filed["makers"][1].get("until")), (None, None));
    assert_eq!(filed["decantings"][0]["into"][1], json!({ "number": 4, "fill": "60 g" }));
    bench.room.stop().await;
}
