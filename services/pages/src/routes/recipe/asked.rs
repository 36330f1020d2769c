//! For how much a recipe is asked, as it is typed in an address or a form.

use std::collections::BTreeMap;

use actix_web::HttpRequest;
use wire::problem::FieldError;
use wire::recipe::MakeFor;

use crate::figures::spelled;
use crate::texts::{t, t2};

/// The quantity as it was typed, field by field, in an address or a form.
pub(super) type Typed = BTreeMap<String, String>;

/// The ways to say for how much.
// word("way")
const WAYS: [(&str, &str); 5] = [
    ("jars", "way-jars"),
    ("mass", "way-mass"),
    ("volume", "way-volume"),
    ("line", "way-line"),
    ("own", "way-own"),
];

pub(super) struct Way {
    pub(super) value: &'static str,
    pub(super) words: String,
    pub(super) chosen: bool,
}

/// The question as the page shows it again.
pub(super) struct Question {
    pub(super) ways: Vec<Way>,
    pub(super) way: &'static str,
    pub(super) containers: String,
    pub(super) fill: String,
    pub(super) mass: String,
    pub(super) volume: String,
    pub(super) line: String,
    pub(super) line_amount: String,
    pub(super) transfer_loss: String,
    pub(super) evaporation_loss: String,
    pub(super) readability: String,
    pub(super) density: String,
    pub(super) application: String,
    pub(super) faults: Vec<(String, String)>,
}

impl Question {
    pub(super) fn fault(&self, field: &str) -> String {
        self.faults
            .iter()
            .filter(|(of, _)| of == field)
            .map(|(_, cure)| cure.clone())
            .collect::<Vec<_>>()
            .join(" ")
    }

    pub(super) fn losses(&self) -> String {
        let or = |text: &str, empty: String| if text.is_empty() { empty } else { spelled(text) };
        t2(
            "recipe-losses",
            or(&self.transfer_loss, t("recipe-nothing")),
            or(&self.readability, t("recipe-any")),
        )
    }
}

pub(super) fn typed(request: &HttpRequest) -> Typed {
    serde_urlencoded::from_str::<Vec<(String, String)>>(request.query_string())
        .unwrap_or_default()
        .into_iter()
        .collect()
}

/// Which way the quantity was said, and the question for the clinic.
pub(super) fn make_for(typed: &Typed) -> Result<(&'static str, MakeFor), Vec<FieldError>> {
    let given =
        |name: &str| typed.get(name).map(|text| text.trim().to_owned()).filter(|text| !text.is_empty());
    let way = match typed.get("way").map(String::as_str) {
        Some(way) => WAYS.iter().map(|(value, _)| *value).find(|value| *value == way).unwrap_or("own"),
        None if given("containers").is_some() => "jars",
        None if given("mass").is_some() => "mass",
        None if given("volume").is_some() => "volume",
        None if given("line").is_some() => "line",
        None => "own",
    };
    let mut ask = MakeFor {
        transfer_loss: given("transfer_loss").map(share),
        evaporation_loss: given("evaporation_loss").map(share),
        readability: given("readability"),
        density: given("density"),
        application: given("application"),
        ..MakeFor::default()
    };
    match way {
        "jars" => {
            let count = given("containers").unwrap_or_default();
            match count.parse() {
                Ok(containers) => ask.containers = Some(containers),
                Err(_) => return Err(vec![FieldError::new("?containers", t("jars-cure"))]),
            }
            ask.fill = given("fill");
        }
        "mass" => ask.mass = given("mass"),
        "volume" => ask.volume = given("volume"),
        "line" => (ask.line, ask.line_amount) = (given("line"), given("line_amount")),
        _ => {}
    }
    Ok((way, ask))
}

/// A share that was typed as a bare number is meant in per cent.
fn share(text: String) -> String {
    if text.ends_with(|c: char| c.is_ascii_digit()) { format!("{text} %") } else { text }
}

pub(super) fn way_of(ask: &MakeFor) -> &'static str {
    match ask {
        MakeFor { containers: Some(_), .. } => "jars",
        MakeFor { mass: Some(_), .. } => "mass",
        MakeFor { volume: Some(_), .. } => "volume",
        MakeFor { line: Some(_), .. } => "line",
        _ => "own",
    }
}

/// The wells as they are filled: with what was typed, else with what was asked.
pub(super) fn question(typed: &Typed, ask: &MakeFor, way: &'static str, errors: &[FieldError]) -> Question {
    let field = |name: &str, asked: Option<String>| typed.get(name).cloned().or(asked).unwrap_or_default();
    Question {
        ways: WAYS
            .iter()
            .map(|(value, words)| Way { value, words: t(words), chosen: *value == way })
            .collect(),
        way,
        containers: field("containers", ask.containers.map(|count| count.to_string())),
        fill: field("fill", ask.fill.clone()),
        mass: field("mass", ask.mass.clone()),
        volume: field("volume", ask.volume.clone()),
        line: field("line", ask.line.clone()),
        line_amount: field("line_amount", ask.line_amount.clone()),
        transfer_loss: field("transfer_loss", ask.transfer_loss.clone()),
        evaporation_loss: field("evaporation_loss", ask.evaporation_loss.clone()),
        readability: field("readability", ask.readability.clone()),
        density: field("density", ask.density.clone()),
        application: field("application", ask.application.clone()),
        faults: errors
            .iter()
            .map(|error| (error.pointer.trim_start_matches(['?', '/']).to_owned(), error.detail.clone()))
            .collect(),
    }
}

/// The quantity as fields of a form, so that a batch is opened for what was shown.
pub(super) fn fields(ask: &MakeFor) -> Vec<(String, String)> {
    let value = serde_json::to_value(MakeFor { made_on: None, ..ask.clone() }).unwrap_or_default();
    let fields = value.as_object().cloned().unwrap_or_default();
    fields
        .into_iter()
        .map(|(name, value)| match value {
            serde_json::Value::String(text) => (name, text),
            other => (name, other.to_string()),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantity_is_asked_in_the_way_that_was_chosen() {
        let typed = |pairs: &[(&str, &str)]| {
            pairs.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect::<Typed>()
        };
        let (way, ask) = make_for(&typed(&[
            ("way", "mass"),
            ("containers", "12"),
            ("mass", "500 g"),
            ("transfer_loss", "4"),
        ]))
        .unwrap();
        assert_eq!(
            (way, ask.containers, ask.mass.as_deref(), ask.transfer_loss.as_deref()),
            ("mass", None, Some("500 g"), Some("4 %"))
        );
        let errors = make_for(&typed(&[("way", "jars"), ("containers", "a dozen")])).unwrap_err();
        assert_eq!(errors[0].pointer, "?containers");
    }
}
