//! Where a lot or a batch went, what it was made of, and calling it back.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::bench::{BatchState, Disposition};
use crate::ids::{JarId, PersonId, RecallId};
use crate::stock::LotState;
use crate::words::words;

words! {
    /// What stands in a trace or a recall.
    TraceKind {
        /// A lot: of a material, or of what the clinic made.
        Lot = "lot",
        /// A batch.
        Batch = "batch",
    }
}

words! {
    /// Which way a trace goes.
    TraceDirection {
        /// To everything that was made of it.
        Onward = "onward",
        /// To everything that it was made of.
        Back = "back",
    }
}

words! {
    /// What is recalled, with everything that was made of it.
    RecallCause {
        /// One lot.
        Lot = "lot",
        /// What one batch made.
        Batch = "batch",
        /// Everything made by any revision of one formula.
        Formula = "formula",
        /// Every lot of one material.
        Material = "material",
    }
}

words! {
    /// Whether a recall is still worked on.
    RecallState {
        /// Something is still to be accounted for, or to be looked at.
        Open = "open",
        /// Finished.
        Closed = "closed",
    }
}

words! {
    /// What came of something that was recalled.
    RecallOutcome {
        /// It came back and is kept apart.
        Returned = "returned",
        /// It was destroyed.
        Destroyed = "destroyed",
        /// Nothing of it exists: it was used up, or never finished.
        NothingLeft = "nothing_left",
        /// Somebody looked for it and did not find it.
        NotFound = "not_found",
    }
}

/// Which way to trace.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct TraceQuery {
    /// `onward` to what was made of it, `back` to what it was made of. Of a lot `onward` if absent, of a batch `back`.
    #[param(inline)]
    pub direction: Option<TraceDirection>,
}

/// A lot or a batch in a trace.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct TraceNode {
    /// Whether it is a lot or a batch.
    pub kind: TraceKind,
    /// The lot or the batch.
    pub id: Uuid,
    /// The number of the lot or batch.
    #[schema(example = "L2026-0042")]
    pub number: String,
    /// The name of the material, or the title of the formula.
    #[schema(example = "dried calendula flower")]
    pub name: String,
    /// Of a lot, whether it may be used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_state: Option<LotState>,
    /// Of a lot, what is left, in g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "412.5")]
    pub on_hand_grams: Option<String>,
    /// Of a batch, the state of its record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch_state: Option<BatchState>,
    /// Of a batch, what may be done with what it made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub disposition: Option<Disposition>,
    /// Of a batch, the name of its maker.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub maker_name: Option<String>,
    /// The day on which the lot was received or the batch opened.
    pub on: NaiveDate,
}

/// One step of a trace: a lot was weighed into a batch, or a batch was put on the shelf as a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
pub struct TraceStep {
    /// Where the step begins, seen from what was asked for.
    pub from: Uuid,
    /// Where it leads.
    pub to: Uuid,
}

/// Everything that was made of a lot or batch, or that it was made of. A weighing that was corrected to another lot counts
/// for that lot only.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Trace {
    /// The direction.
    pub direction: TraceDirection,
    /// What was asked for first, then everything it leads to, each once, nearest first.
    pub nodes: Vec<TraceNode>,
    /// The steps between them. Something may be reached by several.
    pub steps: Vec<TraceStep>,
}

/// Recalling.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "cause": "lot", "id": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80", "reason": "The supplier withdrew it: wrong species."
}))]
pub struct NewRecall {
    /// What is recalled.
    pub cause: RecallCause,
    /// The lot, batch, formula or material.
    pub id: Uuid,
    /// Why, in 1 to 1000 characters.
    #[schema(example = "The supplier withdrew it: wrong species.")]
    pub reason: String,
}

