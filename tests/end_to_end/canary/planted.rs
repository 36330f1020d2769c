//! What is planted: formulas nested two deep and from a second library, a batch, comments; and everybody whose door
//! to them is shut, each for another reason.

use std::collections::BTreeSet;

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::clinic::sign_in;
use stillroom_tests::{Caller, TestClinic};

use super::search::{Sought, numbers};

/// What was planted, and who is about.
pub(super) struct Planted {
    /// The clinic.
    pub(super) clinic: TestClinic,
    /// A student who has acknowledged everything that may be made in the library.
    pub(super) acknowledged: Caller,
    /// A student who has acknowledged the outermost formula and nothing that it is made from.
    pub(super) outermost: Caller,
    /// The outermost student's batch, of which one line is weighed.
    pub(super) batch: String,
    shut: Vec<(&'static str, Caller)>,
    /// The revisions that the acknowledged student may make.
    approved: Vec<String>,
    /// What is open to everybody who is known: numbers in it give nothing away.
    open: BTreeSet<String>,
}

/// Words of methods, comments and batch records.
const WORDS: [&str; 16] = [
    // the infused oil, the salve made from it, the oil of the second library, the cream's two revisions
    "zanthoberel",
    "quorlimant",
    "vexidrone",
    "brindlefax",
    "thistlewane",
    // what was withdrawn, and what is made from it
    "pellarune",
    "sorrelhask",
    // the comments of a return and of a withdrawal
    "gralloway",
    "morrowquist",
    // a batch: note, lot, reason, answer, summary, comment
    "wexcombe",
    "kestrelby",
    "jundlemire",
    "fallowgrim",
    "harrowdine",
    "ostlerby",
    // a draft
    "undecidelle",
];

/// Amounts, in several units.
const NUMBERS: [&str; 28] = [
    "137.31", "1411.7", "1193.9", "43.7", // the infused oil
    "613.9", "3.917", // the salve
    "149.53", "1507.9", "1291.3", // the oil of the second library
    "83.17", "217.9", "91.37", "0.7713", "17.93", "1013.7", "63.7", // the cream
    "84.19", "0.7931", // its second revision
    "151.73", "1601.3", "333.7", "57.31", // what was withdrawn, and what is made from it
    "83.29", "487.19", "61.379", "5.837", // a batch: weighed, made for, a price, a pH
    "71.93", "84.91", // a draft; a comment
];

/// What stands in the outermost formula's own nested ones.
const NESTED_WORDS: [&str; 3] = ["zanthoberel", "quorlimant", "vexidrone"];
const NESTED_NUMBERS: [&str; 9] =
    ["137.31", "1411.7", "1193.9", "43.7", "613.9", "3.917", "149.53", "1507.9", "1291.3"];

/// A formula as it is planted: lines of a name and an amount, where a name in brackets is another formula.
fn formula(
    title: &str,
    preparation: &str,
    yields: Option<&str>,
    lines: &[(&str, &str)],
    word: &str,
    heat: &str,
) -> Value {
    let lines: Vec<Value> = lines
        .iter()
        .map(|(name, amount)| match name.strip_prefix('[').and_then(|name| name.strip_suffix(']')) {
            Some(nested) => json!({ "formula": nested, "amount": amount }),
            None => json!({ "material": name, "amount": amount }),
        })
        .collect();
    let mut content = json!({
        "title": title, "preparation": preparation, "route": "on intact skin, leave-on", "regime": "teaching_only",
        "phases": [{ "name": "all of it", "lines": lines }],
        "method": [{ "do": format!("Stir {word} until it is even"), "temperature": format!("{heat} C at most") }],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    });
    if let Some(yields) = yields {
        content["yield"] = json!(yields);
    }
    content
}

fn oil() -> Value {
    let lines = [("dried calendula flower", "137.31 g"), ("olive oil", "1411.7 g")];
    formula("Infused oil", "infused oil", Some("1193.9 g"), &lines, "zanthoberel", "43.7")
}

fn salve() -> Value {
    let lines = [("[Infused oil]", "613.9 g"), ("yellow beeswax", "3.917 oz")];
    formula("Plain salve", "salve", None, &lines, "quorlimant", "63.7")
}

fn other_oil() -> Value {
    let lines = [("dried calendula flower", "149.53 g"), ("olive oil", "1507.9 g")];
    formula("Other oil", "infused oil", Some("1291.3 g"), &lines, "vexidrone", "43.7")
}

fn cream(wax: &str, sorbate: &str, word: &str) -> Value {
    let lines = [
        ("emulsifying wax", wax),
        ("[Plain salve]", "217.9 g"),
        ("[Other oil]", "91.37 g"),
        ("olive oil", "17.93 mL"),
        ("potassium sorbate", sorbate),
        ("purified water", "q.s. 1013.7 g"),
    ];
    formula("Planted cream", "cream", None, &lines, word, "63.7")
}

/// People signed in again, after the clock has moved past every token.
async fn again(clinic: &TestClinic, names: &[&str]) -> Vec<Caller> {
    let mut all = Vec::new();
    for name in names {
        all.push(sign_in(&clinic.nobody, name).await);
    }
    all
}

/// Plants everything.
pub(super) async fn plant() -> Planted {
    let mut clinic = TestClinic::start_with(&[("STILLROOM_CONNECTIONS", "4")]).await;
    // Acknowledgements of one day, so that one can be outlived by a clinic's working day.
    let policy = clinic.administrator.get("/v1/policy").await.expect(200);
    let mut rules = policy.json["content"].clone();
    rules["acknowledgement_days"] = json!(1);
    clinic.administrator.put("/v1/policy", &policy.etag(), rules).await.expect(200);

    for name in ["ilse.brandt", "marek.dvorsky", "ines.moreau", "olga.petrenko", "mira.kovac"] {
        clinic.person(name, "instructor").await;
    }
    for name in [
        "noor.haddad",
        "nils.holm",
        "olav.berg",
        "lena.fischer",
        "eva.novak",
        "wim.smit",
        "elif.demir",
        "dora.nagy",
        "otto.lang",
        "sven.aalto",
    ] {
        clinic.person(name, "student").await;
    }
    let [ilse, marek, mira, eva]: [Caller; 4] =
        again(&clinic, &["ilse.brandt", "marek.dvorsky", "mira.kovac", "eva.novak"])
            .await
            .try_into()
            .ok()
            .unwrap();
    let library = clinic.library(&ilse, "First-year creams", &[&marek, &mira, &eva]).await;
    let second = clinic.library(&ilse, "The instructors' own", &[&marek]).await;

    // Yesterday: everything is approved; some acknowledge, and their acknowledgement will have ended by the clock.
    let oil = clinic.approved(&ilse, &marek, &library, oil()).await;
    ilse.acknowledge(&oil).await.expect(201);
    let salve = clinic.approved(&ilse, &marek, &library, salve()).await;
    ilse.acknowledge(&salve).await.expect(201);
    let other = clinic.approved(&ilse, &marek, &second, other_oil()).await;
    ilse.acknowledge(&other).await.expect(201);
    let first = clinic.approved(&ilse, &marek, &library, cream("83.17 g", "0.7713 %", "brindlefax")).await;
    for revision in [&oil, &salve, &first] {
        eva.acknowledge(revision).await.expect(201);
        mira.acknowledge(revision).await.expect(201);
        eva.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    }
    // A word of the clinic's own on cautions: a note, which ends nothing.
    let note = json!({
        "reason": "Agreed among the teachers.",
        "change": { "add_caution": { "level": "note", "text": "Ask when in doubt." } },
    });
    ilse.post("/v1/amendments", note).await.expect(201);
    let borrowed = json!({ "content": formula("Mira's salve", "salve", None, &[("[Infused oil]", "71.93 g"), ("yellow beeswax", "9 g")], "undecidelle", "60") });
    mira.post(&format!("/v1/libraries/{library}/formulas"), borrowed).await.expect(201);
    clinic.service.clinic.clock().advance(Duration::hours(25));

    // Today.
    clinic.administrator = sign_in(&clinic.nobody, "petra.hollweg").await;
    let [ilse, marek, mira, ines, olga]: [Caller; 5] =
        again(&clinic, &["ilse.brandt", "marek.dvorsky", "mira.kovac", "ines.moreau", "olga.petrenko"])
            .await
            .try_into()
            .ok()
            .unwrap();
    let students: [Caller; 10] = again(
        &clinic,
        &[
            "noor.haddad",
            "nils.holm",
            "olav.berg",
            "lena.fischer",
            "eva.novak",
            "wim.smit",
            "elif.demir",
            "dora.nagy",
            "otto.lang",
            "sven.aalto",
        ],
    )
    .await
    .try_into()
    .ok()
    .unwrap();
    let [noor, nils, olav, lena, eva, wim, elif, dora, otto, sven] = students;
    for member in [&noor, &nils, &olav, &lena, &wim, &elif, &dora, &otto, &ines] {
        ilse.put_bare(&format!("/v1/libraries/{library}/members/{}", member.id)).await.expect(204);
    }
    for revision in [&oil, &salve, &other] {
        ilse.acknowledge(revision).await.expect(201);
    }

    // Acknowledged an older revision; the newer one was returned once with a comment.
    olav.acknowledge(&first).await.expect(201);
    olav.get(&format!("/v1/revisions/{first}/recipe")).await.expect(200);
    let cream = revised_once_returned(&ilse, &marek, &first).await;

    // Withdrawn: the oil itself, and with it the salve that is made from it.
    let lines = [("dried calendula flower", "151.73 g"), ("olive oil", "1601.3 g")];
    let withdrawn = formula("Old oil", "infused oil", None, &lines, "pellarune", "40");
    let withdrawn = clinic.approved(&ilse, &marek, &library, withdrawn).await;
    ilse.acknowledge(&withdrawn).await.expect(201);
    let lines = [("[Old oil]", "333.7 g"), ("yellow beeswax", "57.31 g")];
    let made_from_it = formula("Old salve", "salve", None, &lines, "sorrelhask", "60");
    let made_from_it = clinic.approved(&ilse, &marek, &library, made_from_it).await;
    for revision in [&withdrawn, &made_from_it] {
        wim.acknowledge(revision).await.expect(201);
        wim.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    }
    let reason = json!({ "reason": "The morrowquist went rancid." });
    marek.post(&format!("/v1/revisions/{withdrawn}/withdrawal"), reason).await.expect(200);

    let approved = vec![oil, salve, cream.clone()];
    for student in [&noor, &lena, &elif, &dora] {
        for revision in &approved {
            student.acknowledge(revision).await.expect(201);
            student.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
        }
    }
    otto.acknowledge(&cream).await.expect(201);
    let batch = otto.post("/v1/batches", json!({ "revision": cream })).await.expect(201).id();
    let weighed = json!({ "kind": "weighing", "line": "1.2", "quantity": "217.9 g", "lot": "LOT-KESTRELBY-8", "reason_later": true });
    otto.post(&format!("/v1/batches/{batch}/entries"), weighed).await.expect(201);
    // Of the shelf: what is drawn is what was weighed, and the balance tells it to who counts.
    let lot = ilse.post("/v1/lots", crate::stock::lot("emulsifying wax", "2 kg")).await.expect(201).id();
    crate::stock::confirm(&ilse, &lot).await;
    let drawn = json!({ "kind": "weighing", "line": "1.1", "quantity": "84.19 g", "lot_id": lot, "reason_later": true });
    otto.post(&format!("/v1/batches/{batch}/entries"), drawn).await.expect(201);
    // What is left to weigh is reserved: how much stands where the service itself cannot read it.
    // What was recalled is told with the names of everything that was made of it, and with no amount.
    let bad = ilse.post("/v1/lots", crate::stock::lot("emulsifying wax", "1 kg")).await.expect(201).id();
    let recall = json!({ "cause": "lot", "id": bad, "reason": "The supplier withdrew it." });
    ilse.post("/v1/recalls", recall).await.expect(201);
    let water = ilse.post("/v1/lots", crate::stock::lot("purified water", "9 kg")).await.expect(201).id();
    crate::stock::confirm(&ilse, &water).await;
    let reserved = otto.post(&format!("/v1/batches/{batch}/reservations"), json!({})).await.expect(201);
    assert_eq!(reserved.json["lines"][0]["lots"][0]["id"], json!(water), "{}", reserved.text);
    made_and_reviewed(&lena, &marek, &cream).await;
    clinic.administrator.delete(&format!("/v1/libraries/{library}/members/{}", lena.id)).await.expect(204);
    elif.delete("/v1/sessions/current").await.expect(204);
    let person = clinic.administrator.get(&format!("/v1/people/{}", dora.id)).await.expect(200);
    let disabled = json!({ "state": "disabled" });
    clinic
        .administrator
        .patch(&format!("/v1/people/{}", dora.id), &person.etag(), disabled)
        .await
        .expect(200);

    // Other tools: one that never acknowledged, one without the scope for recipes, one revoked.
    let every = ["formulas:read", "recipes:read", "labels:read", "lots:read", "jars:read", "acknowledge"];
    let never = clinic.api_client(&ilse, &every, &[&library]).await;
    let unscoped =
        clinic.api_client(&ilse, &["formulas:read", "labels:read", "acknowledge"], &[&library]).await;
    let revoked = clinic.api_client(&ilse, &every, &[&library]).await;
    for revision in &approved {
        unscoped.acknowledge(revision).await.expect(201);
        revoked.acknowledge(revision).await.expect(201);
        revoked.get(&format!("/v1/revisions/{revision}/recipe")).await.expect(200);
    }
    clinic.administrator.delete(&format!("/v1/api-clients/{}", revoked.id)).await.expect(200);

    let open = open_numbers(&clinic, &noor).await;
    let shut = vec![
        ("nobody", clinic.nobody.clone()),
        ("a student who never acknowledged", nils),
        ("a student who acknowledged an older revision", olav),
        ("a student whose membership ended", lena),
        ("a student whose acknowledgement ended by the clock", eva),
        ("a student who acknowledged what was withdrawn", wim),
        ("a student who signed out", elif),
        ("a student whose account was disabled", dora),
        ("a student of another library", sven),
        ("an instructor who never acknowledged", ines),
        ("an instructor of another library", olga),
        ("an author whose acknowledgement of what is nested ended", mira),
        ("an administrator", clinic.administrator.clone()),
        ("an API client that never acknowledged", never),
        ("an API client without the scope for recipes", unscoped),
        ("an API client whose key was revoked", revoked),
    ];
    Planted { clinic, acknowledged: noor, outermost: otto, batch, shut, approved, open }
}

/// The cream's second revision: returned with a comment, then approved. Answers the approved revision.
async fn revised_once_returned(ilse: &Caller, marek: &Caller, first: &str) -> String {
    let formula = ilse.get(&format!("/v1/revisions/{first}")).await.expect(200).text_at("/formula");
    let content = json!({ "content": cream("84.19 g", "0.7931 %", "thistlewane") });
    let draft = ilse.post(&format!("/v1/formulas/{formula}/revisions"), content).await.expect(201);
    let propose = async |revision: &str, tag: &str| {
        ilse.post_bare(&format!("/v1/revisions/{revision}/proposal"), &[("if-match", tag)]).await.expect(200);
        marek.acknowledge(revision).await.expect(201);
    };
    propose(&draft.id(), &draft.etag()).await;
    let comment = json!({ "decision": "return", "comment": "84.91 g of gralloway would do." });
    marek.post(&format!("/v1/revisions/{}/decision", draft.id()), comment).await.expect(200);
    let next = ilse.get(&format!("/v1/formulas/{formula}")).await.expect(200).text_at("/revisions/0/id");
    let tag = ilse.get(&format!("/v1/revisions/{next}/draft")).await.expect(200).etag();
    propose(&next, &tag).await;
    let approve = json!({ "decision": "approve" });
    marek.post(&format!("/v1/revisions/{next}/decision"), approve).await.expect(200);
    next
}

/// A batch with every kind of free text, handed in and reviewed.
async fn made_and_reviewed(maker: &Caller, reviewer: &Caller, revision: &str) {
    let made_for = json!({ "revision": revision, "make_for": { "mass": "487.19 g" } });
    let batch = maker.post("/v1/batches", made_for).await.expect(201).id();
    let batch = format!("/v1/batches/{batch}");
    let weighed = json!({ "kind": "weighing", "line": "1.1", "quantity": "83.29 g", "lot": "LOT-KESTRELBY-7", "lot_expires": "2027-03", "price": "61.379 per 1 kg", "note": "Like wexcombe.", "reason_later": true });
    let entry = maker.post(&format!("{batch}/entries"), weighed).await.expect(201).text_at("/entry/id");
    let again = json!({ "kind": "weighing", "line": "1.1", "quantity": "83.29 g", "corrects": entry, "reason": "Jundlemire slipped.", "deviation": "It poured like wexcombe." });
    maker.post(&format!("{batch}/entries"), again).await.expect(201);
    let ph = json!({ "kind": "ph", "quantity": "5.837", "note": "Paper like wexcombe." });
    maker.post(&format!("{batch}/entries"), ph).await.expect(201);
    let answer = json!({ "answer": "The fallowgrim was damp." });
    maker.post(&format!("{batch}/submissions"), answer).await.expect(201);
    let review = json!({
        "verdict": "return", "summary": "More harrowdine.", "comments": [{ "entry": entry, "text": "Which ostlerby?" }],
    });
    reviewer.post(&format!("{batch}/reviews"), review).await.expect(201);
}

/// The numbers of the materia medica and of the document's examples: they give nothing of a formula away.
async fn open_numbers(clinic: &TestClinic, reader: &Caller) -> BTreeSet<String> {
    let mut texts = Vec::new();
    let mut next = Some("/v1/materials?limit=100".to_owned());
    while let Some(path) = next {
        let page = reader.get(&path).await.expect(200);
        for item in page.json["items"].as_array().unwrap() {
            let path = format!("/v1/materials/{}", item["id"].as_str().unwrap());
            texts.push(reader.get(&path).await.expect(200).text);
        }
        next = page.json["next"].as_str().map(|after| format!("/v1/materials?limit=100&after={after}"));
    }
    texts.push(clinic.nobody.get("/openapi.json").await.expect(200).text);
    texts.push(reader.get("/v1/policy").await.expect(200).text);
    texts.iter().flat_map(|text| numbers(text).collect::<Vec<_>>()).collect()
}

impl Planted {
    /// Everything that was planted, with every figure that follows from it: as worked out, as evaluated, scaled.
    pub(super) async fn everything_and_what_follows_from_it(&self) -> Sought {
        let mut sought = Sought::new(WORDS, NUMBERS);
        let planted = sought.len();
        for revision in &self.approved {
            for asked in [
                "recipe?explain=true",
                "recipe?mass=517.3%20g&explain=true",
                "recipe?containers=12&fill=30%20g&transfer_loss=4%20%25&explain=true",
                "recipe?application=2.7%20g&explain=true",
                "evaluation?explain=true",
            ] {
                let path = format!("/v1/revisions/{revision}/{asked}");
                let answer = self.acknowledged.get(&path).await;
                if answer.status == 200 {
                    sought.and_figures_of(&answer.text, &self.open);
                }
            }
        }
        assert!(sought.len() > planted + 50, "{} figures follow", sought.len() - planted);
        sought
    }

