//! The demo clinic: what a newcomer finds in it is whole, sound by the trade, and loaded once.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use server::{Running, Settings, demo};
use stillroom_tests::clinic::serve;
use stillroom_tests::figures::number;
use stillroom_tests::{Caller, database};

use crate::formulas::infused_oil;
use crate::numbers::figure;

/// The demo clinic with its people signed in.
pub(crate) struct Demo {
    service: Running,
    database: String,
    people: BTreeMap<&'static str, Caller>,
    passwords: BTreeMap<&'static str, String>,
}

impl Demo {
    pub(crate) async fn load() -> Self {
        let database = database::copy().await;
        let service = serve(&database, &[]).await;
        let accounts = demo::load(&service.clinic).await.expect("the demo loads");
        let nobody = Caller::nobody(&format!("http://{}", service.address));
        let (mut people, mut passwords) = (BTreeMap::new(), BTreeMap::new());
        for account in accounts {
            let body = json!({ "sign_in_name": account.sign_in_name, "password": account.password });
            let tokens = nobody.post("/v1/sessions", body).await.expect(201);
            let caller = nobody.with(&tokens.text_at("/access_token"), &tokens.text_at("/person/id"));
            people.insert(account.sign_in_name, caller);
            passwords.insert(account.sign_in_name, account.password);
        }
        Self { service, database, people, passwords }
    }

    pub(crate) fn person(&self, name: &str) -> &Caller {
        &self.people[name]
    }

    pub(crate) fn password(&self, name: &str) -> &str {
        &self.passwords[name]
    }

    pub(crate) fn address(&self) -> std::net::SocketAddr {
        self.service.address
    }

    /// The time in the demo.
    pub(crate) fn now(&self) -> chrono::DateTime<chrono::Utc> {
        self.service.clinic.clock().now()
    }

    pub(crate) fn nobody(&self) -> Caller {
        Caller::nobody(&format!("http://{}", self.service.address))
    }

    pub(crate) async fn stop(self) {
        let verdict = clinic::journal::verify(&self.service.clinic).await.expect("the journal can be read");
        assert!(verdict.breaks.is_empty(), "{verdict:?}");
        self.service.stop().await.expect("a graceful end");
        database::remove(&self.database).await;
    }
}

/// Every formula that somebody sees, with its revisions.
pub(crate) async fn formulas(caller: &Caller) -> Vec<Value> {
    let mut all = Vec::new();
    let mut next = Some("/v1/formulas?limit=10".to_owned());
    while let Some(path) = next {
        let page = caller.get(&path).await.expect(200);
        for item in page.json["items"].as_array().unwrap() {
            let path = format!("/v1/formulas/{}", item["id"].as_str().unwrap());
            all.push(caller.get(&path).await.expect(200).json);
        }
        next = page.json["next"].as_str().map(|after| format!("/v1/formulas?limit=10&after={after}"));
    }
    all
}

/// How many levels of formulas a revision has, itself the first.
async fn levels(caller: &Caller, revision: &str) -> usize {
    let open = caller.get(&format!("/v1/revisions/{revision}")).await.expect(200);
    let mut deepest = 0;
    for ingredient in open.json["ingredients"].as_array().unwrap() {
        if let Some(nested) = ingredient["nested_revision"].as_str() {
            deepest = deepest.max(Box::pin(levels(caller, nested)).await);
        }
    }
    deepest + 1
}

/// Every kind of preparation of the reference data, as the refusal of one that is none names them.
async fn kinds(caller: &Caller) -> BTreeSet<String> {
    let mut content = infused_oil();
    content["preparation"] = json!("pie");
    let refused =
        caller.post("/v1/evaluations?explain=true", json!({ "content": content })).await.expect(422);
    let detail = refused.text_at("/errors/0/detail");
    let (_, kinds) = detail.split_once("Accepted values: ").unwrap();
    kinds.trim_end_matches('.').split("; ").map(str::to_owned).collect()
}

