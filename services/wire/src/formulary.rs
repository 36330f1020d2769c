//! Libraries, formulas and revisions.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{FormulaId, HolderId, LibraryId, MaterialId, PersonId, RevisionId};
use crate::safety::{CautionLevel, CautionSet, CautionStage};
use crate::words::words;

words! {
    /// What a preparation is made as; decides which limits and dating rules bind.
    Regime {
        /// A cosmetic product.
        Cosmetic = "cosmetic",
        /// A herbal medicine.
        HerbalMedicine = "herbal_medicine",
        /// A food.
        Food = "food",
        /// For teaching only: nothing of it is given to anybody.
        TeachingOnly = "teaching_only",
    }
}

words! {
    /// Where a revision stands.
    RevisionState {
        /// Being written by its author.
        Draft = "draft",
        /// Frozen and waiting for a decision.
        Proposed = "proposed",
        /// Sent back with a comment; a new draft followed.
        Returned = "returned",
        /// May be made.
        Approved = "approved",
        /// A later revision took its place.
        Superseded = "superseded",
        /// Taken back.
        Withdrawn = "withdrawn",
    }
}

/// A library to be made or changed.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewLibrary {
    /// 1 to 200 characters; unique in the clinic.
    #[schema(example = "First-year creams")]
    pub name: String,
    /// Up to 2000 characters.
    #[serde(default)]
    #[schema(example = "What the first-year cohort makes in its first term.")]
    pub description: String,
}

/// A shared set of formulas.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Library {
    /// The library.
    pub id: LibraryId,
    /// Its name.
    pub name: String,
    /// Its purpose.
    pub description: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
}

/// A member of a library.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Member {
    /// The person or API client.
    pub holder: HolderId,
    /// Its name.
    pub name: String,
    /// `person` or `api_client`.
    pub kind: String,
    /// Since when.
    pub added_at: DateTime<Utc>,
}

/// One material or intermediate preparation in a phase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "material": "yellow beeswax", "amount": "80 g", "function": "stiffening agent" }))]
pub struct Line {
    /// A material by name, synonym or id. Either this or `formula`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "yellow beeswax")]
    pub material: Option<String>,
    /// An approved formula by title or id (of the formula or of one approved revision). Either this or `material`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<String>,
    /// The amount as the trade writes it: `80 g`, `0.4 %`, `1 cup`, `2 parts`, `1:5`, `q.s. 1000 g`.
    #[schema(example = "80 g")]
    pub amount: String,
    /// The function of the line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "emulsifier")]
    pub function: Option<String>,
}

/// A phase of a formula.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Phase {
    /// Such as `oil phase`, `water phase`, `cool-down phase`.
    #[schema(example = "oil phase")]
    pub name: String,
    /// The lines, in the order they are weighed.
    pub lines: Vec<Line>,
}

/// One step of the method.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// The act.
    #[serde(rename = "do")]
    #[schema(example = "Melt the wax in the oil over hot water")]
    pub do_: String,
    /// The phase it is done to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "oil phase")]
    pub phase: Option<String>,
    /// `70 C`, `70 C at most`, `40 C at least`, each with `, phases within 5 C` behind it if wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "70 C at most")]
    pub temperature: Option<String>,
    /// A hold: when it is done, the maker waits until a second person has released it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub hold: bool,
    /// Whether it may be finished before the steps above it. It passes no hold.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub any_order: bool,
    /// A rescue: done only where something goes wrong, at any time, such as warming a cream that separates. No step waits for it,
    /// and a record without it is whole.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub rescue: bool,
}

/// A caution that the author sets.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnCaution {
    /// How strongly it binds.
    pub level: CautionLevel,
    /// The text: 1 to 1000 characters, without amounts of the formula (it is shown before the gate).
    #[schema(example = "For external use only.")]
    pub text: String,
    /// What it is about; the use where nothing is said. One about making or keeping stays with this preparation when it
    /// is nested in another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<CautionStage>,
    /// For whom it is meant, in the words of `audiences` of a caution; everyone where nothing is given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub audiences: Vec<String>,
}

/// The label's texts that are not computed. Shown before the gate.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LabelText {
    /// How it is used.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schema(example = "Apply thinly to intact skin. Patch-test first.")]
    pub directions: String,
    /// How it is kept.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schema(example = "Keep cool and dark, in a closed jar.")]
    pub storage: String,
    /// The container.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schema(example = "dark glass jar")]
    pub container: String,
    /// For how long it is good once it was opened.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schema(example = "Once opened: six weeks.")]
    pub after_opening: String,
}

