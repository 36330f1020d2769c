//! The facts of a material as people read them, each with its source.

use serde_json::Value;

use crate::figures::sourced;
use crate::reading::{allergy_group, audience};
use crate::texts::{t, t1, t2};

/// One fact of a material, with where it comes from.
pub(crate) struct Fact {
    pub(crate) name: String,
    pub(crate) value: String,
    pub(crate) source: String,
}

/// A caution that the material brings.
pub(crate) struct Caution {
    pub(crate) class: &'static str,
    pub(crate) kind: String,
    pub(crate) text: String,
    pub(crate) source: String,
}

/// Everything that is told of a material.
pub(crate) struct Told {
    pub(crate) facts: Vec<Fact>,
    pub(crate) cautions: Vec<Caution>,
}

/// What stands elsewhere on the page, or in a form of its own.
const ELSEWHERE: [&str; 11] = [
    "name",
    "key",
    "kind",
    "synonyms",
    "cautions",
    "allergy_groups",
    "evidence",
    "constituents",
    "botanical",
    "source",
    "status",
];

/// Tells the facts of a material. What has no words of its own is told by its name, so that nothing is left out.
pub(crate) fn told(value: &Value) -> Told {
    let mut all = Vec::new();
    let items = |name: &str| value.get(name).and_then(Value::as_array).into_iter().flatten();
    for (name, inner) in value.as_object().into_iter().flatten() {
        if !ELSEWHERE.contains(&name.as_str()) {
            facts(name, inner, &mut all);
        }
    }
    all.extend(value.get("botanical").and_then(plant));
    let alike = value.pointer("/botanical/species/look_alikes").and_then(Value::as_array);
    for one in alike.into_iter().flatten() {
        let poisonous = one.get("poisonous").and_then(Value::as_bool) == Some(true);
        let id = if poisonous { "fact-poisonous" } else { "fact-harmless" };
        // word("fact")
        let value = t2(id, text(one, "name"), text(one, "text"));
        all.push(Fact { name: t("fact-alike"), value, source: source_of(one) });
    }
    for one in items("constituents") {
        let (substance, share) = (text(one, "substance"), range(one, "low_percent", "high_percent", "%"));
        let value = share.map_or(substance.clone(), |share| format!("{substance}, {share}"));
        all.push(Fact { name: t("fact-constituent"), value, source: source_of(one) });
    }
    for one in items("allergy_groups") {
        let value = allergy_group(&text(one, "group"));
        all.push(Fact { name: t("fact-allergy"), value, source: source_of(one) });
    }
    for one in items("evidence") {
        let value = text(one, "finding").replace('-', " ");
        all.push(Fact { name: audience(&text(one, "audience")), value, source: source_of(one) });
    }
    let whole = source_of(value);
    if !whole.is_empty() {
        all.push(Fact { name: t("fact-source"), value: whole, source: String::new() });
    }
    Told { facts: all, cautions: items("cautions").map(caution).collect() }
}

/// A fact by its field, as the trade calls it.
fn called(field: &str) -> String {
    match field {
        "hlb" | "emulsifier" => t("fact-hlb"),
        "inci" => t("field-of-inci"),
        "melting" => t("fact-melting"),
        "required_oil_in_water" => t("field-of-required-hlb"),
        "required_water_in_oil" => t("fact-required-water-in-oil"),
        other => other.replace('_', " "),
    }
}

fn text(value: &Value, name: &str) -> String {
    value.get(name).and_then(plain).unwrap_or_default()
}

/// The plant and its part: `Olea europaea L. (Oleaceae), fruit; olive`.
fn plant(value: &Value) -> Option<Fact> {
    let species = value.get("species")?;
    let (name, family) = (text(species, "name"), text(species, "family"));
    let mut told = format!("{name} {}", text(species, "author")).trim().to_owned();
    if !family.is_empty() {
        told = format!("{told} ({family})");
    }
    let parts = ["part", "state", "cut"].map(|key| text(value, key));
    for part in parts.iter().filter(|part| !part.is_empty()) {
        told = format!("{told}, {part}");
    }
    let called = text(species, "common_names");
    if !called.is_empty() {
        told = format!("{told}. {}", t1("fact-called", called));
    }
    Some(Fact { name: t("fact-plant"), value: told, source: source_of(species) })
}

fn caution(value: &Value) -> Caution {
    let whom: Vec<String> = value
        .get("audiences")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .map(audience)
        .collect();
    let (class, kind) = match text(value, "level").as_str() {
        "stop" => ("stop", t("level-stop")),
        "contraindication" => ("contra", t("level-contraindication")),
        "note" => ("note", String::new()),
        _ => ("", whom.join(", ")),
    };
    let routes = text(value, "routes").replace('-', " ");
    let source = source_of(value);
    let source = if routes.is_empty() { source } else { format!("{} {source}", t1("fact-routes", routes)) };
    Caution { class, kind, text: text(value, "text"), source }
}

/// A range of two fields with its unit; one value where they are the same.
fn range(value: &Value, low: &str, high: &str, unit: &str) -> Option<String> {
    let (low, high) = (value.get(low).and_then(plain)?, value.get(high).and_then(plain)?);
    let unit = match unit {
        "" | "HLB" => String::new(),
        "C" => "\u{a0}°C".to_owned(),
        other => format!("\u{a0}{other}"),
    };
    Some(if low == high { format!("{low}{unit}") } else { format!("{}{unit}", t2("fact-range", low, high)) })
}

