//! Walking the document as somebody: every read of every id there is, and every write that does no harm.
#![expect(clippy::panic, reason = "a table or a walk that makes no sense is a failure")]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use reqwest::Method;
use serde_json::{Value, json};
use stillroom_tests::{Answer, Caller};

use super::planted::Planted;
use super::search::Sought;
use crate::authority::document::Operation;
use crate::authority::request::dispatch;
use crate::authority::rows::ids;

/// A canary that came back.
#[derive(Debug)]
pub(super) struct Hit {
    /// From which operation.
    pub(super) operation: String,
    /// What was asked.
    pub(super) asked: String,
    /// What came.
    pub(super) canary: String,
}

impl fmt::Display for Hit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} in the answer to {}", self.canary, self.asked)
    }
}

/// What would change who may read: the walk leaves it out, so that what it finds was open all along.
fn harms(operation: &Operation) -> bool {
    operation.method == "DELETE"
        || operation.path.ends_with("/withdrawal")
        || operation.path.ends_with("/members/{holder}")
        || operation.path.starts_with("/v1/one-time-codes")
        // Wrong passwords slow the next sign-in.
        || operation.path == "/v1/sessions" && operation.method == "POST"
        || operation.path.ends_with("/password")
}

/// Walks the document as a caller and answers what it found of what is sought.
pub(super) async fn walk(
    planted: &Planted,
    document: &[Operation],
    caller: &Caller,
    sought: &Sought,
) -> Vec<Hit> {
    let known = every_id(&planted.clinic.database).await;
    let mut hits = Vec::new();
    let mut asked = 0;
    for operation in document.iter().filter(|operation| !harms(operation)) {
        for path in addresses(operation, &known) {
            if operation.method != "GET" {
                for body in bodies(operation, &known) {
                    // No version is 0: a change is refused as stale, after whatever it may say.
                    let answer = dispatch(operation, caller, &path, Some("\"v0\""), body).await;
                    note(&mut hits, operation, &path, &answer, sought);
                    asked += 1;
                }
                continue;
            }
            for query in queries(operation, &known) {
                let path = format!("{path}{query}");
                let answer = caller.get(&path).await;
                note(&mut hits, operation, &path, &answer, sought);
                asked += 1;
            }
            if operation.path.contains("{id}") {
                let head = caller.send(Method::HEAD, &path, &[("if-none-match", "*")], None).await;
                note(&mut hits, operation, &path, &head, sought);
            }
        }
    }
    assert!(asked > 150, "{asked} requests");
    hits
}

fn note(hits: &mut Vec<Hit>, operation: &Operation, path: &str, answer: &Answer, sought: &Sought) {
    let mut text = answer.text.clone();
    for (name, value) in &answer.headers {
        text.push_str(&format!("\n{name}: {}", value.to_str().unwrap_or_default()));
    }
    assert_ne!(answer.status, 500, "{} {path}: {}", operation.method, answer.text);
    for canary in sought.find(&text) {
        let asked = format!("{} {path} ({})", operation.method, answer.status);
        hits.push(Hit { operation: operation.name(), asked, canary });
    }
}

/// Every read of every id there is, with every parameter.
pub(crate) async fn reads(url: &str, document: &[Operation]) -> Vec<String> {
    let known = every_id(url).await;
    let mut all = Vec::new();
    for operation in document.iter().filter(|operation| operation.method == "GET") {
        for path in addresses(operation, &known) {
            all.extend(queries(operation, &known).into_iter().map(|query| format!("{path}{query}")));
        }
    }
    all
}

type Known = BTreeMap<&'static str, Vec<String>>;

/// Every id that exists, by the kind that the document calls it.
async fn every_id(url: &str) -> Known {
    let mut known = Known::new();
    for (kind, table) in [
        ("RevisionId", "revision"),
        ("FormulaId", "formula"),
        ("LibraryId", "library"),
        ("BatchId", "batch"),
        ("AcknowledgementId", "acknowledgement"),
        ("AmendmentId", "amendment"),
        ("ApiClientId", "api_client"),
        ("PersonId", "person"),
        ("SessionId", "session"),
        ("HolderId", "principal"),
        ("CohortId", "cohort"),
        ("AssignmentId", "assignment"),
        ("QuestionId", "question"),
        ("LotId", "lot"),
        ("RecallId", "recall"),
        ("JarId", "jar"),
        ("HandoverId", "batch_handover"),
        ("ObservationId", "batch_observation"),
        ("PhotographId", "batch_photograph"),
        ("ReactionCaseId", "reaction_case"),
        ("ReactionReportId", "reaction_report"),
        ("WorkSubmissionId", "handed_work"),
        ("PhraseId", "kept_phrase"),
        ("ModerationId", "moderation"),
        ("SignOffId", "sign_off"),
    ] {
        known.insert(kind, ids(url, table, "id").await);
    }
    // Where all of a kind are alike, the newest few will do: nothing planted is in the materia medica or in a name.
    for kind in ["PersonId", "HolderId", "SessionId", "AcknowledgementId", "CohortId", "AssignmentId"] {
        let all = &known[kind];
        let few = all.iter().rev().take(4).cloned().collect();
        known.insert(kind, few);
    }
    let materials = ids(url, "material", "id").await;
    known.insert("MaterialId", materials.into_iter().take(2).collect());
    known
}