fn states(formula: &Value) -> Vec<&str> {
    let revisions = formula["revisions"].as_array().unwrap();
    revisions.iter().map(|revision| revision["state"].as_str().unwrap()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_clinic_has_every_kind_of_preparation_and_every_fate_of_a_formula() {
    let demo = Demo::load().await;
    let marek = demo.person("marek.dvorsky");
    let all = formulas(marek).await;
    assert_eq!(all.len(), 40, "as the README says");
    let libraries: BTreeSet<&str> = all.iter().map(|formula| formula["library"].as_str().unwrap()).collect();
    assert_eq!(libraries.len(), 2);
    let kinds = kinds(marek).await;
    assert!(kinds.len() > 10, "{kinds:?}");
    let made: BTreeSet<String> = all
        .iter()
        .filter(|formula| formula["approved_revision"].is_string())
        .map(|formula| formula["preparation"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(kinds.difference(&made).collect::<Vec<_>>(), Vec::<&String>::new(), "no approved formula");

    let by_title = |title: &str| all.iter().find(|formula| formula["title"] == title).unwrap();
    assert_eq!(states(by_title("Lavender balm")), ["proposed"]);
    assert_eq!(states(by_title("Lemon hand balm")), ["withdrawn"]);
    assert_eq!(states(by_title("Lavender lotion")), ["approved", "superseded"]);
    assert_eq!(states(by_title("Garlic oil")), ["proposed"]);

    let mut depths = BTreeMap::new();
    for formula in all.iter().filter(|formula| formula["approved_revision"].is_string()) {
        let depth = levels(marek, formula["approved_revision"].as_str().unwrap()).await;
        depths.insert(formula["title"].as_str().unwrap(), depth);
    }
    assert!(depths.values().filter(|depth| **depth > 1).count() >= 3, "{depths:?}");
    assert_eq!(depths["Gardener's hand cream"], 3, "a cream of a salve of an oil");

    // The waiting one is Marek's to approve; the stop holds the other up whatever he does.
    for (title, status) in [("Lavender balm", 200), ("Garlic oil", 409)] {
        let revision = by_title(title)["revisions"][0]["id"].as_str().unwrap();
        marek.acknowledge(revision).await.expect(201);
        let decision = format!("/v1/revisions/{revision}/decision");
        let answer = marek.post(&decision, json!({ "decision": "approve" })).await.expect(status);
        if status == 409 {
            assert!(answer.text.contains("garlic oil"), "{}", answer.text);
        }
    }
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_formulas_are_sound_by_the_trade_and_their_labels_whole() {
    let demo = Demo::load().await;
    let noor = demo.person("noor.haddad");
    let mut contraindicated = BTreeSet::new();
    for formula in formulas(noor).await {
        let title = formula["title"].as_str().unwrap().to_owned();
        let revision = formula["approved_revision"].as_str().unwrap();
        let path = format!("/v1/revisions/{revision}");
        let label = noor.get(&format!("{path}/label?made_on=2026-03-02&net=30%20g")).await.expect(200).json;
        for missing in label["missing"].as_array().unwrap() {
            let missing = missing.as_str().unwrap();
            // A succus, a glycerite, a compress: no rule dates them, which the label says.
            let undated = missing.starts_with("use_by: ");
            assert!(undated || missing.starts_with("ingredients: The INCI name"), "{title}: {missing}");
        }
        assert!(!label["ingredients"]["items"].as_array().unwrap().is_empty());
        let set = noor.get(&format!("{path}/cautions")).await.expect(200);
        for caution in set.json["cautions"].as_array().unwrap() {
            let key = caution["key"].as_str().unwrap();
            assert!(!key.starts_with("limit-exceeded") && caution["level"] != "stop", "{title}: {caution}");
            if caution["level"] == "contraindication" {
                contraindicated.insert(title.clone());
            }
        }
        noor.acknowledge(revision).await.expect(201);
        let recipe = noor.get(&format!("{path}/recipe")).await.expect(200).json;
        for unknown in recipe["unknown"].as_array().unwrap() {
            // How much water a fresh herb would keep when dried is not in the materia medica, and is not guessed.
            let of_fresh_herb = unknown.as_str().unwrap().starts_with("unknown: water content of fresh ");
            assert!(of_fresh_herb, "{title}: {unknown}");
        }
        assert!(!recipe["method"].as_array().unwrap().is_empty(), "{title}");
    }
    for title in ["Comfrey root ointment", "Peppermint liniment"] {
        assert!(contraindicated.contains(title), "{title} of {contraindicated:?}");
    }
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_students_have_batches_to_look_at_and_loading_again_changes_nothing() {
    let demo = Demo::load().await;
    let marek = demo.person("marek.dvorsky");
    let batches = marek.get("/v1/batches").await.expect(200);
    let mut found: Vec<(&str, &str)> = batches.json["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|batch| (batch["state"].as_str().unwrap(), batch["title"].as_str().unwrap()))
        .collect();
    found.sort_unstable();
    let expected = [
        ("accepted", "Calendula cream"),
        ("accepted", "Calendula cream"),
        ("accepted", "Infused oil of calendula"),
        ("accepted", "Sage foot powder"),
        ("making", "Calendula salve"),
        ("making", "Tincture of purple coneflower"),
        ("planned", "Calendula cream"),
        ("returned", "Calendula cream"),
        ("submitted", "Calendula cream"),
        ("submitted", "Plain salve"),
    ];
    assert_eq!(found, expected);
    let of_tomas = demo.person("tomas.lind").get("/v1/batches").await.expect(200).text_at("/items/0/id");
    let waiting = marek.get(&format!("/v1/batches/{of_tomas}")).await.expect(200);
    let findings = waiting.json["submissions"][0]["findings"].as_array().unwrap();
    let kinds: Vec<(&str, &str)> = findings
        .iter()
        .map(|finding| (finding["kind"].as_str().unwrap(), finding["line"].as_str().unwrap_or_default()))
        .collect();
    assert_eq!(kinds, [("out_of_tolerance", "1.1"), ("deviation", "1.1")], "{findings:?}");

    let before = database::contents(&demo.database).await;
    let mut environment: BTreeMap<String, String> = BTreeMap::new();
    environment.insert("DATABASE_URL".into(), demo.database.clone());
    environment.insert("STILLROOM_LISTEN".into(), "127.0.0.1:0".into());
    let settings = Settings::read("", &environment).unwrap();
    let told = demo::run(&settings, &demo.service.clinic, false).await.unwrap();
    assert!(told.contains("nothing was loaded"), "{told}");
    assert_eq!(database::contents(&demo.database).await, before);
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_class_has_work_that_waits_came_back_and_was_accepted() {
    let demo = Demo::load().await;
    for marker in ["ilse.brandt", "marek.dvorsky"] {
        let queue = demo.person(marker).get("/v1/submissions").await.expect(200).json;
        let waits = queue["items"].as_array().unwrap();
        assert_eq!(waits.len(), 1, "{queue}");
        assert_eq!(
            (&waits[0]["name"], &waits[0]["finding"]),
            (&json!("Lucia Ferrand"), &json!("out_of_tolerance"))
        );
    }
    let ilse = demo.person("ilse.brandt");
    let cohort = ilse.get("/v1/cohorts").await.expect(200).text_at("/items/0/id");
    let grid = ilse.get(&format!("/v1/cohorts/{cohort}/grid")).await.expect(200).json;
    let stands: Vec<(&str, &str)> = grid["students"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| (row["name"].as_str().unwrap(), row["cells"][0]["state"].as_str().unwrap()))
        .collect();
    let expected = [
        ("Bram Okoro", "returned"),
        ("Imke Sorensen", "done"),
        ("Lucia Ferrand", "submitted"),
        ("Noor Haddad", "open"),
    ];
    assert_eq!(stands, expected);

    // What was accepted has a mark and a record without a finding; what came back lacks a lot.
    let progress = demo.person("imke.sorensen").get("/v1/progress").await.expect(200).json;
    assert_eq!((&progress["accepted"][0]["points"], &progress["findings"]), (&json!(8), &json!([])));
    let bram = demo.person("bram.okoro");
    let batch = bram.get("/v1/batches").await.expect(200).text_at("/items/0/id");
    let record = bram.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let submission = &record["submissions"][0];
    assert_eq!(submission["review"]["comments"][0]["entry"], record["entries"][0]["id"]);
    assert!(record["entries"][0]["lot"].is_null(), "{record}");
    let kinds: Vec<&Value> =
        submission["findings"].as_array().unwrap().iter().map(|finding| &finding["kind"]).collect();
    assert_eq!(kinds, ["missing"]);
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_tincture_macerates_is_looked_at_every_day_and_was_handed_over() {
    let demo = Demo::load().await;
    let (imke, bram) = (demo.person("imke.sorensen"), demo.person("bram.okoro"));
    let making = bram.get("/v1/batches?state=making").await.expect(200);
    assert_eq!(making.text_at("/items/0/title"), "Tincture of purple coneflower");
    let path = format!("/v1/batches/{}", making.text_at("/items/0/id"));
    let filed = bram.get(&format!("{path}/record")).await.expect(200).json;
    let pauses: Vec<(&Value, bool)> = filed["record"]["pauses"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pause| (&pause["why"], pause["resumed_at"].is_null()))
        .collect();
    assert_eq!(pauses, [(&json!("interrupted"), false), (&json!("macerating"), true)]);
    let makers: Vec<&Value> = filed["makers"].as_array().unwrap().iter().map(|one| &one["maker"]).collect();
    assert_eq!(makers, [&json!(imke.id), &json!(bram.id)]);
    assert_eq!(filed["look_plans"][0]["every_days"], 1);
    let long = bram.get(&format!("{path}/long-work")).await.expect(200).json;
    let today = demo.now().date_naive().to_string();
    assert!(long["paused"] == true && long["look_on"].as_str().unwrap() > today.as_str(), "{long}");
    let kinds: BTreeSet<&str> = filed["record"]["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|finding| finding["kind"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, BTreeSet::from(["missing"]), "what is still to be done, and nothing else");
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_formulas_with_sorbate_have_an_acid_a_second_preservative_and_a_target_ph() {
    let demo = Demo::load().await;
    let noor = demo.person("noor.haddad");
    let page = noor.get("/v1/formulas?material=potassium%20sorbate&limit=100").await.expect(200);
    let mut seen = BTreeSet::new();
    for found in page.json["items"].as_array().unwrap() {
        let revision = found["approved_revision"].as_str().unwrap();
        noor.acknowledge(revision).await.expect(201);
        let recipe = noor.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200).json;
        assert_eq!(recipe["target_ph"], "4.5-5.0", "{recipe}");
        let phases = recipe["phases"].as_array().unwrap().iter();
        let lines: Vec<&Value> = phases.flat_map(|phase| phase["lines"].as_array().unwrap()).collect();
        let with = |function: &str| lines.iter().filter(|line| line["function"] == function).count();
        assert_eq!((with("preservative"), with("acidifier")), (2, 1), "{recipe}");
        seen.insert(found["title"].as_str().unwrap().to_owned());
    }
    let expected = ["Calendula cream", "Gardener's hand cream", "Lavender lotion", "Witch hazel gel"];
    assert_eq!(seen.iter().collect::<Vec<_>>(), expected);

    // Three volumes of juice to one of spirit: a succus of some 24 % by volume, which keeps.
    for title in ["Pressed%20juice", "Succus"] {
        let found = noor.get(&format!("/v1/formulas?title={title}")).await.expect(200);
        let revision = found.text_at("/items/0/approved_revision");
        noor.acknowledge(&revision).await.expect(201);
        if title == "Succus" {
            let path = format!("/v1/revisions/{revision}/evaluation");
            let evaluation = noor.get(&path).await.expect(200).json;
            let strength = number(figure(&evaluation, "alcohol by volume"));
            assert!((0.20..0.28).contains(&strength), "{strength}");
        }
    }
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_clinic_gave_jars_out_keeps_a_sample_and_has_called_something_back() {
    let demo = Demo::load().await;
    let (ilse, tomas) = (demo.person("ilse.brandt"), demo.person("tomas.lind"));
    let accepted = tomas.get("/v1/batches?state=accepted").await.expect(200).json;
    let accepted = accepted["items"].as_array().unwrap();
    let powder = accepted.iter().find(|batch| batch["title"] == "Sage foot powder").unwrap();
    assert_eq!(powder["disposition"], "released");
    let path = format!("/v1/batches/{}", powder["id"].as_str().unwrap());
    let jars = ilse.get(&format!("{path}/jars")).await.expect(200).json;
    let jars = jars["jars"].as_array().unwrap();
    let samples = jars.iter().filter(|jar| jar["sample"] == true).count();
    let handed = jars.iter().filter(|jar| !jar["handed"].is_null()).count();
    assert_eq!((jars.len(), samples, handed), (8, 1, 1));
    let decanted = jars.iter().find(|jar| !jar["decanted_into"].is_null()).unwrap();
    assert_eq!((&decanted["number"], &decanted["decanted_into"]), (&json!(2), &json!([7, 8])));
    let seen = tomas.get(&format!("{path}/observations")).await.expect(200).json;
    assert_eq!((&seen["observations"][0]["jar"], &seen["samples"]), (&json!(6), &json!([6])));
    assert!(!seen["next_on"].is_null(), "{seen}");
    let cases = ilse.get("/v1/reactions").await.expect(200).json;
    assert_eq!((cases["items"].as_array().unwrap().len(), &cases["items"][0]["state"]), (1, &json!("open")));
    let recalls = ilse.get("/v1/recalls").await.expect(200).json;
    assert_eq!(
        (recalls["items"].as_array().unwrap().len(), &recalls["items"][0]["state"]),
        (1, &json!("closed"))
    );
    demo.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_clinic_has_photographs_of_two_batches() {
    let demo = Demo::load().await;
    let mut subjects = BTreeSet::new();
    for name in ["noor.haddad", "tomas.lind"] {
        let maker = demo.person(name);
        for batch in maker.get("/v1/batches").await.expect(200).json["items"].as_array().unwrap() {
            let path = format!("/v1/batches/{}/photographs", batch["id"].as_str().unwrap());
            for one in maker.get(&path).await.expect(200).json["photographs"].as_array().unwrap() {
                let picture = maker.get(one["picture"]["address"].as_str().unwrap()).await.expect(200);
                assert_eq!(stillroom_tests::pictures::read(&picture.bytes).width(), 640);
                subjects.insert(one["subject"].as_str().unwrap().to_owned());
            }
        }
    }
    assert_eq!(subjects, ["preparation", "reading"].map(String::from).into());
    demo.stop().await;
}
