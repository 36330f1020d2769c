//! A right that ends while its person enters or writes: whichever came first is finished first, and the other finds what
//! it left.

use std::future::Future;

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use serde_json::{Value, json};
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Answer, Caller, TestClinic, database};
use tokio::task::JoinHandle;

use super::count;

const TOGETHER: [(&str, &str); 1] = [("STILLROOM_CONNECTIONS", "6")];

/// How many of the service's connections wait for a lock.
async fn waiting(watch: &mut AsyncPgConnection) -> i64 {
    let sql = "SELECT count(*) FROM pg_stat_activity
               WHERE datname = current_database() AND application_name = 'stillroom' AND wait_event_type = 'Lock'";
    count(watch, sql).await
}

/// A row that is held from outside, so that requests come to stand in the order in which they were sent.
struct Held {
    clinic: TestClinic,
    lock: AsyncPgConnection,
    watch: AsyncPgConnection,
    standing: i64,
}

impl Held {
    async fn new(clinic: TestClinic, row: &str) -> Self {
        let mut lock = database::owner(&clinic.database).await;
        let watch = database::owner(&clinic.database).await;
        lock.batch_execute(&format!("BEGIN; SELECT FROM {row} FOR UPDATE")).await.unwrap();
        Self { clinic, lock, watch, standing: 0 }
    }

    async fn person(clinic: TestClinic, person: &Caller) -> Self {
        let row = format!("person WHERE id = '{}'", person.id);
        Self::new(clinic, &row).await
    }

    /// Sends a request, and answers once it waits for a lock.
    async fn send(&mut self, request: impl Future<Output = Answer> + Send + 'static) -> JoinHandle<Answer> {
        let sent = tokio::spawn(request);
        self.standing += 1;
        while waiting(&mut self.watch).await < self.standing {
            assert!(!sent.is_finished(), "the request waits for nothing: {}", sent.await.unwrap().text);
        }
        sent
    }

    /// Lets go, and answers what the two were answered.
    async fn release(&mut self, one: JoinHandle<Answer>, two: JoinHandle<Answer>) -> (Answer, Answer) {
        self.lock.batch_execute("COMMIT").await.unwrap();
        (one.await.unwrap(), two.await.unwrap())
    }

    async fn stop(self) {
        let verdict = clinic::journal::verify(&self.clinic.service.clinic).await.unwrap();
        assert!(verdict.breaks.is_empty(), "{verdict:?}");
        self.clinic.stop().await;
    }
}

/// The request that changes an account, with the version that it has now.
async fn change(clinic: &TestClinic, person: &Caller, change: Value) -> impl Future<Output = Answer> + use<> {
    let administrator = clinic.administrator.clone();
    let path = format!("/v1/people/{}", person.id);
    let tag = administrator.get(&path).await.expect(200).etag();
    async move { administrator.patch(&path, &tag, change).await }
}

fn signing_in(clinic: &TestClinic, password: &str) -> impl Future<Output = Answer> + use<> {
    let nobody = clinic.nobody.clone();
    let body = json!({ "sign_in_name": "ilse.brandt", "password": password });
    async move { nobody.post("/v1/sessions", body).await }
}

/// Every session holds the role of its person.
async fn copies_agree(watch: &mut AsyncPgConnection) {
    let sql =
        "SELECT count(*) FROM session JOIN person ON person.id = person_id WHERE session.role <> person.role";
    assert_eq!(count(watch, sql).await, 0, "a session holds a role that its person has no more");
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_signs_in_while_being_demoted_enters_with_the_new_role() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let demotion = change(&clinic, &ilse, json!({ "role": "student" })).await;
    let mut held = Held::person(clinic, &ilse).await;
    let demoted = held.send(demotion).await;
    let entering = held.send(signing_in(&held.clinic, PASSWORD)).await;
    let (demoted, entered) = held.release(demoted, entering).await;
    demoted.expect(200);
    let entered = entered.expect(201);
    assert_eq!(entered.json["person"]["role"], "student");
    let ilse = held.clinic.nobody.with(&entered.text_at("/access_token"), &ilse.id);
    ilse.post("/v1/libraries", json!({ "name": "Mine" })).await.problem(403, "forbidden");
    copies_agree(&mut held.watch).await;
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_enters_an_account_that_is_being_disabled() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let disabling = change(&clinic, &ilse, json!({ "state": "disabled" })).await;
    let mut held = Held::person(clinic, &ilse).await;
    let disabled = held.send(disabling).await;
    let entering = held.send(signing_in(&held.clinic, PASSWORD)).await;
    let (disabled, entered) = held.release(disabled, entering).await;
    disabled.expect(200);
    entered.problem(401, "not-known");
    assert_eq!(count(&mut held.watch, &open_sessions(&ilse)).await, 0);
    held.stop().await;
}

