//! The request of a cell: an operation in a case, as somebody sends it who means it.

use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::clinic::PASSWORD;
use stillroom_tests::{Answer, Caller, pictures};
use uuid::Uuid;

use super::document::Operation;
use super::stage::{INSTRUCTOR, Stage};
use crate::formulas::infused_oil;

/// Sends an operation in a case as the caller of a column. What it used up is made anew for the next.
pub(crate) async fn send(stage: &mut Stage, operation: &Operation, case: &str, column: usize) -> Answer {
    let name = operation.name();
    let thing = thing_of(&operation.path, case);
    let id = match thing {
        Some(thing) => stage.thing(thing).await,
        None => super::stage::Thing { id: String::new(), formula: String::new() },
    };
    let mut caller = stage.callers[column].clone();
    if name.starts_with("DELETE /v1/sessions") {
        caller = stage.again(column).await;
    }
    let mut path = operation.path.clone();
    let mut fill = |parameter: &str, with: &str| path = path.replace(&format!("{{{parameter}}}"), with);
    let segment = operation.path.trim_start_matches("/v1/").split('/').next().unwrap_or_default();
    match segment {
        "formulas" => fill("id", &id.formula),
        "revisions" | "batches" | "amendments" | "lots" | "recalls" | "jars" | "reactions" | "handovers" => {
            fill("id", &id.id)
        }
        "jar-codes" => {
            let jar = stage.author().get(&format!("/v1/jars/{}", id.id)).await.expect(200);
            fill("code", &jar.text_at("/jar/code"));
        }
        "api-clients" => fill("id", &id.id),
        "libraries" => fill("id", &stage.library),
        "cohorts" => {
            fill("id", &stage.cohort);
            // None of its records is of a formula of that id: there are no points.
            fill("formula", &stage.cohort);
            if operation.path.ends_with("/work-limits") {
                let at = format!("/v1/cohorts/{}/work-limits", stage.cohort);
                // The student has told nothing, or something that can be withdrawn.
                stage.callers[1].delete(&at).await;
                if operation.method == "DELETE" {
                    let told = json!({ "cannot_work_with": "wool fat", "consent": true });
                    stage.callers[1].post(&at, told).await.expect(201);
                }
            }
            if operation.path.contains("/students/") {
                fill("person", &stage.callers[1].id);
            }
        }
        "assignments" => {
            fill("id", &id.id);
            fill("person", &stage.callers[1].id);
        }
        "phrases" if operation.path.ends_with("{id}") => {
            let kept = json!({ "text": Uuid::now_v7().to_string() });
            fill("id", &stage.author().post("/v1/phrases", kept).await.expect(201).id());
        }
        "sign-offs" | "credentials" if operation.path.contains("{id}") => fill("id", &signed(stage).await),
        "questions" | "submissions" | "moderations" => fill("id", &id.formula),
        "people" => fill("id", if case == "own" { or_somebody(&caller.id) } else { &stage.other_student.id }),
        "sessions" => {
            let own = caller.get("/v1/sessions").await;
            let own = own.json.as_array().into_iter().flatten().find(|session| session["current"] == true);
            let own =
                own.map_or_else(|| stage.other_session.clone(), |it| it["id"].as_str().unwrap().to_owned());
            fill("id", if case == "own" { &own } else { &stage.other_session });
        }
        "acknowledgements" => fill("id", &stage.acknowledgements[usize::from(case == "the client's")]),
        "materials" => {
            let list = stage.author().get("/v1/materials?limit=1").await.expect(200);
            fill("id", &list.text_at("/items/0/id"));
        }
        _ => {}
    }
    path = path.replace("{slug}", "gate-closed").replace("{holder}", &id.id).replace("{number}", "1");
    if name == "DELETE /v1/libraries/{id}/members/{holder}" {
        stage.author().put_bare(&path).await.expect(204);
    }
    if name == "DELETE /v1/cohorts/{id}/members/{person}" {
        path = path.replace("{person}", &id.id);
        let enrol = json!({ "person": id.id, "role": "student" });
        let members = format!("/v1/cohorts/{}/members", stage.cohort);
        stage.author().post(&members, enrol).await.expect(201);
    }
    if name == "DELETE /v1/cohorts/{id}/codes/{code}" {
        let until = json!({ "valid_until": "2026-03-31T18:00:00Z" });
        let codes = format!("/v1/cohorts/{}/codes", stage.cohort);
        path = path.replace("{code}", &stage.author().post(&codes, until).await.expect(201).id());
    }
    if path.contains("{photograph}") {
        path = path.replace("{photograph}", or_somebody(&photographed(stage, &id.id).await));
    }
    path += &operation.needed_query();
    if name == "GET /v1/events" {
        path = format!("{path}{}", events_query(stage, case, &caller, &id));
    }

    let body = match name.as_str() {
        // The batch that the student made for it.
        "POST /v1/assignments/{id}/submissions" => {
            let batch = if case == "practical" { &id.formula } else { &id.id };
            Some(json!({ "batch": batch }))
        }
        // Another open case, and the report that stands in this one.
        "POST /v1/reactions/{id}/joining" => Some(json!({ "case": stage.other_case().await })),
        "POST /v1/reactions/{id}/erasures" => Some(json!({ "report": or_somebody(&id.formula) })),
        "POST /v1/cohorts/{id}/students/{person}/sign-offs" => {
            Some(json!({ "competency": competency(stage).await }))
        }
        _ => body(stage, operation, &id.id).await,
    };
    let tag = if operation.changes() { Some(stage.tag(&tagged(&path)).await) } else { None };
    let answer = dispatch(operation, &caller, &path, tag.as_deref(), body).await;
    if answer.status.is_success()
        && operation.method != "GET"
        && let Some(thing) = thing
    {
        stage.used_up(thing);
    }
    answer
}

