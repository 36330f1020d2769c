//! Limits on the skin: what they are on, whom and which part of the body they are for, and what they come to together.

use serde_json::{Value, json};
use stillroom_tests::{Caller, TestClinic};

/// A formula for the skin of one phase, made up to 100 g with a vehicle.
fn of(kind: &str, route: &str, vehicle: &str, lines: &[(&str, &str)]) -> Value {
    let mut all: Vec<Value> = lines
        .iter()
        .map(|(material, amount)| json!({ "material": material, "amount": amount, "function": "active" }))
        .collect();
    all.push(json!({ "material": vehicle, "amount": "q.s. 100 g", "function": "vehicle" }));
    json!({
        "title": format!("Trial {kind}"), "preparation": kind, "route": route, "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": all }],
        "method": [{ "do": "Mix" }],
    })
}

fn with(mut content: Value, fields: &[(&str, &str)]) -> Value {
    for (name, value) in fields {
        content[*name] = json!(value);
    }
    content
}

async fn evaluated(caller: &Caller, content: &Value) -> Value {
    caller.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(200).json
}

/// The bounds that bind on a subject, with what each comes to.
fn bounds(evaluation: &Value, subject: &str) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let limits = evaluation["limits"].as_array().unwrap();
    limits
        .iter()
        .filter(|limit| limit["subject"] == subject)
        .map(|limit| (text(&limit["bound"]), text(&limit["outcome"])))
        .collect()
}

fn one(bound: &str, outcome: &str) -> Vec<(String, String)> {
    vec![(bound.to_owned(), outcome.to_owned())]
}

/// Every sentence and what is missing anywhere in an answer.
fn sentences(value: &Value, out: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (name, field) in fields {
                match field {
                    Value::String(text) if name == "sentence" || name == "unknown" => out.push(text.clone()),
                    other => sentences(other, out),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| sentences(item, out)),
        _ => {}
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn sentences_about_limits_call_materials_and_substances_by_name() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let oils = [("bergamot oil", "0.3 %"), ("rose oil", "0.5 %"), ("potassium sorbate", "0.9 %")];
    let content = of("salve", "on intact skin, leave-on", "olive oil", &oils);
    let found = evaluated(&ilse, &content).await;
    let mut all = Vec::new();
    sentences(&found["limits"], &mut all);
    sentences(&found["figures"], &mut all);
    for (named, figure) in [
        ("bergamot oil, expressed in the product", ": 0.3 %"),
        ("methyl eugenol in the product", ": "),
        ("sorbic acid in the product", ": "),
    ] {
        let said = |sentence: &String| sentence.contains(named) && sentence.contains(figure);
        assert!(all.iter().any(said), "{named} in {all:#?}");
    }
    for sentence in &all {
        let ids =
            sentence.split(|c: char| !c.is_ascii_hexdigit() && c != '-').filter(|word| word.len() == 36);
        assert_eq!(ids.count(), 0, "{sentence}");
        for key in ["methyl-eugenol", "sorbic-acid", "bergamot-oil"] {
            assert!(!sentence.contains(key), "{sentence}");
        }
    }
    clinic.stop().await;
}

/// Regulation (EC) No 1223/2009, Annex III, entry 98: salicylic acid 3.0 % in rinse-off hair products, 0.5 % in body
/// lotion, 2.0 % in other products, and not for children under three years.
#[tokio::test(flavor = "multi_thread")]
async fn three_per_cent_of_salicylic_acid_pass_in_a_hair_rinse_and_two_in_other_rinses() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let rinse = |share| of("lotion", "on intact skin, rinse-off", "castor oil", &[("salicylic acid", share)]);
    let hair = |share| with(rinse(share), &[("site", "hair")]);
    let on = async |content: Value| bounds(&evaluated(&ilse, &content).await, "salicylic acid");

    assert_eq!(
        on(hair("3 %")).await,
        one("at most 3 % as acid", "within"),
        "the limit of 2 % does not bind too"
    );
    assert_eq!(on(hair("3.01 %")).await, one("at most 3 % as acid", "exceeded"));
    assert_eq!(on(rinse("3 %")).await, one("at most 2 % as acid", "exceeded"));
    assert_eq!(on(with(rinse("3 %"), &[("site", "face")])).await, one("at most 2 % as acid", "exceeded"));
    let stays = of("lotion", "on intact skin, leave-on", "castor oil", &[("salicylic acid", "0.6 %")]);
    assert_eq!(on(stays.clone()).await, one("at most 2 % as acid", "within"));
    assert_eq!(on(with(stays, &[("site", "body")])).await, one("at most 0.5 % as acid", "exceeded"));

    // From the third birthday on it is allowed; before that it is prohibited, and a stop blocks approval.
    let three = on(with(hair("3 %"), &[("youngest", "3 years")])).await;
    assert_eq!(three, one("at most 3 % as acid", "within"));
    let younger = on(with(hair("3 %"), &[("youngest", "35 months")])).await;
    assert!(younger.contains(&("prohibited".into(), "prohibited".into())), "{younger:?}");
    let library = clinic.library(&ilse, "Rinses", &[&marek]).await;
    clinic.approved(&ilse, &marek, &library, with(hair("2.5 %"), &[("youngest", "3 years")])).await;
    let small = with(hair("2.5 %"), &[("youngest", "35 months"), ("title", "Rinse for small children")]);
    let stopped = clinic.proposed(&ilse, &library, small).await;
    marek.acknowledge(&stopped).await.expect(201);
    let approve = json!({ "decision": "approve" });
    let refused = marek.post(&format!("/v1/revisions/{stopped}/decision"), approve).await.expect(409);
    assert!(refused.text.contains("for anyone under 3 years"), "{}", refused.text);

    let odd = with(hair("1 %"), &[("site", "elbow"), ("youngest", "3 weeks")]);
    let refused = ilse.post("/v1/evaluations?explain=true", json!({ "content": odd })).await;
    assert!(refused.text.contains("body, face, lips, hair"), "{}", refused.text);
    refused.fields(&["/content/site", "/content/youngest"]);
    clinic.stop().await;
}

