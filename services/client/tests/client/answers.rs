//! What the service would answer, written down as JSON by hand: reading it back through the types that the client
//! shares with the service would prove nothing.

use serde_json::{Value, json};

use crate::server::Answer;

pub(crate) const REVISION: &str = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80";
pub(crate) const FORMULA: &str = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e81";
pub(crate) const LIBRARY: &str = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e82";
pub(crate) const PERSON: &str = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e83";
pub(crate) const NESTED: &str = "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e84";
pub(crate) const DIGEST: &str = "7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069";
pub(crate) const NOTICE: &str = "Ask a doctor or midwife first in pregnancy.";
/// The key of a contraindication that no shell may take for anything but a word.
pub(crate) const AWKWARD: &str = "not for 'broken' skin; $(exit 9)";

pub(crate) fn ok(body: &Value) -> Answer {
    Answer::new("200 OK", &[("content-type", "application/json")], &body.to_string())
}

pub(crate) fn created(body: &Value) -> Answer {
    Answer::new("201 Created", &[("content-type", "application/json")], &body.to_string())
}

pub(crate) fn problem(status: &str, headers: &[(&str, &str)], body: &Value) -> Answer {
    let headers: Vec<(&str, &str)> = headers
        .iter()
        .copied()
        .chain([("content-type", "application/problem+json; charset=utf-8")])
        .collect();
    Answer::new(status, &headers, &body.to_string())
}

/// The service is busy; `headers` say when to come back.
pub(crate) fn busy(status: &str, headers: &[(&str, &str)]) -> Answer {
    let body = json!({
        "type": "/problems/busy", "title": "Busy", "status": status.split(' ').next().unwrap().parse::<u16>().unwrap(),
        "detail": "Come back later.", "request_id": "r-7",
    });
    problem(status, headers, &body)
}

pub(crate) fn caution_set() -> Value {
    json!({
        "revision": REVISION, "digest": DIGEST, "notice": NOTICE,
        "cautions": [
            { "key": AWKWARD, "text_version": 2, "level": "contraindication", "group": "must_not", "stage": "use", "language": "en",
              "text": "Not on broken skin.", "source": "the author", "status": "common practice", "audiences": ["everyone"],
              "origins": ["calendula cream > borax"] },
            { "key": "bee-products", "text_version": 1, "level": "caution", "group": "ask_first", "stage": "use", "language": "en",
              "text": "Allergy to bee products.", "source": "the author", "status": "common practice", "audiences": ["everyone"],
              "origins": [] },
            { "key": "patch", "text_version": 1, "level": "note", "group": "how_to_use", "stage": "use", "language": "en",
              "text": "Patch-test\u{1b}[2J first.", "source": "the author", "status": "common practice", "audiences": ["everyone"],
              "origins": [] },
        ],
    })
}

pub(crate) fn closed_gate() -> Answer {
    let body = json!({
        "type": "/problems/gate-closed", "title": "The gate is closed", "status": 403,
        "detail": "Acknowledge the cautions first.", "request_id": "r-1",
        "outstanding": {
            "caution_set": caution_set(),
            "acknowledge": format!("/v1/revisions/{REVISION}/acknowledgements"),
            "reason": "acknowledge the cautions first",
        },
    });
    problem("403 Forbidden", &[], &body)
}

pub(crate) fn acknowledgement() -> Value {
    json!({
        "id": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e90", "holder": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e91",
        "holder_name": "Noor Haddad", "given_by": PERSON,
        "revision": REVISION, "title": "Calendula salve", "revision_digest": "ab", "purpose": "make",
        "caution_set": caution_set(), "contraindications": [AWKWARD],
        "at": "2026-03-01T08:00:00Z", "valid_until": "2026-08-28T08:00:00Z",
        "meant_for": [], "needs_countersignature": false, "open": true,
    })
}

fn figure(name: &str, value: &str, unit: &str) -> Value {
    json!({ "name": name, "value": value, "unit": unit, "rule": "given", "sentence": "" })
}

