//! Which jars are on the shelf, in the order in which they are used up, for people and for tools.

use chrono::Duration;
use client::Client;
use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Caller, database};
use wire::jars::{JarQuery, JarsOf};

use super::{Custody, held};
use crate::cost::counted;

/// The list, as fill, numbers of the jars and whether they may be handed out. The table that it is read from agrees with the
/// acts that it sums up.
async fn here(of: &Custody, by: &Caller, which: &str) -> Vec<(String, Vec<u64>, bool)> {
    let agrees = "DO $$ BEGIN
        IF EXISTS (
            (SELECT j.id, coalesce(f.use_by, DATE '9999-12-31') FROM jar j JOIN jar_filling f ON f.id = j.filling_id
             JOIN batch b ON b.id = j.batch_id WHERE b.disposition NOT IN ('recalled', 'discarded')
             EXCEPT SELECT h.jar_id, h.use_by FROM jar_here h)
            EXCEPT SELECT j.id, coalesce(f.use_by, DATE '9999-12-31') FROM jar j JOIN jar_filling f ON f.id = j.filling_id
             WHERE j.id IN (SELECT jar_id FROM jar_handing UNION SELECT jar_id FROM retained_sample
                UNION SELECT jar_id FROM jar_decanting))
            OR EXISTS (SELECT FROM jar_here h JOIN jar j ON j.id = h.jar_id JOIN batch b ON b.id = j.batch_id
                WHERE b.disposition IN ('recalled', 'discarded') OR h.number <> j.number OR h.jar_id IN (
                    SELECT jar_id FROM jar_handing UNION SELECT jar_id FROM retained_sample
                    UNION SELECT jar_id FROM jar_decanting)) THEN
            RAISE EXCEPTION 'jar_here does not agree';
        END IF; END $$";
    database::owner(&of.room.clinic.database).await.batch_execute(agrees).await.unwrap();
    let list = by.get(&format!("/v1/jars{which}")).await.expect(200).json;
    let one = |item: &Value| {
        let numbers = item["jars"].as_array().unwrap().iter().map(|jar| jar["number"].as_u64().unwrap());
        (item["fill"].as_str().unwrap().to_owned(), numbers.collect(), item.get("barred").is_none())
    };
    list["items"].as_array().unwrap().iter().map(one).collect()
}

fn alike(fill: &str, numbers: &[u64], ready: bool) -> (String, Vec<u64>, bool) {
    (fill.to_owned(), numbers.to_vec(), ready)
}

const READY: &str = "?of=ready";
const WAITING: &str = "?of=quarantine";
const PAST: &str = "?of=past";

async fn jar(of: &Custody, by: &Caller, number: usize) -> String {
    let jars = by.get(&of.path("jars")).await.expect(200).json;
    jars["jars"][number - 1]["id"].as_str().unwrap().to_owned()
}

