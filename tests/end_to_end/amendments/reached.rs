//! A change to one herb reaches all and only the formulas that contain it, through every level of nesting.

use std::collections::BTreeSet;

use serde_json::json;
use stillroom_tests::clinic::TeachingClinic;
use stillroom_tests::{TestClinic, database};

use super::{amend, caution, confirm, material, of_lines, recipe};
use crate::formulas::infused_oil;

/// Three levels: the oil from the herb, a salve from the oil, a balm from the salve; and a balm without the herb.
struct Shelf {
    here: TeachingClinic,
    with_herb: [String; 3],
    without: String,
}

impl Shelf {
    async fn set() -> Self {
        let here = TeachingClinic::start().await;
        let oil = here.approved(infused_oil()).await;
        here.ilse.acknowledge(&oil).await.expect(201);
        let salve = here
            .approved(of_lines(
                "Calendula salve",
                "salve",
                &json!([
                    { "formula": "Infused oil of calendula", "amount": "85 g" },
                    { "material": "yellow beeswax", "amount": "15 g" } ]),
            ))
            .await;
        here.ilse.acknowledge(&salve).await.expect(201);
        let balm = here
            .approved(of_lines(
                "Two-oil balm",
                "balm",
                &json!([
                    { "formula": "Calendula salve", "amount": "50 g" },
                    { "material": "olive oil", "amount": "50 g" } ]),
            ))
            .await;
        let plain = here
            .approved(of_lines(
                "Plain balm",
                "balm",
                &json!([
                    { "material": "yellow beeswax", "amount": "20 g" },
                    { "material": "olive oil", "amount": "80 g" } ]),
            ))
            .await;
        for revision in [&oil, &salve, &balm, &plain] {
            here.noor.acknowledge(revision).await.expect(201);
        }
        Self { here, with_herb: [oil, salve, balm], without: plain }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_change_to_a_herb_reaches_all_and_only_what_contains_it_three_levels_up() {
    let Shelf { here, with_herb, without } = Shelf::set().await;
    let [oil, salve, balm] = &with_herb;
    recipe(&here.noor, balm).await.expect(200);
    recipe(&here.noor, &without).await.expect(200);
    let made = here.noor.post("/v1/batches", json!({ "revision": oil })).await.expect(201);

    let herb = material(&here.ilse, "dried calendula flower").await;
    let mut entry = here.ilse.get(&format!("/v1/materials/{herb}/entry")).await.expect(200).json;
    entry["entry"]["cautions"] = json!([{
        "level": "contraindication", "audiences": ["condition:asthma"], "text": "Not with asthma in this clinic.",
    }]);
    let change = json!({ "revise_material": {
        "material": herb, "version": entry["version"], "entry": entry["entry"],
    } });
    let made_amendment = amend(&here.ilse, change).await.expect(201);
    assert_eq!(made_amendment.json["state"], "awaiting_second_person", "it is about safety");
    recipe(&here.noor, balm).await.expect(200);
    confirm(&here.ilse, &made_amendment.id()).await.problem(403, "forbidden");
    let confirmed = confirm(&here.marek, &made_amendment.id()).await.expect(200);
    assert_eq!(confirmed.json["state"], "in_force");
    assert_eq!(confirmed.json["affected"], 3);

    let path = format!("/v1/amendments/{}/affected", made_amendment.id());
    let affected = here.marek.get(&path).await.expect(200);
    let mut reached: Vec<&str> = affected.json["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["revision"].as_str().unwrap())
        .collect();
    reached.sort_unstable();
    let mut expected: Vec<&str> = with_herb.iter().map(String::as_str).collect();
    expected.sort_unstable();
    assert_eq!(reached, expected);

    for revision in [oil, salve, balm] {
        let closed = recipe(&here.noor, revision).await.problem(403, "gate-closed");
        assert!(closed.text.contains("Not with asthma in this clinic."), "{}", closed.text);
        let new = caution(&here.noor, revision, "asthma in this clinic").await.unwrap();
        let path = new["origins"][0].as_str().unwrap();
        assert!(path.ends_with("dried calendula flower"), "{path}");
    }
    let deepest = caution(&here.noor, balm, "asthma in this clinic").await.unwrap();
    assert_eq!(
        deepest["origins"],
        json!(["Calendula salve > Infused oil of calendula > dried calendula flower"])
    );
    recipe(&here.noor, &without).await.expect(200);

    // Who has it: read the balm's recipe, made the oil; nobody else.
    let of = |revision: &String| {
        let items = affected.json["items"].as_array().unwrap().iter();
        items
            .filter(|it| it["revision"] == *revision.as_str())
            .flat_map(|it| it["reached"].as_array().unwrap())
            .map(|it| format!("{} {}", it["name"].as_str().unwrap(), it["how"].as_str().unwrap()))
            .collect::<Vec<_>>()
    };
    assert_eq!(of(balm), ["noor.haddad pulled"]);
    assert_eq!(of(oil), ["noor.haddad made"]);
    assert_eq!(of(salve), Vec::<String>::new());

    // What is being made waits for the acknowledgement, and the record says so.
    let record = here.noor.get(&format!("/v1/batches/{}", made.id())).await.expect(200);
    assert!(record.json["caution_change"].is_string(), "{}", record.text);
    here.noor.acknowledge(balm).await.expect(201);
    recipe(&here.noor, balm).await.expect(200);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_corrected_density_is_confirmed_by_a_second_person_and_says_what_comes_out_differently() {
    let here = TeachingClinic::start().await;
    let lotion = here
        .approved(of_lines(
            "Oil by the measure",
            "liniment",
            &json!([
                { "material": "olive oil", "amount": "50 mL" },
                { "material": "sunflower oil", "amount": "50 g" } ]),
        ))
        .await;
    here.noor.acknowledge(&lotion).await.expect(201);
    let before = recipe(&here.noor, &lotion).await.expect(200);
    let oil = material(&here.ilse, "olive oil").await;
    let mut entry = here.ilse.get(&format!("/v1/materials/{oil}/entry")).await.expect(200).json;
    entry["entry"]["density_g_per_ml"] = json!("0.9");
    let change = json!({ "revise_material": {
        "material": oil, "version": entry["version"], "entry": entry["entry"],
    } });
    let made = amend(&here.ilse, change.clone()).await.expect(201);
    assert_eq!(
        made.json["state"], "awaiting_second_person",
        "the share of what is measured by volume rests on it"
    );
    confirm(&here.marek, &made.id()).await.expect(200);
    let affected = here.ilse.get(&format!("/v1/amendments/{}/affected", made.id())).await.expect(200);
    assert_eq!(affected.json["items"][0]["cautions_changed"], false);
    assert_eq!(affected.json["items"][0]["evaluation_changed"], true);
    recipe(&here.noor, &lotion).await.problem(403, "gate-closed");
    here.noor.acknowledge(&lotion).await.expect(201);
    // Approved is frozen: it weighs what it was approved with, until there is a further revision.
    assert_eq!(recipe(&here.noor, &lotion).await.expect(200).json["phases"], before.json["phases"]);
    // Whoever read the version before is told, and nothing is overwritten.
    let stale = amend(&here.marek, change).await.problem(409, "conflict");
    assert!(stale.text.contains("Read its current entry"), "{}", stale.text);
    here.stop().await;
}

/// Loads the reference data with one thing in one file written otherwise, as the next edition would be.
async fn edition(here: &TeachingClinic, file: &str, from: &str, to: &str) {
    let files = materia::Files::embedded();
    let changed = files.text(file).replacen(from, to, 1);
    assert!(from == to || changed != files.text(file), "{file} has no {from}");
    let reference = materia::Materia::read(&files.with(file, changed)).unwrap();
    let settings = clinic::PoolSettings { size: 1, ..stillroom_tests::database::pool(&here.clinic.database) };
    let began = stillroom_tests::clinic::BEGINNING.parse().unwrap();
    let other = clinic::Clinic::open_with_reference(
        &settings,
        clinic::Clock::manual(began),
        clinic::Rng::system(),
        reference,
    )
    .unwrap();
    clinic::edition::load(&other).await.unwrap();
}

/// The revisions that the newest amendment reached.
async fn newest_reached(here: &TeachingClinic) -> BTreeSet<String> {
    let list = here.ilse.get("/v1/amendments").await.expect(200);
    let made = &list.json["items"][0];
    assert_eq!(made["kind"], "reference_data");
    let path = format!("/v1/amendments/{}/affected", made["id"].as_str().unwrap());
    let affected = here.ilse.get(&path).await.expect(200);
    let items = affected.json["items"].as_array().unwrap();
    items.iter().map(|it| it["revision"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rule_that_is_changed_or_taken_out_reaches_what_it_spoke_of_and_nothing_else() {
    let Shelf { here, with_herb, without } = Shelf::set().await;
    let herbs: BTreeSet<String> = with_herb.iter().cloned().collect();
    let opened_anew = async || {
        for revision in &with_herb {
            recipe(&here.noor, revision).await.problem(403, "gate-closed");
            here.noor.acknowledge(revision).await.expect(201);
        }
        // What was not spoken of stays open through it all.
        recipe(&here.noor, &without).await.expect(200);
    };
    let balm = &with_herb[2];
    // Other words for a caution of the plant, three levels up.
    let (words, other) =
        ("Ask a professional before use in pregnancy.", "Ask a midwife before use in pregnancy.");
    edition(&here, "cautions.csv", words, other).await;
    assert_eq!(newest_reached(&here).await, herbs);
    assert_eq!(caution(&here.noor, balm, "calendula-pregnant").await.unwrap()["text"], other);
    opened_anew().await;
    // The caution is said of another plant: nothing says it of this one any more.
    let said = "species:calendula-officinalis,any,,pregnancy-no-data,Ask a professional";
    let of_another = said.replace("calendula-officinalis", "arnica-montana");
    edition(&here, "cautions.csv", said, &of_another).await;
    assert_eq!(newest_reached(&here).await, herbs);
    assert!(caution(&here.noor, balm, "calendula-pregnant").await.is_none());
    opened_anew().await;
    // And back again, as it was.
    edition(&here, "cautions.csv", said, said).await;
    assert_eq!(newest_reached(&here).await, herbs);
    assert_eq!(caution(&here.noor, balm, "calendula-pregnant").await.unwrap()["text"], words);
    opened_anew().await;
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_name_that_comes_to_mean_more_than_one_thing_leads_to_none() {
    let here = TeachingClinic::start().await;
    let asked = async |name: &str| {
        let lines = json!([{ "material": name, "amount": "5 g" }]);
        let content = of_lines("Spearmint", "salve", &lines);
        here.ilse.post("/v1/evaluations?explain=true", json!({ "content": content })).await
    };
    let names = ["spearmint", "Mentha spicata"];
    let (mint, other) = ("essential oil,mentha-spicata,", "essential oil,lavandula-angustifolia,");
    // While no oil of the plant was known, only the leaf was called so.
    edition(&here, "materials.csv", mint, other).await;
    for name in names {
        let evaluation = asked(name).await.expect(200).json;
        assert_eq!(evaluation["composition"][0]["name"], "dried spearmint leaf", "{name}");
    }
    let revision = here
        .approved(of_lines("Leaf", "salve", &json!([{ "material": "spearmint", "amount": "5 g" }])))
        .await;
    here.noor.acknowledge(&revision).await.expect(201);

    edition(&here, "materials.csv", mint, mint).await;
    for name in names {
        let refused = asked(name).await.fields(&["/content/phases/0/lines/0/material"]);
        assert!(refused.text.contains("dried spearmint leaf") && refused.text.contains("spearmint oil"));
    }
    // What was written by that name is what it was: nothing about it has changed, so its door stays open.
    recipe(&here.noor, &revision).await.expect(200);

    // What the clinic itself calls so by merging leads there, and still does when data are loaded after.
    let own = json!({ "add_material": {
        "name": "mint of the back yard", "kind": "herb", "botanical_name": "Mentha spicata", "part": "leaf",
        "state": "dried", "synonyms": ["spearmint"], "source": "the clinic's garden", "status": "common practice",
    } });
    let added = amend(&here.ilse, own).await.expect(201);
    confirm(&here.marek, &added.id()).await.expect(200);
    let merged = material(&here.ilse, "mint of the back yard").await;
    let into = material(&here.ilse, "dried spearmint leaf").await;
    let merge = json!({ "merge_materials": { "merged": merged, "into": into } });
    let merge = amend(&here.ilse, merge).await.expect(201);
    confirm(&here.marek, &merge.id()).await.expect(200);
    for _ in 0..2 {
        let evaluation = asked("spearmint").await.expect(200).json;
        assert_eq!(evaluation["composition"][0]["name"], "dried spearmint leaf");
        edition(&here, "materials.csv", mint, mint).await;
    }
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_changed_limit_of_the_reference_data_reaches_what_holds_its_substance() {
    let here = TeachingClinic::start().await;
    let cream = |title: &str, preservative: &str| {
        let mut content = of_lines(
            title,
            "cream",
            &json!([
                { "material": "emulsifying wax", "amount": "10 %", "function": "emulsifier" },
                { "material": preservative, "amount": "0.5 %", "function": "preservative" },
                { "material": "almond oil", "amount": "20 %" },
                { "material": "purified water", "amount": "q.s. 100 g" } ]),
        );
        content["regime"] = json!("cosmetic");
        content
    };
    let sorbate = here.approved(cream("Cream with sorbate", "potassium sorbate")).await;
    let benzoate = here.approved(cream("Cream with benzyl alcohol", "benzyl alcohol")).await;
    for revision in [&sorbate, &benzoate] {
        here.noor.acknowledge(revision).await.expect(201);
    }
    let sorbic = "substance:sorbic-acid,,any,any,any,everyone,";
    edition(&here, "limits.csv", &format!("{sorbic}0.6,"), &format!("{sorbic}0.2,")).await;
    let again = database::contents(&here.clinic.database).await;
    edition(&here, "limits.csv", &format!("{sorbic}0.6,"), &format!("{sorbic}0.2,")).await;
    assert_eq!(again, database::contents(&here.clinic.database).await, "loading twice changes nothing");

    let list = here.ilse.get("/v1/amendments").await.expect(200);
    assert_eq!(list.json["items"][0]["made_by"], serde_json::Value::Null);
    let reached: Vec<String> = newest_reached(&here).await.into_iter().collect();
    assert_eq!(reached, [sorbate.as_str()]);
    assert!(caution(&here.noor, &sorbate, "limit-exceeded").await.is_some());
    recipe(&here.noor, &sorbate).await.problem(403, "gate-closed");
    recipe(&here.noor, &benzoate).await.expect(200);

    // The limit taken out altogether: nothing is exceeded any more.
    let row = "eu-sorbic-acid,cosmetic,EU,law,substance:sorbic-acid,,any,any,any,everyone,0.6,% w/w,as-acid,,,\
               eu-1223-annex-v-2026,entry 4,secondary\n";
    edition(&here, "limits.csv", row, "").await;
    let reached: Vec<String> = newest_reached(&here).await.into_iter().collect();
    assert_eq!(reached, [sorbate.as_str()]);
    assert!(caution(&here.noor, &sorbate, "limit-exceeded").await.is_none());
    recipe(&here.noor, &benzoate).await.expect(200);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_instructor_sees_only_what_was_reached_in_libraries_shared_with_them() {
    let clinic = TestClinic::start().await;
    let ilse = clinic.person("ilse.brandt", "instructor").await;
    let marek = clinic.person("marek.dvorsky", "instructor").await;
    let olga = clinic.person("olga.petrenko", "instructor").await;
    let library = clinic.library(&ilse, "First-year creams", &[&marek]).await;
    clinic.approved(&ilse, &marek, &library, infused_oil()).await;
    let change = json!({ "add_caution": { "level": "caution", "text": "Smells strongly." } });
    let made = amend(&olga, change).await.expect(201);
    let path = format!("/v1/amendments/{}/affected", made.id());
    assert_eq!(olga.get(&path).await.expect(200).json["items"], json!([]));
    assert_eq!(marek.get(&path).await.expect(200).json["items"].as_array().unwrap().len(), 1);
    assert_eq!(clinic.administrator.get(&path).await.expect(200).json["items"].as_array().unwrap().len(), 1);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_formula_that_cannot_be_worked_out_any_more_is_warned_of_and_nobody_else_is_told_why() {
    let here = TeachingClinic::start().await;
    let olga = here.clinic.person("olga.petrenko", "instructor").await;
    let full = here
        .approved(of_lines(
            "Full to the brim",
            "liniment",
            &json!([
                { "material": "olive oil", "amount": "90 mL" },
                { "material": "sunflower oil", "amount": "q.s. 100 g" } ]),
        ))
        .await;
    here.noor.acknowledge(&full).await.expect(201);
    let before = recipe(&here.noor, &full).await.expect(200);
    let oil = material(&olga, "olive oil").await;
    let mut entry = olga.get(&format!("/v1/materials/{oil}/entry")).await.expect(200).json;
    entry["entry"]["density_g_per_ml"] = json!("1.2");
    let change = json!({ "revise_material": {
        "material": oil, "version": entry["version"], "entry": entry["entry"],
    } });
    // She is no member of the library: that its lines come to too much would tell her how much there is of each.
    let made = amend(&olga, change).await.expect(201);
    let confirmed = confirm(&here.marek, &made.id()).await.expect(200);
    // As a figure: an id may hold the same digits by chance.
    for told in ["q.s.", " 108", "\"108"] {
        assert!(!confirmed.text.contains(told), "{}", confirmed.text);
    }
    let warned = caution(&here.noor, &full, "composition-unknown").await.unwrap();
    assert!(warned["origins"][0].as_str().unwrap().contains("cannot be worked out"), "{warned}");
    recipe(&here.noor, &full).await.problem(403, "gate-closed");
    here.noor.get(&format!("/v1/revisions/{full}/label")).await.expect(200);
    here.noor.acknowledge(&full).await.expect(201);
    assert_eq!(recipe(&here.noor, &full).await.expect(200).json["phases"], before.json["phases"]);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_made_or_holds_what_has_been_superseded_is_told_too_and_a_batch_in_hand_can_be_finished() {
    let here = TeachingClinic::start().await;
    let made = here
        .ilse
        .post(&format!("/v1/libraries/{}/formulas", here.library), json!({ "content": infused_oil() }))
        .await
        .expect(201);
    let (formula, first) = (made.id(), made.text_at("/revisions/0/id"));
    let approve = async |revision: &str| {
        let draft = here.ilse.get(&format!("/v1/revisions/{revision}/draft")).await.expect(200);
        let proposal = format!("/v1/revisions/{revision}/proposal");
        here.ilse.post_bare(&proposal, &[("if-match", &draft.etag())]).await.expect(200);
        here.marek.acknowledge(revision).await.expect(201);
        let decision = json!({ "decision": "approve" });
        here.marek.post(&format!("/v1/revisions/{revision}/decision"), decision).await.expect(200);
    };
    approve(&first).await;
    here.noor.acknowledge(&first).await.expect(201);
    let batch = here.noor.post("/v1/batches", json!({ "revision": first })).await.expect(201).id();
    let next = here
        .ilse
        .post(&format!("/v1/formulas/{formula}/revisions"), json!({ "content": infused_oil() }))
        .await
        .expect(201);
    approve(&next.id()).await;

    let herb = material(&here.ilse, "dried calendula flower").await;
    let warning = json!({ "add_caution": {
        "on": { "material": herb }, "level": "caution", "text": "Sort the petals once more.",
    } });
    let amendment = amend(&here.ilse, warning).await.expect(201);
    let affected = here.ilse.get(&format!("/v1/amendments/{}/affected", amendment.id())).await.expect(200);
    let of_first = affected.json["items"]
        .as_array()
        .unwrap()
        .iter()
        .find(|it| it["revision"] == first.as_str())
        .unwrap();
    assert_eq!(of_first["reached"][0]["how"], "made", "{of_first}");

    let step = json!({ "kind": "step_done", "step": 1 });
    let entries = format!("/v1/batches/{batch}/entries");
    here.noor.post(&entries, step.clone()).await.problem(403, "gate-closed");
    let given = here.noor.acknowledge(&first).await.expect(201);
    assert_eq!((given.json["purpose"].as_str(), given.json["open"].as_bool()), (Some("record"), Some(false)));
    here.noor.post(&entries, step).await.expect(201);
    recipe(&here.noor, &first).await.problem(403, "gate-closed");
    here.stop().await;
}
