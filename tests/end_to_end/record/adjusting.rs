//! Adjusting a batch of which too much of a line was weighed: worked out anew, authorised as a deviation, and only before the
//! phases are combined.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Answer, database};

use super::Bench;
use crate::stock::salve;

/// Of the wax 100 g are asked for and of the oil 500 g; the tolerance is 2 %.
async fn too_much_wax(bench: &Bench) {
    let mut wax = json!({ "kind": "weighing", "line": "1.1", "quantity": "110 g", "lot": "L-1" });
    wax["deviation"] = json!("The spoon slipped.");
    bench.write(wax).await.expect(201);
}

/// Refused, as the state of this name.
fn refused(answer: Answer, state: &str) -> Answer {
    let answer = answer.problem(409, "wrong-state");
    assert_eq!(answer.json["state"], state, "{}", answer.text);
    answer
}

fn of<'v>(lines: &'v Value, line: &str, of: &str) -> &'v Value {
    &lines.as_array().unwrap().iter().find(|one| one["line"] == line).unwrap()[of]["value"]
}

/// The adjustments of a batch that wait, in the words of the findings.
async fn waiting(bench: &Bench) -> usize {
    bench.found("deviation").await.iter().filter(|said| said.starts_with("The adjustment of entry")).count()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_larger_batch_makes_a_line_right_once_a_second_person_has_authorised_it() {
    let bench = Bench::start().await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    let path = bench.path("adjustments");
    // While it is planned, and while nothing is above its tolerance, there is nothing to correct.
    refused(noor.get(&path).await, "planned");
    bench.weigh("1.2", "300 g").await.expect(201);
    refused(noor.get(&path).await, "within_tolerance");
    too_much_wax(&bench).await;

    let offer = noor.get(&path).await.expect(200).json;
    assert_eq!((&offer["line"], &offer["name"]), (&json!("1.1"), &json!("yellow beeswax")));
    assert_eq!(
        (of(&offer["lines"], "1.1", "asked"), of(&offer["lines"], "1.1", "adjusted")),
        (&json!("100"), &json!("110"))
    );
    assert_eq!(offer["lines"][0].get("to_add"), None);
    // 110 / 100 of 500 g, of which 300 g are in the pan.
    assert_eq!(
        (of(&offer["lines"], "1.2", "adjusted"), of(&offer["lines"], "1.2", "to_add")),
        (&json!("550"), &json!("250"))
    );
    assert_eq!(
        (&offer["total"]["value"], &offer["recipe"]["total"]["value"]),
        (&json!("600"), &json!("660"))
    );

    noor.post(&path, json!({ "reason": " " })).await.fields(&["/reason"]);
    // A batch that is paused is adjusted when it is taken up again.
    let pause = json!({ "why": "interrupted", "note": "The stove failed.", "until": "2026-03-09" });
    noor.post(&bench.path("pauses"), pause).await.expect(201);
    refused(noor.post(&path, json!({ "reason": "The spoon slipped." })).await, "paused");
    crate::teaching::act(noor, &bench.path("resumptions")).await.expect(201);
    let by_hand = json!({ "kind": "adjustment", "line": "1.1", "note": "By hand." });
    bench.write(by_hand).await.fields(&["/kind"]);
    let proposed = noor.post(&path, json!({ "reason": "The spoon slipped." })).await.expect(201).json;
    let entry = &proposed["entry"];
    assert_eq!(
        (&entry["kind"], &entry["line"], &entry["quantity"], &entry["note"]),
        (&json!("adjustment"), &json!("1.1"), &json!("110 g"), &json!("The spoon slipped."))
    );
    // Until it is authorised, the batch is judged by the amounts from before it.
    assert_eq!(bench.record(noor).await["recipe"]["total"]["value"], "600");
    assert_eq!((waiting(&bench).await, bench.found("out_of_tolerance").await.len()), (1, 2));

    let authorisations = bench.path("authorisations");
    let sign = json!({ "entry": entry["id"] });
    noor.post(&authorisations, sign.clone()).await.problem(403, "forbidden");
    let revision = bench.record(noor).await["revision"].as_str().unwrap().to_owned();
    ilse.acknowledge(&revision).await.expect(201);
    assert_eq!(ilse.get(&path).await.expect(200).json["recipe"]["total"]["value"], "660");
    ilse.post(&authorisations, sign).await.expect(201);

    let record = bench.record(noor).await;
    assert_eq!(
        (&record["recipe"]["total"]["value"], &record["recipe"]["asked"]["line"]),
        (&json!("660"), &json!("1.1"))
    );
    assert_eq!(waiting(&bench).await, 0);
    // The wax is right now, and of the oil 250 g are missing.
    let off = bench.found("out_of_tolerance").await;
    assert!(off.len() == 1 && off[0].starts_with("olive oil (line 1.2): 250 g under"), "{off:?}");
    assert_eq!(bench.found("deviation").await, Vec::<String>::new(), "the rest needs no reason");
    // Its weighing deviates no more, so nobody authorises it.
    let right = ilse.post(&authorisations, json!({ "entry": record["entries"][1]["id"] })).await;
    let right = refused(right, "within_tolerance");
    assert!(right.text.contains("Line 1.1 is within its tolerance by now."), "{}", right.text);
    bench.weigh("1.2", "250 g").await.expect(201);
    assert_eq!(bench.found("out_of_tolerance").await, Vec::<String>::new());
    // What came out is held against the larger batch.
    bench.write(json!({ "kind": "yield", "quantity": "650 g" })).await.expect(201);
    assert_eq!(bench.found("yield").await, Vec::<String>::new());
    refused(noor.get(&path).await, "within_tolerance");
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_combined_or_handed_in_is_not_adjusted_any_more() {
    let mut formula = salve();
    formula["method"] = json!([
        { "do": "Warm both apart", "temperature": "70 C" },
        { "do": "Pour one into the other", "temperature": "70 C, phases within 5 C" },
        { "do": "If it separates, warm it and stir", "rescue": true }
    ]);
    let bench = Bench::with(formula).await;
    let (noor, ilse) = (&bench.room.noor, &bench.room.ilse);
    let (path, authorisations) = (bench.path("adjustments"), bench.path("authorisations"));
    too_much_wax(&bench).await;
    let reason = json!({ "reason": "The spoon slipped." });
    let proposed = noor.post(&path, reason.clone()).await.expect(201).text_at("/entry/id");
    let later = noor.post(&path, reason.clone()).await.expect(201).text_at("/entry/id");
    let revision = bench.record(noor).await["revision"].as_str().unwrap().to_owned();
    ilse.acknowledge(&revision).await.expect(201);
    ilse.post(&authorisations, json!({ "entry": later })).await.expect(201);
    // The earlier one would put the later one back.
    refused(ilse.post(&authorisations, json!({ "entry": proposed })).await, "adjusted");
    let mut owner = database::owner(&bench.room.clinic.database).await;
    for wrong in ["NULL", "(SELECT id FROM batch_entry WHERE kind = 'weighing')", &format!("'{proposed}'")] {
        let refused =
            owner.batch_execute(&format!("UPDATE batch SET adjusted_by = {wrong}")).await.unwrap_err();
        assert!(store::violates(&refused, "batch_adjusted_as_authorised"), "{refused}");
    }

    // Warming is no combining.
    let heat = |step: u8| json!({ "kind": "temperature", "step": step, "quantity": "70 C" });
    bench.write(heat(1)).await.expect(201);
    bench.write(json!({ "kind": "step_done", "step": 1 })).await.expect(201);
    let mut more = json!({ "kind": "weighing", "line": "1.2", "quantity": "600 g", "lot": "L-2" });
    more["deviation"] = json!("It poured fast.");
    bench.write(more).await.expect(201);
    let third = noor.post(&path, reason.clone()).await.expect(201).text_at("/entry/id");
    bench.write(heat(2)).await.expect(201);
    bench.write(json!({ "kind": "step_done", "step": 2 })).await.expect(201);
    let answer = refused(noor.get(&path).await, "combined");
    let said = answer.text_at("/detail");
    let cure = "Step 2 combines the phases, and it is done. What was combined is not adjusted any more. What the method names \
                as rescue can be done: step 3.";
    assert_eq!(said, cure);
    refused(noor.post(&path, reason).await, "combined");
    refused(ilse.post(&authorisations, json!({ "entry": third.clone() })).await, "combined");
    assert_eq!(waiting(&bench).await, 2);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn without_a_step_that_combines_the_first_step_that_is_done_ends_it() {
    let bench = Bench::start().await;
    too_much_wax(&bench).await;
    bench.room.noor.get(&bench.path("adjustments")).await.expect(200);
    bench.write(json!({ "kind": "step_done", "step": 1 })).await.expect(201);
    refused(bench.room.noor.get(&bench.path("adjustments")).await, "combined");
    bench.stop().await;
}
