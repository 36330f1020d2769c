//! Pairs of requests that lock the same rows: held up where they would meet in two orders, and many of each at once.
//! Nobody waits for somebody who waits for them. Postgres counts the deadlocks that it breaks, so a transaction that is
//! tried again hides none.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, database};

use super::doors::{count, waiting};
use super::{TOGETHER, at_once};
use crate::amendments::{amend, material, of_lines};
use crate::formulas::{cream, infused_oil};
use crate::teaching::{Course, act};

/// Locks rows, lets the first request run until it waits and then the second until it waits or is answered, and lets
/// the rows go.
pub(super) async fn met(
    room: &TeachingClinic,
    held: &str,
    first: impl Future<Output = Answer> + Send + 'static,
    second: impl Future<Output = Answer> + Send + 'static,
) -> [Answer; 2] {
    let mut holder = database::owner(&room.clinic.database).await;
    let mut watch = database::owner(&room.clinic.database).await;
    holder.batch_execute(&format!("BEGIN; {held} FOR UPDATE")).await.unwrap();
    let first = tokio::spawn(first);
    while waiting(&mut watch).await < 1 {
        assert!(
            !first.is_finished(),
            "the first does not come to what is held: {}",
            first.await.unwrap().text
        );
    }
    let second = tokio::spawn(second);
    while !second.is_finished() && waiting(&mut watch).await < 2 {}
    holder.batch_execute("COMMIT").await.unwrap();
    [first.await.unwrap(), second.await.unwrap()]
}

/// Proves the journal, stops, and fails the test if Postgres had to break a deadlock.
pub(super) async fn stop_without_deadlock(room: TeachingClinic) {
    let verdict =
        clinic::journal::verify(&room.clinic.service.clinic).await.expect("the journal can be read");
    assert!(verdict.breaks.is_empty(), "{verdict:?}");
    let database = room.clinic.database;
    room.clinic.service.stop().await.expect("a graceful end");
    let mut watch = database::owner(&database).await;
    // A connection reports what it counted before it is gone.
    let open = "SELECT count(*) FROM pg_stat_activity
                WHERE datname = current_database() AND application_name = 'stillroom'";
    while count(&mut watch, open).await > 0 {}
    let deadlocks = "SELECT deadlocks AS count FROM pg_stat_database WHERE datname = current_database()";
    assert_eq!(count(&mut watch, deadlocks).await, 0, "deadlocks");
    drop(watch);
    database::remove(&database).await;
}

fn caution_on(material: &str, text: &str) -> Value {
    json!({ "add_caution": { "on": { "material": material }, "level": "caution", "text": text } })
}

/// An approved oil that the first instructor may nest, and a draft or proposal of what nests it.
async fn oil(room: &TeachingClinic) -> String {
    let oil = room.approved(infused_oil()).await;
    room.ilse.acknowledge(&oil).await.expect(201);
    oil
}

async fn drafted(room: &TeachingClinic, content: Value) -> (String, String) {
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let made = room.ilse.post(&formulas, json!({ "content": content })).await.expect(201);
    let revision = made.text_at("/revisions/0/id");
    let tag = room.ilse.get(&format!("/v1/revisions/{revision}/draft")).await.expect(200).etag();
    (revision, tag)
}

async fn propose(caller: Caller, revision: String, tag: String) -> Answer {
    caller.post_bare(&format!("/v1/revisions/{revision}/proposal"), &[("if-match", &tag)]).await
}

async fn withdraw(caller: Caller, revision: String) -> Answer {
    let reason = json!({ "reason": "A doubtful lot." });
    caller.post(&format!("/v1/revisions/{revision}/withdrawal"), reason).await
}

