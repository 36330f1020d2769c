//! What the table is played on: people in every role, and things in every state, made anew when they were used up.
#![expect(clippy::panic, reason = "a table or a walk that makes no sense is a failure")]

use std::collections::BTreeMap;

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::clinic::{PASSWORD, sign_in};
use stillroom_tests::{Caller, TestClinic, database};
use uuid::Uuid;

use crate::formulas::infused_oil;

const EVERY_SCOPE: [&str; 6] =
    ["formulas:read", "recipes:read", "labels:read", "lots:read", "jars:read", "acknowledge"];

/// A thing in a state, with what it belongs to.
#[derive(Clone)]
pub(crate) struct Thing {
    /// Its id.
    pub(crate) id: String,
    /// A revision's formula; otherwise empty.
    pub(crate) formula: String,
}

/// The stage.
pub(crate) struct Stage {
    /// The clinic.
    pub(crate) clinic: TestClinic,
    /// Who asks, in the order of the table's columns.
    pub(crate) callers: Vec<Caller>,
    /// A library whose members are those that the columns say.
    pub(crate) library: String,
    /// An approved revision that batches are made from.
    pub(crate) workshop: String,
    /// A student of the library who is in no column.
    pub(crate) other_student: Caller,
    /// The other student's session.
    pub(crate) other_session: String,
    /// The student's acknowledgement, and the client's.
    pub(crate) acknowledgements: [String; 2],
    /// A cohort of the two instructors who are members and the two students of the library.
    pub(crate) cohort: String,
    /// A code to join another cohort of the author's with.
    pub(crate) code: String,
    /// A question of the cohort's bank.
    pub(crate) bank_question: String,
    things: BTreeMap<String, Thing>,
}

const STUDENT: usize = 1;
pub(crate) const INSTRUCTOR: usize = 3;
const AUTHOR: usize = 4;
const CLIENT: usize = 7;
const BARE_CLIENT: usize = 8;

impl Stage {
    /// Sets the stage.
    pub(crate) async fn set() -> Self {
        let clinic = TestClinic::start().await;
        let ilse = clinic.person("ilse.brandt", "instructor").await;
        let marek = clinic.person("marek.dvorsky", "instructor").await;
        let olga = clinic.person("olga.petrenko", "instructor").await;
        let noor = clinic.person("noor.haddad", "student").await;
        let sven = clinic.person("sven.aalto", "student").await;
        let tomasz = clinic.person("tomasz.lipinski", "student").await;
        let library = clinic.library(&ilse, "First-year creams", &[&marek, &noor, &tomasz]).await;
        let client = clinic.api_client(&ilse, &EVERY_SCOPE, &[&library]).await;
        let bare = clinic.api_client(&ilse, &["acknowledge"], &[&library]).await;
        // No key is given out without a scope; one that has none must open nothing all the same.
        let strip = format!(
            "ALTER TABLE api_client DISABLE TRIGGER api_client_never_changes;
             UPDATE api_client SET scopes = '' WHERE id = '{}'",
            bare.id
        );
        database::owner(&clinic.database).await.batch_execute(&strip).await.unwrap();

        let workshop = clinic.approved(&ilse, &marek, &library, infused_oil()).await;
        ilse.acknowledge(&workshop).await.expect(201);
        tomasz.acknowledge(&workshop).await.expect(201);
        let students = noor.acknowledge(&workshop).await.expect(201).id();
        let clients = client.acknowledge(&workshop).await.expect(201).id();
        let tokens = json!({ "sign_in_name": "tomasz.lipinski", "password": PASSWORD });
        let other_session =
            clinic.nobody.post("/v1/sessions", tokens).await.expect(201).text_at("/session_id");
        let [cohort, other] = [cohort(&ilse, "First year").await, cohort(&ilse, "Second year").await];
        for (person, role) in [(&marek, "instructor"), (&noor, "student"), (&tomasz, "student")] {
            let enrol = json!({ "person": person.id, "role": role });
            ilse.post(&format!("/v1/cohorts/{cohort}/members"), enrol).await.expect(201);
        }
        let until = json!({ "valid_until": "2026-03-31T18:00:00Z" });
        let code = ilse.post(&format!("/v1/cohorts/{other}/codes"), until).await.expect(201).text_at("/code");
        let question = json!({
            "text": "How much wax is 5 % of 250 g?", "worked": "250 g × 5 / 100 = 12.5 g.",
            "answer": { "number": { "value": "12.5 g", "tolerance_percent": "1" } },
        });
        let bank_question =
            ilse.post(&format!("/v1/cohorts/{cohort}/questions"), question).await.expect(201).id();
        let callers = vec![
            clinic.nobody.clone(),
            noor,
            sven,
            marek,
            ilse,
            olga,
            clinic.administrator.clone(),
            client,
            bare,
        ];
        Self {
            clinic,
            callers,
            library,
            workshop,
            other_student: tomasz,
            other_session,
            acknowledgements: [students, clients],
            cohort,
            code,
            bank_question,
            things: BTreeMap::new(),
        }
    }

