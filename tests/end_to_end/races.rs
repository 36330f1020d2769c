//! Many callers at one thing: one wins.

mod amending;
mod deadlocks;
mod doors;
mod long_work;
mod marking;
mod readers;
mod recalling;
mod walk;

use std::future::Future;
use std::sync::Arc;

use serde_json::json;
use stillroom_tests::clinic::{PASSWORD, sign_in};
use stillroom_tests::{Answer, TeachingClinic, TestClinic};
use tokio::sync::Barrier;

use crate::formulas::infused_oil;

pub(crate) use doors::{count, waiting};

/// Enough connections that requests really meet, and time enough that a slow machine refuses none.
const TOGETHER: [(&str, &str); 2] =
    [("STILLROOM_CONNECTIONS", "6"), ("STILLROOM_WAIT_MILLISECONDS", "60000")];

const CALLERS: usize = 50;

/// Sends as many requests at the same moment and answers what each was answered.
async fn at_once<F>(count: usize, request: impl Fn(usize) -> F) -> Vec<Answer>
where
    F: Future<Output = Answer> + Send + 'static,
{
    let barrier = Arc::new(Barrier::new(count));
    let sent: Vec<_> = (0..count)
        .map(|i| {
            let (barrier, request) = (Arc::clone(&barrier), request(i));
            tokio::spawn(async move {
                barrier.wait().await;
                request.await
            })
        })
        .collect();
    let mut answers = Vec::new();
    for one in sent {
        answers.push(one.await.unwrap());
    }
    answers
}

/// Fails the test unless one request had its way and every other was refused so. Answers the one.
#[track_caller]
fn one_wins(answers: Vec<Answer>, status: u16, slug: &str) -> Answer {
    let (mut won, lost): (Vec<_>, Vec<_>) =
        answers.into_iter().partition(|answer| answer.status.is_success());
    assert_eq!(won.len(), 1, "{} had their way", won.len());
    for answer in lost {
        answer.problem(status, slug);
    }
    won.remove(0)
}

