//! What requests cost the database: statements and rows, counted on their way. A list costs the same number of
//! statements for three rows and for fifty, an entry the same whether it is the sixth or the five hundredth.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::{serve, sign_in};
use stillroom_tests::tally::{Tally, Transaction};
use stillroom_tests::{Caller, TeachingClinic, database};

use crate::amendments::material;
use crate::formulas::infused_oil;

/// A second service on the clinic's database, with one connection, whose statements are counted.
pub(crate) async fn counted(room: &TeachingClinic) -> (server::Running, Caller, Tally) {
    let tally = Tally::of(&database::of_service(&room.clinic.database)).await;
    let settings = [("DATABASE_URL", tally.url.as_str()), ("STILLROOM_CONNECTIONS", "1")];
    let service = serve(&room.clinic.database, &settings).await;
    let nobody = Caller::nobody(&format!("http://{}", service.address));
    (service, nobody, tally)
}

/// As many copies of what a table holds, each under an id of its own and with these columns changed.
fn copies(table: &str, changed: &str, only: &str, count: usize) -> String {
    format!(
        "INSERT INTO {table} SELECT (jsonb_populate_record(one, jsonb_build_object({changed}))).*
         FROM {table} one, generate_series(1, {count}) AS n WHERE {only};"
    )
}

