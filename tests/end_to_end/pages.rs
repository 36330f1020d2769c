//! The pages, as the router lists them: what each answers to everybody, and that none of them shows amounts or method to
//! somebody who has not read the cautions. How they look and work is tested in a browser (`tests/browser`).

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicU32, Ordering};

use reqwest::Method;
use serde_json::json;
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Answer, Caller, TeachingClinic};

/// Who asks, in the order of the table's columns.
const COLUMNS: [&str; 4] = ["nobody", "student", "instructor", "administrator"];

/// What each page answers: of nobody; of a student and an instructor who are members and have read what is approved; of an
/// administrator. Acts are sent with a key and nothing else, so 400 and 422 say that they were open to the caller.
const TABLE: &str = include_str!("pages/table.txt");

/// Somebody with a browser.
pub(crate) struct Browser {
    nobody: Caller,
    origin: String,
    cookie: String,
}

impl Browser {
    fn of_nobody(clinic: &TeachingClinic) -> Self {
        let nobody = clinic.clinic.nobody.clone();
        Self { origin: nobody.base.clone(), nobody, cookie: String::new() }
    }

    pub(crate) async fn of(clinic: &TeachingClinic, name: &str) -> Self {
        let browser = Self::of_nobody(clinic);
        let form = format!("sign_in_name={name}&password={}", PASSWORD.replace(' ', "+"));
        let entered = browser.send(Method::POST, "/sign-in", &form).await.expect(303);
        let cookie = entered.headers.get_all("set-cookie").iter().map(|value| value.to_str().unwrap());
        let session = cookie.filter(|value| value.starts_with("__Host-session=")).collect::<Vec<_>>();
        assert_eq!(session.len(), 1, "{entered:?}");
        assert!(session[0].contains("; Secure; HttpOnly; SameSite=Lax"), "{session:?}");
        Self { cookie: session[0].split(';').next().unwrap().to_owned(), ..browser }
    }

    pub(crate) async fn send(&self, method: Method, path: &str, form: &str) -> Answer {
        let form = form.as_bytes().to_vec();
        self.send_bytes(method, path, "application/x-www-form-urlencoded", form).await
    }

    pub(crate) async fn send_bytes(&self, method: Method, path: &str, media: &str, bytes: Vec<u8>) -> Answer {
        let mut headers = vec![("accept", "text/html"), ("origin", self.origin.as_str())];
        if !self.cookie.is_empty() {
            headers.push(("cookie", &self.cookie));
        }
        let body = (method == Method::POST).then(|| {
            headers.push(("content-type", media));
            bytes
        });
        self.nobody.send(method, path, &headers, body).await
    }

    pub(crate) async fn get(&self, path: &str) -> Answer {
        self.send(Method::GET, path, "").await
    }
}

/// A clinic with something of every kind, and the ids by the beginning of an address.
struct Stage {
    clinic: TeachingClinic,
    ids: BTreeMap<&'static str, String>,
    acts: AtomicU32,
}