/// A competency that one accepted work is enough for.
fn of_competency() -> Value {
    json!({ "name": Uuid::now_v7().to_string(), "says": "Makes it.", "rule": { "accepted": { "works": 1 } },
        "lasts_months": 12 })
}

async fn competency(stage: &Stage) -> String {
    stage.author().post("/v1/competencies", of_competency()).await.expect(201).id()
}

/// A sign-off of the student by the author.
async fn signed(stage: &Stage) -> String {
    let competency = json!({ "competency": competency(stage).await });
    let path = format!("/v1/cohorts/{}/students/{}/sign-offs", stage.cohort, stage.callers[1].id);
    stage.author().post(&path, competency).await.expect(201).id()
}

/// What is changed under its own address is read there; a proposal is of the draft, a count of the lot.
fn tagged(path: &str) -> String {
    match (path.strip_suffix("/proposal"), path.strip_suffix("/counts")) {
        (Some(revision), _) => format!("{revision}/draft"),
        (None, Some(lot)) => lot.to_owned(),
        (None, None) => path.to_owned(),
    }
}

/// An observation of a batch by the author; empty where none can be written.
async fn observed(stage: &Stage, batch: &str) -> String {
    let seen = json!({ "jar": 1, "seen": ["mould"] });
    let answer = stage.author().post(&format!("/v1/batches/{batch}/observations"), seen).await;
    answer.json.pointer("/observations/0/id").and_then(Value::as_str).unwrap_or_default().to_owned()
}

/// A photograph of a batch by whoever makes it; empty where none can be taken.
async fn photographed(stage: &Stage, batch: &str) -> String {
    for caller in stage.callers.iter().chain([&stage.other_student]) {
        let answer = caller.photograph(batch, pictures::photograph()).await;
        if answer.status.is_success() {
            return answer.id();
        }
    }
    String::new()
}

fn or_somebody(id: &str) -> &str {
    if id.is_empty() { "01990000-0000-7000-8000-000000000000" } else { id }
}

/// Which of the stage's things a case of an address speaks of.
fn thing_of<'c>(path: &str, case: &'c str) -> Option<&'c str> {
    match (path, case) {
        (_, "draft's formula") => Some("draft"),
        (_, "the author's") => Some("client"),
        ("/v1/libraries/{id}/members/{holder}" | "/v1/cohorts/{id}/members/{person}", _) => Some("bystander"),
        ("/v1/events", "everything" | "own doings" | "other's doings" | "library") => None,
        (path, _) if path.starts_with("/v1/sessions") || path.starts_with("/v1/people") => None,
        (path, _) if path.starts_with("/v1/acknowledgements") || path.starts_with("/v1/phrases") => None,
        (_, "-") => None,
        (_, case) => Some(case),
    }
}

fn events_query(stage: &Stage, case: &str, caller: &Caller, thing: &super::stage::Thing) -> String {
    match case {
        "everything" => String::new(),
        "own doings" => format!("?actor={}", or_somebody(&caller.id)),
        "other's doings" => format!("?actor={}", stage.other_student.id),
        "library" => format!("?subject={}", stage.library),
        "draft's formula" => format!("?subject={}", thing.formula),
        _ => format!("?subject={}", thing.id),
    }
}