/// 12 jars of 30 g with 4 % loss: 375 g to weigh, of which a fifth is wax.
pub(crate) fn recipe() -> Value {
    let unknown = json!({ "name": "measure", "unit": "mL", "unknown": "density of infused oil", "rule": "volume",
        "sentence": "" });
    json!({
        "revision": REVISION, "formula": FORMULA, "number": 3, "state": "approved", "digest": "ab",
        "title": "Calendula salve", "preparation": "salve", "route": "on intact skin, leave-on",
        "regime": "teaching_only", "site": "face", "youngest": "3 years", "approval_note": "approved by its author",
        "caution_set": caution_set(), "made_for": "12 containers of 30 g, 4 % transfer loss", "asked": { "containers": 12, "fill": "30 g" },
        "total": figure("total", "375", "g"),
        "phases": [{ "name": "oil phase", "lines": [
            { "line": "1.1", "name": "yellow beeswax", "function": "consistency", "as_written": "20 %",
              "weigh": figure("weigh", "75", "g"), "rounding": figure("rounding", "0", "g") },
            { "line": "1.2", "name": "infused oil of calendula", "as_written": "79.8 %", "nested_revision": NESTED,
              "weigh": figure("weigh", "299.3", "g"), "rounding": figure("rounding", "0.05", "g"),
              "measure": unknown },
            { "line": "1.3", "name": "rosemary extract", "as_written": "0.2 %",
              "weigh": figure("weigh", "0.8", "g"), "weighing_note": "use a finer balance" },
        ]}],
        "method": [
            { "do": "Melt the wax in the oil", "phase": "oil phase", "temperature": "70 C at most" },
            { "do": "Pour into jars", "hold": true },
        ],
        "label": { "directions": "Apply thinly.", "storage": "", "container": "dark jar" },
        "figures": [{ "name": "to weigh in all", "value": "375", "unit": "g", "rule": "gross_from_net",
            "sentence": "360 g divided by what a loss of 4 % leaves is 375 g" }],
        "use_by": {
            "date": "2027-03-21", "limited_by": "remembered keeping time of infused oils", "refrigerate": true, "figures": [],
            "rules": [
                { "by": "remembered keeping time of infused oils", "rule": "oil", "outcome": "dated", "date": "2027-03-21" },
                { "by": "remembered keeping time of salves", "outcome": "switched off", "reason": "Dated by their oil." },
            ],
        },
        "unknown": ["unknown: density of infused oil"],
    })
}

/// A label with something in every part.
pub(crate) fn label() -> Value {
    let fact = |text: &str, from: &str| json!({ "text": text, "from": from });
    json!({
        "revision": REVISION,
        "name": fact("Calendula salve", "formula"), "preparation": fact("salve", "formula"),
        "marks": [fact("For practice, not for use.", "formula")],
        "regime": fact("Teaching only.", "formula"),
        "route": fact("For unbroken skin; leave on.", "formula"),
        "meant_for": fact("From 3 years on.", "formula"),
        "directions": fact("Apply thinly.", "formula"),
        "longest_use": [{ "text": "One week at most.", "from": "materia",
            "source": { "text": "a monograph", "status": "verified" } }],
        "warnings": [{ "audiences": ["allergy:asteraceae"], "heading": "Allergy: daisy family (Asteraceae)", "warnings": [
            { "text": "Contains a daisy.", "level": "contraindication", "from": "materia",
              "source": { "text": "a monograph", "status": "verified" } }] }],
        "ingredients": { "of": "planned", "from": "calculation", "items": [
            { "name": "olive oil", "inci": "Olea Europaea Fruit Oil" },
            { "name": "emulsifying wax", "place_unknown": true },
            { "name": "dried calendula flower", "inci": "Calendula Officinalis Flower", "drawn_out": true }] },
        "allergens": [{ "label_name": "Linalool", "unknown": "unknown: share of lavender oil", "from": "calculation",
            "source": { "text": "a law", "status": "verified" } }],
        "net_contents": fact("30 g", "request"),
        "made_on": { "day": "2026-03-21", "from": "request" },
        "use_by": { "day": "2026-04-25", "because": "published rules", "from": "calculation" },
        "after_opening": fact("Once opened: six weeks.", "formula"),
        "storage": [fact("Keep cool.", "formula")],
        "children": fact("Keep out of the reach of children.", "common_practice"),
        "clinic": fact("Aldergrove Teaching Clinic", "policy"),
        "notice": fact(NOTICE, "policy"),
        "missing": ["ingredients: no INCI name of emulsifying wax is known"],
        "room": { "area": "4 cm2", "fits": false,
            "needed": { "name": "room needed", "value": "9.5", "unit": "cm2", "rule": "label_room",
                "sentence": "380 characters at 40 on a square centimetre need 9.5 cm2" },
            "exceeding": [{ "part": "notice", "characters": 41, "too_many": 12 }] },
        "layout": { "fits": false, "shortened": true,
            "jar": [{ "part": "name", "text": "Calendula salve" }, { "part": "warnings", "text": "Daisy family: not if allergic." }],
            "leaflet": [{ "part": "notice", "text": NOTICE }],
            "least_area": { "name": "least area", "value": "5.2", "unit": "cm2" } },
    })
}
