//! Limits on the skin and use-by dates.

use serde_json::{Value, json};
use stillroom_tests::{Answer, TestClinic};

use super::{ask, figure, near, refused};

/// The limit on a subject.
#[expect(clippy::panic, reason = "an answer without it fails the test")]
#[track_caller]
fn limit<'a>(answer: &'a Answer, subject: &str) -> &'a Value {
    answer.json["limits"]
        .as_array()
        .unwrap()
        .iter()
        .find(|limit| limit["subject"] == subject)
        .unwrap_or_else(|| panic!("no limit on {subject:?} in {}", answer.text))
}

#[tokio::test(flavor = "multi_thread")]
async fn limits_are_compared_exactly_and_what_is_not_known_is_no_pass() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "skin-limits", question).await;
    let in_oil = |material: &str, amount: &str| json!([{ "material": material, "amount": amount }, { "material": "olive oil", "amount": "q.s. 100 g" }]);
    let leave_on = |material: &str, amount: &str| json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": in_oil(material, amount) });

    // Regulation (EC) No 1223/2009, Annex V, entry 29: phenoxyethanol 1.0 %; at the limit is allowed, past it is not.
    let at = work(leave_on("phenoxyethanol", "1 %")).await.expect(200);
    assert_eq!(limit(&at, "2-phenoxyethanol")["outcome"], "within");
    assert_eq!(limit(&at, "2-phenoxyethanol")["force"], "law");
    let past = work(leave_on("phenoxyethanol", "1.0000001 %")).await.expect(200);
    assert_eq!(
        (&past.json["outcome"], &limit(&past, "2-phenoxyethanol")["outcome"]),
        (&json!("exceeded"), &json!("exceeded"))
    );
    let largest = stillroom_tests::figures::number(&limit(&past, "2-phenoxyethanol")["would_pass"][0]);
    assert!((largest - 0.01).abs() < 1e-9 && largest <= 0.01, "{largest}");
    // Annex V, entry 4: sorbic acid 0.6 % as acid, which is 0.804 % of potassium sorbate (molar masses of the chemicals
    // library 1.5.2: 112.128 and 150.218). The acid itself is counted once.
    for (material, share, outcome) in [
        ("potassium sorbate", "0.803 %", "within"),
        ("potassium sorbate", "0.805 %", "exceeded"),
        ("sorbic acid", "0.6 %", "within"),
        ("sorbic acid", "0.61 %", "exceeded"),
    ] {
        let answer = work(leave_on(material, share)).await.expect(200);
        assert_eq!(limit(&answer, "sorbic acid")["outcome"], outcome, "{material} {share}");
        assert_eq!(limit(&answer, "sorbic acid")["bound"], "at most 0.6 % as acid");
    }
    // Annex V, entry 12: a single paraben 0.4 % as acid: 0.44 % of the methyl ester (138.12 of 152.15 g/mol).
    for (share, outcome) in [("0.44 %", "within"), ("0.45 %", "exceeded")] {
        let answer = work(leave_on("methylparaben", share)).await.expect(200);
        assert_eq!(limit(&answer, "methylparaben")["outcome"], outcome, "{share}");
    }
    // Annex II, entry 1396: borates are prohibited in cosmetics, and are not in what is for teaching only.
    let borax = work(leave_on("borax", "0.5 %")).await.expect(200);
    assert_eq!(borax.json["outcome"], "prohibited");
    assert!(borax.json["limits"][0]["source"]["text"].as_str().unwrap().contains("1396"), "{}", borax.text);
    let taught =
        json!({ "regime": "teaching_only", "exposure": "leave-on", "lines": in_oil("borax", "0.5 %") });
    // Nothing is recorded for what is taught, which is no pass.
    assert_eq!(work(taught).await.expect(200).json["outcome"], "not covered");
    // Annex III, entry 324: methyl salicylate not under six years.
    let mut young = leave_on("wintergreen oil", "0.05 %");
    assert!(work(young.clone()).await.expect(200).json["outcome"] != "prohibited");
    young["youngest"] = json!("71 months");
    assert_eq!(work(young.clone()).await.expect(200).json["outcome"], "prohibited");
    young["youngest"] = json!("6 years");
    assert!(work(young).await.expect(200).json["outcome"] != "prohibited");
    // SCCS/1681/25: tea tree oil 0.1 % in a face cream.
    let mut face = leave_on("tea tree oil", "0.2 %");
    assert_eq!(work(face.clone()).await.expect(200).json["outcome"], "within");
    face["site"] = json!("face");
    assert_eq!(work(face).await.expect(200).json["outcome"], "exceeded");
    // Directive 2008/42/EC: an allergen is declared strictly above 0.001 % in leave-on and 0.01 % in rinse-off.
    let declared = async |exposure: &str, amount: &str| {
        let asked =
            json!({ "regime": "cosmetic", "exposure": exposure, "lines": in_oil("lavender oil", amount) });
        let answer = work(asked).await.expect(200);
        let allergens = answer.json["allergens"].as_array().unwrap().clone();
        let found =
            allergens.iter().find(|one| one["label_name"] == "Lavandula Oil/Extract").cloned().unwrap();
        found["declare"].as_bool().unwrap()
    };
    assert!(!declared("leave-on", "0.001 %").await);
    assert!(declared("leave-on", "0.0010001 %").await);
    assert!(!declared("rinse-off", "0.01 %").await);
    // Limits that share an effect are added up: 0.3 of 0.4 % and 1.0 of 2.0 % are 1.25 (read in a copy, and it says so).
    let citrus = json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": [
        { "material": "bergamot oil", "amount": "0.3 %" }, { "material": "lemon oil", "amount": "1.0 %" },
        { "material": "olive oil", "amount": "q.s. 100 g" } ] });
    let citrus = work(citrus).await.expect(200);
    near(&citrus, "phototoxic limits together", 1.25, 1e-9);
    assert_eq!(citrus.json["outcome"], "exceeded");
    assert_eq!(limit(&citrus, "bergamot oil, expressed")["source"]["status"], "secondary");

    // HMPC statement of 7 July 2021: 1.0 ug of pyrrolizidine alkaloids a day. Untested is unknown and no pass.
    let comfrey = json!({ "regime": "herbal_medicine", "exposure": "leave-on", "used_daily": "5 g",
        "lines": in_oil("dried comfrey root", "10 %") });
    let alkaloids = "unsaturated pyrrolizidine alkaloids with their N-oxides";
    let untested = work(comfrey.clone()).await.expect(200);
    assert_eq!(limit(&untested, alkaloids)["outcome"], "unknown");
    assert_eq!(untested.json["outcome"], "unknown");
    // By hand: 5 g a day x 10 % x 2 ug/g are 1.0 ug, at the limit; with 2.2 ug/g they are 1.1 ug.
    for (assayed, outcome) in [("2", "within"), ("2.2", "exceeded")] {
        let mut asked = comfrey.clone();
        asked["assays"] = json!([{ "material": "dried comfrey root", "substance": "pyrrolizidine-alkaloids", "micrograms_per_gram": assayed }]);
        let answer = work(asked).await.expect(200);
        assert_eq!(limit(&answer, alkaloids)["outcome"], outcome, "{}", answer.text);
    }

    let mut odd = leave_on("moonwort dew", "140 %");
    odd["exposure"] = json!("sideways");
    odd["youngest"] = json!("old");
    odd["site"] = json!("everywhere");
    let fields = ["/lines/0/material", "/lines/0/amount", "/exposure", "/site", "/youngest"];
    work(odd).await.fields(&fields);
    refused(work(leave_on("lavender oil", "1e400 %")).await, "/lines/0/amount", "plain digits");
    let full = json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": [
        { "material": "lavender oil", "amount": "60 %" }, { "material": "lemon oil", "amount": "60 %" } ] });
    refused(work(full).await, "/lines/1/amount", "exceeds 100 %");
    refused(
        work(json!({ "regime": "cosmetic", "exposure": "leave-on", "lines": [] })).await,
        "/lines",
        "1 to 200 items",
    );
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_strictest_rule_dates_a_jar_and_every_rule_is_heard() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "use-by", question).await;
    let jar = |changes: Value| {
        let mut question = json!({ "made_on": "2026-01-01", "regime": "herbal_medicine", "preparation": "cream",
            "route": "skin", "storage": "refrigerator" });
        for (name, value) in changes.as_object().unwrap() {
            question[name] = value.clone();
        }
        question
    };

    // USP <795> in force since 1 November 2023: aqueous, non-preserved, 14 days; a university's procedure counts the day
    // of making as day 1, so that they end on 14 January.
    let bare = work(jar(json!({}))).await.expect(200);
    assert_eq!((&bare.json["date"], &bare.json["refrigerate"]), (&json!("2026-01-14"), &json!(true)));
    assert_eq!(bare.json["limited_by"], "published compounding rules of 2023");
    let said = bare.json["rules"].as_array().unwrap();
    let by = |name: &str| {
        said.iter().find(|rule| rule["by"] == name).unwrap_or_else(|| panic!("{name} in {}", bare.text))
    };
    assert_eq!(by("published compounding rules of 2014")["outcome"], "not in force");
    assert_eq!(by("remembered keeping time of tinctures")["outcome"], "out of scope");
    // Common practice: about three months refrigerated.
    assert_eq!(by("common practice for creams and lotions")["date"], "2026-04-01");
    assert_eq!(by("common practice for creams and lotions")["source"]["status"], "common practice");
    // The same, preserved: 35 days, the last of which is 4 February. Potassium sorbate at pH 4.5, of which by
    // Henderson and Hasselbalch 1 / (1 + 10^(4.5 - 4.76)) = 64.5 % is undissociated.
    let sorbate = json!({ "ph": "4.5", "preservative": { "material": "potassium sorbate", "share": "0.5 %", "enough": "0.2 %" } });
    let preserved = work(jar(json!({ "watery_phase": sorbate }))).await.expect(200);
    assert_eq!(preserved.json["date"], "2026-02-04", "{}", preserved.text);
    assert_eq!(figure(&preserved, "preserved")["value"], "preserved");
    // The same at pH 7 preserves nothing.
    let sorbate = json!({ "ph": "7", "preservative": { "material": "potassium sorbate", "share": "0.5 %", "enough": "0.2 %" } });
    assert_eq!(work(jar(json!({ "watery_phase": sorbate }))).await.expect(200).json["date"], "2026-01-14");
    // The rules of 2014, while they were in force: water-containing topical, 30 days; the ceiling of 14 days of what is
    // unpreserved and watery stays, and no rule set lifts it.
    let earlier = work(jar(json!({ "made_on": "2015-01-01" }))).await.expect(200);
    assert_eq!(
        (&earlier.json["date"], &earlier.json["limited_by"]),
        (&json!("2015-01-14"), &json!("unpreserved and watery"))
    );
    // Non-aqueous, others: 180 days, not six months; below a water activity of 0.60.
    let ointment = jar(
        json!({ "preparation": "ointment", "water_activity": "0.59", "storage": "room temperature", "made_on": "2025-08-31" }),
    );
    assert_eq!(work(ointment).await.expect(200).json["date"], "2026-02-26", "day 1 is the day of making");
    // Common practice for what is preserved: about three months refrigerated and about three weeks unrefrigerated. What
    // was asked of a refrigerator holds only there, and that of the shelf anywhere.
    let kept = async |storage: &str, parts: Value| {
        let phase = json!({ "ph": "4.8", "preservative": {
            "material": "potassium sorbate", "share": "0.5 %", "enough": "0.1 %" } });
        let asked = json!({ "regime": "cosmetic", "made_on": "2026-03-21", "storage": storage, "parts": parts, "watery_phase": phase });
        let answer = work(jar(asked)).await.expect(200).json;
        (answer["date"].clone(), answer["refrigerate"].clone())
    };
    assert_eq!(kept("refrigerator", json!([])).await, (json!("2026-06-21"), json!(true)));
    assert_eq!(kept("room temperature", json!([])).await, (json!("2026-04-11"), json!(false)));
    // An oil that ends before both binds it the same in either place.
    let oil = json!([{ "name": "olive oil", "expiry": "2026-04-01" }]);
    assert_eq!(kept("refrigerator", oil).await, (json!("2026-04-01"), json!(false)));
    // A warm unpreserved cream must go into the cold for its date to hold.
    let warm = work(jar(json!({ "storage": "room temperature" }))).await.expect(200);
    assert_eq!(warm.json["refrigerate"], true);
    // What it is made of binds it: a month ends with its last day.
    let parts = json!({ "parts": [{ "name": "olive oil", "expiry": "2026-02" }], "watery_phase": { "alcohol": "30 %" } });
    assert_eq!(work(jar(parts)).await.expect(200).json["date"], "2026-02-04");
    let parts = json!({ "parts": [{ "name": "olive oil", "expiry": "2026-01" }], "watery_phase": { "alcohol": "30 %" } });
    let bound = work(jar(parts)).await.expect(200);
    assert_eq!((&bound.json["date"], &bound.json["limited_by"]), (&json!("2026-01-31"), &json!("olive oil")));
    // A rule set is left out only with a reason, which the answer repeats.
    let off = json!({ "switched_off": [{ "rule_set": "compounding-2023", "reason": "not in force here" }] });
    let off = work(jar(off)).await.expect(200);
    assert_eq!(
        (&off.json["date"], &off.json["limited_by"]),
        (&json!("2026-01-14"), &json!("unpreserved and watery"))
    );
    assert!(off.text.contains("not in force here"));
    // Stability evidence lifts the ceiling, and an opened jar lowers the date.
    let filed =
        json!({ "regime": "cosmetic", "stability": { "period": "60 days", "source": "stability file 12" } });
    assert_eq!(work(jar(filed)).await.expect(200).json["date"], "2026-03-02");
    let opened = json!({ "opened": { "on": "2026-01-03", "good_for": "7 days" } });
    assert_eq!(work(jar(opened)).await.expect(200).json["date"], "2026-01-10");

    let bare = json!({ "switched_off": [{ "rule_set": "compounding-2023", "reason": " " }] });
    refused(work(jar(bare)).await, "/switched_off/0/reason", "State why");
    let early = json!({ "opened": { "on": "2025-12-24", "good_for": "7 days" } });
    refused(work(jar(early)).await, "/opened/on", "before the day of making");
    refused(work(jar(json!({ "water_activity": "1.2" }))).await, "/water_activity", "must be 0 to 1.");
    let sour = json!({ "watery_phase": { "ph": "15", "preservative": { "material": "potassium sorbate", "share": "0.5 %", "enough": "0.2 %" } } });
    refused(work(jar(sour)).await, "/watery_phase/ph", "0 to 14");
    let odd = json!({ "preparation": "gravy", "route": "nose", "storage": "attic", "parts": [{ "name": "x", "expiry": "2026-13" }] });
    work(jar(odd)).await.fields(&["/preparation", "/route", "/storage", "/parts/0/expiry"]);
    let oil = json!({ "watery_phase": { "ph": "5", "preservative": { "material": "olive oil", "share": "0.5 %", "enough": "0.2 %" } } });
    refused(work(jar(oil)).await, "/watery_phase/preservative/material", "potassium sorbate");
    refused(work(jar(json!({ "made_on": "soon" }))).await, "/made_on", "");
    clinic.stop().await;
}
