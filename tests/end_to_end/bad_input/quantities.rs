//! Amounts, formulas and quantities that are none.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{refused, with};
use crate::formulas::{cream, infused_oil};

/// An amount, and words of the cure.
const AMOUNTS: [(&str, &str); 19] = [
    ("-3 g", "Write it without a minus sign"),
    ("1e400", "plain digits"),
    ("1e400 g", "plain digits"),
    ("NaN", "Write one such as 80"),
    ("NaN g", "Write one such as 80"),
    ("Infinity g", "Write one such as 80"),
    ("3 furlongs", "is not a unit known here. Use one of these: ug, mg, g"),
    ("0 g", "Write an amount above zero"),
    ("", "Write a number and a unit"),
    ("   ", "Write a number and a unit"),
    ("12", "12 has no unit. Add one of these: ug"),
    ("1,5 g", "Write a decimal point"),
    ("1/0 g", "divides by zero"),
    ("100.1 %", "at most 100 %"),
    ("-1 %", "without a minus sign"),
    ("5 % w/x", "Write % w/w, % w/v or % v/v"),
    ("1:0", "one part in a larger whole"),
    ("2 g 3 mL", "all be masses or all be volumes"),
    ("99999999999999999999 g", "at most 12"),
];

#[tokio::test(flavor = "multi_thread")]
async fn an_amount_that_is_none_is_refused_at_its_line_and_nothing_is_kept() {
    let room = TeachingClinic::start().await;
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let made = room.ilse.post(&formulas, json!({ "content": infused_oil() })).await.expect(201);
    let draft = format!("/v1/revisions/{}/draft", made.text_at("/revisions/0/id"));
    let tag = room.ilse.get(&draft).await.expect(200).etag();
    let before = room.contents().await;
    for (amount, cure) in AMOUNTS {
        let content = with(infused_oil(), "/phases/0/lines/1/amount", json!(amount));
        let at = "/content/phases/0/lines/1/amount";
        refused(room.ilse.post(&formulas, json!({ "content": content })).await, at, cure);
        refused(
            room.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await,
            at,
            cure,
        );
        // The body of a draft is the content itself, so its pointers begin there.
        refused(room.ilse.put(&draft, &tag, content).await, "/phases/0/lines/1/amount", cure);
    }
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_ratio_is_that_of_the_menstruum_for_a_drawn_out_herb_and_of_the_whole_for_what_stays() {
    let room = TeachingClinic::start().await;
    let evaluate = async |content: Value| {
        room.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await
    };
    let oil = with(infused_oil(), "/phases/0/lines/0/amount", json!("1:5"));
    let read = evaluate(oil).await.expect(200);
    assert_eq!(read.json["phases"][0]["lines"][0]["mass"]["value"], "200", "of 1000 g of oil");
    // What stays has a strength in the whole, and that can be a ratio.
    let mut balm = infused_oil();
    balm["preparation"] = json!("balm");
    balm["yield"] = Value::Null;
    balm["phases"][0]["lines"] = json!([
        { "material": "zinc oxide", "amount": "1:10" },
        { "material": "olive oil", "amount": "q.s. 100 g" } ]);
    let told = evaluate(balm).await.expect(200);
    assert_eq!(told.json["phases"][0]["lines"][0]["mass"]["value"], "10");
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_that_makes_no_sense_is_refused_at_the_field_and_nothing_is_kept() {
    let room = TeachingClinic::start().await;
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let line = |material: &str, amount: &str| json!({ "material": material, "amount": amount });
    let of = |lines: Value| with(infused_oil(), "/phases/0/lines", lines);
    let oil = |pointer: &str, value: Value| with(infused_oil(), pointer, value);
    let first = "/content/phases/0/lines";
    let before = room.contents().await;
    for (content, pointer, cure) in [
        (
            of(json!([line("olive oil", "q.s. 100 g"), line("yellow beeswax", "q.s. 100 g")])),
            format!("{first}/1/amount"),
            "Only one line can be q.s.",
        ),
        (
            of(json!([line("olive oil", "60 %"), line("yellow beeswax", "50 %")])),
            format!("{first}/1/amount"),
            "The percentages total 110 %, which exceeds 100 %. Reduce them or make one line q.s.",
        ),
        (
            of(json!([line("olive oil", "60 %"), line("yellow beeswax", "30 %")])),
            format!("{first}/1/amount"),
            "total 90 %, not 100 %",
        ),
        (
            of(json!([line("olive oil", "q.s. 10 g"), line("yellow beeswax", "50 g")])),
            format!("{first}/0/amount"),
            "already come to 50 g",
        ),
        (
            of(json!([line("olive oil", "2 parts"), line("yellow beeswax", "5 g")])),
            format!("{first}/0/amount"),
            "whole formula in parts",
        ),
        (of(json!([])), first.into(), "at least one line"),
        (of(json!([{ "amount": "5 g" }])), format!("{first}/0"), "either a material or a formula"),
        (
            of(json!([{ "material": "olive oil", "formula": "olive oil", "amount": "5 g" }])),
            format!("{first}/0"),
            "either a material or a formula",
        ),
        (of(json!([line("unicorn horn", "5 g")])), format!("{first}/0/material"), "Search the materials"),
        (
            // The flower, the oil and the water of lavender are all called so.
            of(json!([line("lavender", "5 g")])),
            format!("{first}/0/material"),
            "mean \"dried lavender flower\", \"lavender oil\", \"lavender water\" or ",
        ),
        (
            of(json!([line("fresh calendulla flower", "5 g")])),
            format!("{first}/0/material"),
            "mean \"fresh calendula flower\", ",
        ),
        (
            of(json!([{ "formula": "Nobody's cream", "amount": "5 g" }])),
            format!("{first}/0/formula"),
            "Your libraries have no approved formula",
        ),
        (
            of(json!([{ "material": "olive oil", "amount": "5 g", "function": "magic" }])),
            format!("{first}/0/function"),
            "emulsifier",
        ),
        (
            with(oil("/method", json!([])), "/phases", json!([])),
            "/content/phases".into(),
            "at least one phase",
        ),
        (oil("/title", json!("  ")), "/content/title".into(), "1 to 200"),
        (oil("/title", json!("x".repeat(201))), "/content/title".into(), "1 to 200"),
        (oil("/preparation", json!("potion")), "/content/preparation".into(), "cream"),
        (oil("/route", json!("by post")), "/content/route".into(), "leave-on"),
        (oil("/yield", json!("a jarful")), "/content/yield".into(), "Write one such as"),
        (oil("/yield", json!("-850 g")), "/content/yield".into(), "without a minus sign"),
        (oil("/method/0/temperature", json!("hot")), "/content/method/0/temperature".into(), "Enter 70 C"),
        (oil("/method/0/phase", json!("no phase")), "/content/method/0/phase".into(), "maceration"),
        (oil("/method/0/do", json!("")), "/content/method/0/do".into(), "1 to 2000"),
        (oil("/cautions/0/text", json!("")), "/content/cautions/0/text".into(), "1 to 1000"),
        (oil("/regime", json!("magic")), "/content/regime".into(), "cosmetic"),
    ] {
        refused(room.ilse.post(&formulas, json!({ "content": content })).await, &pointer, cure);
    }
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_cannot_contain_itself_at_any_depth() {
    let room = TeachingClinic::start().await;
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    let mut formula_of = Vec::new();
    let balm = json!({
        "title": "Soft balm", "preparation": "balm", "route": "on intact skin, leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": [
            { "formula": "Calendula cream", "amount": "50 g" }, { "material": "yellow beeswax", "amount": "5 g" } ] }],
        "method": [{ "do": "Mix" }]
    });
    for content in [infused_oil(), cream(), balm] {
        let revision = room.approved(content).await;
        room.ilse.acknowledge(&revision).await.expect(201);
        formula_of.push(room.ilse.get(&format!("/v1/revisions/{revision}")).await.text_at("/formula"));
    }
    let revisions = format!("/v1/formulas/{}/revisions", formula_of[0]);
    let started = room.ilse.post(&revisions, json!({ "content": infused_oil() })).await.expect(201);
    let draft = format!("/v1/revisions/{}/draft", started.id());
    let before = room.contents().await;
    for (by, way) in [
        ("Infused oil of calendula", "Infused oil of calendula > Infused oil of calendula"),
        (formula_of[0].as_str(), "Infused oil of calendula > Infused oil of calendula"),
        ("Calendula cream", "Infused oil of calendula > Calendula cream > Infused oil of calendula"),
        ("Soft balm", "Infused oil of calendula > Soft balm > Calendula cream > Infused oil of calendula"),
    ] {
        let line = json!({ "formula": by, "amount": "10 g" });
        let content = with(infused_oil(), "/phases/0/lines/1", line);
        let body = json!({ "content": content });
        refused(room.ilse.post(&revisions, body).await, "/content/phases/0/lines/1/formula", way);
        let kept = room.ilse.put(&draft, &started.etag(), content).await;
        refused(kept, "/phases/0/lines/1/formula", "A formula cannot contain itself");
    }
    assert_eq!(room.contents().await, before);
    // Another formula may hold the very same things.
    let other = with(
        with(infused_oil(), "/title", json!("Other")),
        "/phases/0/lines/1",
        json!({ "formula": "Soft balm", "amount": "1000 g" }),
    );
    room.ilse.post(&formulas, json!({ "content": other })).await.expect(201);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recipe_for_nothing_or_for_a_mountain_is_refused_at_its_parameter_and_no_batch_is_opened() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let before = room.contents().await;
    let cases = [
        (json!({ "containers": 0, "fill": "30 g" }), "containers", "Enter at least 1"),
        (json!({ "containers": 4_294_967_295_u32, "fill": "30 g" }), "containers", "at most"),
        (json!({ "containers": 12 }), "fill", "such as 30 g"),
        (json!({ "fill": "30 g" }), "containers", "number of containers"),
        (json!({ "containers": 12, "fill": "0 g" }), "fill", "above zero"),
        (json!({ "mass": "1000000000 kg" }), "mass", "at most"),
        (json!({ "mass": "1001 kg" }), "mass", "1000 kg"),
        (json!({ "mass": "0 g" }), "mass", "above zero"),
        (json!({ "mass": "-3 g" }), "mass", "without a minus sign"),
        (json!({ "mass": "1e400" }), "mass", "in plain digits"),
        (json!({ "mass": "NaN" }), "mass", "Write one such as 80"),
        (json!({ "mass": "3 furlongs" }), "mass", "Use one of these"),
        (json!({ "mass": "5 mL" }), "mass", "g"),
        (json!({ "volume": "5 g" }), "volume", "mL"),
        (json!({ "line": "9.9", "line_amount": "5 g" }), "line", "no line 9.9. Its lines are 1.1, 1.2."),
        (json!({ "line": "wax", "line_amount": "5 g" }), "line", "such as 1.2"),
        (json!({ "line": "0.0", "line_amount": "5 g" }), "line", "such as 1.2"),
        (json!({ "line": "1.1" }), "line_amount", "such as 2.5 cups"),
        // Dried flowers have no density, so a volume of them is not a mass.
        (json!({ "line": "1.1", "line_amount": "5 mL" }), "line_amount", "density of dried calendula flower"),
        (json!({ "mass": "500 g", "transfer_loss": "100 %" }), "transfer_loss", "less than 100 %"),
        (json!({ "mass": "500 g", "evaporation_loss": "100 %" }), "evaporation_loss", "less than 100 %"),
        (json!({ "mass": "500 g", "transfer_loss": "101 %" }), "transfer_loss", "0 to 100 %"),
        (json!({ "mass": "500 g", "transfer_loss": "4" }), "transfer_loss", "such as 4 %"),
        (json!({ "transfer_loss": "4 %" }), "transfer_loss", "Send mass"),
        (json!({ "mass": "500 g", "readability": "0 g" }), "readability", "above"),
        (json!({ "mass": "500 g", "readability": "1 mL" }), "readability", "such as 0.1 g"),
        (json!({ "mass": "500 g", "volume": "1 L" }), "mass", "only one quantity"),
        (json!({ "volume": "1 L", "density": "0.95" }), "density", "such as 0.91 g/mL"),
        (json!({ "volume": "1 L", "density": "950 g/mL" }), "density", "0.1 to 25 g/mL"),
        (json!({ "volume": "1 L", "density": "0.95 g/mL at noon" }), "density", "Write it as 70 C"),
    ];
    for (make_for, field, cure) in cases {
        let body = json!({ "revision": revision, "make_for": make_for });
        refused(room.noor.post("/v1/batches", body).await, &format!("/make_for/{field}"), cure);
        let query: Vec<String> = make_for
            .as_object()
            .unwrap()
            .iter()
            .map(|(name, value)| {
                let value = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
                format!("{name}={}", value.replace('%', "%25").replace(' ', "%20"))
            })
            .collect();
        let asked = format!("/v1/revisions/{revision}/recipe?{}", query.join("&"));
        refused(room.noor.get(&asked).await, &format!("?{field}"), cure);
    }
    assert_eq!(room.contents().await, before);
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_entry_that_cannot_be_is_refused_at_its_fields_and_nothing_is_written() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let batch = room.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let entries = format!("/v1/batches/{batch}/entries");
    let written = json!({ "kind": "weighing", "line": "1.1", "quantity": "100 g" });
    let first = room.noor.post(&entries, written).await.expect(201).text_at("/entry/id");
    let before = room.contents().await;
    let weighed = |quantity: &str| json!({ "kind": "weighing", "line": "1.1", "quantity": quantity });
    let long = |count: usize| "x".repeat(count);
    let nil = uuid::Uuid::nil();
    let cases = [
        (weighed("-3 g"), "/quantity", "without a minus sign"),
        (weighed("1e400"), "/quantity", "in plain digits"),
        (weighed("NaN"), "/quantity", "Write one such as 80"),
        (weighed("3 furlongs"), "/quantity", "Use one of these"),
        (weighed("0 g"), "/quantity", "above zero"),
        (weighed("1000000000 kg"), "/quantity", "at most"),
        (weighed("5 drops"), "/quantity", "or enter the mass, such as 0.2 g"),
        (weighed("5 mL"), "/quantity", "The density of dried calendula flower is unknown. Weigh it"),
        (json!({ "kind": "weighing", "line": "7.7", "quantity": "5 g" }), "/line", "Its lines are 1.1, 1.2."),
        (json!({ "kind": "weighing", "quantity": "5 g" }), "/line", "requires this field"),
        (json!({ "kind": "weighing", "line": "1.1" }), "/quantity", "requires this field"),
        (
            json!({ "kind": "weighing", "line": "1.1", "quantity": "5 g", "step": 1 }),
            "/step",
            "Omit the field",
        ),
        (json!({ "kind": "temperature", "step": 0, "quantity": "40 C" }), "/step", "a step from 1 to 2"),
        (json!({ "kind": "temperature", "step": 3, "quantity": "40 C" }), "/step", "a step from 1 to 2"),
        (json!({ "kind": "temperature", "step": 1, "quantity": "4000 C" }), "/quantity", "-100 to 400 °C"),
        (json!({ "kind": "temperature", "step": 1, "quantity": "5 g" }), "/quantity", "Write it as 70 C"),
        (
            json!({ "kind": "temperature", "step": -1, "quantity": "40 C" }),
            "/step",
            "a whole number from 0 to 65535",
        ),
        (json!({ "kind": "step_done", "step": 1, "quantity": "5 g" }), "/quantity", "Omit the field"),
        (json!({ "kind": "observation" }), "/note", "requires this field"),
        (json!({ "kind": "observation", "note": " " }), "/note", "1 to 4000"),
        (json!({ "kind": "observation", "note": long(4001) }), "/note", "1 to 4000"),
        (json!({ "kind": "observation", "note": format!("{} ", long(4000)) }), "/note", "1 to 4000"),
        (
            json!({ "kind": "weighing", "line": "1.1", "quantity": "5 g", "lot": long(201) }),
            "/lot",
            "1 to 200",
        ),
        (json!({ "kind": "observation", "note": "x", "reason": "why" }), "/reason", "only with `corrects`"),
        (
            json!({ "kind": "weighing", "line": "1.1", "quantity": "5 g", "corrects": first }),
            "/reason",
            "the reason for the correction",
        ),
        (
            json!({ "kind": "weighing", "line": "1.1", "quantity": "5 g", "corrects": nil, "reason": "why" }),
            "/corrects",
            "no entry with this ID",
        ),
        (
            json!({ "kind": "observation", "note": "x", "corrects": first, "reason": "why" }),
            "/kind",
            "of the kind weighing",
        ),
        (json!({ "kind": "guess" }), "/kind", "weighing"),
        (json!({ "kind": "observation" }), "/note", "An entry of the kind observation requires this field"),
        (json!({ "kind": "step_done", "step": -1 }), "/step", "a whole number from 0 to 65535"),
        (json!({ "kind": "observation", "note": "x", "grams": "5" }), "/grams", "Unknown field"),
    ];
    for (entry, pointer, cure) in cases {
        refused(room.noor.post(&entries, entry).await, pointer, cure);
    }
    assert_eq!(room.contents().await, before);

    // What is padded with spaces is the line it names, and counts as such.
    let padded = json!({ "kind": "weighing", "line": " 1.2 ", "quantity": "1000 g", "lot": "O-1" });
    let record = room.noor.post(&entries, padded).await.expect(201);
    let findings = record.json["findings"].as_array().unwrap();
    assert!(findings.iter().all(|finding| finding["line"] != "1.2"), "{findings:#?}");
    room.stop().await;
}
