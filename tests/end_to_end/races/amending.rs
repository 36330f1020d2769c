//! Proposing, deciding and amending at the same moment: they take turns, and no caution is lost between them.

use serde_json::{Value, json};
use stillroom_tests::{Answer, TeachingClinic};

use super::{TOGETHER, at_once};
use crate::amendments::{amend, of_lines};

const EACH: usize = 6;

fn balm(title: &str) -> Value {
    let lines = json!([
        { "material": "yellow beeswax", "amount": "20 g" },
        { "material": "olive oil", "amount": "80 g" } ]);
    of_lines(title, "balm", &lines)
}

async fn bare(caller: stillroom_tests::Caller, path: String, tag: String) -> Answer {
    caller.post_bare(&path, &[("if-match", &tag)]).await
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_that_is_proposed_decided_and_amended_at_once_misses_a_caution() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let mut drafts = Vec::new();
    let mut proposed = Vec::new();
    for i in 0..EACH {
        let made = room
            .ilse
            .post(
                &format!("/v1/libraries/{}/formulas", room.library),
                json!({ "content": balm(&format!("Balm {i} to propose")) }),
            )
            .await
            .expect(201);
        let revision = made.text_at("/revisions/0/id");
        let tag = room.ilse.get(&format!("/v1/revisions/{revision}/draft")).await.expect(200).etag();
        drafts.push((revision, tag));
        let content = balm(&format!("Balm {i} to decide"));
        let revision = room.clinic.proposed(&room.ilse, &room.library, content).await;
        room.marek.acknowledge(&revision).await.expect(201);
        proposed.push(revision);
    }
    let answers = at_once(3 * EACH, |i| {
        let (ilse, marek) = (room.ilse.clone(), room.marek.clone());
        let (draft, tag) = drafts[i / 3].clone();
        let waiting = proposed[i / 3].clone();
        async move {
            match i % 3 {
                0 => bare(ilse, format!("/v1/revisions/{draft}/proposal"), tag).await,
                1 => {
                    let decision = json!({ "decision": "approve" });
                    marek.post(&format!("/v1/revisions/{waiting}/decision"), decision).await
                }
                _ => {
                    let change =
                        json!({ "level": "caution", "text": format!("Smells strongly, as said {}.", i / 3) });
                    amend(&ilse, json!({ "add_caution": change })).await
                }
            }
        }
    })
    .await;
    for (i, answer) in answers.into_iter().enumerate() {
        match i % 3 {
            0 => drop(answer.expect(200)),
            // Who was to approve had acknowledged other cautions, where an amendment came first.
            1 if answer.status == 200 => {}
            1 => drop(answer.problem(403, "gate-closed")),
            _ => assert_eq!(answer.expect(201).json["state"], "in_force"),
        }
    }
    for revision in drafts.iter().map(|(revision, _)| revision).chain(&proposed) {
        let set = room.marek.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
        for i in 0..EACH {
            assert!(set.text.contains(&format!("as said {i}.")), "{i} is missing: {}", set.text);
        }
    }
    room.stop().await;
}