    /// The instructor who wrote everything.
    pub(crate) fn author(&self) -> &Caller {
        &self.callers[AUTHOR]
    }

    /// Who gives second marks: the only other instructor of the cohort.
    pub(crate) fn second_marker(&self) -> &Caller {
        &self.callers[INSTRUCTOR]
    }

    /// The thing that a case speaks of, made when there is none.
    pub(crate) async fn thing(&mut self, case: &str) -> Thing {
        if let Some(known) = self.things.get(case) {
            return known.clone();
        }
        let made = match case {
            "draft" | "proposed" | "approved" => self.revision(case).await,
            "awaiting" => Thing { id: self.amendment().await, formula: String::new() },
            "unpublished" | "set" | "begun" => self.assignment(case).await,
            "received" | "usable" => Thing { id: self.lot(case).await, formula: String::new() },
            "released" | "handed out" | "called back" => {
                Thing { id: self.jar(case).await, formula: String::new() }
            }
            "reacted" => self.reaction().await,
            "recalled" => Thing { id: self.recall().await, formula: String::new() },
            "practical" | "handed in" | "claimed" | "marked" | "appealed" | "drawn" | "marked twice" => {
                self.practical(case).await
            }
            "client" => Thing {
                id: self.clinic.api_client(self.author(), &EVERY_SCOPE, &[]).await.id,
                formula: String::new(),
            },
            "bystander" => {
                let name = format!("bystander.{}", Uuid::now_v7().simple());
                let person = self.clinic.person(&name, "student").await;
                Thing { id: person.id, formula: String::new() }
            }
            "offered" => {
                let batch = self.batch("other's making").await;
                let offer = json!({ "to": self.callers[STUDENT].id });
                let path = format!("/v1/batches/{batch}/handovers");
                let id = self.other_student.post(&path, offer).await.expect(201).text_at("/handovers/0/id");
                Thing { id, formula: String::new() }
            }
            batch => Thing { id: self.batch(batch).await, formula: String::new() },
        };
        self.things.insert(case.to_owned(), made.clone());
        made
    }

    /// The thing of a case has been changed: the next who needs it gets a new one.
    pub(crate) fn used_up(&mut self, case: &str) {
        self.things.remove(case);
    }

    /// An amendment of the author's that waits for a second person.
    async fn amendment(&self) -> String {
        let name = format!("rose water {}", Uuid::now_v7().simple());
        let entry = json!({
            "name": name, "kind": "watery base", "source": "the clinic's own still", "status": "from memory",
        });
        let body = json!({ "reason": "Distilled here.", "change": { "add_material": entry } });
        self.author().post("/v1/amendments", body).await.expect(201).id()
    }