    /// The revisions that may be made.
    pub(super) fn may_be_made(&self) -> &[String] {
        &self.approved
    }

    /// A student who shares the library and has acknowledged nothing.
    pub(super) fn never_acknowledged(&self) -> &Caller {
        let found = self.shut.iter().find(|(who, _)| *who == "a student who never acknowledged");
        &found.unwrap().1
    }

    /// What the acknowledged student reads: what may be made, in the words and amounts of its own revisions.
    pub(super) fn readable(&self) -> Vec<String> {
        let of = [
            "zanthoberel",
            "quorlimant",
            "thistlewane",
            "137.31",
            "1411.7",
            "613.9",
            "3.917",
            "84.19",
            "217.9",
            "91.37",
            "0.7931",
            "17.93",
            "1013.7",
        ];
        of.into_iter().map(str::to_owned).collect()
    }

    /// Everything that was written down anywhere, by value.
    pub(super) fn written(&self) -> BTreeSet<String> {
        WORDS.iter().chain(&NUMBERS).map(|canary| (*canary).to_owned()).collect()
    }

    /// Everybody whose door is shut, and what must not reach them.
    pub(super) fn shut_out(&self, everything: &Sought) -> Vec<(&'static str, Caller, Sought)> {
        let nested = Sought::new(NESTED_WORDS, NESTED_NUMBERS);
        let mut all: Vec<_> = self
            .shut
            .iter()
            .map(|(who, caller)| {
                // What somebody writes themselves they may read: the author's own draft stays theirs.
                let own = who.starts_with("an author");
                (*who, caller.clone(), if own { nested.clone() } else { everything.clone() })
            })
            .collect();
        all.push(("a student who acknowledged the outermost formula alone", self.outermost.clone(), nested));
        all
    }
}
