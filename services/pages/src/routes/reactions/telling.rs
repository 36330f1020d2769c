//! The form in which a reaction is told.

use chrono::NaiveDate;
use wire::reactions::{NewReaction, ReactionOutcome, Seriousness};

use crate::form::Form;
use crate::texts::t;

/// A choice of the form: its word, what it is called, and whether it was chosen.
pub(super) struct Choice {
    pub(super) word: &'static str,
    pub(super) name: String,
    pub(super) chosen: bool,
}

/// The fields with what was typed and what was not accepted.
pub(super) struct Fields {
    pub(super) what: String,
    pub(super) began_on: String,
    pub(super) outcomes: Vec<Choice>,
    pub(super) criteria: Vec<Choice>,
    cures: Vec<(String, String)>,
}

/// How a reaction stands, in words.
pub(super) fn outcome(outcome: ReactionOutcome) -> String {
    // word("reaction-outcome")
    t(&format!("reaction-outcome-{}", outcome.as_str().replace('_', "-")))
}

/// What makes a reaction serious, in words.
pub(super) fn criterion(criterion: Seriousness) -> String {
    // word("serious")
    t(&format!("serious-{}", criterion.as_str().replace('_', "-")))
}

impl Fields {
    pub(super) fn of(form: &Form, cures: Vec<(String, String)>) -> Self {
        let chosen = form.text("outcome");
        let outcomes = ReactionOutcome::ALL.iter().map(|one| Choice {
            word: one.as_str(),
            name: outcome(*one),
            chosen: chosen == one.as_str(),
        });
        let ticked = form.all("serious");
        let criteria = Seriousness::ALL.iter().map(|one| Choice {
            word: one.as_str(),
            name: criterion(*one),
            chosen: ticked.iter().any(|word| word == one.as_str()),
        });
        Self {
            what: form.text("what"),
            began_on: form.text("began_on"),
            outcomes: outcomes.collect(),
            criteria: criteria.collect(),
            cures,
        }
    }

    /// What was not accepted of a field; without a name, of the whole.
    pub(super) fn cure(&self, field: &str) -> String {
        self.cures.iter().filter(|(name, _)| name == field).map(|(_, cure)| cure.as_str()).collect()
    }
}

/// The report that a form holds, or what has to be typed otherwise.
pub(super) fn read(form: &Form) -> Result<NewReaction, Vec<(String, String)>> {
    let day = form.given("began_on").map(|typed| typed.parse::<NaiveDate>()).transpose();
    let outcome = form.text("outcome").parse::<ReactionOutcome>();
    let mut cures = Vec::new();
    if day.is_err() {
        cures.push(("began_on".to_owned(), t("day-cure")));
    }
    if outcome.is_err() {
        cures.push(("outcome".to_owned(), t("reaction-outcome-cure")));
    }
    match (day, outcome) {
        (Ok(began_on), Ok(outcome)) => Ok(NewReaction {
            what: form.text("what"),
            began_on,
            outcome,
            serious: form.all("serious").iter().filter_map(|word| word.parse().ok()).collect(),
        }),
        _ => Err(cures),
    }
}
