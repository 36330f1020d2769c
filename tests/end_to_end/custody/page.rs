//! The page of a jar, as whoever holds it reads it.

use serde_json::json;
use stillroom_tests::Answer;

use super::Custody;

/// What whoever holds a jar must never read: amounts, the method, a person, an id.
fn tells_nothing(of: &Custody, page: &Answer) {
    let ids = [&of.batch, &of.revision, &of.room.ilse.id, &of.room.noor.id];
    let people = ["noor.haddad", "ilse.brandt", "marek.dvorsky"];
    let recipe = ["100 g", "500 g", "590", "16.6", "83.3", "Melt the wax", "70 C", "A-1"];
    for secret in ids.into_iter().map(String::as_str).chain(people).chain(recipe) {
        assert!(!page.text.contains(secret), "{secret} stands in {}", page.text);
    }
    assert!(!page.text.contains("<script"), "{}", page.text);
    assert!(page.headers.get("set-cookie").is_none(), "{page:?}");
    assert_eq!(page.header("cache-control"), "no-store");
}

fn stands(page: &Answer) -> String {
    let after = page.text.split("<b class=\"name\">").nth(1).unwrap();
    after.split("</b>").next().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_page_of_a_jar_says_whether_it_may_be_used_and_a_recall_changes_it_at_once() {
    let of = Custody::of_salve().await;
    let (ilse, marek) = (&of.room.ilse, &of.room.marek);
    of.fill(&of.room.noor, 2, "30 g").await.expect(201);
    let [first, second] = of.codes().await.try_into().unwrap();
    let waiting = of.page(&first).await.expect(200);
    assert_eq!(stands(&waiting), "Not released yet. Do not use it.");
    tells_nothing(&of, &waiting);

    of.release(marek).await.expect(201);
    let page = of.page(&first).await.expect(200);
    assert!(stands(&page).starts_with("In date. Use by "), "{}", stands(&page));
    for said in [
        "Plain salve",
        "30 g",
        "jar 1.",
        "For external use only.",
        "Olea Europaea Fruit Oil",
        "Teaching clinic",
        "Something went wrong with it",
        "Keep out of the reach of children.",
    ] {
        assert!(page.text.contains(said), "{said}: {}", page.text);
    }
    tells_nothing(&of, &page);
    assert!(of.page(&second).await.expect(200).text.contains("jar 2."));
    // As people type it, and nothing else.
    let typed = first.to_uppercase();
    assert_eq!(stands(&of.page(&typed).await.expect(200)), stands(&page));
    let nobody = &of.room.clinic.nobody;
    let found = nobody.get(&format!("/jars?code={}-{}", &typed[..13], &typed[13..])).await.expect(303);
    assert_eq!(found.header("location").to_lowercase(), format!("/jars/{first}"));
    for unknown in ["4t6qk0x9w2m8n5c7r3h1vjzb0e", "1", "%20", "<b>", &of.batch] {
        let page = of.page(&unknown.replace('<', "%3C")).await.expect(404);
        assert!(page.text.contains("No jar has this code."), "{}", page.text);
        tells_nothing_of_others(&page);
    }

    // A caution that is added later is read at once, too.
    let caution = json!({ "level": "contraindication", "text": "Not for anybody with a wool allergy.",
        "audiences": ["everyone"], "on": { "material": wax(&of).await } });
    let amendment = json!({ "reason": "Seen here.", "change": { "add_caution": caution } });
    marek.post("/v1/amendments", amendment).await.expect(201);
    let page = of.page(&first).await.expect(200);
    assert!(page.text.contains("Not for anybody with a wool allergy."), "{}", page.text);

    let recall = json!({ "cause": "batch", "id": of.batch, "reason": "Somebody's skin reddened." });
    ilse.post("/v1/recalls", recall).await.expect(201);
    for code in [&first, &second] {
        let page = of.page(code).await.expect(200);
        assert_eq!(stands(&page), "Recalled on 2 March 2026. Do not use it. Bring it back.");
        assert!(!page.text.contains("Somebody"), "{}", page.text);
        tells_nothing(&of, &page);
    }
    // Its cautions are others than those that Ilse read.
    ilse.acknowledge(&of.revision).await.expect(201);
    ilse.post(&of.path("discard"), json!({ "reason": "All came back." })).await.expect(201);
    assert_eq!(stands(&of.page(&first).await.expect(200)), "Discarded. Do not use it.");
    of.room.stop().await;
}

fn tells_nothing_of_others(page: &Answer) {
    assert!(!page.text.contains("Plain salve"), "{}", page.text);
}

async fn wax(of: &Custody) -> String {
    let found = of.room.ilse.get("/v1/materials?search=yellow%20beeswax").await.expect(200);
    found.text_at("/items/0/id")
}

#[tokio::test(flavor = "multi_thread")]
async fn a_jar_for_practice_says_so_and_nobody_asks_faster_than_the_rate() {
    let mut formula = crate::stock::salve();
    formula["regime"] = json!("teaching_only");
    let then = [json!({ "kind": "step_done", "step": 1 }), json!({ "kind": "yield", "quantity": "590 g" })];
    let settings = [("STILLROOM_REQUESTS_PER_SECOND", "2")];
    let of = Custody::start(formula, &[("1.1", "100 g"), ("1.2", "500 g")], &then, &settings).await;
    of.fill(&of.room.noor, 1, "30 g").await.expect(201);
    let code = of.codes().await.remove(0);
    let page = of.page(&code).await.expect(200);
    assert_eq!(stands(&page), "Made for practice only. Do not use it.");
    // Twenty may come at once; who asks more waits, and whoever is signed in is not kept waiting by strangers.
    let mut last = page;
    for _ in 0..60 {
        last = of.page(&code).await;
        if last.status == 429 {
            break;
        }
    }
    assert!(last.expect(429).header("retry-after").parse::<u64>().unwrap() > 0);
    of.room.stop().await;
}
