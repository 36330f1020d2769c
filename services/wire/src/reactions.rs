//! Suspected adverse reactions: what was told of a jar, the case that it opens, and what the case came to. Nothing in here
//! names to whom it happened.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::ids::{BatchId, JarId, MaterialId, PersonId, ReactionCaseId, ReactionReportId};
use crate::words::words;

words! {
    /// What makes a reaction serious: the criteria of ICH E2A (1994), section II.B (from memory).
    Seriousness {
        /// It resulted in death.
        Death = "death",
        /// Life was in danger at the time.
        LifeThreatening = "life_threatening",
        /// It needed a stay in hospital, or made one longer.
        Hospitalisation = "hospitalisation",
        /// It left a lasting or considerable disability or incapacity.
        Disability = "disability",
        /// A child was born with a malformation.
        CongenitalAnomaly = "congenital_anomaly",
        /// It needed treatment so that none of the others would follow.
        OtherImportant = "other_important",
    }
}

words! {
    /// How a reaction stands: the outcomes of ICH E2B(R3), element E.i.7 (from memory).
    ReactionOutcome {
        /// It is over.
        Recovered = "recovered",
        /// It is getting better.
        Recovering = "recovering",
        /// It goes on.
        NotRecovered = "not_recovered",
        /// It is over and left something behind.
        RecoveredWithSequelae = "recovered_with_sequelae",
        /// It ended in death.
        Fatal = "fatal",
        /// Nobody knows.
        Unknown = "unknown",
    }
}

words! {
    /// Where a reaction was told.
    ReactionTold {
        /// On the page of the jar, by whoever holds it.
        OnThePage = "on_the_page",
        /// At the clinic, by somebody who is signed in.
        AtTheClinic = "at_the_clinic",
    }
}

words! {
    /// Whether a case is worked on.
    ReactionCaseState {
        /// It is.
        Open = "open",
        /// Its reports stand in another case now.
        Joined = "joined",
        /// It has a conclusion.
        Closed = "closed",
    }
}

words! {
    /// How likely it is that the product was the cause: the categories of the WHO-UMC system (from memory).
    Causality {
        /// Nothing else explains it, and it came back when the product was used again.
        Certain = "certain",
        /// Nothing else is likely to explain it, and it went when the product was left off.
        Probable = "probable",
        /// Something else may explain it as well.
        Possible = "possible",
        /// Something else explains it better.
        Unlikely = "unlikely",
        /// More has to be known, and is being found out.
        Conditional = "conditional",
        /// It cannot be judged, and nothing more can be found out.
        Unassessable = "unassessable",
    }
}

words! {
    /// What two cases have in common.
    SharedKind {
        /// A lot, at any depth.
        Lot = "lot",
        /// A batch, at any depth.
        Batch = "batch",
        /// The formula.
        Formula = "formula",
        /// A material, through every level of the formula.
        Material = "material",
        /// The botanical family of a material.
        Family = "family",
    }
}

/// Telling a reaction.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "what": "The skin under the cream reddened an hour after the second use, and itched.", "began_on": "2026-03-01",
    "outcome": "recovering", "serious": []
}))]
pub struct NewReaction {
    /// What happened, in 1 to 2000 characters. Never a name, an address or a number of a person.
    #[schema(example = "The skin under the cream reddened an hour after the second use, and itched.")]
    pub what: String,
    /// The day on which it began, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-03-01")]
    pub began_on: Option<NaiveDate>,
    /// How it stands.
    pub outcome: ReactionOutcome,
    /// What makes it serious; nothing where nothing does.
    #[serde(default)]
    pub serious: Vec<Seriousness>,
}

/// That a reaction was told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionReceipt {
    /// What names the report towards the clinic.
    #[schema(example = "7kq2m9xd")]
    pub reference: String,
    /// When it was told.
    pub at: DateTime<Utc>,
}

/// A report of a reaction.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionReport {
    /// The report.
    pub id: ReactionReportId,
    /// What names it towards whoever told it.
    #[schema(example = "7kq2m9xd")]
    pub reference: String,
    /// The jar.
    pub jar: JarId,
    /// Its number within the batch.
    #[schema(example = 7)]
    pub jar_number: u32,
    /// The batch.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub batch_number: String,
    /// What is in the jar.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Where it was told.
    pub told: ReactionTold,
    /// Who wrote it down at the clinic.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    /// The name of the person who wrote it down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// What happened. Absent once the words were removed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "The skin under the cream reddened.")]
    pub what: Option<String>,
    /// The day on which it began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-03-01")]
    pub began_on: Option<NaiveDate>,
    /// How it stood.
    pub outcome: ReactionOutcome,
    /// What makes it serious.
    pub serious: Vec<Seriousness>,
    /// When it was told.
    pub at: DateTime<Utc>,
}