    async fn revision(&self, state: &str) -> Thing {
        let (author, second) = (self.author(), &self.callers[INSTRUCTOR]);
        let mut content = infused_oil();
        content["title"] = json!(format!("Oil {}", Uuid::now_v7().simple()));
        let id = match state {
            "draft" => {
                let path = format!("/v1/libraries/{}/formulas", self.library);
                author.post(&path, json!({ "content": content })).await.expect(201).text_at("/revisions/0/id")
            }
            "proposed" => {
                let id = self.clinic.proposed(author, &self.library, content).await;
                second.acknowledge(&id).await.expect(201);
                id
            }
            _ => {
                let id = self.clinic.approved(author, second, &self.library, content).await;
                for member in [STUDENT, AUTHOR, CLIENT] {
                    self.callers[member].acknowledge(&id).await.expect(201);
                }
                self.acknowledge_for(&self.callers[BARE_CLIENT].id, &id).await;
                id
            }
        };
        let formula = author.get(&format!("/v1/revisions/{id}")).await.expect(200).text_at("/formula");
        Thing { id, formula }
    }

    /// The author acknowledges for an API client.
    async fn acknowledge_for(&self, client: &str, revision: &str) {
        let mut body = self.acknowledgement(revision).await;
        body["for_api_client"] = json!(client);
        self.author().post(&format!("/v1/revisions/{revision}/acknowledgements"), body).await.expect(201);
    }

    /// What acknowledges a revision's cautions; where the author may not read them, something that looks like it.
    pub(crate) async fn acknowledgement(&self, revision: &str) -> Value {
        let set = self.author().get(&format!("/v1/revisions/{revision}/cautions")).await.json;
        let strong =
            |caution: &&Value| matches!(caution["level"].as_str(), Some("contraindication" | "stop"));
        let each: Vec<&Value> = set["cautions"]
            .as_array()
            .into_iter()
            .flatten()
            .filter(strong)
            .map(|caution| &caution["key"])
            .collect();
        json!({ "caution_set": set["digest"].as_str().unwrap_or("00"), "contraindications": each })
    }

    /// A lot of yellow beeswax, in quarantine or confirmed by its author.
    async fn lot(&self, state: &str) -> String {
        let id = self
            .author()
            .post("/v1/lots", crate::stock::lot("yellow beeswax", "500 g"))
            .await
            .expect(201)
            .id();
        if state == "usable" {
            crate::stock::confirm(self.author(), &id).await;
        }
        id
    }

    /// A jar that was released, or handed out; or the recall of its batch.
    async fn jar(&self, case: &str) -> String {
        let (batch, author) = (self.batch("own accepted").await, self.author());
        let path = format!("/v1/batches/{batch}");
        let jars = json!({ "jars": 1, "fill": "10 g" });
        let filled = self.callers[STUDENT].post(&format!("{path}/jars"), jars).await.expect(201);
        let jar = filled.text_at("/jars/0/id");
        let sheet = author.get(&format!("{path}/release")).await.expect(200).json;
        let ids: Vec<&Value> = sheet["cautions"].as_array().unwrap().iter().map(|one| &one["id"]).collect();
        author.post(&format!("{path}/release"), json!({ "confirmed": ids })).await.expect(201);
        match case {
            "handed out" => {
                let handing = json!({
                    "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true,
                });
                author.post(&format!("/v1/jars/{jar}/handing"), handing).await.expect(201);
                jar
            }
            "called back" => {
                let body = json!({ "cause": "batch", "id": batch, "reason": "Somebody's skin reddened." });
                author.post("/v1/recalls", body).await.expect(201).id()
            }
            _ => jar,
        }
    }

    /// A case of a reaction, with its report as its formula.
    async fn reaction(&self) -> Thing {
        let jar = self.jar("released").await;
        let id = self.told(&jar).await;
        let case = self.author().get(&format!("/v1/reactions/{id}")).await.expect(200);
        Thing { id, formula: case.text_at("/received/0/id") }
    }

    /// Tells a reaction to a jar; answers the case that it opened.
    pub(crate) async fn told(&self, jar: &str) -> String {
        let telling = json!({ "what": "It itched.", "outcome": "recovered" });
        self.author().post(&format!("/v1/jars/{jar}/reactions"), telling).await.expect(201);
        // By its number: the test's clock stands still, and what identifiers count up in one moment begins anew after some
        // thousands.
        let open = self.author().get("/v1/reactions?state=open&limit=100").await.expect(200).json;
        let newest = open["items"].as_array().unwrap().iter().max_by_key(|case| case["number"].as_str());
        newest.unwrap()["id"].as_str().unwrap().to_owned()
    }