/// The levels of a formula's cautions with this key.
async fn levels(caller: &Caller, revision: &str, key: &str) -> Vec<String> {
    let set = caller.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
    let cautions = set.json["cautions"].as_array().unwrap();
    let found = cautions.iter().filter(|caution| caution["key"] == key);
    found.map(|caution| caution["level"].as_str().unwrap().to_owned()).collect()
}

/// Spores in honey are a danger in the first year of life only (from memory).
#[tokio::test(flavor = "multi_thread")]
async fn honey_by_mouth_is_stopped_when_it_is_meant_for_a_child_under_twelve_months() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let library = clinic.library(&ilse, "Oxymels", &[]).await;
    let oxymel = json!({
        "title": "Thyme oxymel", "preparation": "oxymel", "route": "by mouth", "regime": "food",
        "phases": [{ "name": "all", "lines": [
            { "material": "honey", "amount": "60 g" }, { "material": "vinegar", "amount": "40 g" } ] }],
        "method": [{ "do": "Stir" }],
    });
    for (youngest, title, expected) in [
        (None, "Oxymel for adults", 0),
        (Some("12 months"), "Oxymel from the first birthday", 0),
        (Some("11 months"), "Oxymel for a child of eleven months", 1),
    ] {
        let mut content = with(oxymel.clone(), &[("title", title)]);
        if let Some(youngest) = youngest {
            content["youngest"] = json!(youngest);
        }
        let revision = clinic.proposed(&ilse, &library, content).await;
        let found = levels(&ilse, &revision, "honey-under-twelve-months").await;
        assert_eq!(found, vec!["stop"; expected], "{title}");
    }
    clinic.stop().await;
}