/// A note of what was found out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionNote {
    /// What was found out.
    #[schema(example = "The lot of beeswax was asked about at the supplier.")]
    pub text: String,
    /// Who wrote it.
    pub by: PersonId,
    /// The name of the person who wrote it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A case of a reaction.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionCaseSummary {
    /// The case.
    pub id: ReactionCaseId,
    /// Its number.
    #[schema(example = "R2026-0007")]
    pub number: String,
    /// Whether it is worked on.
    pub state: ReactionCaseState,
    /// When its first report came.
    pub opened_at: DateTime<Utc>,
    /// How many reports stand in it.
    #[schema(example = 2)]
    pub reports: u32,
    /// Whether one of them is serious.
    pub serious: bool,
    /// What is in the jars; several titles are parted by commas.
    #[schema(example = "Calendula cream")]
    pub title: String,
}

/// Another case.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionCaseRef {
    /// The case.
    pub id: ReactionCaseId,
    /// Its number.
    #[schema(example = "R2026-0003")]
    pub number: String,
}

/// Something that a case has in common with others.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionShared {
    /// What kind of thing it is.
    pub kind: SharedKind,
    /// The lot, batch, formula or material; absent of a family.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    /// What it is called.
    #[schema(example = "L2026-0042 yellow beeswax")]
    pub name: String,
    /// The other cases that it stands in, the oldest first.
    pub cases: Vec<ReactionCaseRef>,
}

/// How a case ended.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionEnd {
    /// How likely it is that the product was the cause; absent of a case that was joined to another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub causality: Option<Causality>,
    /// The conclusion; absent of a case that was joined to another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Contact dermatitis from lanolin, which the label names.")]
    pub conclusion: Option<String>,
    /// The case that it was joined to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joined_to: Option<ReactionCaseRef>,
    /// Who ended it.
    pub by: PersonId,
    /// The name of the person who ended it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A material of what was used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ReactionMaterial {
    /// The material.
    pub id: MaterialId,
    /// Its name.
    #[schema(example = "yellow beeswax")]
    pub name: String,
}

/// A case with its reports, what was found out, and what it has in common with others.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ReactionCase {
    /// The case.
    #[serde(flatten)]
    pub summary: ReactionCaseSummary,
    /// Its version, which every change raises.
    pub version: u64,
    /// Its reports, the first one first.
    pub received: Vec<ReactionReport>,
    /// What was found out, the first note first.
    pub notes: Vec<ReactionNote>,
    /// What it has in common with other cases.
    pub shared: Vec<ReactionShared>,
    /// The materials of what was used, through every level.
    pub materials: Vec<ReactionMaterial>,
    /// How it ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<ReactionEnd>,
}

/// Which cases are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReactionQuery {
    /// Only those in this state; without it those that were joined to others are left out.
    #[param(inline)]
    pub state: Option<ReactionCaseState>,
    /// The most items of a page, 1 to 100.
    #[param(example = 20)]
    pub limit: Option<u32>,
    /// The cursor of the previous page.
    pub after: Option<String>,
}

/// Noting what was found out.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "text": "The lot of beeswax was asked about at the supplier." }))]
pub struct NewReactionNote {
    /// 1 to 2000 characters, without a name.
    #[schema(example = "The lot of beeswax was asked about at the supplier.")]
    pub text: String,
}

/// Joining a case to another.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "case": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80" }))]
pub struct NewJoining {
    /// The open case in which its reports are to stand.
    pub case: ReactionCaseId,
}

/// Closing a case.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "causality": "probable", "conclusion": "Contact dermatitis from wool fat, which the label names."
}))]
pub struct NewConclusion {
    /// How likely it is that the product was the cause.
    pub causality: Causality,
    /// 1 to 2000 characters, without a name.
    #[schema(example = "Contact dermatitis from wool fat, which the label names.")]
    pub conclusion: String,
}

/// Removing the words of a report.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "report": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80" }))]
pub struct NewErasure {
    /// The report of the case.
    pub report: ReactionReportId,
}
