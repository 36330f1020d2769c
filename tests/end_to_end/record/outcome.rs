//! What became of a batch besides its yield: losses by kind, samples, disposal, what was seen, and that it ended.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::database;

use super::Bench;

fn told(kind: &str, note: &str) -> Value {
    json!({ "kind": kind, "note": note })
}

fn weighed(kind: &str, quantity: &str) -> Value {
    json!({ "kind": kind, "quantity": quantity })
}

/// The value of a figure of the yields, in g.
fn sum(record: &Value, name: &str) -> String {
    let yields = record["as_made"]["yields"].as_array().unwrap();
    let found = yields.iter().find(|figure| figure["name"] == name);
    found.unwrap_or_else(|| panic!("no {name} in {yields:#?}"))["value"].as_str().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn losses_and_samples_are_told_by_kind_and_account_for_the_yield() {
    let bench = Bench::start().await;
    bench.weigh("1.1", "100 g").await.expect(201);
    bench.weigh("1.2", "500 g").await.expect(201);
    bench.write(weighed("yield", "500 g")).await.expect(201);
    assert_eq!(bench.found("yield_low").await.len(), 1);
    for (kind, quantity) in [
        ("transfer_loss", "40 g"),
        ("transfer_loss", "5 g"),
        ("spill_loss", "20 g"),
        ("evaporation_loss", "3 g"),
        ("sample", "12 g"),
    ] {
        bench.write(weighed(kind, quantity)).await.expect(201);
    }
    let record = bench.record(&bench.room.noor).await;
    for (name, grams) in [
        ("lost in pots and on tools", "45"),
        ("spilt", "20"),
        ("lost by evaporation", "3"),
        ("samples kept", "12"),
        ("unaccounted for", "20"),
    ] {
        assert_eq!(sum(&record, name), grams, "{name}");
    }
    assert_eq!(bench.found("yield_low").await, Vec::<String>::new(), "it is known where the rest stayed");
    // A correction counts in the place of what it corrects.
    let spilt = record["entries"].as_array().unwrap().iter().find(|one| one["kind"] == "spill_loss").unwrap();
    let mut less = weighed("spill_loss", "2 g");
    less["corrects"] = spilt["id"].clone();
    less["reason"] = json!("Misread the point.");
    bench.write(less).await.expect(201);
    assert_eq!(sum(&bench.record(&bench.room.noor).await, "spilt"), "2");
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn labels_that_were_printed_are_used_or_destroyed() {
    let bench = Bench::start().await;
    let add_up = async || {
        let all = bench.found("missing").await;
        all.into_iter().filter(|said| said.starts_with("Labels printed")).collect::<Vec<_>>()
    };
    assert_eq!(add_up().await, Vec::<String>::new());
    for refused in ["12 g", "0", "1.5", "twelve", "10001"] {
        bench.write(weighed("labels_printed", refused)).await.fields(&["/quantity"]);
    }
    bench.write(json!({ "kind": "labels_used", "note": "All of them." })).await.fields(&["/quantity"]);
    bench.write(json!({ "kind": "labels_used", "quantity": "3", "step": 1 })).await.fields(&["/step"]);
    bench.write(weighed("labels_printed", "12")).await.expect(201);
    bench.write(weighed("labels_used", "10")).await.expect(201);
    assert_eq!(
        add_up().await,
        ["Labels printed: 12. Labels used: 10, destroyed: 0. The numbers must add up."]
    );
    let torn = json!({ "kind": "labels_destroyed", "quantity": "2", "note": "Smeared." });
    bench.write(torn).await.expect(201);
    assert_eq!(add_up().await, Vec::<String>::new());
    let mut owner = database::owner(&bench.room.clinic.database).await;
    let wrong = "UPDATE batch_entry SET labels = NULL WHERE kind = 'labels_used'";
    let refused = owner.batch_execute(wrong).await.unwrap_err();
    assert!(store::violates(&refused, "batch_entry_labels"), "{refused}");
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_seen_and_disposed_of_is_told_in_words_and_each_kind_takes_its_fields() {
    let bench = Bench::start().await;
    for (kind, note) in [
        ("appearance", "Pale and smooth."),
        ("smell", "Of honey."),
        ("separation", "None."),
        ("marc_disposal", "On the compost."),
        ("cloth_disposal", "Wetted, in the closed metal bin."),
        ("spirit_disposal", "To the solvent can."),
    ] {
        bench.write(json!({ "kind": kind })).await.fields(&["/note"]);
        bench.write(json!({ "kind": kind, "note": note, "quantity": "5 g" })).await.fields(&["/quantity"]);
        bench.write(told(kind, note)).await.expect(201);
    }
    bench.write(json!({ "kind": "smell", "note": "Of honey.", "step": 1 })).await.expect(201);
    bench
        .write(json!({ "kind": "cloth_disposal", "note": "In the bin.", "step": 1 }))
        .await
        .fields(&["/step"]);
    bench.write(weighed("sample", "a spoonful")).await.fields(&["/quantity"]);
    bench.write(json!({ "kind": "marc_loss" })).await.fields(&["/quantity"]);
    bench.write(json!({ "kind": "ended", "quantity": "5 g" })).await.fields(&["/quantity"]);
    bench.write(json!({ "kind": "ended" })).await.expect(201);
    let mut owner = database::owner(&bench.room.clinic.database).await;
    for kind in ["sample", "appearance"] {
        let wrong = format!(
            "INSERT INTO batch_entry (id, batch_id, number, kind, by_id, at, before_acknowledged)
             SELECT gen_random_uuid(), batch_id, 90, '{kind}', by_id, at, false FROM batch_entry LIMIT 1"
        );
        let refused = owner.batch_execute(&wrong).await.unwrap_err();
        assert!(store::violates(&refused, "batch_entry_outcome"), "{kind}: {refused}");
    }
    bench.stop().await;
}
