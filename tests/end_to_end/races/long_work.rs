//! Handing a batch over, pausing it and decanting its jars, each against what happens to the same batch at the same moment: held
//! up in the middle, each first once.

use std::pin::Pin;

use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller, TeachingClinic, database};

use super::deadlocks::{met, stop_without_deadlock};
use super::{TOGETHER, at_once, count};
use crate::custody::Custody;
use crate::stock::{Shelf, lot, weigh};

type Asked = Pin<Box<dyn Future<Output = Answer> + Send>>;

/// Somebody posts something.
fn post(by: &Caller, path: String, body: Value) -> Asked {
    let by = by.clone();
    Box::pin(async move { by.post(&path, body).await })
}

/// A salve that Noor has begun from a lot of wax, and Sven, who may make it.
struct Given {
    shelf: Shelf,
    wax: String,
    sven: Caller,
}

impl Given {
    async fn start() -> Self {
        let shelf = Shelf::start_with(&TOGETHER).await;
        let wax = shelf.usable(lot("yellow beeswax", "2 kg")).await;
        shelf.weigh(&wax, "10 g").await.expect(201);
        let sven = shelf.room.clinic.person("sven.olsen", "student").await;
        let member = format!("/v1/libraries/{}/members/{}", shelf.room.library, sven.id);
        shelf.room.ilse.put_bare(&member).await.expect(204);
        sven.acknowledge(&shelf.salve).await.expect(201);
        Self { shelf, wax, sven }
    }

    fn room(&self) -> &TeachingClinic {
        &self.shelf.room
    }

    fn noor(&self) -> &Caller {
        &self.shelf.room.noor
    }

    fn path(&self, of: &str) -> String {
        format!("/v1/batches/{}/{of}", self.shelf.batch)
    }

    /// Noor offers the batch to Sven. Answers the offer.
    async fn offered(&self) -> String {
        let to = json!({ "to": self.sven.id });
        self.noor().post(&self.path("handovers"), to).await.expect(201).text_at("/handovers/0/id")
    }

    fn answer(&self, by: &Caller, offer: &str, answer: &str) -> Asked {
        post(by, format!("/v1/handovers/{offer}/answer"), json!({ "answer": answer }))
    }

    fn pause(&self) -> Asked {
        post(self.noor(), self.path("pauses"), json!({ "why": "macerating", "until": "2026-03-16" }))
    }

    fn hand_in(&self) -> Asked {
        post(self.noor(), self.path("submissions"), json!({}))
    }

    /// Each of two requests first once, the other behind it.
    async fn met(&self, first: Asked, second: Asked) -> [Answer; 2] {
        let held = format!("SELECT FROM batch WHERE id = '{}'", self.shelf.batch);
        met(self.room(), &held, first, second).await
    }

    async fn record(&self) -> Value {
        self.noor().get(&format!("/v1/batches/{}", self.shelf.batch)).await.expect(200).json
    }