/// The addresses of an operation: one for every id of its kind.
fn addresses(operation: &Operation, known: &Known) -> Vec<String> {
    match operation.path_parameters().as_slice() {
        [] => vec![operation.path.clone()],
        [(name, kind)] if kind.is_empty() => {
            vec![operation.path.replace(&format!("{{{name}}}"), "gate-closed")]
        }
        [(name, kind)] => {
            let of_kind = known.get(kind.as_str()).unwrap_or_else(|| panic!("no ids of the kind {kind}"));
            of_kind.iter().map(|id| operation.path.replace(&format!("{{{name}}}"), id)).collect()
        }
        [(name, kind), (other, of_other)] => {
            // What is no id is a number within the thing before it.
            let first = vec!["1".to_owned()];
            let of = |kind: &String| match kind.as_str() {
                "" => &first,
                kind => known.get(kind).unwrap_or_else(|| panic!("no ids of the kind {kind}")),
            };
            let with = |id: &String| operation.path.replace(&format!("{{{name}}}"), id);
            let whole = |path: String| {
                of(of_other)
                    .iter()
                    .map(move |id| path.replace(&format!("{{{other}}}"), id))
                    .collect::<Vec<_>>()
            };
            of(kind).iter().flat_map(|id| whole(with(id))).collect()
        }
        more => panic!("{}: {more:?}", operation.name()),
    }
}

/// Queries: the least that is needed, then each further parameter, with what has to go with it.
fn queries(operation: &Operation, known: &Known) -> BTreeSet<String> {
    let needed = operation.needed_query();
    let mut all = BTreeSet::from([needed.clone()]);
    let parameters = operation.query_parameters();
    let value = |name: &str| {
        let example = parameters.iter().find(|(other, ..)| other == name).map(|(.., example)| example);
        match example {
            Some(Value::String(text)) => text.replace('%', "%25").replace(' ', "%20"),
            Some(Value::Number(number)) => number.to_string(),
            _ => "true".to_owned(),
        }
    };
    for (name, kind, _) in &parameters {
        let mut with = |value: &str| {
            let begin = if needed.is_empty() { "?".to_owned() } else { format!("{needed}&") };
            let companion = match name.as_str() {
                "containers" => format!("&fill={}", self::value_of("fill", &parameters)),
                "line" => format!("&line_amount={}", self::value_of("line_amount", &parameters)),
                "transfer_loss" | "evaporation_loss" | "readability" => "&mass=517.3%20g".to_owned(),
                _ => String::new(),
            };
            all.insert(format!("{begin}{name}={value}{companion}"));
        };
        match (name.as_str(), known.get(kind.as_str())) {
            (_, Some(of_kind)) => of_kind.iter().for_each(|id| with(id)),
            ("subject", None) => {
                for kind in ["RevisionId", "FormulaId", "LibraryId", "BatchId"] {
                    known[kind].iter().for_each(|id| with(id));
                }
            }
            _ => with(&value(name)),
        }
    }
    all
}

fn value_of(name: &str, parameters: &[(String, String, Value)]) -> String {
    let example = parameters.iter().find(|(other, ..)| other == name).map(|(.., example)| example);
    example.and_then(Value::as_str).unwrap_or_default().replace(' ', "%20")
}

/// Bodies: for what names other things, one that names each of them; else the document's example.
fn bodies(operation: &Operation, known: &Known) -> Vec<Option<Value>> {
    match operation.path.as_str() {
        "/v1/evaluations" => {
            known["FormulaId"].iter().map(|id| Some(json!({ "content": made_from(id) }))).collect()
        }
        "/v1/libraries/{id}/formulas" | "/v1/formulas/{id}/revisions" => {
            known["RevisionId"].iter().take(3).map(|id| Some(json!({ "content": made_from(id) }))).collect()
        }
        "/v1/batches" => {
            let of = known["RevisionId"].iter();
            of.map(|id| Some(json!({ "revision": id, "make_for": { "mass": "517.3 g" } }))).collect()
        }
        // A note shuts nobody out: whoever asks next finds every door as it was planted.
        "/v1/amendments" => vec![Some(json!({
            "reason": "Agreed among the teachers.",
            "change": { "add_caution": { "level": "note", "text": "Ask when in doubt." } },
        }))],
        _ => vec![operation.body()],
    }
}

/// A formula that is made from another.
fn made_from(id: &str) -> Value {
    json!({
        "title": "Borrowed", "preparation": "salve", "route": "on intact skin, leave-on", "regime": "teaching_only",
        "phases": [{ "name": "all", "lines": [
            { "formula": id, "amount": "100 g", "function": "vehicle" },
            { "material": "yellow beeswax", "amount": "10 g" } ] }],
        "method": []
    })
}
