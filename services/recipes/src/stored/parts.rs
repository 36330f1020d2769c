//! Parts of a stored recipe: figures, dates, cautions and the request.

use chrono::NaiveDate;
use judgement::stored_words;
use judgement::written::{Group, Level, Regime, Stage};
use uuid::Uuid;

use crate::{stored_structs, turned_by_from};

stored_words! {
    /// The state of a revision.
    State as wire::formulary::RevisionState {
        /// A draft.
        Draft = "draft",
        /// Awaits a decision.
        Proposed = "proposed",
        /// Returned to its author.
        Returned = "returned",
        /// May be made.
        Approved = "approved",
        /// Superseded by a later revision.
        Superseded = "superseded",
        /// Withdrawn.
        Withdrawn = "withdrawn",
    }

    /// The outcome of a dating rule.
    RuleOutcome as wire::calculations::use_by::RuleOutcome {
        /// It determines a date.
        Dated = "dated",
        /// It is not in force on the day of making.
        NotInForce = "not in force",
        /// It does not cover this preparation.
        OutOfScope = "out of scope",
        /// None of its rules applies.
        NoRuleApplies = "no rule applies",
        /// What it dated is kept in another way now.
        NoLongerGoverns = "no longer governs",
        /// It is switched off.
        SwitchedOff = "switched off",
    }
}

turned_by_from! {
    State as wire::formulary::RevisionState,
    RuleOutcome as wire::calculations::use_by::RuleOutcome,
    Regime as wire::formulary::Regime,
    Level as wire::safety::CautionLevel,
    Stage as wire::safety::CautionStage,
    Group as wire::safety::CautionGroup,
}

stored_structs! {
    /// A source.
    Source as wire::figure::FigureSource {
        /// The standard, law, table or handbook.
        text: String,
        /// Whether it was verified.
        status: String,
    }

    /// A figure as shown. Its value is rounded text and must not be used in a calculation.
    Figure as wire::figure::Figure {
        /// Its name.
        name: String,
        /// The value.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        value: Option<String>,
        /// The unit of the value.
        unit: String,
        /// The exact value, if the value is rounded.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        exact: Option<String>,
        /// The missing datum.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unknown: Option<String>,
        /// Key of its rule.
        rule: String,
        /// Its explanation.
        sentence: String,
        /// Source of the rule.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<Source>,
        /// Its inputs.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        inputs: Vec<Input>,
    }

    /// An input of a figure.
    Input as wire::figure::FigureInput {
        /// Its name in the rule.
        name: String,
        /// The value.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        value: Option<String>,
        /// The exact value, if the value is rounded.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        exact: Option<String>,
        /// The unit of the value.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unit: Option<String>,
        /// Source of a constant.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<Source>,
        /// The figure, if the input is one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        figure: Option<Box<Figure>>,
    }

    /// A use-by date.
    UseBy as wire::calculations::use_by::UseByAnswer {
        /// The last day.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        date: Option<NaiveDate>,
        /// The rule that limited it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        limited_by: Option<String>,
        /// Whether it applies only when refrigerated.
        refrigerate: bool,
        /// The figures it follows from.
        figures: Vec<Figure>,
        /// The outcome of every rule.
        rules: Vec<RuleSaid>,
    }

    /// The outcome of one rule set.
    RuleSaid as wire::calculations::use_by::RuleSaid {
        /// The rule set.
        by: String,
        /// The rule of the set that applied.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rule: Option<String>,
        /// Its outcome.
        outcome: RuleOutcome,
        /// Its own date.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        date: Option<NaiveDate>,
        /// The storage conditions that the date depends on.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        only_if_kept: Vec<String>,
        /// Why it is switched off.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
        /// The date with its explanation.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        figure: Option<Figure>,
        /// Source of the rule.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<Source>,
    }

    /// A level that the clinic changed.
    ChangedLevel as wire::safety::ChangedLevel {
        /// The level without the change.
        was: Level,
        /// Whether the caution was set aside.
        set_aside: bool,
        /// The reason.
        reason: String,
        /// The amendment.
        amendment: Uuid,
    }

    /// The request that a recipe was scaled to, as it was sent.
    Asked as wire::recipe::MakeFor {
        /// The requested mass of the product.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        mass: Option<String>,
        /// The requested volume of the product.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume: Option<String>,
        /// The number of containers.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        containers: Option<u32>,
        /// The fill of each container.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fill: Option<String>,
        /// The line that limits the quantity.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        line: Option<String>,
        /// The available amount of that line.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        line_amount: Option<String>,
        /// The transfer loss.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        transfer_loss: Option<String>,
        /// The evaporation loss.
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
        /// The quantity of one application.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        application: Option<String>,
    }
}
