//! What a stored recipe is made of: figures, dates, cautions and the request.

use chrono::NaiveDate;
use judgement::stored_words;
use judgement::written::{Level, Regime};
use uuid::Uuid;

use crate::{stored_structs, turned_by_from};

stored_words! {
    /// Where a revision stood.
    State as wire::formulary::RevisionState {
        /// Being written.
        Draft = "draft",
        /// Waiting for a decision.
        Proposed = "proposed",
        /// Sent back.
        Returned = "returned",
        /// May be made.
        Approved = "approved",
        /// A later revision took its place.
        Superseded = "superseded",
        /// Taken back.
        Withdrawn = "withdrawn",
    }

    /// What a dating rule came to.
    RuleOutcome as wire::calculations::use_by::RuleOutcome {
        /// It gives a date.
        Dated = "dated",
        /// It is not in force on the day of making.
        NotInForce = "not in force",
        /// It is meant for something else.
        OutOfScope = "out of scope",
        /// None of its rules applies.
        NoRuleApplies = "no rule applies",
        /// It was left out.
        SwitchedOff = "switched off",
    }
}

turned_by_from! {
    State as wire::formulary::RevisionState,
    RuleOutcome as wire::calculations::use_by::RuleOutcome,
    Regime as wire::formulary::Regime,
    Level as wire::safety::CautionLevel,
}

stored_structs! {
    /// A source.
    Source as wire::figure::FigureSource {
        /// The standard, law, table or handbook.
        text: String,
        /// How far it can be trusted.
        status: String,
    }

    /// A figure as it was shown. Its value is text that was rounded for show: nothing is calculated from it.
    Figure as wire::figure::Figure {
        /// What it is.
        name: String,
        /// The value.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        value: Option<String>,
        /// The unit of the value.
        unit: String,
        /// What is missing.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unknown: Option<String>,
        /// The rule that made it.
        rule: String,
        /// The same in a sentence.
        sentence: String,
        /// Where the rule comes from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<Source>,
        /// What it was made from.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        inputs: Vec<Input>,
    }

    /// What a figure was made from.
    Input as wire::figure::FigureInput {
        /// Its name in the rule.
        name: String,
        /// The value.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        value: Option<String>,
        /// The unit of the value.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unit: Option<String>,
        /// Where a constant comes from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<Source>,
        /// Set when it is itself a figure.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        figure: Option<Box<Figure>>,
    }

    /// A use-by date.
    UseBy as wire::calculations::use_by::UseByAnswer {
        /// The last day.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        date: Option<NaiveDate>,
        /// What limited it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        limited_by: Option<String>,
        /// Whether it holds only in a refrigerator.
        refrigerate: bool,
        /// The reasons.
        figures: Vec<Figure>,
        /// What every rule said.
        rules: Vec<RuleSaid>,
    }

    /// What one dating rule said.
    RuleSaid as wire::calculations::use_by::RuleSaid {
        /// Which rule set.
        by: String,
        /// Which rule of the set.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rule: Option<String>,
        /// What it came to.
        outcome: RuleOutcome,
        /// Its own date.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        date: Option<NaiveDate>,
        /// The ways of keeping that the date depends on.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        only_if_kept: Vec<String>,
        /// Why it was left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
        /// The date with its explanation.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        figure: Option<Figure>,
        /// Where the rule comes from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<Source>,
    }

    /// The cautions that were acknowledged.
    CautionSet as wire::safety::CautionSet {
        /// The revision.
        revision: Uuid,
        /// The digest of the set, in hex.
        digest: String,
        /// The cautions, strongest first.
        cautions: Vec<Caution>,
        /// The clinic's notice.
        notice: String,
    }

    /// A caution.
    Caution as wire::safety::Caution {
        /// Its key.
        key: String,
        /// The version of its text.
        text_version: u32,
        /// How strongly it binds.
        level: Level,
        /// The language of its text.
        language: String,
        /// What it says.
        text: String,
        /// For whom it is meant.
        audiences: Vec<String>,
        /// Where it comes from.
        source: String,
        /// How far that can be trusted.
        status: String,
        /// Why it is there.
        origins: Vec<String>,
        /// What the clinic made of its level.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        changed: Option<ChangedLevel>,
    }

    /// A level that the clinic changed.
    ChangedLevel as wire::safety::ChangedLevel {
        /// The level without the change.
        was: Level,
        /// Whether the caution was set aside.
        set_aside: bool,
        /// Why.
        reason: String,
        /// The amendment.
        amendment: Uuid,
    }

    /// The request that a recipe was scaled to, as it was sent.
    Asked as wire::recipe::MakeFor {
        /// The mass to have in the end.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        mass: Option<String>,
        /// The volume to have in the end.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume: Option<String>,
        /// How many containers.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        containers: Option<u32>,
        /// What goes into each container.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fill: Option<String>,
        /// The line that limits the quantity.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        line: Option<String>,
        /// How much there is of that line.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        line_amount: Option<String>,
        /// What stays behind in vessels.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        transfer_loss: Option<String>,
        /// What evaporates.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        evaporation_loss: Option<String>,
        /// The smallest step of the balance.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        readability: Option<String>,
        /// The measured density of the product.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        density: Option<String>,
        /// The day of making.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        made_on: Option<NaiveDate>,
        /// How much is used at once.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        application: Option<String>,
    }
}
