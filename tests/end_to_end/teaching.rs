//! Teaching, through HTTP: a class, the work set to it, the questions that hold the recipe shut, and who sees what.

mod amounts;
mod appeals;
mod bad_input;
mod blind;
mod charts;
mod competencies;
mod enrolment;
mod findings;
mod grid;
pub(crate) mod handed_in;
mod held;
mod lists;
mod marks;
mod moderation;
mod phrases;
mod progress;
mod queue;
mod raced;
mod second_marks;
mod self_checks;
mod term;
mod versions;

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Answer, Caller, TeachingClinic};
use uuid::Uuid;

use crate::formulas::{cream, infused_oil};

/// A course: the teaching clinic, a cohort of its people in Berlin, a second student, and an approved cream with the oil
/// that it is made from.
pub(crate) struct Course {
    pub(crate) room: TeachingClinic,
    pub(crate) sven: Caller,
    pub(crate) cohort: String,
    pub(crate) oil: String,
    pub(crate) cream: String,
}

impl Course {
    /// Starts it.
    pub(crate) async fn start() -> Self {
        Self::start_with(&[]).await
    }

    /// Starts it with settings in the environment's words.
    pub(crate) async fn start_with(settings: &[(&str, &str)]) -> Self {
        let room = TeachingClinic::start_with(settings).await;
        let sven = room.clinic.person("sven.aalto", "student").await;
        let members = format!("/v1/libraries/{}/members/{}", room.library, sven.id);
        room.ilse.put_bare(&members).await.expect(204);
        let oil = room.approved(infused_oil()).await;
        room.ilse.acknowledge(&oil).await.expect(201);
        room.marek.acknowledge(&oil).await.expect(201);
        let cream = room.approved(cream()).await;
        let cohort = room.ilse.post("/v1/cohorts", cohort("First year, spring")).await.expect(201).id();
        let course = Self { room, sven, cohort, oil, cream };
        course.enrol(&course.room.noor.id, "student").await;
        course.enrol(&course.sven.id, "student").await;
        course.enrol(&course.room.marek.id, "marker").await;
        course
    }

    /// Enrols a person.
    pub(crate) async fn enrol(&self, person: &str, role: &str) {
        let body = json!({ "person": person, "role": role });
        self.room.ilse.post(&self.at("members"), body).await.expect(201);
    }

    /// An address of the cohort.
    pub(crate) fn at(&self, what: &str) -> String {
        format!("/v1/cohorts/{}/{what}", self.cohort)
    }

    /// Work on the cream with these questions, open now and due in three weeks.
    pub(crate) fn work(&self, questions: &Value) -> Value {
        json!({
            "title": "Make a calendula cream", "instructions": "Fill your own jars.", "formulas": [self.cream],
            "quantity": "300 g", "opens": "2026-03-02T08:00", "due": "2026-03-20T18:00",
            "late_until": "2026-03-27T18:00", "attempts": 2, "returns_allowed": 1,
            "rubric": rubric(), "questions": questions,
        })
    }

    /// Writes and publishes work. Answers its id.
    pub(crate) async fn publish(&self, content: Value) -> String {
        let id = self.room.ilse.post(&self.at("assignments"), content).await.expect(201).id();
        act(&self.room.ilse, &format!("/v1/assignments/{id}/publication")).await.expect(201);
        id
    }

    /// The same person, signed in again after the clock has moved.
    pub(crate) async fn later(&self, by: Duration, name: &str) -> Caller {
        self.room.clinic.service.clinic.clock().advance(by);
        sign_in(&self.room.clinic.nobody, name).await
    }

    /// Proves the journal and stops.
    pub(crate) async fn stop(self) {
        self.room.stop().await;
    }
}

/// A cohort in Berlin, from March to July.
pub(crate) fn cohort(name: &str) -> Value {
    json!({ "name": name, "starts_on": "2026-03-02", "ends_on": "2026-07-03", "time_zone": "Europe/Berlin" })
}

/// A rubric of ten points with one criterion outside them.
pub(crate) fn rubric() -> Value {
    json!({ "total_points": 10, "criteria": [
        { "title": "Weighing", "levels": [
            { "title": "Several lines are outside tolerance.", "points": 0 },
            { "title": "Every weighing is within tolerance.", "points": 6 } ] },
        { "title": "Emulsion", "levels": [
            { "title": "It parted.", "points": 0 }, { "title": "Smooth and stable.", "points": 4 } ] },
        { "title": "Every lot is recorded.", "must_pass": true } ] })
}

/// A creating request without a body.
pub(crate) async fn act(caller: &Caller, path: &str) -> Answer {
    let key = Uuid::now_v7().to_string();
    caller.post_bare(path, &[("idempotency-key", &key)]).await
}

/// Begins the questions of an assignment.
pub(crate) async fn begin(caller: &Caller, assignment: &str) -> Answer {
    act(caller, &format!("/v1/assignments/{assignment}/questions")).await
}

/// Answers a question: each part with its values.
pub(crate) async fn answer(caller: &Caller, question: &Value, parts: &[(&str, &[&str])]) -> Answer {
    let answers: Vec<Value> =
        parts.iter().map(|(part, values)| json!({ "part": part, "values": values })).collect();
    let id = question["id"].as_str().unwrap();
    caller.post(&format!("/v1/questions/{id}/answers"), json!({ "answers": answers })).await
}

/// Uses every attempt at a question up. Answers it as it stands then.
pub(crate) async fn give_up(caller: &Caller, question: &Value) -> Value {
    let mut now = question.clone();
    while now["state"] == "open" {
        let parts: Vec<(String, String)> = now["parts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|part| {
                let value = match part["form"].as_str().unwrap() {
                    "mass" => "0.001 g".to_owned(),
                    "volume" => "0.001 mL".to_owned(),
                    "percent" => "0.001 %".to_owned(),
                    "number" => "0.001".to_owned(),
                    "day" => "2020-02-29".to_owned(),
                    _ => part["options"][0].as_str().unwrap().to_owned(),
                };
                (part["part"].as_str().unwrap().to_owned(), value)
            })
            .collect();
        let answers: Vec<Value> =
            parts.iter().map(|(part, value)| json!({ "part": part, "values": [value] })).collect();
        let id = now["id"].as_str().unwrap().to_owned();
        let sent = caller.post(&format!("/v1/questions/{id}/answers"), json!({ "answers": answers })).await;
        now = sent.expect(201).json;
    }
    now
}

/// A number that a question gives, by a word of its name.
pub(crate) fn given(question: &Value, name: &str) -> f64 {
    let all = question["given"].as_array().unwrap();
    let found = all.iter().find(|given| given["name"].as_str().unwrap().contains(name));
    let text = found.unwrap_or_else(|| panic!("no {name} in {question}"))["value"].as_str().unwrap();
    text.split_whitespace().next().unwrap().parse().unwrap()
}