/// Evidence of stability.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StabilityEvidence {
    /// For how long, like `60 days` or `6 months`.
    #[schema(example = "60 days")]
    pub period: String,
    /// Where it is filed.
    #[schema(example = "stability file 12")]
    pub source: String,
}

/// A water activity as it was measured of the product.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredWaterActivity {
    /// From 0 to 1.
    #[schema(example = "0.58")]
    pub value: String,
    /// Where the measurement is filed.
    #[schema(example = "laboratory sheet 7")]
    pub source: String,
}

/// The amount used at once, and the liquid that it is added to: a tea by the cup and day, a bath by the litre.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "amount": "2 g", "to": "150 mL", "a_day": 3 }))]
pub struct Serving {
    /// How much of the product: `2 g`, `10 mL`, `2 tsp` or `30 drops`. A volume is turned into a mass by the density of the
    /// product, drops by the clinic's own dropper.
    #[schema(example = "2 g")]
    pub amount: String,
    /// The volume that it is put into, such as a cup of `150 mL` or a bath of `20 L`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "150 mL")]
    pub to: Option<String>,
    /// How often in a day, 1 to 24. Without `used_daily`, limits on a daily amount are reckoned with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 3, minimum = 1, maximum = 24)]
    pub a_day: Option<u8>,
}

/// A formula as its author writes it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "title": "Plain salve",
    "preparation": "salve",
    "route": "on intact skin, leave-on",
    "regime": "cosmetic",
    "yield": "about 600 g",
    "phases": [{ "name": "oil phase", "lines": [
        { "material": "yellow beeswax", "amount": "100 g", "function": "stiffening agent" },
        { "material": "olive oil", "amount": "q.s. 600 g", "function": "vehicle" },
    ] }],
    "method": [
        { "do": "Melt the wax in the oil over hot water", "phase": "oil phase", "temperature": "70 C at most" },
        { "do": "Pour into clean, dry tins and let it set", "hold": true },
    ],
    "cautions": [{ "level": "caution", "text": "For external use only." }],
    "label": {
        "directions": "Apply thinly to intact skin. Patch-test first.",
        "storage": "Keep cool and dark.",
        "container": "tin",
    },
}))]
pub struct FormulaContent {
    /// 1 to 200 characters.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// The kind of preparation, such as `cream`, `ointment`, `infused oil`.
    #[schema(example = "cream")]
    pub preparation: String,
    /// Where and how it is used, such as `on intact skin, leave-on`.
    #[schema(example = "on intact skin, leave-on")]
    pub route: String,
    /// The regime it is made as.
    pub regime: Regime,
    /// The part of the body it is meant for, where limits tell parts apart: `body` (skin other than the face), `face`,
    /// `lips`, `hair`, `eyes` (lids and around the eyes), `armpits` or `hands`. Left out, only the limits for any part
    /// bind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "face")]
    pub site: Option<String>,
    /// The youngest person it is meant for, such as `12 months` or `3 years`, up to 120 years. Left out, it is meant
    /// for adults.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "3 years")]
    pub youngest: Option<String>,
    /// The most of it that is used in a day, such as `5 g`, `15 mL` or `3 tsp`: limits on a daily amount are reckoned with
    /// it, a volume by the density of the product. Left out, such a limit cannot be judged, and that is no pass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "5 g")]
    pub used_daily: Option<String>,
    /// How much is used at once, and what it is put into: of a tea blend the cup and how often a day, of a bath the water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serving: Option<Serving>,
    /// The pH that it is to have, which a batch is judged against: `4.5-5.0`, `5.0` (what rounds to it), `5.5 at most` or
    /// `4 at least`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "4.5-5.0")]
    pub target_ph: Option<String>,
    /// Evidence on file that it keeps: what is watery and unpreserved passes fourteen days only with it. Whoever approves
    /// the formula has seen it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stability: Option<StabilityEvidence>,
    /// The water activity of the product, measured, with where the measurement is filed. It decides whether the product is
    /// watery: below 0.60 nothing grows in it. Whoever approves the formula has seen the evidence; what is measured of a
    /// batch counts in its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_activity: Option<MeasuredWaterActivity>,
    /// The yield, as text (`about 1000 g`) or as the mass after pressing or straining (`850 g`).
    #[serde(rename = "yield", default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "about 1000 g")]
    pub yield_: Option<String>,
    /// The phases, each with its lines: at most 200 lines together. With all that is nested at any level, each nested
    /// revision counted once, a formula may have at most 12 levels, itself included, 200 nested revisions, 500 materials
    /// and 5000 lines. What is more is refused when it is saved and when it is evaluated.
    pub phases: Vec<Phase>,
    /// The method, step by step: at most 200 steps.
    pub method: Vec<Step>,
    /// The author's own cautions, at most 200; those of materials, kind and route are added by the service.
    #[serde(default)]
    pub cautions: Vec<OwnCaution>,
    /// The label's texts.
    #[serde(default)]
    pub label: LabelText,
}