/// How many events of a subject have this action.
async fn events(room: &TeachingClinic, subject: &str, action: &str) -> usize {
    let page = room.marek.get(&format!("/v1/events?limit=100&subject={subject}")).await.expect(200);
    page.json["items"].as_array().unwrap().iter().filter(|event| event["action"] == action).count()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_revision_is_approved_once_and_a_further_one_begun_once() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let revision = room.clinic.proposed(&room.ilse, &room.library, infused_oil()).await;
    room.marek.acknowledge(&revision).await.expect(201);
    let decision = format!("/v1/revisions/{revision}/decision");
    let answers = at_once(CALLERS, |_| {
        let (marek, decision) = (room.marek.clone(), decision.clone());
        async move { marek.post(&decision, json!({ "decision": "approve" })).await }
    })
    .await;
    let formula = one_wins(answers, 409, "wrong-state").text_at("/formula");
    assert_eq!(events(&room, &revision, "approved").await, 1);

    let revisions = format!("/v1/formulas/{formula}/revisions");
    let answers = at_once(CALLERS, |_| {
        let (ilse, revisions) = (room.ilse.clone(), revisions.clone());
        async move { ilse.post(&revisions, json!({ "content": infused_oil() })).await }
    })
    .await;
    assert_eq!(one_wins(answers, 409, "conflict").json["number"], 2);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_entry_is_corrected_once_a_record_handed_in_once_and_reviewed_once() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let batch = room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let entries = format!("/v1/batches/{batch}/entries");
    let written = json!({ "kind": "weighing", "line": "1.1", "quantity": "10 g" });
    let wrong = room.noor.post(&entries, written).await.expect(201).text_at("/entry/id");
    let answers = at_once(CALLERS, |i| {
        let (noor, entries) = (room.noor.clone(), entries.clone());
        let quantity = format!("{} g", 100 + i);
        let entry = json!({ "kind": "weighing", "line": "1.1", "quantity": quantity, "corrects": wrong, "reason": "Misread.", "reason_later": true });
        async move { noor.post(&entries, entry).await }
    })
    .await;
    let record = one_wins(answers, 409, "conflict");
    assert_eq!(record.json["entry"]["number"], 2);

    let submissions = format!("/v1/batches/{batch}/submissions");
    let answers = at_once(CALLERS, |_| {
        let (noor, submissions) = (room.noor.clone(), submissions.clone());
        async move { noor.post(&submissions, json!({})).await }
    })
    .await;
    one_wins(answers, 409, "wrong-state");
    let reviews = format!("/v1/batches/{batch}/reviews");
    let answers = at_once(CALLERS, |i| {
        let (marek, reviews) = (room.marek.clone(), reviews.clone());
        let review = json!({ "verdict": (["accept", "reject", "return"][i % 3]), "summary": "Seen." });
        async move { marek.post(&reviews, review).await }
    })
    .await;
    let decided = one_wins(answers, 409, "wrong-state");
    let submissions = decided.json["submissions"].as_array().unwrap();
    assert_eq!(submissions.len(), 1);
    assert!(submissions[0]["review"].is_object());
    assert_eq!(events(&room, &batch, "submitted").await, 1);
    assert_eq!(events(&room, &batch, "entry_corrected").await, 1);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn entries_written_at_once_are_all_kept_and_numbered_without_a_gap() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let answers = at_once(20, |_| {
        let (noor, body) = (room.noor.clone(), json!({ "revision": revision }));
        async move { noor.post("/v1/batches", body).await.expect(201) }
    })
    .await;
    let mut numbers: Vec<String> = answers.iter().map(|answer| answer.text_at("/number")).collect();
    numbers.sort();
    let expected: Vec<String> = (1..=20).map(|i| format!("2026-{i:04}")).collect();
    assert_eq!(numbers, expected);

    let entries = format!("/v1/batches/{}/entries", answers[0].id());
    at_once(CALLERS, |i| {
        let (noor, entries) = (room.noor.clone(), entries.clone());
        async move {
            noor.post(&entries, json!({ "kind": "observation", "note": format!("Look {i}") }))
                .await
                .expect(201)
        }
    })
    .await;
    let record = room.noor.get(&format!("/v1/batches/{}", answers[0].id())).await.expect(200);
    let kept = record.json["entries"].as_array().unwrap();
    assert_eq!(kept.len(), CALLERS);
    assert!(kept.iter().zip(1_u64..).all(|(entry, number)| entry["number"] == number));
    assert_eq!(record.json["state"], "making");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn one_key_makes_one_thing_however_many_send_it_at_once() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let answers = at_once(CALLERS, |_| {
        let ilse = room.ilse.clone();
        async move { ilse.post_with_key("/v1/libraries", "one-key", json!({ "name": "Once" })).await }
    })
    .await;
    let (made, waiting): (Vec<_>, Vec<_>) = answers.into_iter().partition(|answer| answer.status == 201);
    assert!(!made.is_empty());
    assert!(made.iter().all(|answer| answer.json == made[0].json));
    for answer in waiting {
        assert_eq!(answer.problem(409, "request-in-flight").header("retry-after"), "1");
    }
    let listed = room.ilse.get("/v1/libraries").await.expect(200);
    assert_eq!(listed.text.matches("\"Once\"").count(), 1);
    // Different keys for one name: the name is taken once.
    let answers = at_once(CALLERS, |_| {
        let ilse = room.ilse.clone();
        async move { ilse.post("/v1/libraries", json!({ "name": "One name" })).await }
    })
    .await;
    one_wins(answers, 409, "conflict");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_draft_and_an_account_are_changed_once_on_one_state_of_knowledge() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let made = room.ilse.post(&formulas, json!({ "content": infused_oil() })).await.expect(201);
    let draft = format!("/v1/revisions/{}/draft", made.text_at("/revisions/0/id"));
    let answers = at_once(CALLERS, |i| {
        let (ilse, draft) = (room.ilse.clone(), draft.clone());
        let content = crate::bad_input::with(infused_oil(), "/title", json!(format!("Oil {i}")));
        async move { ilse.put(&draft, "\"v1\"", content).await }
    })
    .await;
    let won = one_wins(answers, 412, "stale");
    assert_eq!(room.ilse.get(&draft).await.expect(200).json["title"], won.json["title"]);
    let policy = room.clinic.administrator.get("/v1/policy").await.expect(200);
    let answers = at_once(CALLERS, |i| {
        let (administrator, tag) = (room.clinic.administrator.clone(), policy.etag());
        let content =
            crate::bad_input::with(policy.json["content"].clone(), "/acknowledgement_days", json!(i + 1));
        async move { administrator.put("/v1/policy", &tag, content).await }
    })
    .await;
    one_wins(answers, 412, "stale");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refresh_token_and_a_one_time_code_are_used_once() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    clinic.person("noor.haddad", "student").await;
    let nobody = &clinic.nobody;
    let body = json!({ "sign_in_name": "noor.haddad", "password": PASSWORD });
    let refresh = json!({ "refresh_token": nobody.post("/v1/sessions", body).await.expect(201).text_at("/refresh_token") });
    let answers = at_once(CALLERS, |_| {
        let (nobody, refresh) = (nobody.clone(), refresh.clone());
        async move { nobody.post("/v1/sessions/refresh", refresh).await }
    })
    .await;
    let won = one_wins(answers, 401, "not-known");
    // One of the fifty was a thief, so nobody keeps the session.
    nobody.with(&won.text_at("/access_token"), "").get("/v1/me").await.problem(401, "not-known");

    let invite = json!({ "sign_in_name": "tomas.reyl", "name": "Tomas", "role": "student" });
    let code = clinic.administrator.post("/v1/invitations", invite).await.expect(201).text_at("/code");
    let accept = json!({ "code": code, "password": PASSWORD });
    let answers = at_once(5, |_| {
        let (nobody, accept) = (nobody.clone(), accept.clone());
        async move { nobody.post("/v1/one-time-codes/use", accept).await }
    })
    .await;
    one_wins(answers, 401, "not-known");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_administrators_who_remove_each_other_leave_one() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let petra = clinic.administrator.clone();
    let jonna = clinic.person("jonna.weil", "administrator").await;
    let mut changes: Vec<(String, String)> = Vec::new();
    for (who, whom) in [(&petra, &jonna), (&jonna, &petra)] {
        let path = format!("/v1/people/{}", whom.id);
        changes.push((path.clone(), who.get(&path).await.expect(200).etag()));
    }
    let answers = at_once(CALLERS, |i| {
        let caller = [&petra, &jonna][i % 2].clone();
        let (path, tag) = changes[i % 2].clone();
        async move { caller.patch(&path, &tag, json!({ "role": "student" })).await }
    })
    .await;
    let won: Vec<&Answer> = answers.iter().filter(|answer| answer.status.is_success()).collect();
    assert_eq!(won.len(), 1);
    for answer in &answers {
        // Already changed, no longer an administrator, or the last one: a plain refusal each.
        assert!([200, 403, 409, 412].contains(&answer.status.as_u16()), "{}", answer.text);
    }
    let left = sign_in(&clinic.nobody, "petra.hollweg").await.get("/v1/me").await.expect(200);
    let other = sign_in(&clinic.nobody, "jonna.weil").await.get("/v1/me").await.expect(200);
    let roles = [&left.json["person"]["role"], &other.json["person"]["role"]];
    assert_eq!(roles.into_iter().filter(|role| **role == "administrator").count(), 1);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn decisions_about_one_formula_follow_each_other() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let first = room.approved(infused_oil()).await;
    let formula = room.ilse.get(&format!("/v1/revisions/{first}")).await.text_at("/formula");
    let revisions = format!("/v1/formulas/{formula}/revisions");
    let second = room.ilse.post(&revisions, json!({ "content": infused_oil() })).await.expect(201).id();
    room.ilse
        .post_bare(&format!("/v1/revisions/{second}/proposal"), &[("if-match", "\"v1\"")])
        .await
        .expect(200);
    room.marek.acknowledge(&second).await.expect(201);
    let answers = at_once(CALLERS, |i| {
        let (ilse, marek) = (room.ilse.clone(), room.marek.clone());
        let (withdrawal, decision) =
            (format!("/v1/revisions/{first}/withdrawal"), format!("/v1/revisions/{second}/decision"));
        let revisions = revisions.clone();
        async move {
            match i % 4 {
                0 => ilse.post(&withdrawal, json!({ "reason": "A better one." })).await,
                1 => ilse.post(&revisions, json!({ "content": infused_oil() })).await,
                2 => marek.post(&decision, json!({ "decision": "return", "comment": "No." })).await,
                _ => marek.post(&decision, json!({ "decision": "approve" })).await,
            }
        }
    })
    .await;
    for answer in &answers {
        // Nobody waits for somebody who waits for them: all are answered, by the state of things.
        assert!([200, 201, 409].contains(&answer.status.as_u16()), "{}", answer.text);
    }
    let seen = room.ilse.get(&format!("/v1/formulas/{formula}")).await.expect(200);
    let states: Vec<&str> =
        seen.json["revisions"].as_array().unwrap().iter().map(|one| one["state"].as_str().unwrap()).collect();
    assert!(states.iter().filter(|state| **state == "approved").count() <= 1, "{states:?}");
    assert!(states.iter().filter(|state| ["draft", "proposed"].contains(state)).count() <= 1, "{states:?}");
    room.stop().await;
}
