//! What is found in a record: each kind in a record that was made for it, and none in a clean one. And the notes that only
//! those who teach see.

use chrono::Duration;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Caller, database};

use super::Course;
use super::handed_in::hand_in;

/// A cream whose steps last.
fn timed() -> Value {
    json!({
        "title": "Timed cream", "preparation": "cream", "route": "on intact skin, leave-on", "regime": "teaching_only",
        "phases": [
            { "name": "oil phase", "lines": [
                { "material": "emulsifying wax", "amount": "80 g", "function": "emulsifier" },
                { "material": "olive oil", "amount": "300 g", "function": "vehicle" } ] },
            { "name": "water phase", "lines": [
                { "material": "purified water", "amount": "q.s. 1000 g", "function": "vehicle" } ] } ],
        "method": [
            { "do": "Melt the wax in the oil for 10 minutes", "phase": "oil phase", "temperature": "70 C at most" },
            { "do": "Add the water phase slowly", "temperature": "60-70 C, phases within 5 C" },
            { "do": "Stir for five minutes", "hold": true } ],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

/// The course with the timed cream assigned.
struct Timed {
    course: Course,
    revision: String,
    work: String,
}

impl Timed {
    async fn start() -> Self {
        let course = Course::start().await;
        let revision = course.room.approved(timed()).await;
        let mut work = course.work(&json!([]));
        work["formulas"] = json!([revision]);
        let work = course.publish(work).await;
        Self { course, revision, work }
    }

    async fn batch(&self, maker: &Caller) -> String {
        maker.acknowledge(&self.revision).await.expect(201);
        maker.post("/v1/batches", json!({ "revision": self.revision })).await.expect(201).id()
    }

    /// A record as it should be: weighed closely, in order, and each step as long as it lasts.
    async fn clean(&self, name: &str) -> (Caller, String) {
        let maker = self.course.later(Duration::zero(), name).await;
        let batch = self.batch(&maker).await;
        maker.check_before_start(&batch).await;
        for (line, grams) in [("1.1", "80.4"), ("1.2", "299.2"), ("2.1", "620.6")] {
            write(&maker, &batch, weighed(line, grams)).await;
        }
        write(&maker, &batch, heated(1, "69")).await;
        let maker = self.course.later(Duration::minutes(10), name).await;
        write(&maker, &batch, done(1)).await;
        write(&maker, &batch, heated(2, "68")).await;
        write(&maker, &batch, heated(2, "66")).await;
        write(&maker, &batch, done(2)).await;
        let maker = self.course.later(Duration::minutes(5), name).await;
        write(&maker, &batch, done(3)).await;
        let marek = self.course.later(Duration::zero(), "marek.dvorsky").await;
        marek.acknowledge(&self.revision).await.expect(201);
        marek.post(&format!("/v1/batches/{batch}/hold-releases"), json!({ "step": 3 })).await.expect(201);
        write(&maker, &batch, json!({ "kind": "yield", "quantity": "981 g" })).await;
        (maker, batch)
    }
}

async fn write(maker: &Caller, batch: &str, entry: Value) -> String {
    maker.post(&format!("/v1/batches/{batch}/entries"), entry).await.expect(201).text_at("/entry/id")
}

fn weighed(line: &str, grams: &str) -> Value {
    json!({ "kind": "weighing", "line": line, "quantity": format!("{grams} g"), "lot": "L-7", "lot_expires": "2027-01-31" })
}

fn heated(step: u32, celsius: &str) -> Value {
    json!({ "kind": "temperature", "step": step, "quantity": format!("{celsius} C") })
}

fn done(step: u32) -> Value {
    json!({ "kind": "step_done", "step": step })
}

/// The findings that were frozen with the last submission.
async fn frozen(maker: &Caller, batch: &str) -> Vec<Value> {
    let record = maker.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    record["submissions"].as_array().unwrap().last().unwrap()["findings"].as_array().unwrap().clone()
}

/// The one finding of a kind, if there is one.
fn of<'f>(findings: &'f [Value], kind: &str) -> Option<&'f Value> {
    findings.iter().find(|finding| finding["kind"] == kind)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_clean_record_has_no_finding_and_no_note() {
    let timed = Timed::start().await;
    let (noor, batch) = timed.clean("noor.haddad").await;
    let handed = hand_in(&noor, &timed.work, &batch).await.expect(201).id();
    assert_eq!(frozen(&noor, &batch).await, Vec::<Value>::new());
    let ilse = timed.course.later(Duration::zero(), "ilse.brandt").await;
    let notes = ilse.get(&format!("/v1/submissions/{handed}/notes")).await.expect(200);
    assert_eq!(notes.json, json!([]));
    noor.get(&format!("/v1/submissions/{handed}/notes")).await.problem(403, "forbidden");
    timed.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn each_kind_is_found_in_a_record_made_for_it_and_points_to_its_entry() {
    let timed = Timed::start().await;
    let noor = timed.course.room.noor.clone();
    let batch = timed.batch(&noor).await;
    // A record from before steps had to be finished in their order: today an early one is refused.
    let mut owner = database::owner(&timed.course.room.clinic.database).await;
    let before = "ALTER TABLE batch DISABLE TRIGGER batch_checks_asked_never_changes;
         UPDATE batch SET checks_asked = NULL;
         ALTER TABLE batch ENABLE TRIGGER batch_checks_asked_never_changes";
    owner.batch_execute(before).await.unwrap();
    let mut too_much = weighed("1.1", "100");
    too_much["reason_later"] = json!(true);
    let too_much = write(&noor, &batch, too_much).await;
    let mut expired = weighed("1.2", "300");
    expired["lot_expires"] = json!("2026-03-01");
    let expired = write(&noor, &batch, expired).await;
    let no_lot =
        write(&noor, &batch, json!({ "kind": "weighing", "line": "2.1", "quantity": "620 g" })).await;
    let fast = write(&noor, &batch, done(1)).await;
    let early = write(&noor, &batch, done(3)).await;
    write(&noor, &batch, heated(2, "61")).await;
    let apart = write(&noor, &batch, heated(2, "69")).await;
    write(&noor, &batch, done(2)).await;
    let low = write(&noor, &batch, json!({ "kind": "yield", "quantity": "700 g" })).await;
    hand_in(&noor, &timed.work, &batch).await.expect(201);
    let found = frozen(&noor, &batch).await;
    for (kind, entry, evidence) in [
        ("out_of_tolerance", Some(&too_much), "100 g"),
        ("lot_expired", Some(&expired), "expired on 2026-03-01"),
        ("temperature", Some(&apart), "61 °C to 69 °C"),
        ("step_order", Some(&early), "entry 5, before entry 8"),
        ("yield_low", Some(&low), "700 g"),
    ] {
        let finding = of(&found, kind).unwrap_or_else(|| panic!("no {kind} in {found:#?}"));
        assert_eq!(finding["entry"].as_str(), entry.map(String::as_str), "{finding}");
        assert_eq!(finding["recorded"], evidence, "{finding}");
        assert!(!finding["rule"].as_str().unwrap().is_empty() && finding["asked"].is_string(), "{finding}");
    }
    let missing: Vec<&Value> = found.iter().filter(|finding| finding["kind"] == "missing").collect();
    assert!(missing.iter().any(|finding| finding["entry"] == no_lot), "{missing:?}");
    assert!(
        missing.iter().any(|finding| finding["step"] == 1 && finding["asked"] == "70 C at most"),
        "{missing:?}"
    );
    let too_fast: Vec<&Value> = found.iter().filter(|finding| finding["kind"] == "too_fast").collect();
    assert_eq!(too_fast.len(), 2, "the first and the third step: {too_fast:?}");
    assert_eq!((&too_fast[0]["entry"], &too_fast[0]["asked"]), (&json!(fast), &json!("10 minutes")));
    assert!(of(&found, "yield").is_none(), "{found:#?}");
    timed.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn more_than_went_in_is_found_and_an_honest_correction_costs_nothing() {
    let timed = Timed::start().await;
    let (noor, batch) = timed.clean("noor.haddad").await;
    let record = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let entries = record["entries"].as_array().unwrap();
    let entry = |kind: &str, step: u64| {
        let is = |one: &&Value| one["kind"] == kind && (step == 0 || one["step"] == step);
        entries.iter().find(is).unwrap()["id"].clone()
    };
    let mut again = done(1);
    again["corrects"] = entry("step_done", 1);
    again["reason"] = json!("The note was missing.");
    again["note"] = json!("Clear and golden.");
    write(&noor, &batch, again).await;
    let corrected = json!({ "kind": "yield", "quantity": "1200 g", "corrects": entry("yield", 0), "reason": "The tare." });
    write(&noor, &batch, corrected).await;
    hand_in(&noor, &timed.work, &batch).await.expect(201);
    let found = frozen(&noor, &batch).await;
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(found[0]["kind"], "yield");
    timed.course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn notes_tell_those_who_teach_what_is_alike_and_judge_nobody() {
    let timed = Timed::start().await;
    timed.course.room.clinic.person("jo.vane", "student").await;
    let (noor, first) = timed.clean("noor.haddad").await;
    let first = hand_in(&noor, &timed.work, &first).await.expect(201);
    let (sven, second) = timed.clean("sven.aalto").await;
    let second = hand_in(&sven, &timed.work, &second).await.expect(201);
    // A third record, written at once, with every weighing on its target.
    let ilse = timed.course.later(Duration::zero(), "ilse.brandt").await;
    let jo = timed.course.later(Duration::zero(), "jo.vane").await;
    let library = format!("/v1/libraries/{}/members/{}", timed.course.room.library, jo.id);
    ilse.put_bare(&library).await.expect(204);
    let enrol = json!({ "person": jo.id, "role": "student" });
    ilse.post(&timed.course.at("members"), enrol).await.expect(201);
    let batch = timed.batch(&jo).await;
    for (line, grams) in [("1.1", "80"), ("1.2", "300"), ("2.1", "620")] {
        write(&jo, &batch, weighed(line, grams)).await;
    }
    write(&jo, &batch, done(1)).await;
    write(&jo, &batch, done(2)).await;
    let third = hand_in(&jo, &timed.work, &batch).await.expect(201);

    let of = async |handed: &str| ilse.get(&format!("/v1/submissions/{handed}/notes")).await.expect(200).json;
    for (one, other) in [(&first, &second), (&second, &first)] {
        let notes = of(&one.id()).await;
        assert_eq!(notes.as_array().unwrap().len(), 1, "{notes}");
        assert_eq!(
            (&notes[0]["kind"], &notes[0]["submissions"]),
            (&json!("same_figures"), &json!([other.id()]))
        );
    }
    let notes = of(&third.id()).await;
    let kinds: Vec<&str> =
        notes.as_array().unwrap().iter().map(|note| note["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["no_variation", "written_at_once"]);
    // Nothing of it is told to the student, and nothing follows from it.
    let own = jo.get(&format!("/v1/assignments/{}/work", timed.work)).await.expect(200);
    assert!(!own.text.contains("variation") && own.json["state"] == "submitted", "{}", own.text);
    let record = jo.get(&format!("/v1/batches/{batch}")).await.expect(200);
    assert!(!record.text.contains("last digit"), "{}", record.text);
    timed.course.stop().await;
}