fn open_sessions(of: &Caller) -> String {
    format!("SELECT count(*) FROM session WHERE ended_at IS NULL AND person_id = '{}'", of.id)
}

#[tokio::test(flavor = "multi_thread")]
async fn the_old_password_opens_nothing_while_a_code_sets_a_new_one() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let reset = format!("/v1/people/{}/reset", ilse.id);
    let code = clinic.administrator.post_bare(&reset, &[("idempotency-key", "reset")]).await.expect(201);
    let body = json!({ "code": code.text_at("/code"), "password": "an entirely other phrase" });
    let nobody = clinic.nobody.clone();
    let mut held = Held::person(clinic, &ilse).await;
    let setting = held.send(async move { nobody.post("/v1/one-time-codes/use", body).await }).await;
    let entering = held.send(signing_in(&held.clinic, PASSWORD)).await;
    let (set, entered) = held.release(setting, entering).await;
    set.expect(204);
    entered.problem(401, "not-known");
    assert_eq!(count(&mut held.watch, &open_sessions(&ilse)).await, 0);
    signing_in(&held.clinic, "an entirely other phrase").await.expect(201);
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_code_sets_no_password_of_an_account_that_is_being_disabled() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let reset = format!("/v1/people/{}/reset", ilse.id);
    let code = clinic.administrator.post_bare(&reset, &[("idempotency-key", "reset")]).await.expect(201);
    let body = json!({ "code": code.text_at("/code"), "password": "an entirely other phrase" });
    let nobody = clinic.nobody.clone();
    let disabling = change(&clinic, &ilse, json!({ "state": "disabled" })).await;
    let mut held = Held::person(clinic, &ilse).await;
    let disabled = held.send(disabling).await;
    let setting = held.send(async move { nobody.post("/v1/one-time-codes/use", body).await }).await;
    let (disabled, set) = held.release(disabled, setting).await;
    disabled.expect(200);
    set.problem(401, "not-known");
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refresh_token_renews_nothing_while_its_person_is_being_disabled() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let token = signing_in(&clinic, PASSWORD).await.expect(201).text_at("/refresh_token");
    let disabling = change(&clinic, &ilse, json!({ "state": "disabled" })).await;
    let nobody = clinic.nobody.clone();
    let mut held = Held::person(clinic, &ilse).await;
    let disabled = held.send(disabling).await;
    let body = json!({ "refresh_token": token });
    let refreshing = held.send(async move { nobody.post("/v1/sessions/refresh", body).await }).await;
    let (disabled, refreshed) = held.release(disabled, refreshing).await;
    disabled.expect(200);
    refreshed.problem(401, "not-known");
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_being_written_is_finished_before_its_writer_is_demoted() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let library = ilse.post("/v1/libraries", json!({ "name": "Mine" })).await.expect(201);
    let path = format!("/v1/libraries/{}", library.id());
    let tag = ilse.get(&path).await.expect(200).etag();
    let demotion = change(&clinic, &ilse, json!({ "role": "student" })).await;
    let again = ilse.clone();
    let (of, to) = (path.clone(), json!({ "name": "Still mine", "description": "" }));
    let mut held = Held::new(clinic, &format!("library WHERE id = '{}'", library.id())).await;
    // The writing one was proved, and waits in its middle; the demotion waits for it.
    let writing = held.send(async move { again.put(&of, &tag, to).await }).await;
    let demoted = held.send(demotion).await;
    let (written, demoted) = held.release(writing, demoted).await;
    written.expect(200);
    demoted.expect(200);
    ilse.post("/v1/libraries", json!({ "name": "Another" })).await.problem(403, "forbidden");
    copies_agree(&mut held.watch).await;
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_written_after_a_demotion_is_refused_and_reading_waits_for_nothing() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let demotion = change(&clinic, &ilse, json!({ "role": "student" })).await;
    let again = ilse.clone();
    let mut held = Held::person(clinic, &ilse).await;
    let demoted = held.send(demotion).await;
    let writing =
        held.send(async move { again.post("/v1/libraries", json!({ "name": "Mine" })).await }).await;
    // Meanwhile reading goes on, by what holds until the demotion has come through.
    assert_eq!(ilse.get("/v1/me").await.expect(200).json["person"]["role"], "instructor");
    let (demoted, written) = held.release(demoted, writing).await;
    demoted.expect(200);
    written.problem(403, "forbidden");
    assert_eq!(ilse.get("/v1/me").await.expect(200).json["person"]["role"], "student");
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_written_after_signing_out_is_refused() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let (leaves, writes) = (ilse.clone(), ilse.clone());
    let mut held = Held::person(clinic, &ilse).await;
    let leaving = held.send(async move { leaves.delete("/v1/sessions/current").await }).await;
    let writing =
        held.send(async move { writes.post("/v1/libraries", json!({ "name": "Mine" })).await }).await;
    let (left, written) = held.release(leaving, writing).await;
    left.expect(204);
    written.problem(401, "not-known");
    held.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn sessions_that_sign_each_other_out_and_accounts_that_change_themselves_never_deadlock() {
    let clinic = TestClinic::start_with(&TOGETHER).await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let mut sessions = Vec::new();
    for _ in 0..4 {
        let entered = signing_in(&clinic, PASSWORD).await.expect(201);
        let caller = clinic.nobody.with(&entered.text_at("/access_token"), &ilse.id);
        sessions.push((caller, entered.text_at("/session_id")));
    }
    let mut sent = Vec::new();
    for (i, (caller, _)) in sessions.iter().enumerate() {
        for (j, (_, other)) in sessions.iter().enumerate() {
            let (caller, path) = (caller.clone(), format!("/v1/sessions/{other}"));
            sent.push(tokio::spawn(async move { caller.delete(&path).await }));
            let renaming = change(&clinic, &ilse, json!({ "name": format!("Ilse {i} {j}") })).await;
            sent.push(tokio::spawn(renaming));
        }
    }
    for one in sent {
        let answer = one.await.unwrap();
        assert!([200, 204, 401, 404, 412].contains(&answer.status.as_u16()), "{}", answer.text);
    }
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_journal_vouches_for_the_role_that_ended_sessions_follow_too() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let ended = signing_in(&clinic, PASSWORD).await.expect(201);
    let caller = clinic.nobody.with(&ended.text_at("/access_token"), &ilse.id);
    caller.delete("/v1/sessions/current").await.expect(204);
    change(&clinic, &ilse, json!({ "role": "student" })).await.await.expect(200);
    let mut watch = database::owner(&clinic.database).await;
    copies_agree(&mut watch).await;
    let verdict = clinic::journal::verify(&clinic.service.clinic).await.unwrap();
    assert!(verdict.breaks.is_empty(), "{verdict:?}");
    // The service's own role cannot set a copy otherwise, nor can anybody at all.
    watch.batch_execute("SET ROLE stillroom_service").await.unwrap();
    watch.batch_execute("UPDATE session SET role = 'administrator'").await.unwrap_err();
    watch.batch_execute("RESET ROLE; UPDATE session SET role = 'administrator'").await.unwrap_err();
    clinic.stop().await;
}