/// Fifty rows and more for each list, beside the three that were made by requests. People come with their principals.
async fn multiply(room: &TeachingClinic) {
    let id = "'id', ('0192d5c8-6f3a-7000-8000-' || lpad(n::text, 12, '0'))::uuid";
    let other = "'0192d5c8-6f3a-7001-8000-' || lpad(n::text, 12, '0')";
    let noor = format!("id = '{}'", room.noor.id);
    let first = format!(
        "id = (SELECT id FROM acknowledgement WHERE NOT countersign AND holder_id = '{}' ORDER BY id LIMIT 1)",
        room.noor.id
    );
    let sql = [
        copies("principal", &id.replace("7000", "7001"), &noor, 60),
        copies(
            "person",
            &format!(
                "{}, 'sign_in_name', 'student' || n, 'name', 'Student ' || n",
                id.replace("7000", "7001")
            ),
            &noor,
            60,
        ),
        copies("acknowledgement", &format!("{id}, 'holder_id', {other}"), "countersign", 60),
        copies("acknowledgement", &id.replace("7000", "7002"), &first, 60),
        copies("amendment", id, "kind = 'add_caution' AND reason LIKE '%1'", 60),
        "INSERT INTO amendment_material SELECT a.id, m.material_id FROM amendment a,
             (SELECT material_id FROM amendment_material LIMIT 1) m ON CONFLICT DO NOTHING;"
            .to_owned(),
        copies("batch", &format!("{id}, 'number', '2027-' || n"), "number = '2026-0001'", 60),
        copies(
            "formula",
            &format!("{id}, 'title', 'Oil ' || n, 'approved_revision_id', NULL::text"),
            "true",
            60,
        ),
        // Lots of as many materials, each with its receipt, and one that was counted again and again.
        copies("lot", &format!("{id}, 'number', 'L2027-' || n"), "number = 'L2026-0001'", 60),
        "ALTER TABLE lot DISABLE TRIGGER lot_never_changes;
         UPDATE lot SET material_id = m.id FROM (SELECT id, row_number() OVER (ORDER BY id) AS n FROM material) m
             WHERE lot.number = 'L2027-' || m.n;
         ALTER TABLE lot ENABLE TRIGGER lot_never_changes;
         INSERT INTO lot_movement (id, lot_id, number, kind, grams, by_id, at)
             SELECT gen_random_uuid(), id, 1, 'received', 5, received_by, received_at FROM lot WHERE number LIKE 'L2027%';
         INSERT INTO lot_movement (id, lot_id, number, kind, grams, counted, reason, by_id, at)
             SELECT gen_random_uuid(), l.id, n + 1, 'adjusted', 1, '1 g', 'Counted.', received_by, received_at
             FROM lot l, generate_series(1, 60) n WHERE number = 'L2026-0001' ORDER BY n;"
            .to_owned(),
    ];
    let mut owner = database::owner(&room.clinic.database).await;
    for one in sql {
        owner.batch_execute(&one).await.unwrap_or_else(|error| panic!("{one}: {error}"));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_list_of_fifty_takes_as_many_statements_as_one_of_three() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    let olive = material(&room.ilse, "olive oil").await;
    for i in 0..3 {
        room.noor.acknowledge(&revision).await.expect(201);
        room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201);
        let change =
            json!({ "on": { "material": olive }, "level": "note", "text": format!("Keeps a year, {i}.") });
        let body = json!({ "reason": format!("Agreed, {i}"), "change": { "add_caution": change } });
        room.ilse.post("/v1/amendments", body).await.expect(201);
    }
    room.marek.acknowledge(&revision).await.expect(201);
    let set = room.noor.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
    let keys: Vec<_> = set.json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|it| it["level"] == "contraindication")
        .map(|it| it["key"].clone())
        .collect();
    let pregnant =
        json!({ "caution_set": set.json["digest"], "contraindications": keys, "meant_for": ["pregnant"] });
    room.noor.post(&format!("/v1/revisions/{revision}/acknowledgements"), pregnant).await.expect(201);

    let lot = room.ilse.post("/v1/lots", crate::stock::lot("olive oil", "1 kg")).await.expect(201).id();

    let (service, nobody, tally) = counted(&room).await;
    let as_one = |caller: &Caller| nobody.with(caller.token.as_deref().unwrap(), &caller.id);
    let (ilse, noor) = (as_one(&room.ilse), as_one(&room.noor));
    let lists = [
        (&noor, "/v1/acknowledgements".to_owned()),
        (&ilse, "/v1/countersignatures/awaited".to_owned()),
        (&ilse, "/v1/amendments".to_owned()),
        (&ilse, format!("/v1/amendments?material={olive}")),
        (&ilse, "/v1/batches".to_owned()),
        (&noor, "/v1/batches".to_owned()),
        (&ilse, "/v1/formulas".to_owned()),
        (&ilse, "/v1/formulas?title=oil".to_owned()),
        (&ilse, format!("/v1/libraries/{}/members", room.library)),
        (&ilse, format!("/v1/events?subject={revision}")),
        (&ilse, "/v1/lots".to_owned()),
        (&noor, "/v1/lots?expiring_within_days=400".to_owned()),
        (&ilse, "/v1/stock".to_owned()),
        (&ilse, format!("/v1/lots/{lot}/movements")),
    ];
    let mut few = Vec::new();
    for (caller, list) in &lists {
        let list = format!("{list}{}limit=100", if list.contains('?') { "&" } else { "?" });
        let (answer, spent) = tally.during(caller.get(&list)).await;
        few.push((list, answer.expect(200).json["items"].as_array().unwrap().len(), spent));
    }
    multiply(&room).await;
    for ((caller, _), (list, before, spent)) in lists.iter().zip(few) {
        let (answer, now) = tally.during(caller.get(&list)).await;
        let items = answer.expect(200).json["items"].as_array().unwrap().len();
        if !list.contains("members") && !list.contains("events") {
            assert!(items >= 50 && items > before, "{list}: {before}, {items}");
        }
        // Not those of the relay of events, which works beside.
        let statements = |of: &[Transaction]| -> Vec<usize> {
            of.iter().filter(|one| one.begin.ends_with("READ ONLY")).map(|one| one.statements).collect()
        };
        assert_eq!(statements(&now), statements(&spent), "{list}: {before} rows, then {items}");
        assert!(statements(&now).iter().sum::<usize>() <= 8, "{list}: {now:?}");
    }
    service.stop().await.unwrap();
    room.clinic.stop().await;
}

