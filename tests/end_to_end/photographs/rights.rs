//! Who sees photographs, who adds them, and who withdraws them.

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use serde_json::json;
use stillroom_tests::{database, pictures};

use super::{Bench, cure};

#[tokio::test(flavor = "multi_thread")]
async fn a_photograph_is_seen_by_readers_of_the_record_alone() {
    let bench = Bench::start().await;
    let kept = bench.photograph().await.expect(201);
    let (picture, preview) = (kept.text_at("/picture/address"), kept.text_at("/preview/address"));
    let sven = bench.room.clinic.person("sven.olsen", "student").await;
    let path = format!("/v1/libraries/{}/members/{}", bench.room.library, sven.id);
    bench.room.ilse.put_bare(&path).await.expect(204);
    let hana = bench.room.clinic.person("hana.voss", "instructor").await;
    for address in [&picture, &preview, &bench.path("photographs")] {
        bench.room.clinic.nobody.get(address).await.expect(401);
        sven.get(address).await.problem(404, "not-found");
        hana.get(address).await.problem(404, "not-found");
        // A picture of a balance tells an amount: whoever reviews reads the cautions first, as for the record.
        bench.room.marek.get(address).await.expect(200);
        bench.room.ilse.get(address).await.problem(403, "gate-closed");
    }
    sven.photograph(&bench.batch, pictures::photograph()).await.problem(404, "not-found");
    bench.room.marek.photograph(&bench.batch, pictures::photograph()).await.problem(403, "forbidden");
    bench.room.ilse.acknowledge(&bench.revision).await.expect(201);
    bench.room.ilse.get(&picture).await.expect(200);
    // One batch opens no photograph of another.
    let other = crate::stock::opened(&bench.room.noor, &bench.revision).await;
    let id = kept.id();
    let elsewhere = format!("/v1/batches/{other}/photographs/{id}");
    bench.room.noor.get(&elsewhere).await.problem(404, "not-found");
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_handed_in_stays_until_an_instructor_withdraws_it() {
    let bench = Bench::start().await;
    let (noor, marek) = (&bench.room.noor, &bench.room.marek);
    let (first, second) =
        (bench.photograph().await.expect(201).id(), bench.photograph().await.expect(201).id());
    let path = bench.path(&format!("photographs/{first}/withdrawal"));
    let refused = noor.post(&path, json!({ "reason": "  " })).await.fields(&["/reason"]);
    assert!(cure(&refused).contains("1 to 1000 characters"));
    let withdrawn = bench.withdraw(noor, &first).await.expect(201);
    assert_eq!(withdrawn.json["withdrawn"]["reason"], "It shows a face.");
    assert_eq!(withdrawn.json["may_withdraw"], false);
    assert_eq!(bench.withdraw(noor, &first).await.problem(409, "wrong-state").json["state"], "withdrawn");
    assert_eq!(bench.files().len(), 2, "its files are removed");
    let gone = noor.get(&bench.path(&format!("photographs/{first}"))).await.problem(410, "gone");
    assert!(gone.text.contains("was withdrawn"), "{}", gone.text);

    bench.hand_in().await;
    assert_eq!(bench.photograph().await.problem(409, "wrong-state").json["state"], "submitted");
    let refused = bench.withdraw(noor, &second).await.problem(409, "wrong-state");
    assert!(refused.text.contains("Ask an instructor"), "{}", refused.text);
    bench.withdraw(marek, &second).await.expect(201);
    let list = bench.list(noor).await;
    assert_eq!(list["photographs"].as_array().unwrap().len(), 2, "that it was there stays: {list}");
    assert_eq!(list["photographs"][1]["withdrawn"]["by_name"], "marek.dvorsky");
    assert_eq!(bench.files(), Vec::<String>::new());
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_database_holds_what_a_photograph_must_be() {
    let bench = Bench::start().await;
    bench.photograph().await.expect(201);
    bench.photograph().await.expect(201);
    let mut owner = database::owner(&bench.room.clinic.database).await;
    let copy = |changes: &str| {
        format!(
            "INSERT INTO batch_photograph SELECT one.* FROM batch_photograph p, LATERAL jsonb_populate_record(p,
                 jsonb_build_object('id', gen_random_uuid(), 'number', 9) || {changes}) one WHERE p.number = 1"
        )
    };
    let marek = format!("jsonb_build_object('by_id', '{}')", bench.room.marek.id);
    for (sql, constraint) in [
        (copy(&marek), "written_by_maker"),
        (copy("jsonb_build_object('number', 101)"), "batch_photograph_bounded"),
        (copy("jsonb_build_object('number', 2)"), "batch_photograph_number"),
        (copy("jsonb_build_object('subject', '12.5 g')"), "batch_photograph_subject"),
        (copy("jsonb_build_object('width', 2561)"), "batch_photograph_side"),
        (copy("jsonb_build_object('preview_height', 481)"), "batch_photograph_preview_side"),
        (copy("jsonb_build_object('after_submission', 1)"), "photograph_while_written"),
    ] {
        held(&mut owner, &sql, constraint).await;
    }
    bench.hand_in().await;
    held(&mut owner, &copy("'{}'::jsonb"), "photograph_while_written").await;
    let withdrawal =
        "INSERT INTO photograph_withdrawal SELECT id, batch_id, 'Blurred.', by_id, at FROM batch_photograph";
    held(&mut owner, withdrawal, "handed_photograph_stays").await;
    bench.stop().await;
}

async fn held(owner: &mut AsyncPgConnection, sql: &str, by: &str) {
    let refused = owner.batch_execute(sql).await.unwrap_err();
    assert!(::store::violates(&refused, by), "{by}: {refused} of {sql}");
}