    /// Who has the batch; that whoever had it is one of its makers; and that its lot holds what was not weighed.
    async fn stands(&self, maker: &Caller, weighed: u32) {
        let record = self.record().await;
        assert_eq!(record["maker"], json!(maker.id));
        let entries = record["entries"].as_array().unwrap();
        assert_eq!(u32::try_from(entries.len()).unwrap() * 10, weighed, "each weighing is of 10 g");
        assert_eq!(self.shelf.left(&self.wax).await, (2000 - weighed).to_string());
        let mut owner = database::owner(&self.room().clinic.database).await;
        let makers = format!("SELECT count(*) FROM maker_of_batch WHERE batch_id = '{}'", self.shelf.batch);
        let handed = if maker.id == self.noor().id { 1 } else { 2 };
        assert_eq!(count(&mut owner, &makers).await, handed);
        let off = "SELECT count(*) FROM lot_balance b WHERE b.on_hand IS DISTINCT FROM (
            SELECT sum(coalesce(m.grams, CASE m.kind WHEN 'used' THEN -e.grams ELSE e.grams END))
            FROM lot_movement m LEFT JOIN batch_entry e ON e.id = m.entry_id WHERE m.lot_id = b.lot_id)";
        assert_eq!(count(&mut owner, off).await, 0, "what is there is the sum of what moved");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_that_is_accepted_twice_at_once_goes_over_once() {
    let given = Given::start().await;
    let offer = given.offered().await;
    let accept = || given.answer(&given.sven, &offer, "accepted");
    let [first, second] = given.met(accept(), accept()).await;
    first.expect(201);
    let refused = second.problem(409, "wrong-state");
    assert!(refused.text.contains("This offer was accepted before."), "{}", refused.text);
    given.stands(&given.sven, 10).await;
    stop_without_deadlock(given.shelf.room).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_offer_is_either_accepted_or_withdrawn() {
    for accepted in [true, false] {
        let given = Given::start().await;
        let offer = given.offered().await;
        let accept = given.answer(&given.sven, &offer, "accepted");
        let withdraw = given.answer(given.noor(), &offer, "withdrawn");
        let (first, second) = if accepted { (accept, withdraw) } else { (withdraw, accept) };
        let [first, second] = given.met(first, second).await;
        first.expect(201);
        let refused = second.problem(409, "wrong-state");
        let was =
            if accepted { "This offer was accepted before." } else { "This offer was withdrawn before." };
        assert!(refused.text.contains(was), "{}", refused.text);
        given.stands(if accepted { &given.sven } else { given.noor() }, 10).await;
        stop_without_deadlock(given.shelf.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_weighs_into_a_batch_that_another_has_accepted() {
    for accepted_first in [true, false] {
        let given = Given::start().await;
        let offer = given.offered().await;
        let accept = given.answer(&given.sven, &offer, "accepted");
        let (noor, batch, wax) = (given.noor().clone(), given.shelf.batch.clone(), given.wax.clone());
        let weighing: Asked = Box::pin(async move { weigh(&noor, &batch, "1.1", &wax, "10 g").await });
        if accepted_first {
            let [accepted, weighed] = given.met(accept, weighing).await;
            accepted.expect(201);
            weighed.problem(403, "forbidden");
            given.stands(&given.sven, 10).await;
        } else {
            let [weighed, accepted] = given.met(weighing, accept).await;
            weighed.expect(201);
            accepted.expect(201);
            given.stands(&given.sven, 20).await;
        }
        stop_without_deadlock(given.shelf.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_offer_is_either_accepted_or_ends_with_the_record_that_is_handed_in() {
    for accepted in [true, false] {
        let given = Given::start().await;
        let offer = given.offered().await;
        let accept = given.answer(&given.sven, &offer, "accepted");
        if accepted {
            let [first, second] = given.met(accept, given.hand_in()).await;
            first.expect(201);
            second.problem(403, "forbidden");
            assert_eq!(given.record().await["state"], "making");
            given.stands(&given.sven, 10).await;
        } else {
            let [first, second] = given.met(given.hand_in(), accept).await;
            first.expect(201);
            let refused = second.problem(409, "wrong-state");
            assert!(refused.text.contains("This offer was withdrawn before."), "{}", refused.text);
            given.stands(given.noor(), 10).await;
        }
        stop_without_deadlock(given.shelf.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_batch_is_either_paused_or_handed_in() {
    for paused in [true, false] {
        let given = Given::start().await;
        let (first, second) =
            if paused { (given.pause(), given.hand_in()) } else { (given.hand_in(), given.pause()) };
        let [first, second] = given.met(first, second).await;
        first.expect(201);
        let refused = second.problem(409, "wrong-state");
        let (cure, state) = match paused {
            true => ("Take it up again before you submit its record.", "making"),
            false => ("Only a batch that is being made is paused.", "submitted"),
        };
        assert!(refused.text.contains(cure), "{}", refused.text);
        let record = given.record().await;
        let pauses = record["pauses"].as_array().map_or(0, Vec::len);
        assert_eq!((&record["state"], pauses), (&json!(state), usize::from(paused)));
        stop_without_deadlock(given.shelf.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn many_who_offer_accept_withdraw_pause_weigh_and_hand_in_at_once_do_not_deadlock() {
    let given = Given::start().await;
    let offer = given.offered().await;
    let answers = at_once(24, |i| -> Asked {
        match i % 6 {
            0 => given.answer(&given.sven, &offer, "accepted"),
            1 => given.answer(given.noor(), &offer, "withdrawn"),
            2 => given.pause(),
            3 => given.hand_in(),
            4 => post(given.noor(), given.path("handovers"), json!({ "to": given.sven.id })),
            _ => {
                let (noor, batch, wax) = (given.noor().clone(), given.shelf.batch.clone(), given.wax.clone());
                Box::pin(async move { weigh(&noor, &batch, "1.1", &wax, "10 g").await })
            }
        }
    })
    .await;
    for (i, answer) in answers.iter().enumerate() {
        assert!([201, 403, 409].contains(&answer.status.as_u16()), "{i}: {}", answer.text);
    }
    let done = |of: usize| answers.iter().skip(of).step_by(6).filter(|answer| answer.status == 201).count();
    assert!(done(0) <= 1 && done(1) <= 1 && done(2) <= 1 && done(3) <= 1, "each ends what it begins");
    let record = given.record().await;
    let maker = if done(0) == 1 { &given.sven } else { given.noor() };
    assert!(done(0) + done(3) <= 1, "it is another's, or handed in");
    given.stands(maker, 10 + 10 * u32::try_from(done(5)).unwrap()).await;
    assert_eq!(record["state"] == "submitted", done(3) == 1);
    let offers = given.noor().get(&given.path("handovers")).await.expect(200).json;
    let waits = |offer: &&Value| offer.get("answer").is_none();
    let open = offers["handovers"].as_array().unwrap().iter().filter(waits).count();
    assert!(open <= 1 && (record["state"] != "submitted" || open == 0), "{offers}");
    stop_without_deadlock(given.shelf.room).await;
}

/// Two jars of 100 g of a salve that is released.
struct Filled {
    of: Custody,
    jar: String,
    left: String,
}

impl Filled {
    async fn start() -> Self {
        let of = Custody::of_salve_with(&TOGETHER).await;
        let filled = of.fill(&of.room.noor, 2, "100 g").await.expect(201);
        of.release(&of.room.marek).await.expect(201);
        Self { jar: filled.text_at("/jars/0/id"), left: filled.text_at("/left"), of }
    }

    fn decant(&self) -> Asked {
        let body = json!({ "into": [{ "jars": 2, "fill": "30 g" }], "reason": "Small jars are needed." });
        post(&self.of.room.noor, format!("/v1/jars/{}/decanting", self.jar), body)
    }

    async fn met(&self, first: Asked, second: Asked) -> [Answer; 2] {
        let held = format!("SELECT FROM batch WHERE id = '{}'", self.of.batch);
        met(&self.of.room, &held, first, second).await
    }

    /// The jars as they are; that nothing of the yield was taken twice, and that each jar went one way.
    async fn stands(&self) -> Vec<Value> {
        let jars = self.of.room.noor.get(&self.of.path("jars")).await.expect(200).json;
        assert_eq!(jars["left"], json!(self.left), "what is decanted stands in its first jar");
        let mut owner = database::owner(&self.of.room.clinic.database).await;
        let two_ways = "SELECT count(*) FROM jar j WHERE 1 < (SELECT count(*) FROM (
            SELECT FROM jar_decanting d WHERE d.jar_id = j.id UNION ALL SELECT FROM jar_handing h WHERE h.jar_id = j.id
            UNION ALL SELECT FROM retained_sample s WHERE s.jar_id = j.id) went)";
        assert_eq!(count(&mut owner, two_ways).await, 0);
        let more = "SELECT count(*) FROM jar_decanting d JOIN jar j ON j.id = d.jar_id
            JOIN jar_filling f ON f.id = j.filling_id
            WHERE f.grams < (SELECT sum(n.jars * n.grams) FROM jar_filling n WHERE n.decanted_from = d.jar_id)";
        assert_eq!(count(&mut owner, more).await, 0, "no more than the jar held");
        jars["jars"].as_array().unwrap().clone()
    }

    async fn stop(self) {
        stop_without_deadlock(self.of.room).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_jar_is_either_decanted_or_handed_out() {
    for decanted in [true, false] {
        let filled = Filled::start().await;
        let told = json!({ "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true });
        let hand = post(&filled.of.room.ilse, format!("/v1/jars/{}/handing", filled.jar), told);
        let (first, second) = if decanted { (filled.decant(), hand) } else { (hand, filled.decant()) };
        let [first, second] = filled.met(first, second).await;
        first.expect(201);
        let refused = second.problem(409, "wrong-state");
        let cure = match decanted {
            true => "It is empty: its content is in other jars.",
            false => "What was handed out never goes back to the shelf",
        };
        assert!(refused.text.contains(cure), "{}", refused.text);
        assert_eq!(filled.stands().await.len(), if decanted { 4 } else { 2 });
        filled.stop().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_jar_is_decanted_once() {
    let filled = Filled::start().await;
    let [first, second] = filled.met(filled.decant(), filled.decant()).await;
    first.expect(201);
    let refused = second.problem(409, "wrong-state");
    assert!(refused.text.contains("It is empty: its content was filled into others."), "{}", refused.text);
    assert_eq!(filled.stands().await.len(), 4);
    filled.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recall_reaches_what_was_decanted_and_nothing_is_decanted_after_it() {
    for recalled_first in [true, false] {
        let filled = Filled::start().await;
        let cause = json!({ "cause": "batch", "id": filled.of.batch, "reason": "Somebody's skin reddened." });
        let recall = post(&filled.of.room.ilse, "/v1/recalls".into(), cause);
        let recalled = if recalled_first {
            let [recalled, decanted] = filled.met(recall, filled.decant()).await;
            let refused = decanted.problem(409, "wrong-state");
            assert!(refused.text.contains("This batch is recalled."), "{}", refused.text);
            recalled
        } else {
            let [decanted, recalled] = filled.met(filled.decant(), recall).await;
            decanted.expect(201);
            recalled
        };
        let recall = format!("/v1/recalls/{}", recalled.expect(201).id());
        let desk = filled.of.room.ilse.get(&recall).await.expect(200).json;
        let items = desk["reached"].as_array().unwrap().iter();
        let jars = items.filter_map(|item| item["jars"].as_array()).flatten();
        let reached: Vec<u64> = jars.map(|jar| jar["number"].as_u64().unwrap()).collect();
        // The empty jar is accounted for by those that were filled from it.
        assert_eq!(reached, if recalled_first { vec![1, 2] } else { vec![2, 3, 4] });
        assert_eq!(filled.stands().await.len(), if recalled_first { 2 } else { 4 });
        filled.stop().await;
    }
}