/// Writes an entry; answers its number and its one transaction. The service's own housekeeping, once a minute, can fall into
/// the same moment, and then another entry is written.
async fn written_alone(tally: &Tally, maker: &Caller, path: &str, entry: &Value) -> (usize, Transaction) {
    let mut all = Vec::new();
    for _ in 0..3 {
        let (answer, counted) = tally.during(maker.post(path, entry.clone())).await;
        let number = answer.expect(201).json["entry"]["number"].as_u64().unwrap();
        if let [one] = counted.as_slice() {
            return (number.try_into().unwrap(), one.clone());
        }
        all.push(counted);
    }
    panic!("an entry takes one transaction: {all:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn an_entry_costs_the_same_when_it_is_the_five_hundredth() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let (service, nobody, tally) = counted(&room).await;
    let noor = nobody.with(room.noor.token.as_deref().unwrap(), &room.noor.id);
    let batch = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let entries = format!("/v1/batches/{batch}/entries");
    let entry = json!({ "kind": "weighing", "line": "1.1", "quantity": "10 g", "reason_later": true });
    for _ in 0..4 {
        noor.post(&entries, entry.clone()).await.expect(201);
    }
    let (number, fifth) = written_alone(&tally, &noor, &entries, &entry).await;
    let changed = format!("'id', gen_random_uuid(), 'number', {number} + n");
    let more = copies("batch_entry", &changed, "number = 1", 499 - number);
    let mut owner = database::owner(&room.clinic.database).await;
    owner.batch_execute(&more).await.unwrap();
    owner.batch_execute("UPDATE batch SET last_entry = 499").await.unwrap();
    let (number, five_hundredth) = written_alone(&tally, &noor, &entries, &entry).await;
    assert!(number >= 500, "{number}");

    // Written and answered in one transaction, at the same cost.
    assert_eq!(five_hundredth, fifth);
    assert_eq!(fifth.begin, "BEGIN");
    // One of them asks whether the last check-weight failed, one whether the batch is paused.
    assert!(fifth.statements <= 15, "{fifth:?}");
    assert_eq!(fifth.prepared, 0, "every statement of an entry was prepared by an earlier one");
    service.stop().await.unwrap();
    room.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_read_while_the_policy_changes_is_not_kept_for_the_new_policy() {
    let room = TeachingClinic::start_with(&[("STILLROOM_CONNECTIONS", "4")]).await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    // The first reading is recorded elsewhere, so that this service has nothing in memory and one reading to do.
    let elsewhere = serve(&room.clinic.database, &[]).await;
    let nobody = Caller::nobody(&format!("http://{}", elsewhere.address));
    sign_in(&nobody, "noor.haddad").await.get(&recipe).await.expect(200);
    elsewhere.stop().await.unwrap();
    let policy = room.clinic.administrator.get("/v1/policy").await.expect(200);
    let mut holder = database::owner(&room.clinic.database).await;
    let mut watch = database::owner(&room.clinic.database).await;
    holder.batch_execute("BEGIN; LOCK TABLE caution IN ACCESS EXCLUSIVE MODE").await.unwrap();
    let (noor, path) = (room.noor.clone(), recipe.clone());
    let reading = tokio::spawn(async move { noor.get(&path).await });
    while crate::races::waiting(&mut watch).await < 1 {
        assert!(!reading.is_finished(), "the recipe shows no cautions");
    }
    let new =
        crate::bad_input::with(policy.json["content"].clone(), "/notice", json!("Ask a midwife first."));
    room.clinic.administrator.put("/v1/policy", &policy.etag(), new).await.expect(200);
    holder.batch_execute("COMMIT").await.unwrap();
    // One snapshot: what was read before the change is as it was before it, the notice too.
    let old = reading.await.unwrap().expect(200);
    assert!(!old.text.contains("Ask a midwife first."), "{}", old.text);
    for _ in 0..2 {
        let now = room.noor.get(&recipe).await.expect(200);
        assert!(now.text.contains("Ask a midwife first."), "{}", now.text);
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_and_a_page_are_read_again_by_one_statement() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let (service, nobody, tally) = counted(&room).await;
    let noor = nobody.with(room.noor.token.as_deref().unwrap(), &room.noor.id);
    let batch = noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    for path in [format!("/v1/batches/{batch}"), "/v1/formulas".to_owned()] {
        let tag = noor.get(&path).await.expect(200).etag();
        // Gathered statements are in no transaction. The relay of events works beside, in ones that write.
        let (answer, spent) = tally.during(noor.get(&path)).await;
        answer.expect(200);
        assert!(spent.iter().all(|one| !one.begin.ends_with("READ ONLY")), "{path}: {spent:?}");
        let unchanged = [("if-none-match", tag.as_str())];
        let (answer, spent) = tally.during(noor.send(reqwest::Method::GET, &path, &unchanged, None)).await;
        answer.expect(304);
        assert!(spent.iter().all(|one| !one.begin.ends_with("READ ONLY")), "{path}: {spent:?}");
    }
    service.stop().await.unwrap();
    room.clinic.stop().await;
}
