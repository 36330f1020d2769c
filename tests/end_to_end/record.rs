//! What a batch record holds besides its weighings, through HTTP.

mod adjusting;
mod checks;
mod deviations;
mod handovers;
mod holds;
mod long_work;
mod outcome;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic};

use crate::stock::{opened, salve};

/// A clinic that makes a salve of wax and oil, with a batch of Noor's.
struct Bench {
    room: TeachingClinic,
    batch: String,
}

impl Bench {
    async fn start() -> Self {
        Self::with(salve()).await
    }

    async fn with(formula: Value) -> Self {
        let room = TeachingClinic::start_with(&[]).await;
        let revision = room.approved(formula).await;
        let batch = opened(&room.noor, &revision).await;
        Self { room, batch }
    }

    fn path(&self, of: &str) -> String {
        format!("/v1/batches/{}/{of}", self.batch)
    }

    async fn check(&self, check: Value) -> Answer {
        self.room.noor.post(&self.path("checks"), check).await
    }

    async fn write(&self, entry: Value) -> Answer {
        self.room.noor.post(&self.path("entries"), entry).await
    }

    async fn weigh(&self, line: &str, quantity: &str) -> Answer {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "L-1" });
        self.write(entry).await
    }

    async fn record(&self, reader: &Caller) -> Value {
        reader.get(&format!("/v1/batches/{}", self.batch)).await.expect(200).json
    }

    /// The sentences of the findings of a kind.
    async fn found(&self, kind: &str) -> Vec<String> {
        let record = self.record(&self.room.noor).await;
        let findings = record["findings"].as_array().unwrap().iter();
        let of_kind = findings.filter(|finding| finding["kind"] == kind);
        of_kind.map(|finding| finding["sentence"].as_str().unwrap().to_owned()).collect()
    }

    async fn stop(self) {
        self.room.stop().await;
    }
}

/// A check of a meter.
fn meter(kind: &str, reference: &str, reading: &str, tolerance: &str) -> Value {
    json!({ "kind": kind, "instrument": "bench balance 2", "reference": reference, "reading": reading,
        "tolerance": tolerance })
}