fn planted() -> serde_json::Value {
    json!({
        "title": "Planted salve", "preparation": "salve", "route": "on intact skin, leave-on", "regime": "teaching_only",
        "phases": [{ "name": "all of it", "lines": [
            { "material": "yellow beeswax", "amount": "137.31 g" },
            { "material": "olive oil", "amount": "1411.7 g" } ] }],
        "method": [{ "do": "Stir zanthoberel until it is even", "temperature": "63.7 C at most" }],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

/// What is planted: amounts, a word of the method, its temperature, and what follows from them.
const CANARIES: [&str; 6] = ["137.3", "1411", "1549", "zanthoberel", "63.7", "8.864"];

/// Which canaries stand in a text. A whole number counts where it stands alone: within the key of a form, which is drawn,
/// its digits stand by chance.
fn found(text: &str) -> BTreeSet<&'static str> {
    let alone = |at: usize, canary: &str| {
        let (before, after) = (text[..at].chars().next_back(), text[at + canary.len()..].chars().next());
        let joins = |next: Option<char>| next.is_some_and(|next| next.is_ascii_alphanumeric());
        canary.contains('.') || !(joins(before) || joins(after))
    };
    let stands = |canary: &&str| text.match_indices(*canary).any(|(at, _)| alone(at, canary));
    CANARIES.into_iter().filter(stands).collect()
}

/// A class of Noor's in which Marek marks, with work on the revision and a question. Answers the ids of class and work.
async fn set_work(clinic: &TeachingClinic, revision: &str) -> (String, String) {
    let cohort = json!({ "name": "First year", "starts_on": "2026-03-02", "ends_on": "2026-07-03", "time_zone": "Europe/Berlin" });
    let cohort = clinic.ilse.post("/v1/cohorts", cohort).await.expect(201).id();
    for (person, role) in [(&clinic.noor.id, "student"), (&clinic.marek.id, "marker")] {
        let member = json!({ "person": person, "role": role });
        clinic.ilse.post(&format!("/v1/cohorts/{cohort}/members"), member).await.expect(201);
    }
    let work = json!({
        "title": "Make a salve", "formulas": [revision], "quantity": "100 g", "opens": "2026-03-02T08:00",
        "due": "2026-03-20T18:00", "attempts": 2, "returns_allowed": 1,
        "rubric": { "total_points": 4, "criteria": [{ "title": "Weighing", "levels": [
            { "title": "Off.", "points": 0 }, { "title": "Within tolerance.", "points": 4 }] }] },
        "questions": [{ "kind": "spirit_dilution" }],
    });
    let work = clinic.ilse.post(&format!("/v1/cohorts/{cohort}/assignments"), work).await.expect(201).id();
    let published = format!("/v1/assignments/{work}/publication");
    crate::teaching::act(&clinic.ilse, &published).await.expect(201);
    (cohort, work)
}

/// The code and the id of a jar of an accepted batch of Noor's.
async fn filled(clinic: &TeachingClinic, revision: &str) -> (String, String) {
    let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
    let batch = format!("/v1/batches/{batch}");
    for entry in [
        json!({ "kind": "weighing", "line": "1.1", "quantity": "137.31 g" }),
        json!({ "kind": "weighing", "line": "1.2", "quantity": "1411.7 g" }),
        json!({ "kind": "step_done", "step": 1 }),
        json!({ "kind": "yield", "quantity": "1549.01 g" }),
    ] {
        clinic.noor.post(&format!("{batch}/entries"), entry).await.expect(201);
    }
    clinic.noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    let accept = json!({ "verdict": "accept", "summary": "Clear." });
    clinic.marek.post(&format!("{batch}/reviews"), accept).await.expect(201);
    let filled = clinic.noor.post(&format!("{batch}/jars"), json!({ "jars": 2, "fill": "30 g" })).await;
    let filled = filled.expect(201);
    (filled.text_at("/jars/0/code"), filled.text_at("/jars/0/id"))
}

impl Stage {
    async fn set() -> Self {
        let clinic = TeachingClinic::start().await;
        let revision = clinic.approved(planted()).await;
        clinic.noor.acknowledge(&revision).await.expect(201);
        let formula =
            clinic.noor.get(&format!("/v1/revisions/{revision}")).await.expect(200).text_at("/formula");
        let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
        let material =
            clinic.ilse.get("/v1/materials?search=olive%20oil").await.expect(200).text_at("/items/0/id");
        let caution = json!({ "level": "caution", "text": "Ask first.", "audiences": ["everyone"], "on": { "material": material } });
        let amendment = json!({ "reason": "Seen here.", "change": { "add_caution": caution } });
        let amendment = clinic.marek.post("/v1/amendments", amendment).await.expect(201).id();
        for who in [&clinic.noor, &clinic.marek, &clinic.ilse] {
            who.acknowledge(&revision).await.expect(201);
        }
        let (class, assignment) = set_work(&clinic, &revision).await;
        let lot =
            clinic.ilse.post("/v1/lots", crate::stock::lot("yellow beeswax", "5 kg")).await.expect(201).id();
        crate::stock::confirm(&clinic.ilse, &lot).await;
        let drawn = json!({ "kind": "weighing", "line": "1.1", "quantity": "137.31 g", "lot_id": lot, "reason_later": true });
        clinic.noor.post(&format!("/v1/batches/{batch}/entries"), drawn).await.expect(201);
        let (code, jar) = filled(&clinic, &revision).await;
        let told = json!({ "what": "It itched.", "outcome": "recovered" });
        clinic.ilse.post(&format!("/v1/jars/{jar}/reactions"), told).await.expect(201);
        let case = clinic.ilse.get("/v1/reactions").await.expect(200).text_at("/items/0/id");
        let ids = BTreeMap::from([
            ("jars", code),
            ("reactions", case),
            ("handing", jar),
            ("assignments", assignment),
            ("classes", class),
            ("lots", lot),
            ("formulas", formula),
            ("revisions", revision),
            ("batches", batch),
            ("materials", material),
            ("amendments", amendment),
            ("libraries", clinic.library.clone()),
            ("people", clinic.noor.id.clone()),
        ]);
        Self { clinic, ids, acts: AtomicU32::new(0) }
    }

    /// The address of a page, with an id of its kind.
    fn address(&self, pattern: &str) -> String {
        let kind = match pattern.split('/').nth(1).unwrap_or_default() {
            "shelf" if pattern.contains("/thresholds/") => "materials",
            "shelf" => "lots",
            kind => kind,
        };
        let nothing = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80".to_owned();
        let id = self.ids.get(kind).unwrap_or(&nothing);
        let address = pattern
            .replace("{id}", id)
            .replace("{code}", id)
            .replace("{formula}", id)
            .replace("{number}", "1")
            .replace("{photograph}", &nothing)
            .replace("{person}", &self.clinic.noor.id)
            .replace("{slug}", if kind == "problems" { "stale" } else { "alcohol" });
        let address = address.replace("{operation}", "batch_view");
        let address = address.replace("{edition}", "0").replace("{name}", "stillroom.css");
        if pattern.ends_with("/compare") { format!("{address}?with={id}") } else { address }
    }

    async fn ask(&self, browser: &Browser, page: &pages::Listed) -> Answer {
        // A key of its own for each act: a used one would be refused before who asks.
        let form = format!("once=key-{}", self.acts.fetch_add(1, Ordering::Relaxed));
        browser.send(page.method.as_str().parse().unwrap(), &self.address(page.pattern), &form).await
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_answers_everybody_as_the_table_says() {
    let stage = Stage::set().await;
    let rows: BTreeMap<String, Vec<u16>> = TABLE
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .map(|line| {
            let mut words = line.split_whitespace();
            let name = format!("{} {}", words.next().unwrap(), words.next().unwrap());
            (name, words.map(|word| word.parse().unwrap()).collect())
        })
        .collect();
    let names = ["", "noor.haddad", "marek.dvorsky", "petra.hollweg"];
    let mut wrong = Vec::new();
    let mut listed = BTreeSet::new();
    for page in pages::listed() {
        let name = format!("{} {}", page.method, page.pattern);
        let mut answered = Vec::new();
        for who in names {
            let browser = match who {
                "" => Browser::of_nobody(&stage.clinic),
                // Anew for each page: signing out and changing the password are among them.
                who => Browser::of(&stage.clinic, who).await,
            };
            let answer = stage.ask(&browser, &page).await;
            answered.push(answer.status.as_u16());
            let policy = answer.header("content-security-policy");
            assert!(policy.contains("default-src 'none'") && !policy.contains("unsafe"), "{name}: {policy}");
            if !page.pattern.starts_with("/assets") && page.pattern != "/offline-worker.js" {
                assert!(answer.header("cache-control").contains("no-store"), "{name}");
            }
        }
        if rows.get(&name) != Some(&answered) {
            let cells: Vec<String> = answered.iter().map(u16::to_string).collect();
            wrong.push(format!("{name} {}", cells.join(" ")));
        }
        listed.insert(name);
    }
    assert!(wrong.is_empty(), "{COLUMNS:?}: these rows differ or are missing:\n{}", wrong.join("\n"));
    let gone: Vec<&String> = rows.keys().filter(|name| !listed.contains(*name)).collect();
    assert!(gone.is_empty(), "no page: {gone:?}");
    stage.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_shows_amounts_or_method_to_somebody_who_has_not_read_the_cautions() {
    let stage = Stage::set().await;
    let tomas = stage.clinic.clinic.person("tomas.lind", "student").await;
    let hana = stage.clinic.clinic.person("hana.voss", "instructor").await;
    for member in [&tomas, &hana] {
        let path = format!("/v1/libraries/{}/members/{}", stage.clinic.library, member.id);
        stage.clinic.ilse.put_bare(&path).await.expect(204);
    }
    stage.clinic.clinic.person("noa.strand", "student").await;

    // The walk finds what it seeks where it belongs.
    let noor = Browser::of(&stage.clinic, "noor.haddad").await;
    let recipe = noor.get(&stage.address("/revisions/{id}/recipe")).await.expect(200);
    assert!(found(&recipe.text).len() >= 4, "{}", recipe.text);
    let bench = noor.get(&stage.address("/batches/{id}/bench")).await.expect(200);
    assert!(!found(&bench.text).is_empty());

    let mut leaks = Vec::new();
    for who in ["", "tomas.lind", "hana.voss", "noa.strand", "petra.hollweg"] {
        for page in pages::listed() {
            let browser = match who {
                "" => Browser::of_nobody(&stage.clinic),
                who => Browser::of(&stage.clinic, who).await,
            };
            let answer = stage.ask(&browser, &page).await;
            let hits = found(&answer.text);
            if !hits.is_empty() && !page.pattern.starts_with("/assets") {
                leaks.push(format!("{who:?}: {} {}: {hits:?}", page.method, page.pattern));
            }
        }
    }
    assert!(leaks.is_empty(), "{}", leaks.join("\n"));
    stage.clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn other_records_of_the_queue_follow_each_other() {
    let clinic = TeachingClinic::start().await;
    let revision = clinic.approved(planted()).await;
    clinic.noor.acknowledge(&revision).await.expect(201);
    let mut batches = Vec::new();
    for _ in 0..22 {
        let batch = clinic.noor.post("/v1/batches", json!({ "revision": revision })).await.expect(201).id();
        let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "137.31 g" });
        clinic.noor.post(&format!("/v1/batches/{batch}/entries"), weighed).await.expect(201);
        clinic.noor.post(&format!("/v1/batches/{batch}/submissions"), json!({})).await.expect(201);
        batches.push(batch);
    }
    let marek = Browser::of(&clinic, "marek.dvorsky").await;
    let on = |page: &Answer| {
        let named = |batch: &&String| page.text.contains(&format!("/batches/{batch}/review\""));
        batches.iter().filter(named).cloned().collect::<Vec<_>>()
    };
    let first = marek.get("/queue").await.expect(200);
    assert_eq!(on(&first), batches[..20]);
    let next = first.text.split("href=\"").find(|part| part.starts_with("/queue?rest=")).unwrap();
    let next = next.split(['"', '#']).next().unwrap();
    let second = marek.get(next).await.expect(200);
    assert_eq!(on(&second), batches[20..]);
    assert!(!second.text.contains("rest="), "nothing follows");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_comes_from_another_site_changes_nothing() {
    let clinic = TeachingClinic::start().await;
    let noor = Browser::of(&clinic, "noor.haddad").await;
    let foreign = [
        vec![("origin", "https://elsewhere.example")],
        vec![("sec-fetch-site", "cross-site"), ("origin", noor.origin.as_str())],
        vec![],
    ];
    for mut headers in foreign {
        headers.extend([("cookie", noor.cookie.as_str()), ("accept", "text/html")]);
        headers.push(("content-type", "application/x-www-form-urlencoded"));
        let answer = noor.nobody.send(Method::POST, "/sign-out", &headers, Some(Vec::new())).await;
        assert_eq!(answer.status, 403, "{}", answer.text);
    }
    noor.get("/account").await.expect(200);
    // The session's secret opens no API, and an access token opens no page.
    let secret = noor.cookie.split('=').nth(1).unwrap();
    clinic.clinic.nobody.with(secret, "").get("/v1/me").await.problem(401, "not-known");
    let token = format!("__Host-session={}", clinic.noor.token.clone().unwrap());
    noor.nobody
        .send(Method::GET, "/account", &[("cookie", &token), ("accept", "text/html")], None)
        .await
        .expect(401);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_ends_with_its_session_wherever_that_was_ended() {
    let clinic = TeachingClinic::start().await;
    let (one, other) = (Browser::of(&clinic, "noor.haddad").await, Browser::of(&clinic, "noor.haddad").await);
    one.get("/today").await.expect(200);
    other.get("/today").await.expect(200);
    one.send(Method::POST, "/sign-out", "").await.expect(303);
    one.get("/today").await.expect(401);
    other.get("/today").await.expect(200);
    let change = json!({ "state": "disabled" });
    let path = format!("/v1/people/{}", clinic.noor.id);
    let etag = clinic.clinic.administrator.get(&path).await.expect(200).etag();
    let headers = [("if-match", etag.as_str()), ("content-type", "application/json")];
    let body = Some(change.to_string().into_bytes());
    clinic.clinic.administrator.send(Method::PATCH, &path, &headers, body).await.expect(200);
    other.get("/today").await.expect(401);
    clinic.stop().await;
}