/// A recall, in a list.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecallSummary {
    /// The recall.
    pub id: RecallId,
    /// What was recalled.
    pub cause: RecallCause,
    /// The lot, batch, formula or material.
    pub cause_id: Uuid,
    /// Its number and name.
    #[schema(example = "L2026-0042 dried calendula flower")]
    pub cause_name: String,
    /// Why.
    #[schema(example = "The supplier withdrew it: wrong species.")]
    pub reason: String,
    /// Whether it is still worked on.
    pub state: RecallState,
    /// How many lots and batches it reached.
    pub items: u32,
    /// How many lots, batches and jars are not accounted for yet.
    pub unaccounted: u32,
    /// Who recalled it.
    pub by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A lot or batch that a recall reached, and what came of it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecallItem {
    /// Its place in the recall, counted from 1.
    #[schema(example = 1)]
    pub item: u32,
    /// The lot or batch.
    #[serde(flatten)]
    pub node: TraceNode,
    /// What came of it last. Absent while nobody has accounted for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accounted: Option<RecallAccount>,
    /// Of a batch, its jars, by their numbers: each is accounted for by itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub jars: Vec<RecallJar>,
}

words! {
    /// What came of a jar that was recalled.
    JarOutcome {
        /// It came back and is kept apart.
        Returned = "returned",
        /// It was destroyed.
        Destroyed = "destroyed",
        /// Somebody looked for it and did not find it.
        NotFound = "not_found",
    }
}

/// A jar that a recall reached, where it went, and what came of it.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecallJar {
    /// The jar.
    pub id: JarId,
    /// Its number within the batch.
    #[schema(example = 7)]
    pub number: u32,
    /// What it holds, as typed.
    #[schema(example = "30 g")]
    pub fill: String,
    /// The clinic's reference that it was handed out to. Absent while it is here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "C-1042")]
    pub reference: Option<String>,
    /// The day on which it was handed out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-11-30")]
    pub handed_on: Option<NaiveDate>,
    /// Whether it came back before.
    pub returned: bool,
    /// What came of it last. Absent while nobody has accounted for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accounted: Option<JarAccount>,
}

/// What came of a jar that was recalled, and who says so.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct JarAccount {
    /// What came of it.
    pub outcome: JarOutcome,
    /// More about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Burnt.")]
    pub note: Option<String>,
    /// Who says so.
    pub by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// Accounting for jars of a batch that was recalled.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "item": 1, "jars": [1, 2], "outcome": "returned" }))]
pub struct NewJarOutcomes {
    /// The place of the batch in the recall.
    #[schema(example = 1)]
    pub item: u32,
    /// The numbers of its jars of which this is said: 1 to 1000 of them.
    #[schema(example = json!([1, 2]))]
    pub jars: Vec<u32>,
    /// What came of them.
    pub outcome: JarOutcome,
    /// More about it, in 1 to 1000 characters. Needed for `not_found`: who was asked, and where it was looked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub note: Option<String>,
}

/// What came of something that was recalled, and who says so.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecallAccount {
    /// What came of it.
    pub outcome: RecallOutcome,
    /// More about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Two jars from the dispensary, burnt.")]
    pub note: Option<String>,
    /// Who says so.
    pub by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// How a recall ended.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct RecallClosed {
    /// Why it was closed though something was not accounted for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Who closed it.
    pub by: PersonId,
    /// The name of that person.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A recall.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Recall {
    /// What stands in lists.
    #[serde(flatten)]
    pub summary: RecallSummary,
    /// Every lot and batch that it reached, what was recalled first.
    pub reached: Vec<RecallItem>,
    /// How it ended. Absent while it is open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed: Option<RecallClosed>,
}

/// Accounting for something that was recalled.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "item": 1, "outcome": "destroyed", "note": "Burnt." }))]
pub struct NewRecallOutcome {
    /// Its place in the recall.
    #[schema(example = 1)]
    pub item: u32,
    /// What came of it.
    pub outcome: RecallOutcome,
    /// More about it, in 1 to 1000 characters. Needed for `not_found`: who was asked, and where it was looked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Burnt.")]
    pub note: Option<String>,
}

/// Closing a recall.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({}))]
pub struct CloseRecall {
    /// Why it is closed though something is not accounted for. Omit it when everything is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub reason: Option<String>,
}

/// Which recalls are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct RecallQuery {
    /// Only recalls in this state.
    #[param(inline)]
    pub state: Option<RecallState>,
    /// Maximum number of items: 1 to 100, 50 if absent.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}