/// A formula to be added to a library, with its first draft.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewFormula {
    /// The draft.
    pub content: FormulaContent,
}

/// A further revision of a formula.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewRevision {
    /// The draft.
    pub content: FormulaContent,
}

/// A formula in a list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct FormulaSummary {
    /// The formula.
    pub id: FormulaId,
    /// The library it is in.
    pub library: LibraryId,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// The kind of preparation.
    #[schema(example = "cream")]
    pub preparation: String,
    /// The revision that may be made, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approved_revision: Option<RevisionId>,
    /// `approved by its author`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval_note: Option<String>,
    /// Since when the approved revision is withheld: it gained a stop, and an instructor decides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withheld_since: Option<DateTime<Utc>>,
}

/// A formula with its revisions, newest first.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Formula {
    /// The formula.
    #[serde(flatten)]
    pub summary: FormulaSummary,
    /// Its revisions, newest first; another author's draft is not listed.
    pub revisions: Vec<RevisionSummary>,
}

/// A revision in a list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RevisionSummary {
    /// The revision.
    pub id: RevisionId,
    /// Its number, counted from 1 within the formula.
    pub number: u32,
    /// Where it stands.
    pub state: RevisionState,
    /// Its author.
    pub author: PersonId,
    /// The author's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub author_name: Option<String>,
    /// `approved by its author`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval_note: Option<String>,
}

/// An ingredient by name: what may be seen before the gate.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct IngredientName {
    /// The phase.
    #[schema(example = "oil phase")]
    pub phase: String,
    /// The ingredient's name.
    #[schema(example = "yellow beeswax")]
    pub name: String,
    /// Its purpose.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<String>,
    /// Set when it is a material.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<MaterialId>,
    /// Set when it is itself made by a formula: the nested revision.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nested_revision: Option<RevisionId>,
}

/// The part of a revision that is open before the gate: everything but amounts and method.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Revision {
    /// The revision.
    pub id: RevisionId,
    /// The formula.
    pub formula: FormulaId,
    /// The library.
    pub library: LibraryId,
    /// Its number, counted from 1 within the formula.
    pub number: u32,
    /// Where it stands.
    pub state: RevisionState,
    /// Its title.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// The kind of preparation.
    #[schema(example = "cream")]
    pub preparation: String,
    /// Where and how it is used.
    #[schema(example = "on intact skin, leave-on")]
    pub route: String,
    /// The regime it is made as.
    pub regime: Regime,
    /// Who wrote it.
    pub author: PersonId,
    /// The author's name. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub author_name: Option<String>,
    /// SHA-256 of the frozen content; absent while it is a draft.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digest: Option<String>,
    /// Who decided about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decided_by: Option<PersonId>,
    /// The name of the person who decided. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub decided_by_name: Option<String>,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decided_at: Option<DateTime<Utc>>,
    /// `approved by its author`, where the policy allowed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub approval_note: Option<String>,
    /// Since when it is withheld: it gained a stop, and an instructor decides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withheld_since: Option<DateTime<Utc>>,
    /// The ingredients in order, without amounts; empty while it is a draft.
    pub ingredients: Vec<IngredientName>,
    /// The caution set; absent while it is a draft.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caution_set: Option<CautionSet>,
    /// Where the recipe is read once the cautions are acknowledged.
    #[schema(example = "/v1/revisions/0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80/recipe")]
    pub recipe: String,
}

words! {
    /// A decision about a proposed revision.
    Decision {
        /// Send it back with a comment; a new draft follows for the author.
        Return = "return",
        /// It may be made.
        Approve = "approve",
    }
}

/// Deciding about a proposed revision.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Decide {
    /// The decision.
    pub decision: Decision,
    /// Needed when returning, and when an author approves alone where the policy allows it: 1 to 4000 characters.
    #[serde(default)]
    #[schema(example = "Please say how long to stir.")]
    pub comment: String,
}

/// Taking an approved revision back.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Withdraw {
    /// Why: 1 to 4000 characters.
    #[schema(example = "A better way to keep the water phase is in work.")]
    pub reason: String,
}

/// A comment given with a decision. Free text may name amounts, so it is behind the gate.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RevisionComment {
    /// Who wrote it.
    pub by: PersonId,
    /// The name of the person who wrote it. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
    /// `return`, `approve` or `withdraw`.
    pub decision: String,
    /// The text.
    pub comment: String,
}