    /// Another open case than this one.
    pub(crate) async fn other_case(&self) -> String {
        let jar = self.jar("released").await;
        self.told(&jar).await
    }

    /// A recall of a lot, with nothing accounted for.
    async fn recall(&self) -> String {
        let lot = self.lot("received").await;
        let body = json!({ "cause": "lot", "id": lot, "reason": "The supplier withdrew it." });
        self.author().post("/v1/recalls", body).await.expect(201).id()
    }

    /// An assignment; of one that the student has begun, with the id of its question as its formula.
    async fn assignment(&self, case: &str) -> Thing {
        let (author, student) = (self.author(), &self.callers[STUDENT]);
        let path = format!("/v1/cohorts/{}/assignments", self.cohort);
        let id = author.post(&path, self.assignment_content()).await.expect(201).id();
        if case != "unpublished" {
            let key = Uuid::now_v7().to_string();
            let publication = format!("/v1/assignments/{id}/publication");
            author.post_bare(&publication, &[("idempotency-key", &key)]).await.expect(201);
        }
        let mut formula = String::new();
        if case == "begun" {
            let key = Uuid::now_v7().to_string();
            let questions = format!("/v1/assignments/{id}/questions");
            let begun = student.post_bare(&questions, &[("idempotency-key", &key)]).await.expect(201);
            formula = begun.text_at("/questions/0/id");
        }
        Thing { id, formula }
    }

