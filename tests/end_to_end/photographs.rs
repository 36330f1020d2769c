//! Photographs of a batch at the bench: what is taken, who sees them, and their files.

mod accepted;
mod by_hand;
mod files;
mod refused;
mod rights;
mod store;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, pictures};

use crate::stock::{opened, salve};

/// A clinic that makes a salve, with a batch of Noor's that she writes.
struct Bench {
    room: TeachingClinic,
    revision: String,
    batch: String,
}

impl Bench {
    async fn start() -> Self {
        Self::start_with(&[]).await
    }

    async fn start_with(settings: &[(&str, &str)]) -> Self {
        let room = TeachingClinic::start_with(settings).await;
        let revision = room.approved(salve()).await;
        let batch = opened(&room.noor, &revision).await;
        Self { room, revision, batch }
    }

    fn path(&self, of: &str) -> String {
        format!("/v1/batches/{}/{of}", self.batch)
    }

    /// A photograph by Noor.
    async fn photograph(&self) -> Answer {
        self.room.noor.photograph(&self.batch, pictures::photograph()).await
    }

    /// Sends bytes as a photograph of a media type.
    async fn send(&self, media: &str, bytes: Vec<u8>) -> Answer {
        self.room.noor.post_bytes(&self.path("photographs?subject=preparation"), media, bytes).await
    }

    async fn list(&self, by: &Caller) -> Value {
        by.get(&self.path("photographs")).await.expect(200).json
    }

    async fn withdraw(&self, by: &Caller, photograph: &str) -> Answer {
        let path = self.path(&format!("photographs/{photograph}/withdrawal"));
        by.post(&path, json!({ "reason": "It shows a face." })).await
    }

    /// Noor hands the record in.
    async fn hand_in(&self) {
        for (line, quantity) in [("1.1", "100 g"), ("1.2", "500 g")] {
            let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A-1",
                "reason_later": true });
            self.room.noor.post(&self.path("entries"), entry).await.expect(201);
        }
        self.room.noor.post(&self.path("submissions"), json!({})).await.expect(201);
    }

    /// The folder with the files.
    fn folder(&self) -> std::path::PathBuf {
        stillroom_tests::database::photographs(&self.room.clinic.database)
    }

    /// The names of the files.
    fn files(&self) -> Vec<String> {
        let Ok(files) = std::fs::read_dir(self.folder()) else { return Vec::new() };
        let mut names: Vec<String> =
            files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    async fn stop(self) {
        self.room.stop().await;
    }
}

/// What is said of the only field that was not accepted.
fn cure(refused: &Answer) -> String {
    refused.text_at("/errors/0/detail")
}
