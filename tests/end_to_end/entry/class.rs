//! A class that comes in together, from one address.

use serde_json::json;
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Answer, Caller, TestClinic};
use tokio::task::JoinSet;

const PEOPLE: usize = 50;

fn name(student: usize) -> String {
    format!("student.{student}")
}

/// Invites a student, who sets a password.
async fn come(clinic: (Caller, Caller), student: usize) {
    let (nobody, administrator) = clinic;
    let invitation = json!({ "sign_in_name": name(student), "name": name(student), "role": "student" });
    let code = administrator.post("/v1/invitations", invitation).await.expect(201).text_at("/code");
    nobody.post("/v1/one-time-codes/use", json!({ "code": code, "password": PASSWORD })).await.expect(204);
}

async fn sign_in(nobody: Caller, student: usize) -> Answer {
    let body = json!({ "sign_in_name": name(student), "password": PASSWORD });
    nobody.post("/v1/sessions", body).await
}

#[tokio::test(flavor = "multi_thread")]
async fn fifty_people_who_sign_in_from_one_address_at_once_are_all_let_in() {
    // The limits on requests and connections are those of a service that was told nothing.
    let settings = [("STILLROOM_REQUESTS_PER_SECOND", "50"), ("STILLROOM_CONNECTIONS", "16")];
    let clinic = TestClinic::start_with(&settings).await;
    let callers = || (clinic.nobody.clone(), clinic.administrator.clone());
    (0..PEOPLE).map(|student| come(callers(), student)).collect::<JoinSet<()>>().join_all().await;
    let together = (0..PEOPLE).map(|student| sign_in(clinic.nobody.clone(), student));
    let answers = together.collect::<JoinSet<Answer>>().join_all().await;
    let statuses: Vec<u16> = answers.iter().map(|answer| answer.status.as_u16()).collect();
    assert_eq!(statuses, [201; PEOPLE]);
    clinic.stop().await;
}
