//! What was computed of a revision when it froze is what its recipe is scaled from, and another version of the
//! calculations is listed for what it would change.

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use serde_json::{Value, json};
use stillroom_tests::{Caller, TeachingClinic, database};

use super::{amend, confirm, material, of_lines, recipe};
use crate::formulas::{cream, infused_oil};
use crate::house::texts;

/// The kept result of a revision.
async fn kept(owner: &mut AsyncPgConnection, revision: &str) -> Value {
    let sql = format!("SELECT result AS value FROM revision_result WHERE revision_id = '{revision}'");
    serde_json::from_str(&texts(owner, &sql).await[0]).unwrap()
}

/// Puts a result in the place of the one that was kept, as an earlier version of the calculations might have left it:
/// vouched for by the journal like every other.
async fn put(room: &TeachingClinic, owner: &mut AsyncPgConnection, revision: &str, result: &Value) {
    owner
        .batch_execute(&format!(
            "DELETE FROM revision_result WHERE revision_id = '{revision}';
             DELETE FROM row_digest WHERE table_name = 'revision_result' AND row_key = '{revision}'"
        ))
        .await
        .unwrap();
    let store = store::Store::open(
        &database::pool(&room.clinic.database),
        store::Clock::System,
        store::Rng::system(),
    )
    .unwrap();
    let id = wire::ids::RevisionId(revision.parse().unwrap());
    let computed = release::content::Computed { engine: 1, result: result.to_string() };
    let new = store
        .run_unauthenticated(async |tx| release::content::result_insert(tx, id, &computed).await)
        .await
        .unwrap();
    assert!(new);
}

/// The first line's mass in a kept result, as a figure to change.
fn first_mass(result: &mut Value) -> &mut Value {
    let figure = result["phases"][0]["lines"][0]["mass"].as_u64().unwrap();
    &mut result["figures"][usize::try_from(figure).unwrap()]["value"]
}

#[tokio::test(flavor = "multi_thread")]
async fn a_frozen_revision_comes_out_as_it_was_computed_then() {
    let room = TeachingClinic::start().await;
    let oil = room.approved(infused_oil()).await;
    room.ilse.acknowledge(&oil).await.expect(201);
    let revision = room.approved(cream()).await;
    let mut owner = database::owner(&room.clinic.database).await;
    let mut result = kept(&mut owner, &revision).await;
    let before = first_mass(&mut result).clone();
    *first_mass(&mut result) = json!({ "number": "81.5" });
    assert_ne!(before, *first_mass(&mut result), "{before}");
    put(&room, &mut owner, &revision, &result).await;

    // Read for the first time since: what was kept is what is weighed, whatever today's calculations make of "80 g".
    room.noor.acknowledge(&revision).await.expect(201);
    let path = format!("/v1/revisions/{revision}/recipe");
    let recipe = room.noor.get(&path).await.expect(200);
    assert_eq!(recipe.json["phases"][0]["lines"][0]["weigh"]["value"], "81.5", "{}", recipe.text);
    let made_for = room.noor.get(&format!("{path}?mass=2000%20g")).await.expect(200);
    assert_ne!(made_for.json["phases"][0]["lines"][0]["weigh"]["value"], "160", "{}", made_for.text);

    // The calculations are another version than when the reference data were loaded last.
    let clinic = &room.clinic.service.clinic;
    owner
        .batch_execute("UPDATE reference_rule SET digest = sha256('') WHERE key = 'calculations'")
        .await
        .unwrap();
    clinic::edition::load(clinic).await.unwrap();
    let list = room.ilse.get("/v1/amendments").await.expect(200);
    let listed: Vec<&Value> =
        list.json["items"].as_array().unwrap().iter().filter(|one| one["kind"] == "engine").collect();
    assert_eq!(listed.len(), 1, "{}", list.text);
    let id = listed[0]["id"].as_str().unwrap();
    let affected = room.ilse.get(&format!("/v1/amendments/{id}/affected")).await.expect(200);
    let items = affected.json["items"].as_array().unwrap();
    assert_eq!(items.len(), 1, "{}", affected.text);
    assert_eq!(items[0]["revision"], revision);

    // No acknowledgement ended, and the recipe is what it was. Loading once more lists nothing again.
    assert_eq!(room.noor.get(&path).await.expect(200).text, recipe.text);
    clinic::edition::load(clinic).await.unwrap();
    let again = room.ilse.get("/v1/amendments").await.expect(200);
    assert_eq!(again.json["items"].as_array().unwrap().len(), list.json["items"].as_array().unwrap().len());
    drop(owner);
    room.clinic.stop().await;
}

/// The revisions that an amendment affected, each with whether its evaluation changed.
async fn evaluations_changed(caller: &Caller, amendment: &str) -> Vec<(String, bool)> {
    let list = caller.get(&format!("/v1/amendments/{amendment}/affected")).await.expect(200);
    let items = list.json["items"].as_array().unwrap();
    items
        .iter()
        .map(|one| (one["revision"].as_str().unwrap().to_owned(), one["evaluation_changed"] == true))
        .collect()
}

/// Revises olive oil's density, confirmed by the second instructor. Answers the amendment.
async fn density(room: &TeachingClinic, oil: &str, g_per_ml: &str) -> String {
    let mut entry = room.ilse.get(&format!("/v1/materials/{oil}/entry")).await.expect(200).json;
    entry["entry"]["density_g_per_ml"] = json!(g_per_ml);
    let change = json!({ "revise_material": {
        "material": oil, "version": entry["version"], "entry": entry["entry"],
    } });
    let made = amend(&room.ilse, change).await.expect(201).id();
    confirm(&room.marek, &made).await.expect(200);
    made
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_change_after_an_upgrade_is_compared_with_what_was_acknowledged() {
    let room = TeachingClinic::start().await;
    let lines = json!([
        { "material": "olive oil", "amount": "100 mL" }, { "material": "yellow beeswax", "amount": "20 g" } ]);
    let salve = room.approved(of_lines("Plain salve", "salve", &lines)).await;
    let oil = material(&room.ilse, "olive oil").await;
    let before = room.ilse.get(&format!("/v1/materials/{oil}/entry")).await.expect(200).json;
    let published = before["entry"]["density_g_per_ml"].as_str().unwrap().to_owned();
    density(&room, &oil, "0.9").await;
    room.noor.acknowledge(&salve).await.expect(201);

    // As the last version left it: no digest of values beside the set, and nothing kept in its place.
    let mut owner = database::owner(&room.clinic.database).await;
    owner.batch_execute("UPDATE caution_set SET evaluation_form = 1").await.unwrap();
    let clinic = &room.clinic.service.clinic;
    clinic::edition::keep_older_results(clinic).await.unwrap();

    // A note changes no figure, so no acknowledgement ends.
    let note = json!({ "add_caution": {
        "on": { "material": oil }, "level": "note", "text": "From this year's pressing.",
    } });
    let made = amend(&room.ilse, note).await.expect(201).id();
    assert_eq!(evaluations_changed(&room.ilse, &made).await, [(salve.clone(), false)]);
    recipe(&room.noor, &salve).await.expect(200);

    // A density is a figure, also when it goes back to what the formula was written with.
    owner.batch_execute("UPDATE caution_set SET evaluation_form = 1").await.unwrap();
    clinic::edition::keep_older_results(clinic).await.unwrap();
    let made = density(&room, &oil, &published).await;
    assert_eq!(evaluations_changed(&room.ilse, &made).await, [(salve.clone(), true)]);
    recipe(&room.noor, &salve).await.problem(403, "gate-closed");
    drop(owner);
    room.clinic.stop().await;
}
