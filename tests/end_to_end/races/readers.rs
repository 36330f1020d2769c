//! Many who read recipes at the same moment: their questions go together, and everyone gets their own answer.

use serde_json::json;
use stillroom_tests::{Answer, Caller, TeachingClinic};

use super::{TOGETHER, at_once};
use crate::formulas::{cream, infused_oil};

async fn read(caller: Caller, path: String) -> Answer {
    caller.get(&path).await
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_reads_together_gets_their_own_answer() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let wim = room.clinic.person("wim.terhorst", "student").await;
    let gone = room.clinic.person("gone.home", "student").await;
    for member in [&wim, &gone] {
        room.ilse
            .put_bare(&format!("/v1/libraries/{}/members/{}", room.library, member.id))
            .await
            .expect(204);
    }
    let stranger = room.clinic.person("stranger.here", "student").await;
    let tool = room
        .clinic
        .api_client(&room.ilse, &["formulas:read", "recipes:read", "acknowledge"], &[&room.library])
        .await;
    let blind = room.clinic.api_client(&room.ilse, &["formulas:read"], &[&room.library]).await;
    let oil = room.approved(infused_oil()).await;
    room.ilse.acknowledge(&oil).await.expect(201);
    let made = room.approved(cream()).await;
    let path = |revision: &str| format!("/v1/revisions/{revision}/recipe");
    let mut texts = Vec::new();
    for (reader, revision) in [(&room.noor, &oil), (&wim, &made), (&gone, &oil), (&tool, &made)] {
        reader.acknowledge(revision).await.expect(201);
        texts.push(reader.get(&path(revision)).await.expect(200).text);
    }
    assert_ne!(texts[0], texts[1]);
    gone.delete("/v1/sessions/current").await.expect(204);

    let asked = [
        (&room.noor, &oil, 200),
        (&wim, &made, 200),
        (&room.noor, &made, 403),
        (&gone, &oil, 401),
        (&wim, &oil, 403),
        (&stranger, &oil, 404),
        (&tool, &made, 200),
        (&blind, &made, 403),
        (&room.clinic.nobody, &oil, 401),
    ];
    for _ in 0..5 {
        let answers = at_once(10 * asked.len(), |i| {
            let (reader, revision, _) = asked[i % asked.len()];
            read(reader.clone(), path(revision))
        })
        .await;
        for (i, answer) in answers.into_iter().enumerate() {
            let (_, revision, status) = asked[i % asked.len()];
            let answer = answer.expect(status);
            if status == 200 {
                assert_eq!(answer.text, if *revision == oil { &*texts[0] } else { &*texts[1] });
            }
        }
    }
    // A door that is shut in between is shut to the very next reader.
    room.ilse
        .post(&format!("/v1/revisions/{oil}/withdrawal"), json!({ "reason": "the oil turned" }))
        .await
        .expect(200);
    for answer in at_once(20, |_| read(room.noor.clone(), path(&oil))).await {
        assert_ne!(answer.status, 200);
    }
    room.stop().await;
}
