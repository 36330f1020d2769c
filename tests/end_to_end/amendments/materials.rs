//! Materials as instructors manage them: added and revised by two people, merged, and found by names that are misspelt.

use serde_json::{Value, json};
use stillroom_tests::clinic::TeachingClinic;
use stillroom_tests::{Caller, TestClinic};

use super::{amend, caution, confirm, material, of_lines, recipe};

fn field_mint() -> Value {
    json!({
        "name": "field mint oil", "kind": "essential oil", "botanical_name": "Mentha arvensis",
        "botanical_author": "L.", "family": "Lamiaceae", "part": "herb", "inci": "Mentha Arvensis Leaf Oil",
        "synonyms": ["cornmint oil"],
        "constituents": [{ "substance": "menthol", "low_percent": "70", "high_percent": "85" }],
        "source": "the supplier's data sheet", "status": "from memory",
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_material_waits_for_a_second_person_and_brings_what_its_family_and_constituents_bring() {
    let here = TeachingClinic::start().await;
    let made = amend(&here.ilse, json!({ "add_material": field_mint() })).await.expect(201);
    assert_eq!(made.json["state"], "awaiting_second_person");
    assert_eq!(found(&here.ilse, "cornmint").await.first().cloned(), None, "nobody uses it before");
    confirm(&here.marek, &made.id()).await.expect(200);
    let id = material(&here.noor, "field mint oil").await;
    let shown = here.noor.get(&format!("/v1/materials/{id}")).await.expect(200);
    assert_eq!(shown.json["kind"], "essential oil");
    let balm = here
        .approved(of_lines(
            "Field mint balm",
            "balm",
            &json!([
                { "material": "cornmint oil", "amount": "1 g" },
                { "material": "yellow beeswax", "amount": "20 g" },
                { "material": "olive oil", "amount": "79 g" } ]),
        ))
        .await;
    let answer = here.noor.get(&format!("/v1/revisions/{balm}/suitability?audience=age:2")).await.expect(200);
    assert_eq!(answer.json["suitability"], "not_suitable", "menthol and a two-year-old: {}", answer.text);
    let family = caution(&here.noor, &balm, "lamiaceae").await.unwrap();
    assert_eq!(family["origins"][0], "field mint oil > allergy group mint family (Lamiaceae)");
    let events = here.marek.get(&format!("/v1/events?subject={id}")).await.expect(200);
    assert_eq!(events.json["items"][0]["action"], "added");
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn its_author_takes_an_amendment_back_and_a_name_is_used_once() {
    let here = TeachingClinic::start().await;
    let first = amend(&here.ilse, json!({ "add_material": field_mint() })).await.expect(201);
    let second = amend(&here.marek, json!({ "add_material": field_mint() })).await.expect(201);
    let refuse = json!({ "decision": "refuse" });
    let path = format!("/v1/amendments/{}/decision", first.id());
    let back = here.ilse.post(&path, refuse).await.expect(200);
    assert_eq!(
        (back.json["state"].as_str(), back.json["note"].as_str()),
        (Some("refused"), Some("taken back by its author"))
    );
    confirm(&here.ilse, &second.id()).await.expect(200);
    amend(&here.ilse, json!({ "add_material": field_mint() })).await.fields(&["/change/add_material/name"]);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_two_people_confirm_is_what_safety_rests_on() {
    let here = TeachingClinic::start().await;
    let id = material(&here.ilse, "olive oil").await;
    for (field, value, waits) in [
        ("synonyms", json!(["oil of the old grove"]), false),
        ("inci", json!("Olea Europaea Fruit Oil"), false),
        ("allergy_groups", json!(["latex"]), true),
        ("pregnancy", json!("known-harm"), true),
        ("constituents", json!([{ "substance": "limonene", "low_percent": "0", "high_percent": "1" }]), true),
        ("cautions", json!([{ "level": "note", "text": "Stains." }]), true),
    ] {
        let mut entry = here.ilse.get(&format!("/v1/materials/{id}/entry")).await.expect(200).json;
        if entry["entry"][field] == value {
            continue;
        }
        entry["entry"][field] = value;
        let change = json!({ "revise_material": {
            "material": id, "version": entry["version"], "entry": entry["entry"],
        } });
        let made = amend(&here.ilse, change).await.expect(201);
        let expected = if waits { "awaiting_second_person" } else { "in_force" };
        assert_eq!(made.json["state"], expected, "{field}");
    }
    let entry = here.ilse.get(&format!("/v1/materials/{id}/entry")).await.expect(200).json;
    let same = json!({ "revise_material": {
        "material": id, "version": entry["version"], "entry": entry["entry"],
    } });
    amend(&here.ilse, same).await.fields(&["/change/revise_material/entry"]);
    // What an instructor changed, the next start with the reference data leaves as it is.
    let before = here.ilse.get(&format!("/v1/materials/{id}")).await.expect(200);
    clinic::edition::load(&here.clinic.service.clinic).await.unwrap();
    assert_eq!(here.ilse.get(&format!("/v1/materials/{id}")).await.expect(200).text, before.text);
    here.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_merged_material_stays_as_an_alias_and_its_formulas_are_told_what_the_other_knows() {
    let here = TeachingClinic::start().await;
    let made = amend(
        &here.ilse,
        json!({ "add_material": {
            "name": "wax of the hill hives", "kind": "wax", "source": "the beekeeper", "status": "common practice",
        } }),
    )
    .await
    .expect(201);
    confirm(&here.marek, &made.id()).await.expect(200);
    let balm = here
        .approved(of_lines(
            "Hill balm",
            "balm",
            &json!([
                { "material": "wax of the hill hives", "amount": "20 g" },
                { "material": "olive oil", "amount": "80 g" } ]),
        ))
        .await;
    here.noor.acknowledge(&balm).await.expect(201);
    assert!(caution(&here.noor, &balm, "bee-products").await.is_none());
    let (merged, into) =
        (material(&here.ilse, "wax of the hill hives").await, material(&here.ilse, "yellow beeswax").await);
    let itself = json!({ "merge_materials": { "merged": into, "into": into } });
    amend(&here.ilse, itself).await.fields(&["/change/merge_materials/into"]);
    let change = json!({ "merge_materials": { "merged": merged, "into": into } });
    let merge = amend(&here.ilse, change).await.expect(201);
    confirm(&here.marek, &merge.id()).await.expect(200);

    let told = caution(&here.noor, &balm, "bee-products").await.unwrap();
    assert!(told["origins"][0].as_str().unwrap().starts_with("wax of the hill hives"), "{told}");
    recipe(&here.noor, &balm).await.problem(403, "gate-closed");
    let alias = here.noor.get(&format!("/v1/materials/{merged}")).await.expect(200);
    assert_eq!(alias.json["merged_into"], into.as_str());
    assert_eq!(
        found(&here.noor, "wax of the hill hives").await.first().map(String::as_str),
        Some("yellow beeswax")
    );
    // What the clinic says of the one, it says of the other by whichever name a formula has it.
    let stop = json!({ "add_caution": {
        "on": { "material": into }, "level": "stop", "text": "No wax of this spring: the hives were treated.",
    } });
    amend(&here.ilse, stop).await.expect(201);
    assert!(caution(&here.noor, &balm, "the hives were treated").await.is_some());
    assert!(
        here.noor.get(&format!("/v1/revisions/{balm}")).await.expect(200).json["withheld_since"].is_string()
    );
    let back =
        json!({ "merge_materials": { "merged": into, "into": material(&here.ilse, "olive oil").await } });
    amend(&here.ilse, back).await.fields(&["/change/merge_materials/merged"]);
    // The old name still means something to whoever writes it.
    let content = of_lines(
        "Old name",
        "balm",
        &json!([
        { "material": "wax of the hill hives", "amount": "20 g" }, { "material": "olive oil", "amount": "80 g" } ]),
    );
    let formula = here
        .ilse
        .post(&format!("/v1/libraries/{}/formulas", here.library), json!({ "content": content }))
        .await
        .expect(201);
    let draft = formula.text_at("/revisions/0/id");
    let evaluated = here.ilse.get(&format!("/v1/revisions/{draft}/draft/evaluation")).await.expect(200);
    assert!(evaluated.text.contains("yellow beeswax"), "{}", evaluated.text);
    amend(&here.ilse, json!({ "merge_materials": { "merged": merged, "into": into } }))
        .await
        .problem(409, "conflict");
    here.stop().await;
}

async fn found(caller: &Caller, typed: &str) -> Vec<String> {
    let path = format!("/v1/materials?search={}&limit=10", typed.replace(' ', "%20"));
    let list = caller.get(&path).await.expect(200);
    list.json["items"].as_array().unwrap().iter().map(|it| it["name"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn materials_are_found_by_botanical_common_and_inci_names_misspelt_too() {
    let clinic = TestClinic::start().await;
    let noor = clinic.person("noor.haddad", "student").await;
    for (typed, wanted) in [
        ("calendula", "dried calendula flower"),
        ("calandula", "dried calendula flower"),
        ("Calendula oficinalis", "dried calendula flower"),
        ("camomile", "dried chamomile flower"),
        ("lavendar oil", "lavender oil"),
        ("peperment oil", "peppermint oil"),
        ("Cera Alba", "yellow beeswax"),
        ("bees wax", "yellow beeswax"),
        ("St Johns wort", "dried St John's wort herb"),
        ("potasium sorbate", "potassium sorbate"),
        ("Olea Europaea", "olive oil"),
    ] {
        let names = found(&noor, typed).await;
        assert!(names.iter().any(|name| name == wanted), "{typed:?} found {names:?}, not {wanted:?}");
    }
    assert_eq!(found(&noor, "zzzyx").await, Vec::<String>::new());
    noor.get("/v1/materials?search=x").await.fields(&["?search"]);
    noor.get("/v1/materials?search=calendula&after=abc").await.problem(422, "invalid-request");
    clinic.stop().await;
}