async fn approve(caller: Caller, revision: String) -> Answer {
    let decision = json!({ "decision": "approve" });
    caller.post(&format!("/v1/revisions/{revision}/decision"), decision).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_proposal_and_an_amendment_of_its_material_do_not_deadlock() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let oil = oil(&room).await;
    let wax = material(&room.ilse, "emulsifying wax").await;
    let (draft, tag) = drafted(&room, cream()).await;
    let marek = room.marek.clone();
    let amending = async move { amend(&marek, caution_on(&wax, "Keep it dry.")).await };
    let held = format!("SELECT FROM revision WHERE id = '{oil}'");
    let [proposed, amended] =
        met(&room, &held, propose(room.ilse.clone(), draft.clone(), tag), amending).await;
    proposed.expect(200);
    amended.expect(201);
    let set = room.marek.get(&format!("/v1/revisions/{draft}/cautions")).await.expect(200);
    assert!(set.text.contains("Keep it dry."), "the amendment reaches what was proposed before it");
    stop_without_deadlock(room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn publishing_work_and_acknowledging_its_formula_follow_each_other_and_the_second_is_held() {
    let course = Course::start_with(&TOGETHER).await;
    let work = course.work(&json!([{ "kind": "jar_filling" }]));
    let id = course.room.ilse.post(&course.at("assignments"), work).await.expect(201).id();
    let (ilse, noor, cream) = (course.room.ilse.clone(), course.room.noor.clone(), course.cream.clone());
    let publishing = async move { act(&ilse, &format!("/v1/assignments/{id}/publication")).await };
    let opening = async move { noor.acknowledge(&cream).await };
    let held = format!("SELECT FROM revision WHERE id = '{}'", course.cream);
    let [published, opened] = met(&course.room, &held, publishing, opening).await;
    published.expect(201);
    opened.problem(409, "wrong-state");
    stop_without_deadlock(course.room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_first_reading_and_a_withdrawal_of_a_nested_revision_do_not_deadlock() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let oil = oil(&room).await;
    let cream = room.approved(cream()).await;
    room.noor.acknowledge(&oil).await.expect(201);
    let given = room.noor.acknowledge(&cream).await.expect(201).id();
    let (noor, read) = (room.noor.clone(), format!("/v1/revisions/{cream}/evaluation"));
    let reading = async move { noor.get(&read).await };
    // The note of the first reading refers to it.
    let held = format!("SELECT FROM acknowledgement WHERE id = '{given}'");
    let [read, withdrawn] = met(&room, &held, reading, withdraw(room.marek.clone(), oil)).await;
    withdrawn.expect(200);
    assert!([200, 403].contains(&read.status.as_u16()), "{}", read.text);
    let events = room.marek.get(&format!("/v1/events?limit=100&subject={cream}")).await.expect(200);
    assert!(events.text.contains("recipe_pulled"), "who read it can be found");
    stop_without_deadlock(room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_acknowledgement_of_what_nests_a_revision_and_an_amendment_of_both_do_not_deadlock() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    oil(&room).await;
    let cream = room.approved(cream()).await;
    let olive = material(&room.ilse, "olive oil").await;
    let (noor, of) = (room.noor.clone(), cream.clone());
    let acknowledging = async move { noor.acknowledge(&of).await };
    let marek = room.marek.clone();
    let amending = async move { amend(&marek, caution_on(&olive, "May turn rancid.")).await };
    let held = format!("SELECT FROM library WHERE id = '{}'", room.library);
    let [acknowledged, amended] = met(&room, &held, acknowledging, amending).await;
    amended.expect(201);
    assert!([201, 403].contains(&acknowledged.status.as_u16()), "{}", acknowledged.text);
    room.noor.get(&format!("/v1/revisions/{cream}/recipe")).await.problem(403, "gate-closed");
    stop_without_deadlock(room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_approval_of_what_nests_a_revision_and_an_amendment_of_both_do_not_deadlock() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let oil = oil(&room).await;
    let cream = room.clinic.proposed(&room.ilse, &room.library, cream()).await;
    room.marek.acknowledge(&cream).await.expect(201);
    let olive = material(&room.ilse, "olive oil").await;
    let ilse = room.ilse.clone();
    let amending = async move { amend(&ilse, caution_on(&olive, "May turn rancid.")).await };
    let held = format!("SELECT FROM gate WHERE revision_id = '{oil}'");
    let [amended, approved] = met(&room, &held, amending, approve(room.marek.clone(), cream)).await;
    amended.expect(201);
    assert!([200, 403].contains(&approved.status.as_u16()), "{}", approved.text);
    stop_without_deadlock(room).await;
}

/// What nests several oils, so that the order of nested ones shows.
fn blend(title: &str, oils: &[String]) -> Value {
    let nested = oils.iter().map(|oil| json!({ "formula": oil, "amount": "20 g" }));
    let lines: Vec<Value> =
        nested.chain([json!({ "material": "yellow beeswax", "amount": "20 g" })]).collect();
    of_lines(title, "balm", &json!(lines))
}

fn titled(title: &str) -> Value {
    crate::bad_input::with(infused_oil(), "/title", json!(title))
}

/// What one round of the race works on.
struct Round {
    oils: Vec<String>,
    approved: String,
    waiting: String,
    draft: (String, String),
    batch: String,
}

async fn round(room: &TeachingClinic, number: usize) -> Round {
    let titles: Vec<String> = (0..3).map(|i| format!("Oil {number} {i}")).collect();
    let mut oils = Vec::new();
    for title in &titles {
        let oil = room.approved(titled(title)).await;
        room.ilse.acknowledge(&oil).await.expect(201);
        room.noor.acknowledge(&oil).await.expect(201);
        oils.push(oil);
    }
    let approved = room.approved(blend(&format!("Blend {number}"), &titles)).await;
    room.noor.acknowledge(&approved).await.expect(201);
    let batch = room.noor.post("/v1/batches", json!({ "revision": approved })).await.expect(201).id();
    let further = blend(&format!("Further blend {number}"), &titles);
    let waiting = room.clinic.proposed(&room.ilse, &room.library, further).await;
    room.marek.acknowledge(&waiting).await.expect(201);
    let draft = drafted(room, blend(&format!("Next blend {number}"), &titles)).await;
    Round { oils, approved, waiting, draft, batch }
}

/// Two who correct a weighing, each from the other's lot to their own: both lock both lots.
#[tokio::test(flavor = "multi_thread")]
async fn two_corrections_that_change_lots_with_each_other_never_deadlock() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let salve = room.approved(crate::stock::salve()).await;
    let (mut lots, mut entries) = (Vec::new(), Vec::new());
    for _ in 0..2 {
        let id =
            room.ilse.post("/v1/lots", crate::stock::lot("yellow beeswax", "500 g")).await.expect(201).id();
        crate::stock::confirm(&room.ilse, &id).await;
        lots.push(id);
    }
    for (maker, lot) in [&room.noor, &room.marek].into_iter().zip(&lots) {
        let batch = crate::stock::opened(maker, &salve).await;
        let written = crate::stock::weigh(maker, &batch, "1.1", lot, "100 g").await.expect(201);
        entries.push((batch, written.json["entry"]["id"].clone()));
    }
    let correct = |maker: &Caller, (batch, entry): &(String, Value), lot: &str| {
        let (maker, path) = (maker.clone(), format!("/v1/batches/{batch}/entries"));
        let body = json!({
            "kind": "weighing", "line": "1.1", "quantity": "90 g", "lot_id": lot, "corrects": entry, "reason": "Wrong jar.",
        });
        async move { maker.post(&path, body).await }
    };
    let [first, second] =
        [correct(&room.noor, &entries[0], &lots[1]), correct(&room.marek, &entries[1], &lots[0])];
    let held = format!("SELECT FROM lot WHERE id = '{}'", lots[0]);
    for answer in met(&room, &held, first, second).await {
        answer.expect(201);
    }
    stop_without_deadlock(room).await;
}

const KINDS: usize = 10;

/// One of the kinds of requests, as one of the people.
async fn one(room: [Caller; 3], of: std::sync::Arc<Round>, olive: String, i: usize) -> Answer {
    let [ilse, marek, noor] = room;
    match i % KINDS {
        0 => propose(ilse, of.draft.0.clone(), of.draft.1.clone()).await,
        1 => amend(&marek, caution_on(&olive, &format!("Said at last, {i}."))).await,
        2 => approve(marek, of.waiting.clone()).await,
        3 => noor.get(&format!("/v1/revisions/{}/evaluation", of.approved)).await,
        4 => noor.acknowledge(&of.approved).await,
        5 => noor.acknowledge(&of.oils[i / KINDS % 3]).await,
        6 if i / KINDS == 1 => withdraw(marek, of.oils[2].clone()).await,
        6 => marek.acknowledge(&of.waiting).await,
        7 => noor.post("/v1/batches", json!({ "revision": of.approved })).await,
        8 => {
            let entry = json!({ "kind": "observation", "note": "Clear." });
            noor.post(&format!("/v1/batches/{}/entries", of.batch), entry).await
        }
        _ => noor.get(&format!("/v1/revisions/{}/recipe", of.oils[i / KINDS % 3])).await,
    }
}

/// More rounds for a night: `STILLROOM_RACES`.
#[tokio::test(flavor = "multi_thread")]
async fn proposals_amendments_decisions_and_readings_at_once_never_deadlock() {
    let rounds =
        std::env::var("STILLROOM_RACES").map_or(2, |rounds| rounds.parse().expect("a number of rounds"));
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let olive = material(&room.ilse, "olive oil").await;
    for number in 0..rounds {
        let of = std::sync::Arc::new(round(&room, number).await);
        let answers = at_once(3 * KINDS, |i| {
            let people = [room.ilse.clone(), room.marek.clone(), room.noor.clone()];
            one(people, std::sync::Arc::clone(&of), olive.clone(), i)
        })
        .await;
        for (i, answer) in answers.iter().enumerate() {
            let answered = [200, 201, 403, 404, 409, 412].contains(&answer.status.as_u16());
            assert!(answered, "{}: {} {}", i % KINDS, answer.status, answer.text);
        }
    }
    stop_without_deadlock(room).await;
}
