//! Suspected adverse reactions: told by a stranger on the page of a jar and at the clinic, and what follows.

mod cases;
mod strangers;

use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, database};

use crate::stock::opened;

/// A report with nothing more to say.
fn telling(what: &str) -> Value {
    json!({ "what": what, "outcome": "recovering" })
}

/// What a browser without a session sends.
async fn send(nobody: &Caller, method: Method, path: &str, form: Option<String>) -> Answer {
    let mut headers = vec![("accept", "text/html"), ("origin", nobody.base.as_str())];
    if form.is_some() {
        headers.push(("content-type", "application/x-www-form-urlencoded"));
    }
    nobody.send(method, path, &headers, form.map(String::into_bytes)).await
}

/// A clinic with a salve in two jars.
struct Jars {
    room: TeachingClinic,
    batch: String,
    /// Id and code of each.
    jars: Vec<(String, String)>,
}

impl Jars {
    async fn start() -> Self {
        let room = TeachingClinic::start().await;
        let revision = room.approved(crate::stock::salve()).await;
        let (batch, jars) = filled(&room, &revision, &[("1.1", "100 g"), ("1.2", "500 g")]).await;
        Self { room, batch, jars }
    }

    /// Tells a reaction at the clinic; answers the case, which is the newest.
    async fn told(&self, by: &Caller, jar: usize, what: &str) -> Value {
        let path = format!("/v1/jars/{}/reactions", self.jars[jar].0);
        by.post(&path, telling(what)).await.expect(201);
        let newest = self.room.ilse.get("/v1/reactions?limit=1").await.expect(200);
        self.case(&newest.text_at("/items/0/id")).await
    }

    async fn case(&self, id: &str) -> Value {
        self.room.ilse.get(&format!("/v1/reactions/{id}")).await.expect(200).json
    }
}

/// A batch of Noor's, accepted, in two jars.
async fn filled(
    room: &TeachingClinic,
    revision: &str,
    weighed: &[(&str, &str)],
) -> (String, Vec<(String, String)>) {
    let batch = opened(&room.noor, revision).await;
    let entries = format!("/v1/batches/{batch}/entries");
    for (line, quantity) in weighed {
        let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot": "A-1",
            "lot_expires": "2026-08", "reason_later": true });
        room.noor.post(&entries, entry).await.expect(201);
    }
    finished(room, &batch, revision).await
}

/// The rest of a batch that is weighed: its yield, its record, its jars.
async fn finished(room: &TeachingClinic, batch: &str, revision: &str) -> (String, Vec<(String, String)>) {
    let path = format!("/v1/batches/{batch}");
    let yielded = json!({ "kind": "yield", "quantity": "590 g" });
    room.noor.post(&format!("{path}/entries"), yielded).await.expect(201);
    room.noor.post(&format!("{path}/submissions"), json!({})).await.expect(201);
    room.marek.acknowledge(revision).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Clear." });
    room.marek.post(&format!("{path}/reviews"), accept).await.expect(201);
    let jars = json!({ "jars": 2, "fill": "30 g" });
    let jars = room.noor.post(&format!("{path}/jars"), jars).await.expect(201).json;
    let of = |jar: &Value| {
        let text = |name: &str| jar[name].as_str().unwrap().to_owned();
        (text("id"), text("code"))
    };
    (batch.to_owned(), jars["jars"].as_array().unwrap().iter().map(of).collect())
}

/// Runs a statement as the owner of the database, which a constraint of this name refuses.
async fn held(room: &TeachingClinic, statement: &str, by: &str) {
    use diesel_async::SimpleAsyncConnection;
    let mut owner = database::owner(&room.clinic.database).await;
    let refused = owner.batch_execute(statement).await.unwrap_err();
    assert!(store::violates(&refused, by), "{by}: {refused} of {statement}");
}