fn handing() -> Value {
    json!({ "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true })
}

#[tokio::test(flavor = "multi_thread")]
async fn what_may_be_handed_out_is_listed_until_it_is_not_here_any_more() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    assert_eq!(here(&of, ilse, "").await, []);
    noor.post(&of.path("jars"), json!({ "jars": 5, "fill": "30 g", "samples": 1 })).await.expect(201);
    assert_eq!(here(&of, ilse, WAITING).await, [alike("30 g", &[1, 2, 3, 4], false)]);
    assert_eq!(here(&of, ilse, READY).await, []);
    of.release(marek).await.expect(201);
    assert_eq!(here(&of, ilse, READY).await, [alike("30 g", &[1, 2, 3, 4], true)]);
    assert_eq!(here(&of, ilse, WAITING).await, []);

    let handed = format!("/v1/jars/{}/handing", jar(&of, ilse, 2).await);
    ilse.post(&handed, handing()).await.expect(201);
    assert_eq!(here(&of, ilse, READY).await, [alike("30 g", &[1, 3, 4], true)]);
    let sample = format!("/v1/jars/{}/sample", jar(&of, ilse, 4).await);
    noor.post(&sample, json!({ "reason": "The first one was used up." })).await.expect(201);
    let decanting = format!("/v1/jars/{}/decanting", jar(&of, ilse, 1).await);
    let smaller = json!({ "into": [{ "jars": 2, "fill": "5 g" }], "reason": "A small jar is needed." });
    noor.post(&decanting, smaller).await.expect(201);
    let now = [alike("30 g", &[3], true), alike("5 g", &[6, 7], true)];
    assert_eq!(here(&of, ilse, READY).await, now);
    // What came back is here, and is never handed out again.
    let back = handed.replace("/handing", "/return");
    ilse.post(&back, json!({})).await.expect(201);
    assert_eq!(here(&of, ilse, "").await, now);

    // By pages, and by what is asked.
    let page = ilse.get("/v1/jars?limit=1").await.expect(200).json;
    let next = page["next"].as_str().unwrap();
    assert_eq!(here(&of, ilse, &format!("?limit=1&after={next}")).await, now[1..]);
    let library = &of.room.library;
    assert_eq!(here(&of, ilse, &format!("?library={library}&batch={}", of.batch)).await, now);
    assert_eq!(here(&of, ilse, &format!("?library={}", of.batch)).await, []);
    let day = page["items"][0]["use_by"].as_str().unwrap().parse::<chrono::NaiveDate>().unwrap();
    let left = (day - of.room.clinic.service.clinic.clock().now().date_naive()).num_days();
    assert_eq!(here(&of, ilse, &format!("?use_by_within_days={left}")).await, now);
    assert_eq!(here(&of, ilse, &format!("?use_by_within_days={}", left - 1)).await, []);
    ilse.get("/v1/jars?use_by_within_days=3651").await.fields(&["?use_by_within_days"]);
    ilse.get("/v1/jars?of=here").await.expect(422);

    // Once their last day is past, they are no longer ready.
    of.room.clinic.service.clinic.clock().advance(Duration::days(left + 1));
    let ilse = &sign_in(&of.room.clinic.nobody, "ilse.brandt").await;
    assert_eq!(here(&of, ilse, READY).await, []);
    assert_eq!(here(&of, ilse, PAST).await, [alike("30 g", &[3], false), alike("5 g", &[6, 7], false)]);
    ilse.acknowledge(&of.revision).await.expect(201);
    ilse.post(&of.path("discard"), json!({ "reason": "Its day has come." })).await.expect(201);
    assert_eq!(here(&of, ilse, "").await, []);
    // Nobody but the triggers writes it.
    for act in ["DELETE FROM jar_here", "UPDATE jar_here SET number = 9"] {
        let as_service = format!("BEGIN; SET LOCAL ROLE stillroom_service; {act}");
        let mut owner = database::owner(&of.room.clinic.database).await;
        let refused = owner.batch_execute(&as_service).await.unwrap_err().to_string();
        assert!(refused.contains("permission denied"), "{refused}");
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tool_reads_jars_by_their_codes_and_not_where_they_went() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    of.fill(noor, 2, "30 g").await.expect(201);
    let codes = of.codes().await;
    let key = of.room.clinic.api_client(ilse, &["jars:read"], &[&of.room.library]).await;
    let tool = Client::new(&of.room.clinic.nobody.base, key.token.as_deref().unwrap()).unwrap();
    let waits = tool.jar(&codes[0]).await.unwrap();
    assert!(waits.barred.unwrap().starts_with("It is not released."));
    of.release(marek).await.expect(201);
    // As a scanner reads it, and as somebody types it.
    let address = format!("https://clinic.example/jars/{}", codes[0]);
    let (first, rest) = codes[0].split_at(5);
    for typed in [&address, &format!("{}-{rest}", first.to_uppercase())] {
        let sheet = tool.jar(typed).await.unwrap();
        assert_eq!((sheet.jar.number, sheet.barred), (1, None), "{typed}");
        assert!(sheet.cautions.contains(&"For external use only.".to_owned()));
    }
    let unknown = tool.jar("4t6qk0x9w2m8n5c7r3h1vjzb0e").await.unwrap_err();
    assert!(unknown.to_string().contains("404"), "{unknown}");

    let id = jar(&of, ilse, 1).await;
    ilse.post(&format!("/v1/jars/{id}/handing"), handing()).await.expect(201);
    assert!(ilse.get(&format!("/v1/jars/{id}")).await.expect(200).text.contains("C-1042"));
    assert!(ilse.get(&format!("/v1/jar-codes/{}", codes[0])).await.expect(200).text.contains("C-1042"));
    for path in [format!("/v1/jars/{id}"), format!("/v1/jar-codes/{}", codes[0]), "/v1/jars".to_owned()] {
        let told = key.get(&path).await.expect(200).text;
        assert!(!told.contains("C-1042") && !told.contains(&ilse.id), "{path}: {told}");
    }
    let listed = tool.jars(&JarQuery { of: Some(JarsOf::Ready), ..JarQuery::default() }).await.unwrap();
    let numbers: Vec<String> = listed.items.iter().map(wire::jars::JarsHere::numbers).collect();
    assert_eq!(numbers, ["2"]);
    // It acts on none.
    key.post(&format!("/v1/jars/{id}/handing"), handing()).await.expect(403);

    // Of another library, and without the scope, there is no jar.
    let elsewhere = of.room.clinic.api_client(ilse, &["jars:read"], &[]).await;
    elsewhere.get(&format!("/v1/jar-codes/{}", codes[0])).await.expect(404);
    assert_eq!(here(&of, &elsewhere, "").await, []);
    let printer = of.room.clinic.api_client(ilse, &["labels:read"], &[&of.room.library]).await;
    for path in ["/v1/jars".to_owned(), format!("/v1/jars/{id}"), format!("/v1/jar-codes/{}", codes[0])] {
        let refused = printer.get(&path).await.expect(403);
        assert!(refused.text_at("/detail").contains("lacks the scope jars:read"), "{}", refused.text);
        noor.get(&path).await.expect(403);
    }
    // A recall takes all of it from the shelf at once.
    let body = json!({ "cause": "batch", "id": of.batch, "reason": "Somebody's skin reddened." });
    ilse.post("/v1/recalls", body).await.expect(201);
    assert_eq!(here(&of, ilse, "").await, []);
    assert!(tool.jar(&codes[1]).await.unwrap().barred.unwrap().starts_with("It is recalled."));
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_withheld_is_on_the_shelf_and_not_ready() {
    let of = Custody::of_salve().await;
    let (ilse, marek, noor) = (&of.room.ilse, &of.room.marek, &of.room.noor);
    of.fill(noor, 2, "30 g").await.expect(201);
    of.release(marek).await.expect(201);
    let (service, nobody, tally) = counted(&of.room).await;
    let here_too = nobody.with(ilse.token.as_deref().unwrap(), &ilse.id);
    here_too.get("/v1/jars").await.expect(200);
    let mut costs = Vec::new();
    for jars in [1, 40] {
        for _ in 0..jars {
            of.fill(noor, 1, "2 g").await.expect(201);
        }
        let (answer, spent) = tally.during(here_too.get("/v1/jars?limit=100")).await;
        answer.expect(200);
        costs.push(spent.iter().map(|one| one.statements).sum::<usize>());
    }
    assert_eq!(costs[0], costs[1], "one statement for the list, however long it is");
    service.stop().await.unwrap();

    let withdrawn = json!({ "reason": "A better one exists." });
    marek.post(&format!("/v1/revisions/{}/withdrawal", of.revision), withdrawn).await.expect(200);
    let all = here(&of, ilse, "").await;
    assert!(all.len() == 42 && all.iter().all(|one| !one.2), "{all:?}");
    assert_eq!(here(&of, ilse, READY).await, []);
    // The database keeps what stands here to what is here.
    held(&of, "INSERT INTO jar_here SELECT * FROM jar_here LIMIT 1", "jar_here_pkey").await;
    of.room.stop().await;
}
