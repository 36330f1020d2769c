//! Names that look the same are the same.

use serde_json::{Value, json};
use stillroom_tests::{Answer, TeachingClinic};

use crate::bad_input::with;
use crate::formulas::infused_oil;

/// Invisible, of no width, and turning what follows.
const HIDDEN: [&str; 7] = ["\u{200B}", "\u{202E}", "\u{2066}", "\u{FEFF}", "\u{AD}", "\u{7}", "\u{200D}"];

/// Fails unless exactly this field was refused, with the character named.
#[track_caller]
fn refused(answer: Answer, pointer: &str, hidden: &str) {
    let answer = answer.fields(&[pointer]);
    let named = format!("U+{:04X}", u32::from(hidden.chars().next().unwrap()));
    assert!(answer.text_at("/errors/0/detail").contains(&named), "{}", answer.text);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_name_or_title_with_a_character_that_nobody_sees_is_refused() {
    let room = TeachingClinic::start().await;
    let petra = &room.clinic.administrator;
    let noor = format!("/v1/people/{}", room.noor.id);
    let tag = petra.get(&noor).await.expect(200).etag();
    let library = format!("/v1/libraries/{}", room.library);
    let library_tag = room.ilse.get(&library).await.expect(200).etag();
    let formulas = format!("/v1/libraries/{}/formulas", room.library);
    for hidden in HIDDEN {
        let name = format!("No{hidden}or");
        let invite =
            |name: &str, shown: &str| json!({ "sign_in_name": name, "name": shown, "role": "student" });
        refused(petra.post("/v1/invitations", invite(&name, "Noor")).await, "/sign_in_name", hidden);
        refused(petra.post("/v1/invitations", invite("noor.two", &name)).await, "/name", hidden);
        refused(petra.patch(&noor, &tag, json!({ "name": name })).await, "/name", hidden);
        let client = json!({ "name": name, "responsible": room.ilse.id, "scopes": ["formulas:read"],
            "valid_until": "2026-12-31T00:00:00Z" });
        refused(petra.post("/v1/api-clients", client).await, "/name", hidden);
        refused(room.ilse.post("/v1/libraries", json!({ "name": name })).await, "/name", hidden);
        let change = json!({ "name": name, "description": "" });
        refused(room.ilse.put(&library, &library_tag, change).await, "/name", hidden);
        for pointer in ["/title", "/phases/0/name"] {
            let mut content = with(infused_oil(), pointer, Value::from(name.as_str()));
            if pointer == "/phases/0/name" {
                // The step names its phase by the same name.
                content = with(content, "/method/0/phase", Value::from(name.as_str()));
            }
            let answer = room.ilse.post(&formulas, json!({ "content": content })).await;
            refused(answer, &format!("/content{pointer}"), hidden);
        }
        let added = json!({ "reason": "New.", "change": { "add_material": {
            "name": name, "kind": "essential oil", "botanical_name": "Mentha arvensis", "botanical_author": "L.",
            "family": "Lamiaceae", "part": "herb", "inci": "Mentha Arvensis Leaf Oil",
            "source": "the supplier's data sheet", "status": "from memory" } } });
        refused(room.ilse.post("/v1/amendments", added).await, "/change/add_material/name", hidden);
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn names_of_many_scripts_are_taken() {
    let room = TeachingClinic::start().await;
    for name in ["Žofie Kůň", "می\u{200C}خوشه", "ශ්\u{200D}රී", "葛\u{E0100}城", "قرنفل", "ромашка"]
    {
        let made = room.ilse.post("/v1/libraries", json!({ "name": name })).await.expect(201);
        assert_eq!(made.json["name"], name);
    }
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_is_told_of_no_other_reader_by_events() {
    let room = TeachingClinic::start().await;
    let tomas = room.clinic.person("tomas.reyl", "student").await;
    room.ilse.put_bare(&format!("/v1/libraries/{}/members/{}", room.library, tomas.id)).await.expect(204);
    let printer = room.clinic.api_client(&room.ilse, &["formulas:read"], &[&room.library]).await;
    let revision = room.approved(infused_oil()).await;
    for reader in [&tomas, &room.noor] {
        reader.acknowledge(&revision).await.expect(201);
        reader.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    }
    for subject in [&revision, &room.library] {
        let path = format!("/v1/events?limit=100&subject={subject}");
        let all = room.ilse.get(&path).await.expect(200);
        assert!(all.text.contains(&tomas.id), "an instructor is told: {}", all.text);
        for (reader, others) in
            [(&room.noor, [&tomas.id, &printer.id]), (&printer, [&tomas.id, &room.noor.id])]
        {
            let seen = reader.get(&path).await.expect(200);
            for other in others {
                assert!(!seen.text.contains(other.as_str()), "{other} in {}", seen.text);
            }
            // Nothing is missing but who it was, and one's own doings are there.
            let count = |answer: &Answer| answer.json["items"].as_array().unwrap().len();
            assert_eq!(count(&seen), count(&all));
        }
        assert!(room.noor.get(&path).await.expect(200).text.contains(&room.noor.id));
    }
    // Who wrote and who approved is part of the record.
    let seen = room.noor.get(&format!("/v1/events?limit=100&subject={revision}")).await.expect(200);
    let approved = seen.json["items"].as_array().unwrap().iter().find(|event| event["action"] == "approved");
    assert_eq!(approved.unwrap()["actor"], room.marek.id);
    room.stop().await;
}