/// Remembered limits on sensitising oils: 0.8 % of ylang-ylang and 1.0 % of thyme; they share an effect, so that the
/// fractions used of both together may not pass one.
#[tokio::test(flavor = "multi_thread")]
async fn two_oils_within_their_limits_can_be_beyond_them_together() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let library = clinic.library(&ilse, "Oils", &[]).await;
    for (ylang, thyme, exceeded, nearly) in [
        ("0.2 %", "0.5 %", 0, 0),  // 0.25 and 0.5 are 0.75
        ("0.32 %", "0.5 %", 0, 1), // 0.4 and 0.5 are 0.9
        ("0.4 %", "0.5 %", 0, 1),  // 0.5 and 0.5 are just 1
        ("0.4 %", "0.51 %", 1, 0), // 0.5 and 0.51 are more
    ] {
        let oils = [("ylang-ylang oil", ylang), ("thyme oil", thyme)];
        let content = of("infused oil", "on intact skin, leave-on", "olive oil", &oils);
        let content = with(content, &[("title", &format!("Oil with {ylang} and {thyme}"))]);
        let revision = clinic.proposed(&ilse, &library, content.clone()).await;
        let raised = levels(&ilse, &revision, "limit-exceeded").await;
        assert_eq!(raised, vec!["contraindication"; exceeded], "{ylang} and {thyme}");
        let raised = levels(&ilse, &revision, "limit-nearly").await;
        assert_eq!(raised, vec!["caution"; nearly], "{ylang} and {thyme}");
        let found = evaluated(&ilse, &content).await;
        let outcomes: Vec<&Value> =
            found["limits"].as_array().unwrap().iter().map(|limit| &limit["outcome"]).collect();
        assert!(outcomes.iter().all(|outcome| *outcome == "within"), "each on its own: {}", found["limits"]);
        let together = found["figures"].as_array().unwrap();
        let together = together.iter().find(|it| it["name"] == "sensitising limits together").unwrap();
        assert_eq!(together["inputs"].as_array().unwrap().len(), 2, "says which: {together}");
    }
    clinic.stop().await;
}

/// Swiss ordinance on cosmetics, Art. 6(1): furocoumarins below 1 mg/kg in what stays on skin that may meet the sun. Bitter
/// orange oil holds at most 0.5 % of them in the data, so that 0.02 % of it bring just 1 mg/kg: already too much.
#[tokio::test(flavor = "multi_thread")]
async fn a_figure_that_must_stay_below_its_limit_fails_at_the_limit() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    for (share, outcome) in [("0.0199 %", "within"), ("0.02 %", "exceeded"), ("0.0201 %", "exceeded")] {
        let oil = of(
            "liniment",
            "on intact skin, leave-on",
            "olive oil",
            &[("bitter orange oil, expressed", share)],
        );
        let found = bounds(&evaluated(&ilse, &oil).await, "furocoumarins together");
        assert_eq!(found, one("below 0.0001 %", outcome), "{share}");
    }
    clinic.stop().await;
}

/// HMPC monograph on calendula flower: semi-solid forms of 2 to 10 % of herb. That is a dosage, not a bound of safety.
#[tokio::test(flavor = "multi_thread")]
async fn a_dosage_that_is_exceeded_is_shown_and_is_no_contraindication() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let library = clinic.library(&ilse, "Ointments", &[]).await;
    let mut strong =
        of("ointment", "on intact skin, leave-on", "lanolin", &[("dried calendula flower", "12 %")]);
    strong["regime"] = json!("herbal_medicine");
    let evaluation = evaluated(&ilse, &strong).await;
    let limit = evaluation["limits"].as_array().unwrap().iter().find(|it| it["force"] == "dosage").unwrap();
    assert_eq!(limit["outcome"], "exceeded", "{limit}");
    let revision = clinic.proposed(&ilse, &library, strong).await;
    assert_eq!(levels(&ilse, &revision, "limit-exceeded").await, Vec::<String>::new());
    clinic.stop().await;
}

/// Regulation (EC) No 1223/2009, Annex III, entry 98: salicylic acid never in products for the mouth or to be inhaled.
#[tokio::test(flavor = "multi_thread")]
async fn salicylic_acid_is_prohibited_in_the_mouth_and_allowed_on_the_skin() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let library = clinic.library(&ilse, "Lotions", &[]).await;
    for (route, mouth, expected) in [
        ("by mouth", "prohibited-eu-salicylic-acid-mouth", "stop"),
        ("inhaled", "prohibited-eu-salicylic-acid-inhaled", "stop"),
        // On the skin the prohibitions for the mouth and for inhaling say the same of it, once.
        ("on intact skin, leave-on", "prohibited-eu-salicylic-acid-inhaled", "note"),
    ] {
        let lotion = of("lotion", route, "castor oil", &[("salicylic acid", "0.4 %")]);
        let lotion = with(lotion, &[("title", &format!("Lotion {route}"))]);
        let revision = clinic.proposed(&ilse, &library, lotion).await;
        assert_eq!(levels(&ilse, &revision, mouth).await, [expected], "{route}");
    }
    clinic.stop().await;
}
