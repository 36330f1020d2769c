//! The shelf, through HTTP: receiving a lot, confirming what it is, drawing from it at the bench, and the ledger behind it.

mod bad_input;
mod drawing;
mod ledger;
pub(crate) mod made;
pub(crate) mod recalls;
mod receiving;
mod reserving;
mod shelf;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic};

/// A lot as somebody receives it who has nothing more to say.
pub(crate) fn lot(material: &str, amount: &str) -> Value {
    json!({ "material": material, "supplier": "Quillbrook apiary", "supplier_lot": "QB-26-117", "amount": amount })
}

/// An instructor confirms the identity of a lot that comes from no plant.
pub(crate) async fn confirm(instructor: &Caller, lot: &str) -> Answer {
    let check = json!({ "confirmed": true, "organoleptic": "Colour and smell as they should be." });
    instructor.post(&format!("/v1/lots/{lot}/identity"), check).await.expect(201)
}

/// An instructor receives a lot and confirms it. Answers its id.
pub(crate) async fn usable(instructor: &Caller, lot: Value) -> String {
    let id = instructor.post("/v1/lots", lot).await.expect(201).id();
    confirm(instructor, &id).await;
    id
}

/// A clinic that makes a salve of wax and oil, with a batch of Noor's.
pub(crate) struct Shelf {
    pub(crate) room: TeachingClinic,
    pub(crate) salve: String,
    pub(crate) batch: String,
}

impl Shelf {
    /// Starts it.
    pub(crate) async fn start() -> Self {
        Self::start_with(&[]).await
    }

    /// Starts it with settings in the environment's words.
    pub(crate) async fn start_with(settings: &[(&str, &str)]) -> Self {
        let room = TeachingClinic::start_with(settings).await;
        let salve = room.approved(salve()).await;
        let batch = opened(&room.noor, &salve).await;
        Self { room, salve, batch }
    }

    /// Receives a lot and confirms it. Answers its id.
    pub(crate) async fn usable(&self, lot: Value) -> String {
        usable(&self.room.ilse, lot).await
    }

    /// Noor weighs the wax from a lot.
    pub(crate) async fn weigh(&self, lot: &str, quantity: &str) -> Answer {
        weigh(&self.room.noor, &self.batch, "1.1", lot, quantity).await
    }

    /// A lot, as an instructor sees it.
    pub(crate) async fn lot(&self, id: &str) -> Value {
        self.room.ilse.get(&format!("/v1/lots/{id}")).await.expect(200).json
    }

    /// What is left of a lot, in g.
    pub(crate) async fn left(&self, id: &str) -> String {
        self.lot(id).await["on_hand_grams"].as_str().unwrap().to_owned()
    }

    /// Proves the journal and stops.
    pub(crate) async fn stop(self) {
        self.room.stop().await;
    }
}

/// A salve that is made as a cosmetic.
pub(crate) fn salve() -> Value {
    json!({
        "title": "Plain salve", "preparation": "salve", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all of it", "lines": [
            { "material": "yellow beeswax", "amount": "100 g", "function": "stiffening agent" },
            { "material": "olive oil", "amount": "500 g", "function": "vehicle" } ] }],
        "method": [{ "do": "Melt the wax in the oil", "temperature": "70 C at most" }],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

/// A batch of somebody who has acknowledged the cautions.
pub(crate) async fn opened(maker: &Caller, revision: &str) -> String {
    maker.acknowledge(revision).await.expect(201);
    maker.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id()
}

/// A weighing from a lot.
pub(crate) async fn weigh(maker: &Caller, batch: &str, line: &str, lot: &str, quantity: &str) -> Answer {
    let entry = json!({ "kind": "weighing", "line": line, "quantity": quantity, "lot_id": lot, "reason_later": true });
    maker.post(&format!("/v1/batches/{batch}/entries"), entry).await
}

/// Counts a lot as it is now.
pub(crate) async fn count(keeper: &Caller, lot: &str, count: Value) -> Answer {
    let tag = keeper.get(&format!("/v1/lots/{lot}")).await.expect(200).etag();
    keeper.post_if(&format!("/v1/lots/{lot}/counts"), &tag, count).await
}

/// The detail of the one field that was not accepted.
pub(crate) fn cure(answer: &Answer) -> String {
    answer.text_at("/errors/0/detail")
}