/// What was measured: a range with its unit, or a density as it was published and in g/mL.
fn measured(value: &Value) -> Option<String> {
    let at = value.get("at_celsius").and_then(plain).map(|at| format!(" {}", t1("fact-at", at)));
    let at = at.unwrap_or_default();
    if let Some(density) = range(value, "low_g_per_ml", "high_g_per_ml", "g/mL") {
        let published = text(value, "as_published");
        let published = if published.is_empty() { published } else { format!(" ({published})") };
        return Some(format!("{density}{at}{published}"));
    }
    let unit = text(value, "unit");
    range(value, "low", "high", &unit).map(|range| format!("{range}{at}"))
}

pub(crate) fn plain(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Number(number) => Some(number.to_string()),
        Value::Bool(true) => Some(t("yes-word")),
        Value::Bool(false) => Some(t("no-word")),
        Value::Array(items) => {
            let all: Vec<String> = items.iter().filter_map(plain).collect();
            (all.len() == items.len() && !all.is_empty()).then(|| all.join(", "))
        }
        _ => None,
    }
}

/// Where a fact comes from, as it is kept: a text, or an object with one.
fn source_of(value: &Value) -> String {
    let text = |value: &Value| plain(value).or_else(|| value.get("text").and_then(plain));
    let source = value.get("source").and_then(text).unwrap_or_default();
    let status = value.get("status").and_then(plain).unwrap_or_default().replace('_', " ");
    if source.is_empty() && status.is_empty() { String::new() } else { sourced(&source, &status) }
}

/// Facts as they are kept, a line each: a value with its source stays one line.
fn facts(name: &str, value: &Value, into: &mut Vec<Fact>) {
    if let Some(measured) = measured(value) {
        into.push(Fact { name: called(name), value: measured, source: source_of(value) });
        return;
    }
    match value {
        Value::Null => {}
        Value::Object(fields) => {
            let inner: Vec<(&String, &Value)> =
                fields.iter().filter(|(key, _)| !["source", "status"].contains(&key.as_str())).collect();
            let all_plain = inner.iter().all(|(_, value)| plain(value).is_some() || value.is_null());
            if all_plain && !name.is_empty() {
                let told = inner.iter().filter_map(|(key, value)| {
                    let value = plain(value)?;
                    let alone = inner.len() == 1 || *key == "value";
                    Some(if alone { value } else { format!("{} {value}", key.replace('_', " ")) })
                });
                let value_told = told.collect::<Vec<_>>().join(", ");
                into.push(Fact { name: called(name), value: value_told, source: source_of(value) });
            } else {
                for (key, value) in &inner {
                    facts(key, value, into);
                }
                let source = source_of(value);
                if !source.is_empty() {
                    into.push(Fact { name: t("fact-source"), value: source, source: String::new() });
                }
            }
        }
        Value::Array(items) if plain(value).is_none() => {
            for item in items {
                facts(name, item, into);
            }
        }
        other => {
            if let Some(value) = plain(other) {
                let value = if name == "emulsifies" { value.replace('-', " ") } else { value };
                into.push(Fact { name: called(name), value, source: String::new() });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_was_measured_is_told_with_its_range_and_unit() {
        let told = told(&json!({
            "melting": { "low": "61", "high": "65", "value": "63", "unit": "C", "at_celsius": null,
                "source": { "text": "A monograph" }, "status": "verified" },
            "density": { "low_g_per_ml": "0.958", "high_g_per_ml": "0.958", "g_per_ml": "0.958",
                "as_published": "0.960, SG 20/20", "at_celsius": "20" },
            "botanical": { "part": "fruit", "species": { "name": "Olea europaea", "author": "L.", "family": "Oleaceae",
                "common_names": ["olive"], "look_alikes": [{ "name": "privet", "poisonous": true, "text": "Black berries." }] } },
            "cautions": [{ "level": "caution", "audiences": ["pregnant"], "text": "Ask first.", "routes": ["by-mouth"] }],
        }));
        let facts: Vec<_> = told.facts.iter().map(|fact| (fact.name.as_str(), fact.value.as_str())).collect();
        let density = "0.958\u{a0}g/mL at 20\u{a0}°C (0.960, SG 20/20)";
        let plant = ("plant", "Olea europaea L. (Oleaceae), fruit. Also called olive");
        let alike = ("mistaken for", "privet, which is poisonous. Black berries.");
        assert_eq!(facts, [("density", density), ("melting range", "61 to 65\u{a0}°C"), plant, alike]);
        let [caution] = told.cautions.as_slice() else { panic!("one caution") };
        assert_eq!((caution.kind.as_str(), caution.text.as_str()), ("Pregnant", "Ask first."));
        assert_eq!(caution.source.trim(), "When used by mouth.");
    }

    #[test]
    fn a_fact_stands_with_its_source_and_an_unknown_one_is_left_out() {
        let mut all = Vec::new();
        let value = json!({
            "density": { "value": "0.91", "at": "20", "source": "a book", "status": "verified" },
            "kind": "oil", "unknown": null, "names": ["a", "b"],
        });
        facts("", &value, &mut all);
        let told: Vec<_> = all.iter().map(|fact| format!("{}: {}", fact.name, fact.value)).collect();
        assert_eq!(told, ["density: at 20, 0.91", "kind: oil", "names: a, b"]);
        assert!(all[0].source.contains("a book"));
    }
}
