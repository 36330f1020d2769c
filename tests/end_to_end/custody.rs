//! From an accepted record to jars that somebody may use, through HTTP.

mod decanting;
mod filling;
mod handing;
mod labels;
mod page;
mod releasing;
mod samples;
mod shelf;

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, database};

use crate::stock::{cure, opened};

/// A clinic with a formula, and a batch of it.
pub(crate) struct Custody {
    pub(crate) room: TeachingClinic,
    revision: String,
    pub(crate) batch: String,
}

impl Custody {
    /// A batch of the salve that yielded 590 g; then 20 g went into a sample. Its record is accepted.
    async fn of_salve() -> Self {
        Self::of_salve_with(&[]).await
    }

    /// The same with settings in the environment's words.
    pub(crate) async fn of_salve_with(settings: &[(&str, &str)]) -> Self {
        let weighed = [("1.1", "100 g"), ("1.2", "500 g")];
        let then = [
            json!({ "kind": "step_done", "step": 1 }),
            json!({ "kind": "yield", "quantity": "590 g" }),
            json!({ "kind": "sample", "quantity": "20 g" }),
        ];
        Self::start(crate::stock::salve(), &weighed, &then, settings).await
    }

    async fn start(
        formula: Value,
        weighed: &[(&str, &str)],
        then: &[Value],
        settings: &[(&str, &str)],
    ) -> Self {
        let room = TeachingClinic::start_with(settings).await;
        let revision = room.approved(formula).await;
        for instructor in [&room.ilse, &room.marek] {
            instructor.acknowledge(&revision).await.expect(201);
        }
        let batch = made(&room, &room.noor, &revision, weighed, then).await;
        let accept = json!({ "verdict": "accept", "summary": "Clear." });
        room.marek.post(&format!("/v1/batches/{batch}/reviews"), accept).await.expect(201);
        Self { room, revision, batch }
    }

    pub(crate) fn path(&self, of: &str) -> String {
        format!("/v1/batches/{}/{of}", self.batch)
    }

    pub(crate) async fn fill(&self, by: &Caller, jars: u32, fill: &str) -> Answer {
        by.post(&self.path("jars"), json!({ "jars": jars, "fill": fill })).await
    }

    /// The codes of the jars.
    async fn codes(&self) -> Vec<String> {
        let jars = self.room.noor.get(&self.path("jars")).await.expect(200).json;
        let jars = jars["jars"].as_array().unwrap().iter();
        jars.map(|jar| jar["code"].as_str().unwrap().to_owned()).collect()
    }

    async fn sheet(&self, by: &Caller) -> Value {
        by.get(&self.path("release")).await.expect(200).json
    }

    /// What keeps it from being released, by kind.
    async fn bars(&self) -> Vec<String> {
        let sheet = self.sheet(&self.room.marek).await;
        let bars = sheet["barred"].as_array().unwrap().iter();
        bars.map(|bar| bar["kind"].as_str().unwrap().to_owned()).collect()
    }

    /// Releases it, with every caution of the label confirmed.
    pub(crate) async fn release(&self, by: &Caller) -> Answer {
        let sheet = self.sheet(by).await;
        let confirmed: Vec<&Value> =
            sheet["cautions"].as_array().unwrap().iter().map(|one| &one["id"]).collect();
        by.post(&self.path("release"), json!({ "confirmed": confirmed })).await
    }

    async fn page(&self, code: &str) -> Answer {
        self.room.clinic.nobody.get(&format!("/jars/{code}")).await
    }
}

/// A batch whose record is handed in.
async fn made(
    room: &TeachingClinic,
    maker: &Caller,
    revision: &str,
    weighed: &[(&str, &str)],
    then: &[Value],
) -> String {
    let batch = opened(maker, revision).await;
    let entries = format!("/v1/batches/{batch}/entries");
    for (line, quantity) in weighed {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A-1",
            "lot_expires": "2026-08", "reason_later": true });
        maker.post(&entries, entry).await.expect(201);
    }
    for entry in then {
        maker.post(&entries, entry.clone()).await.expect(201);
        if entry["kind"] == "step_done" && entry["step"] == 2 {
            let release = json!({ "step": 2 });
            // Only some methods hold there.
            drop(room.marek.post(&format!("/v1/batches/{batch}/hold-releases"), release).await);
        }
    }
    maker.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.expect(201);
    batch
}

/// Runs a statement as the owner of the database, which a constraint of this name refuses.
async fn held(of: &Custody, statement: &str, by: &str) {
    let mut owner = database::owner(&of.room.clinic.database).await;
    let refused = owner.batch_execute(statement).await.unwrap_err();
    assert!(store::violates(&refused, by), "{by}: {refused} of {statement}");
}
