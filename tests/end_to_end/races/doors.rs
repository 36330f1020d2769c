//! Acknowledging while the door is being closed: whoever comes second finds it closed.

use diesel_async::{AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use serde_json::json;
use stillroom_tests::{Answer, Caller, TeachingClinic, database};

use super::{TOGETHER, at_once};
use crate::formulas::{cream, infused_oil};

#[derive(diesel::QueryableByName)]
struct Count {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    count: i64,
}

pub(crate) async fn count(conn: &mut AsyncPgConnection, sql: &str) -> i64 {
    diesel::sql_query(sql).get_result::<Count>(conn).await.unwrap().count
}

/// How many of the service's connections wait for a lock.
pub(crate) async fn waiting(conn: &mut AsyncPgConnection) -> i64 {
    let sql = "SELECT count(*) FROM pg_stat_activity
               WHERE datname = current_database() AND application_name = 'stillroom' AND wait_event_type = 'Lock'";
    count(conn, sql).await
}

/// Holds the acknowledgement up in its middle, sends what closes the door, and lets both go on.
async fn acknowledged_while(
    room: &TeachingClinic,
    revision: &str,
    closing: impl Future<Output = Answer> + Send + 'static,
) {
    let recipe = format!("/v1/revisions/{revision}/recipe");
    // Read by somebody else before, so that the shortest way to it is open.
    room.marek.get(&recipe).await.expect(200);
    let mut held = database::owner(&room.clinic.database).await;
    let mut watch = database::owner(&room.clinic.database).await;
    held.batch_execute(&format!("BEGIN; SELECT FROM gate WHERE revision_id = '{revision}' FOR UPDATE"))
        .await
        .unwrap();
    let (noor, of) = (room.noor.clone(), revision.to_owned());
    let acknowledging = tokio::spawn(async move { noor.acknowledge(&of).await });
    while waiting(&mut watch).await < 1 {
        assert!(!acknowledging.is_finished(), "the acknowledgement does not lock the gate");
    }
    let closing = tokio::spawn(closing);
    while !closing.is_finished() && waiting(&mut watch).await < 2 {}
    held.batch_execute("COMMIT").await.unwrap();
    let (acknowledged, closed) = (acknowledging.await.unwrap(), closing.await.unwrap());
    assert!(closed.status.is_success(), "{}", closed.text);
    assert!([201, 404, 409].contains(&acknowledged.status.as_u16()), "{}", acknowledged.text);
    let open = count(
        &mut watch,
        &format!("SELECT count(*) FROM release_grant WHERE holder_id = '{}'", room.noor.id),
    )
    .await;
    assert_eq!(open, 0, "a door stays open behind {}", closed.text);
    let refused = room.noor.get(&recipe).await;
    assert!([403, 404].contains(&refused.status.as_u16()), "{}", refused.text);
}

async fn further(room: &TeachingClinic, revision: &str) -> String {
    let formula = room.ilse.get(&format!("/v1/revisions/{revision}")).await.text_at("/formula");
    let content = json!({ "content": infused_oil() });
    let next = room.ilse.post(&format!("/v1/formulas/{formula}/revisions"), content).await.expect(201).id();
    room.ilse
        .post_bare(&format!("/v1/revisions/{next}/proposal"), &[("if-match", "\"v1\"")])
        .await
        .expect(200);
    room.marek.acknowledge(&next).await.expect(201);
    next
}

async fn post(caller: Caller, path: String, body: serde_json::Value) -> Answer {
    caller.post(&path, body).await
}

#[tokio::test(flavor = "multi_thread")]
async fn no_door_stays_open_that_was_opened_while_the_revision_was_superseded() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let revision = room.approved(infused_oil()).await;
    let next = further(&room, &revision).await;
    let approve =
        post(room.marek.clone(), format!("/v1/revisions/{next}/decision"), json!({ "decision": "approve" }));
    acknowledged_while(&room, &revision, approve).await;
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_door_stays_open_that_was_opened_while_the_revision_or_what_it_is_made_from_was_withdrawn() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let oil = room.approved(infused_oil()).await;
    room.ilse.acknowledge(&oil).await.expect(201);
    let revision = room.approved(cream()).await;
    let reason = json!({ "reason": "A doubtful lot." });
    let withdraw = post(room.marek.clone(), format!("/v1/revisions/{oil}/withdrawal"), reason.clone());
    acknowledged_while(&room, &revision, withdraw).await;
    let again = room.approved(infused_oil()).await;
    let withdraw = post(room.marek.clone(), format!("/v1/revisions/{again}/withdrawal"), reason);
    acknowledged_while(&room, &again, withdraw).await;
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_door_stays_open_that_was_opened_while_the_membership_ended() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let revision = room.approved(infused_oil()).await;
    let member = format!("/v1/libraries/{}/members/{}", room.library, room.noor.id);
    let ilse = room.ilse.clone();
    acknowledged_while(&room, &revision, async move { ilse.delete(&member).await }).await;
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn fifty_who_acknowledge_while_it_is_superseded_hold_no_key_to_the_old_one() {
    let room = TeachingClinic::start_with(&TOGETHER).await;
    let revision = room.approved(infused_oil()).await;
    room.marek.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    let next = further(&room, &revision).await;
    let answers = at_once(50, |i| {
        let (noor, marek, revision) = (room.noor.clone(), room.marek.clone(), revision.clone());
        let decision = format!("/v1/revisions/{next}/decision");
        async move {
            if i == 25 {
                marek.post(&decision, json!({ "decision": "approve" })).await
            } else {
                noor.acknowledge(&revision).await
            }
        }
    })
    .await;
    answers[25].clone().expect(200);
    for (i, answer) in answers.iter().enumerate().filter(|(i, _)| *i != 25) {
        assert!([201, 409].contains(&answer.status.as_u16()), "{i}: {}", answer.text);
    }
    room.noor.get(&format!("/v1/revisions/{revision}/recipe")).await.problem(403, "gate-closed");
    let given = room.noor.get("/v1/acknowledgements?limit=100").await.expect(200);
    assert!(given.json["items"].as_array().unwrap().iter().all(|one| one["open"] == false));
    room.stop().await;
}