    /// An assignment without questions, with the student's batch as its formula, or with what was handed in.
    async fn practical(&mut self, case: &str) -> Thing {
        let batch = self.batch("own making").await;
        let (author, student) = (self.author(), &self.callers[STUDENT]);
        let mut content = self.assignment_content();
        content["questions"] = json!([]);
        let id =
            author.post(&format!("/v1/cohorts/{}/assignments", self.cohort), content).await.expect(201).id();
        let key = Uuid::now_v7().to_string();
        let publication = format!("/v1/assignments/{id}/publication");
        author.post_bare(&publication, &[("idempotency-key", &key)]).await.expect(201);
        if case == "practical" {
            return Thing { id, formula: batch };
        }
        let allowance = json!({ "kind": "extra_time", "extra_minutes": 60, "reason": "Agreed." });
        let allowances = format!("/v1/assignments/{id}/students/{}/allowances", student.id);
        author.post(&allowances, allowance).await.expect(201);
        let path = format!("/v1/assignments/{id}/submissions");
        let handed = student.post(&path, json!({ "batch": batch })).await.expect(201).id();
        let claim = format!("/v1/submissions/{handed}/claim");
        if case != "handed in" {
            crate::teaching::act(author, &claim).await.expect(201);
        }
        let drawn = case == "drawn" || case == "marked twice";
        let shares = format!("/v1/cohorts/{}/moderation-shares", self.cohort);
        if drawn {
            author.post(&shares, json!({ "percent": 100 })).await.expect(201);
        }
        if case == "marked" || case == "appealed" || drawn {
            let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }] });
            let review = json!({ "verdict": "accept", "summary": "As asked.", "mark": mark });
            author.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
            let second = self.second_marker();
            if drawn {
                author.post(&shares, json!({ "percent": 0 })).await.expect(201);
                let all = second.get("/v1/moderations?limit=100").await.expect(200).json;
                let found = all["items"].as_array().unwrap().iter().find(|one| one["assignment"] == id);
                let moderation = found.unwrap()["id"].as_str().unwrap().to_owned();
                if case == "marked twice" {
                    let mark = json!({ "criteria": [{ "criterion": 1, "level": 1 }] });
                    second.post(&format!("/v1/moderations/{moderation}/mark"), mark).await.expect(201);
                }
                return Thing { id, formula: moderation };
            }
            let holder = if case == "marked" { author } else { second };
            if case == "appealed" {
                let appeal = json!({ "reason": "record_misread", "criteria": [1] });
                student.post(&format!("/v1/submissions/{handed}/appeal"), appeal).await.expect(201);
            }
            crate::teaching::act(holder, &claim).await.expect(201);
        }
        Thing { id, formula: handed }
    }

    /// An assignment with one question of the bank.
    pub(crate) fn assignment_content(&self) -> Value {
        json!({
            "title": "Make the oil", "formulas": [self.workshop], "quantity": "300 g",
            "opens": "2026-03-02T08:00", "due": "2026-03-20T18:00", "attempts": 3, "returns_allowed": 1,
            "rubric": { "total_points": 6, "criteria": [{ "title": "Weighing", "levels": [
                { "title": "Lines are outside tolerance.", "points": 0 },
                { "title": "Every line is within tolerance.", "points": 6 } ] }] },
            "questions": [{ "kind": "bank", "bank_question": self.bank_question }],
        })
    }

    async fn batch(&self, case: &str) -> String {
        let (whose, state) = case.split_once(' ').unwrap();
        let maker = match whose {
            "own" => &self.callers[STUDENT],
            "other's" => &self.other_student,
            "instructor's" => &self.callers[INSTRUCTOR],
            unknown => panic!("nobody is called {unknown}"),
        };
        let made = maker.post("/v1/batches", json!({ "revision": self.workshop })).await.expect(201);
        let path = format!("/v1/batches/{}", made.id());
        if state != "planned" {
            let note = json!({ "kind": "observation", "note": "The flowers are dry." });
            maker.post(&format!("{path}/entries"), note).await.expect(201);
        }
        if state == "paused" {
            let pause = json!({ "why": "macerating", "until": "2026-03-20" });
            maker.post(&format!("{path}/pauses"), pause).await.expect(201);
        }
        let accepted = ["accepted", "filled"].contains(&state);
        if accepted {
            for (line, quantity) in [("1.1", "100 g"), ("1.2", "1000 g")] {
                let weighed = json!({ "kind": "weighing", "line": line, "quantity": quantity });
                maker.post(&format!("{path}/entries"), weighed).await.expect(201);
            }
            let yielded = json!({ "kind": "yield", "quantity": "840 g" });
            maker.post(&format!("{path}/entries"), yielded).await.expect(201);
        }
        if state == "submitted" || accepted {
            maker.post(&format!("{path}/submissions"), json!({})).await.expect(201);
        }
        if accepted {
            let accept = json!({ "verdict": "accept", "summary": "Complete." });
            self.author().post(&format!("{path}/reviews"), accept).await.expect(201);
        }
        if state == "filled" {
            let jars = json!({ "jars": 1, "fill": "10 g" });
            self.author().post(&format!("{path}/jars"), jars).await.expect(201);
        }
        made.id()
    }

    /// Signs the person of a column in once more, for what ends a session. Others come as they are.
    pub(crate) async fn again(&self, column: usize) -> Caller {
        let caller = &self.callers[column];
        let me = caller.get("/v1/me").await;
        match me.json.pointer("/person/sign_in_name").and_then(Value::as_str) {
            Some(name) => sign_in(&self.clinic.nobody, name).await,
            None => caller.clone(),
        }
    }

    /// The present tag of something, as the author or an administrator sees it.
    pub(crate) async fn tag(&self, path: &str) -> String {
        for caller in [self.author(), &self.clinic.administrator] {
            let answer = caller.get(path).await;
            if answer.status == 200 {
                return answer.etag();
            }
        }
        // A draft of a reflection is read by its author alone, and begins with this.
        if path.ends_with("/reflection") { "\"v0\"".to_owned() } else { "\"v1\"".to_owned() }
    }
}

/// A cohort of an instructor.
async fn cohort(of: &Caller, name: &str) -> String {
    let cohort = json!({
        "name": name, "starts_on": "2026-03-02", "ends_on": "2026-07-03", "time_zone": "UTC",
    });
    of.post("/v1/cohorts", cohort).await.expect(201).id()
}
