//! Emulsions.

use serde_json::{Value, json};
use stillroom_tests::TestClinic;

use super::{ask, figure, near, number, refused};

#[tokio::test(flavor = "multi_thread")]
async fn emulsions_are_worked_out_as_the_tables_print_them() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    let work = async |question: Value| ask(&noor, "emulsion", question).await;

    // OCL 2022, Table 4: three oil phases and the required HLB printed beside them.
    for (stearic, printed) in [("12.5 g", 10.33), ("10.5 g", 10.04), ("8.5 g", 9.71)] {
        let oils = json!([
            { "material": "white beeswax", "amount": "1.5 g" },
            { "material": "isopropyl myristate", "amount": "7.5 g", "hlb": "11.5" },
            { "material": "glyceryl monostearate", "amount": "7.5 g", "hlb": "3.8" },
            { "material": "stearic acid", "amount": stearic },
            { "material": "test oil", "amount": "5 g", "hlb": "6.2" } ]);
        let answer =
            work(json!({ "required_hlb": { "emulsion": "oil-in-water", "oils": oils } })).await.expect(200);
        near(&answer, "required HLB", printed, 0.005);
    }
    // PMC3969497, Table I: polysorbate 80 (15) and sorbitan oleate (4.3), by name; 53.3 % of the higher for 10.
    let pair =
        json!({ "one": "polysorbate 80", "other": "sorbitan oleate", "target": "10", "amount": "50 g" });
    let pair = work(json!({ "blend": pair })).await.expect(200);
    near(&pair, "share of the higher", 0.533, 0.0005);
    near(&pair, "of the higher", 26.65, 0.05);
    // The blend has the HLB that was wanted of it.
    let (high, low) = (number(&pair, "of the higher"), number(&pair, "of the lower"));
    let both = json!({ "emulsifier_hlb": { "emulsifiers": [
        { "material": "polysorbate 80", "amount": format!("{high} g") },
        { "material": "sorbitan oleate", "amount": format!("{low} g") } ] } });
    near(&work(both).await.expect(200), "HLB of the emulsifiers", 10.0, 1e-6);
    // Griffin, HLB = 20 (1 - S/A): half the acid is an HLB of ten. HLB = (E + P)/5: 50 and 25 in the hundred make 15.
    let half = json!({ "griffin_by_saponification": { "saponification": "100", "acid": "200" } });
    assert_eq!(figure(&work(half).await.expect(200), "HLB")["value"], "10");
    let shares = json!({ "griffin_by_composition": { "oxyethylene": "50 %", "alcohol": "25 %" } });
    assert_eq!(figure(&work(shares).await.expect(200), "HLB")["value"], "15");
    let masses = json!({ "griffin_by_mass": { "hydrophilic": "60", "whole": "100" } });
    assert_eq!(figure(&work(masses).await.expect(200), "HLB")["value"], "12");
    // White wax of acid value 17 to 24 (Ph. Eur.), 120 g, against 5 g of borax (381.37 g/mol, two acids each), as in the
    // Rose Water Ointment of USP 30-NF 25, page 3147: 26.2 of 36.4 to 51.3 mmol.
    let soap =
        work(json!({ "soap": { "wax": "120 g", "acid_value": "17", "alkali": "borax", "mass": "5 g" } }))
            .await
            .expect(200);
    near(&soap, "share of the acid neutralised", 0.72, 0.005);
    let soap =
        work(json!({ "soap": { "wax": "120 g", "acid_value": "24", "alkali": "borax", "mass": "5 g" } }))
            .await
            .expect(200);
    near(&soap, "share of the acid neutralised", 0.51, 0.005);

    // An oil without a published value makes the answer unknown, with the share that is known.
    let part = json!({ "emulsion": "water-in-oil", "oils": [
        { "material": "olive oil", "amount": "30 g" }, { "material": "any oil", "amount": "10 g", "hlb": "6" } ] });
    let part = work(json!({ "required_hlb": part })).await.expect(200);
    assert_eq!(figure(&part, "required HLB")["unknown"], "unknown: required HLB of olive oil");
    assert_eq!(figure(&part, "share of which it is known")["value"], "25");
    // HLB does not apply to what is dosed by its use rate.
    let wax =
        json!({ "emulsifier_hlb": { "emulsifiers": [{ "material": "emulsifying wax", "amount": "8 g" }] } });
    assert_eq!(figure(&work(wax).await.expect(200), "HLB of the emulsifiers")["value"], "HLB does not apply");

    let ointment = json!({ "lines": [
        { "material": "white beeswax", "amount": "120 g" }, { "material": "sweet almond oil", "amount": "560 g" },
        { "material": "borax", "amount": "5 g" }, { "material": "purified water", "amount": "q.s. 1000 g" } ],
        "oil_phase": "70 C", "water_phase": "60 C" });
    let ointment = work(json!({ "advice": ointment })).await.expect(200);
    assert_eq!(figure(&ointment, "likely type")["value"], "water-in-oil", "{}", ointment.text);
    assert_eq!(figure(&ointment, "phase temperatures apart")["value"], "10");
    assert!(number(&ointment, "share of the acid neutralised") > 0.4);
    let plain = json!({ "lines": [
        { "material": "olive oil", "amount": "300 g" }, { "material": "purified water", "amount": "q.s. 1000 g" } ] });
    let plain = work(json!({ "advice": plain })).await.expect(200);
    assert!(
        figure(&plain, "no emulsifier")["sentence"].as_str().unwrap().contains("separate"),
        "{}",
        plain.text
    );

    // PMC3969497, Table I marks a target of 8 as out of the reach of 16.7 and 8.6.
    let outside = json!({ "blend": { "one": "16.7", "other": "8.6", "target": "8" } });
    refused(work(outside).await, "/blend/target", "HLB 8.6 to 16.7");
    let equal = json!({ "blend": { "one": "8.6", "other": "8.6", "target": "8.6" } });
    refused(work(equal).await, "/blend/other", "so has every blend of them");
    let lecithin = json!({ "blend": { "one": "lecithin", "other": "NaN", "target": "-3" } });
    work(lecithin).await.fields(&["/blend/one", "/blend/other", "/blend/target"]);
    let high = json!({ "emulsion": "oil-in-water", "oils": [{ "material": "an oil", "amount": "1 g", "hlb": "57" }] });
    refused(work(json!({ "required_hlb": high })).await, "/required_hlb/oils", "0 to 20");
    let odd = json!({ "emulsion": "oil-on-water", "oils": [{ "material": "no such oil", "amount": "0 g" }] });
    let odd = work(json!({ "required_hlb": odd })).await;
    odd.fields(&["/required_hlb/emulsion", "/required_hlb/oils/0/material", "/required_hlb/oils/0/amount"]);
    let ester = json!({ "griffin_by_saponification": { "saponification": "300", "acid": "200" } });
    refused(work(ester).await, "/griffin_by_saponification/saponification", "acid number");
    let bare = json!({ "soap": { "wax": "120 g", "alkali": "borax", "mass": "5 g" } });
    refused(work(bare).await, "/soap/acid_value", "name the material");
    let lye = json!({ "soap": { "wax": "120 g", "acid_value": "900", "alkali": "borax", "mass": "5 g" } });
    refused(work(lye).await, "/soap/acid_value", "0 to 300");
    let half =
        json!({ "advice": { "lines": [{ "material": "olive oil", "amount": "1 g" }], "oil_phase": "70 C" } });
    refused(work(half).await, "/advice/water_phase", "both phases");
    clinic.stop().await;
}