/// What somebody sends who means it. Operations without a body have none.
pub(crate) async fn body(stage: &mut Stage, operation: &Operation, id: &str) -> Option<Value> {
    let fresh = || Uuid::now_v7().simple().to_string();
    let mut content = infused_oil();
    content["title"] = json!(format!("Oil {}", fresh()));
    Some(match operation.name().as_str() {
        "POST /v1/sessions" => json!({ "sign_in_name": "noor.haddad", "password": PASSWORD }),
        "POST /v1/sessions/refresh" => {
            let of = json!({ "sign_in_name": "tomasz.lipinski", "password": PASSWORD });
            let tokens = stage.clinic.nobody.post("/v1/sessions", of).await.expect(201);
            json!({ "refresh_token": tokens.text_at("/refresh_token") })
        }
        "POST /v1/one-time-codes/use" => {
            let of = json!({ "sign_in_name": fresh(), "name": "Newcomer", "role": "student" });
            let invited = stage.clinic.administrator.post("/v1/invitations", of).await.expect(201);
            json!({ "code": invited.text_at("/code"), "password": PASSWORD })
        }
        "PUT /v1/me/password" => json!({ "current": PASSWORD, "new": PASSWORD }),
        "PATCH /v1/people/{id}" => json!({ "name": "Renamed" }),
        "POST /v1/invitations" => json!({ "sign_in_name": fresh(), "name": "Newcomer", "role": "student" }),
        "POST /v1/api-clients" => json!({
            "name": "Label printer", "responsible": stage.author().id, "scopes": ["formulas:read"],
            "valid_until": "2026-12-31T00:00:00Z",
        }),
        "PUT /v1/policy" => {
            let policy = stage.clinic.administrator.get("/v1/policy").await.expect(200);
            policy.json["content"].clone()
        }
        "POST /v1/libraries" => json!({ "name": fresh() }),
        "PUT /v1/libraries/{id}" => json!({ "name": "First-year creams" }),
        "POST /v1/libraries/{id}/formulas" | "POST /v1/formulas/{id}/revisions" | "POST /v1/evaluations" => {
            json!({ "content": content })
        }
        "PUT /v1/revisions/{id}/draft" => content,
        "POST /v1/revisions/{id}/decision" => json!({ "decision": "approve" }),
        "POST /v1/revisions/{id}/withdrawal" => json!({ "reason": "A better one is in work." }),
        "POST /v1/revisions/{id}/acknowledgements" => stage.acknowledgement(id).await,
        "POST /v1/amendments" => json!({
            "reason": "Agreed among the teachers.",
            "change": { "add_caution": { "level": "note", "text": format!("Note {}.", fresh()) } },
        }),
        "POST /v1/amendments/{id}/decision" => json!({ "decision": "confirm" }),
        "POST /v1/batches" => json!({ "revision": id }),
        "POST /v1/batches/{id}/entries" => json!({ "kind": "observation", "note": "Smooth and pale." }),
        "POST /v1/batches/{id}/checks" => json!({ "kind": "line_clearance", "passed": true }),
        "POST /v1/batches/{id}/hold-releases" => json!({ "step": 1 }),
        "POST /v1/batches/{id}/jars" => json!({ "jars": 1, "fill": "10 g" }),
        "POST /v1/batches/{id}/observations" => json!({ "jar": 1, "seen": ["mould"] }),
        "POST /v1/batches/{id}/handovers" => {
            json!({ "to": stage.callers[INSTRUCTOR].id, "reason": "The maker is away." })
        }
        "POST /v1/handovers/{id}/answer" => json!({ "answer": "accepted" }),
        "POST /v1/batches/{id}/pauses" => json!({ "why": "macerating", "until": "2026-03-20" }),
        "POST /v1/batches/{id}/look-plans" => {
            json!({ "what": ["shake"], "every_days": 1, "until": "2026-03-20" })
        }
        "POST /v1/batches/{id}/shortenings" => {
            json!({ "observation": or_somebody(&observed(stage, id).await), "last_day": "2026-03-10", "reason": "Mould." })
        }
        "POST /v1/batches/{id}/photographs/{photograph}/withdrawal" => json!({ "reason": "It is blurred." }),
        "POST /v1/batches/{id}/release" => json!({ "confirmed": [] }),
        "POST /v1/batches/{id}/discard" => json!({ "reason": "The phases separated." }),
        "POST /v1/batches/{id}/authorisations" => json!({ "entry": id }),
        "POST /v1/batches/{id}/adjustments" => json!({ "reason": "The spoon slipped." }),
        "POST /v1/batches/{id}/submissions" => json!({}),
        "POST /v1/batches/{id}/reviews" => json!({ "verdict": "accept", "summary": "Good work." }),
        "POST /v1/submissions/{id}/marks" => {
            json!({ "reason": "wrong_level", "criteria": [{ "criterion": 1, "level": 1 }] })
        }
        "POST /v1/recalls" => {
            json!({ "cause": "lot", "id": or_somebody(id), "reason": "The supplier withdrew it." })
        }
        "POST /v1/recalls/{id}/outcomes" => json!({ "item": 1, "outcome": "destroyed" }),
        "POST /v1/recalls/{id}/jar-outcomes" => json!({ "item": 1, "jars": [1], "outcome": "returned" }),
        "POST /v1/jars/{id}/decanting" => {
            json!({ "into": [{ "jars": 2, "fill": "5 g" }], "reason": "A small jar is needed." })
        }
        "POST /v1/jars/{id}/sample" => json!({ "reason": "The first one was used up." }),
        "POST /v1/jars/{id}/handing" => json!({
            "reference": "C-1042", "suitability_asked": true, "cautions_told": true, "opening_told": true,
        }),
        "POST /v1/jars/{id}/reactions" => json!({ "what": "It itched.", "outcome": "recovered" }),
        "POST /v1/reactions/{id}/notes" => json!({ "text": "The wax was asked about." }),
        "POST /v1/reactions/{id}/joining" => json!({ "case": or_somebody("") }),
        "POST /v1/reactions/{id}/conclusion" => json!({ "causality": "possible", "conclusion": "Wool fat." }),
        "POST /v1/jars/{id}/return" => json!({ "note": "Half used." }),
        "POST /v1/recalls/{id}/close" => json!({ "reason": "The rest was thrown away." }),
        "POST /v1/submissions/{id}/appeal" => json!({ "reason": "record_misread", "criteria": [1] }),
        "POST /v1/submissions/{id}/appeal/decision" => json!({ "outcome": "stands" }),
        "POST /v1/cohorts/{id}/students/{person}/sign-offs" => {
            json!({ "competency": or_somebody(id) })
        }
        "POST /v1/sign-offs/{id}/revocation" => json!({ "reason": "signed_by_mistake" }),
        "POST /v1/competencies" => of_competency(),
        "POST /v1/cohorts/{id}/moderation-shares" => json!({ "percent": 0 }),
        "POST /v1/moderations/{id}/mark" => json!({ "criteria": [{ "criterion": 1, "level": 1 }] }),
        "POST /v1/moderations/{id}/second-marker" => json!({ "person": stage.second_marker().id }),
        "POST /v1/moderations/{id}/settlement" => json!({ "outcome": "first_stands" }),
        "POST /v1/phrases" => json!({ "text": fresh() }),
        "POST /v1/cohorts/{id}/work-limits" => json!({ "cannot_work_with": "wool fat", "consent": true }),
        "POST /v1/revisions/{id}/self-check" => json!({ "answers": ["pregnant"] }),
        "POST /v1/relations" => json!({ "student": stage.other_student.id }),
        "POST /v1/cohorts" => json!({
            "name": fresh(), "starts_on": "2026-03-02", "ends_on": "2026-07-03", "time_zone": "Europe/Berlin",
        }),
        "PUT /v1/cohorts/{id}" => json!({
            "name": "First year", "starts_on": "2026-03-02", "ends_on": "2026-07-10", "time_zone": "UTC",
        }),
        "POST /v1/cohorts/{id}/members" => json!({ "person": stage.other_student.id, "role": "student" }),
        "POST /v1/cohorts/{id}/class" => json!({ "csv": "Tomasz Lipinski, tomasz.lipinski" }),
        "POST /v1/enrolments" => json!({ "code": stage.code }),
        "POST /v1/cohorts/{id}/assignments" => stage.assignment_content(),
        "PUT /v1/assignments/{id}" => {
            json!({ "content": stage.assignment_content(), "reason": "Said more plainly." })
        }
        "POST /v1/questions/{id}/answers" => {
            json!({ "answers": [{ "part": "answer", "values": ["12.5 g"] }] })
        }
        // What asks without changing anything asks the document's own example.
        _ => return operation.body(),
    })
}

/// Sends an operation with the headers that its kind of request carries.
pub(crate) async fn dispatch(
    operation: &Operation,
    caller: &Caller,
    path: &str,
    tag: Option<&str>,
    body: Option<Value>,
) -> Answer {
    let key = Uuid::now_v7().to_string();
    let mut headers = Vec::new();
    if operation.creates() {
        headers.push(("idempotency-key", key.as_str()));
    }
    if let Some(tag) = tag {
        headers.push(("if-match", tag));
    }
    if body.is_some() {
        headers.push(("content-type", "application/json"));
    }
    let method: Method = operation.method.parse().unwrap();
    if operation.takes_picture() {
        headers.push(("content-type", "image/jpeg"));
        return caller.send(method, path, &headers, Some(pictures::photograph())).await;
    }
    caller.send(method, path, &headers, body.map(|body| body.to_string().into_bytes())).await
}
