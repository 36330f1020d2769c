//! Random walks over the states of revisions and batch records, held against a model of what may follow what.

use serde_json::{Value, json};
use stillroom_tests::{Answer, TeachingClinic};

use crate::formulas::infused_oil;

/// A small generator (Knuth's MMIX constants): the same walk for the same seed, everywhere.
struct Dice(u64);

impl Dice {
    fn throw(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % u64::try_from(sides).unwrap()).unwrap()
    }
}

/// Fails the test unless the thing was refused for being in the state that the model knows it to be in.
#[track_caller]
fn wrong_state(answer: Answer, state: &str, step: &str) {
    assert_eq!(answer.status, 409, "{step} while {state}: {}", answer.text);
    assert_eq!(answer.problem(409, "wrong-state").json["state"], state, "{step}");
}

/// One revision in the model.
struct Known {
    id: String,
    state: &'static str,
    /// Whether the student has acknowledged it since anything closed its door.
    open: bool,
}

#[tokio::test(flavor = "multi_thread")]
async fn a_revision_goes_only_the_ways_there_are() {
    let room = TeachingClinic::start().await;
    for seed in [1, 2] {
        walk_revisions(&room, seed).await;
    }
    room.stop().await;
}

async fn walk_revisions(room: &TeachingClinic, seed: u64) {
    let mut dice = Dice(seed);
    let content = json!({ "content": infused_oil() });
    let made = room
        .ilse
        .post(&format!("/v1/libraries/{}/formulas", room.library), content.clone())
        .await
        .expect(201);
    let formula = format!("/v1/formulas/{}", made.id());
    let mut model = vec![Known { id: made.text_at("/revisions/0/id"), state: "draft", open: false }];
    for _ in 0..60 {
        // Mostly the newest, so that the walk gets somewhere.
        let i = if dice.throw(3) > 0 { model.len() - 1 } else { dice.throw(model.len()) };
        let Known { id, state, open } = &model[i];
        let (path, state, open) = (format!("/v1/revisions/{id}"), *state, *open);
        match dice.throw(7) {
            0 => {
                let answer = room.ilse.post(&format!("{formula}/revisions"), content.clone()).await;
                if model.iter().any(|one| ["draft", "proposed"].contains(&one.state)) {
                    answer.problem(409, "conflict");
                } else {
                    model.push(Known { id: answer.expect(201).id(), state: "draft", open: false });
                }
            }
            1 => {
                let answer =
                    room.ilse.post_bare(&format!("{path}/proposal"), &[("if-match", "\"v1\"")]).await;
                if state == "draft" {
                    assert_eq!(answer.expect(200).json["state"], "proposed");
                    model[i].state = "proposed";
                } else {
                    wrong_state(answer, state, "propose");
                }
            }
            decision @ (2 | 3) => {
                if state == "proposed" {
                    room.marek.acknowledge(&model[i].id).await.expect(201);
                }
                let word = ["return", "approve"][decision - 2];
                let body = json!({ "decision": word, "comment": "Seen." });
                let answer = room.marek.post(&format!("{path}/decision"), body).await;
                match state {
                    "draft" => {
                        answer.problem(404, "not-found");
                    }
                    "proposed" => {
                        answer.expect(200);
                        if word == "approve" {
                            for before in model.iter_mut().filter(|one| one.state == "approved") {
                                (before.state, before.open) = ("superseded", false);
                            }
                            model[i].state = "approved";
                        } else {
                            model[i].state = "returned";
                            let seen = room.ilse.get(&formula).await.expect(200);
                            model.push(Known {
                                id: seen.text_at("/revisions/0/id"),
                                state: "draft",
                                open: false,
                            });
                        }
                    }
                    other => wrong_state(answer, other, word),
                }
            }
            4 => {
                let answer =
                    room.marek.post(&format!("{path}/withdrawal"), json!({ "reason": "Doubts." })).await;
                match state {
                    "draft" => {
                        answer.problem(404, "not-found");
                    }
                    "approved" => {
                        assert_eq!(answer.expect(200).json["state"], "withdrawn");
                        (model[i].state, model[i].open) = ("withdrawn", false);
                    }
                    other => wrong_state(answer, other, "withdraw"),
                }
            }
            5 => match state {
                "approved" => {
                    room.noor.acknowledge(&model[i].id).await.expect(201);
                    model[i].open = true;
                }
                "superseded" | "withdrawn" => {
                    wrong_state(room.noor.acknowledge(&model[i].id).await, state, "acknowledge")
                }
                _ => {
                    room.noor.get(&format!("{path}/cautions")).await.problem(404, "not-found");
                }
            },
            _ => {
                let answer = room.noor.get(&format!("{path}/recipe")).await;
                match (state, open) {
                    ("approved", true) => answer.expect(200),
                    ("approved" | "superseded" | "withdrawn", _) => answer.problem(403, "gate-closed"),
                    _ => answer.problem(404, "not-found"),
                };
            }
        }
        let seen = room.ilse.get(&formula).await.expect(200);
        let states: Vec<&Value> =
            seen.json["revisions"].as_array().unwrap().iter().rev().map(|one| &one["state"]).collect();
        let known: Vec<&str> = model.iter().map(|one| one.state).collect();
        assert_eq!(states, known);
        let approved = model.iter().find(|one| one.state == "approved").map(|one| one.id.as_str());
        assert_eq!(seen.json["approved_revision"].as_str(), approved);
    }
}

/// What a step makes of a batch record's state; nothing where it cannot be taken.
fn after(state: &str, step: &str) -> Option<&'static str> {
    match (step, state) {
        ("write", "planned" | "making") => Some("making"),
        ("write", "returned") => Some("returned"),
        ("submit", "making" | "returned") => Some("submitted"),
        ("return", "submitted") => Some("returned"),
        ("accept", "submitted") => Some("accepted"),
        ("reject", "submitted") => Some("rejected"),
        ("abandon", "planned" | "making" | "returned") => Some("abandoned"),
        _ => None,
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_record_goes_only_the_ways_there_are() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    for seed in [3, 4] {
        walk_batches(&room, &revision, seed).await;
    }
    room.stop().await;
}

async fn walk_batches(room: &TeachingClinic, revision: &str, seed: u64) {
    let mut dice = Dice(seed);
    let mut model: Vec<(String, &'static str)> = Vec::new();
    for turn in 0..80 {
        if turn % 10 == 0 {
            let made = room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
            model.push((made.id(), "planned"));
        }
        let i = dice.throw(model.len());
        let (path, state) = (format!("/v1/batches/{}", model[i].0), model[i].1);
        let step =
            ["write", "write", "submit", "submit", "return", "accept", "reject", "abandon"][dice.throw(8)];
        let answer = match step {
            "write" => {
                room.noor
                    .post(&format!("{path}/entries"), json!({ "kind": "observation", "note": "Seen." }))
                    .await
            }
            "submit" => room.noor.post(&format!("{path}/submissions"), json!({})).await,
            "abandon" => room.noor.post_bare(&format!("{path}/abandonment"), &[]).await,
            verdict => {
                let review = json!({ "verdict": verdict, "summary": "Seen." });
                room.marek.post(&format!("{path}/reviews"), review).await
            }
        };
        match after(state, step) {
            Some(next) => {
                assert!(answer.status.is_success(), "{step} while {state}: {}", answer.text);
                assert_eq!(answer.json["state"], next, "{step} while {state}");
                model[i].1 = next;
            }
            None => wrong_state(answer, state, step),
        }
        assert_eq!(room.noor.get(&path).await.expect(200).json["state"], model[i].1);
    }
}
