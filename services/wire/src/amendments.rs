//! Amendments: changes of what everybody relies on, of materials and of the clinic's own cautions.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::ids::{AmendmentId, FormulaId, HolderId, LibraryId, MaterialId, PersonId, RevisionId};
use crate::materials::MaterialEntry;
use crate::safety::CautionLevel;
use crate::words::words;

words! {
    /// Where an amendment stands.
    AmendmentState {
        /// It makes something less cautious, or touches the safety of a material: another instructor decides.
        AwaitingSecondPerson = "awaiting_second_person",
        /// It holds.
        InForce = "in_force",
        /// It was refused and never held.
        Refused = "refused",
    }
}

words! {
    /// The subject of an amendment.
    AmendmentKind {
        /// The reference data were loaded in a new edition.
        ReferenceData = "reference_data",
        /// The calculations are another version: what would come out otherwise is listed, and stays as it was approved.
        Engine = "engine",
        /// A material is added.
        AddMaterial = "add_material",
        /// A material's facts are revised.
        ReviseMaterial = "revise_material",
        /// Two materials turn out to be one.
        MergeMaterials = "merge_materials",
        /// Many materials are added or revised from a table.
        ImportMaterials = "import_materials",
        /// The clinic adds a caution of its own.
        AddCaution = "add_caution",
        /// The clinic raises, lowers or sets aside a caution.
        ChangeCaution = "change_caution",
    }
}

/// The change: exactly one of these.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Change {
    /// Adds a material.
    AddMaterial(MaterialEntry),
    /// Revises a material.
    ReviseMaterial(ReviseMaterial),
    /// Makes one material an alias of another.
    MergeMaterials(MergeMaterials),
    /// Adds or revises many materials.
    ImportMaterials(ImportMaterials),
    /// Adds a caution.
    AddCaution(ClinicCaution),
    /// Raises, lowers or sets aside a caution.
    ChangeCaution(ChangeCaution),
}

/// New facts of a material.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReviseMaterial {
    /// The material.
    pub material: MaterialId,
    /// The version that was read; a material that changed meanwhile is refused.
    pub version: u32,
    /// The new entry: read the current entry, change it, and send it back.
    pub entry: MaterialEntry,
}

/// Two materials that are one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MergeMaterials {
    /// Becomes an alias: its names lead to the other from now on.
    pub merged: MaterialId,
    /// Stays.
    pub into: MaterialId,
}

/// A table of materials.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ImportMaterials {
    /// CSV text (RFC 4180) with the headings that the export has, up to 2000 rows. A row whose name is known revises
    /// that material, any other adds one. Every row is accepted, or none.
    pub csv: String,
    /// The version of each material that a row revises, as it was when the table was read; filled in by the service. One
    /// that has changed before the second person confirms is refused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>, read_only)]
    pub read_at: Option<BTreeMap<Uuid, u32>>,
}

/// The subject of a caution of the clinic: one of these, or none for every formula.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CautionTarget {
    /// Every formula that contains this material, at any level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<MaterialId>,
    /// Every preparation of this kind, nested ones too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "tincture")]
    pub preparation: Option<String>,
    /// Everything used by this route.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub route: Option<String>,
}

/// A caution that the clinic adds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClinicCaution {
    /// Its subject.
    #[serde(default)]
    pub on: CautionTarget,
    /// How strongly it binds.
    pub level: CautionLevel,
    /// For whom: `everyone` (where nothing is given), `pregnant`, `breast-feeding`, `under:6y`, `allergy:GROUP`,
    /// `condition:WORD`.
    #[serde(default)]
    #[schema(example = json!(["pregnant"]))]
    pub audiences: Vec<String>,
    /// What it says, in 1 to 1000 characters, without figures of a formula: it is shown to people who have not been
    /// shown the formula.
    #[schema(example = "Ask the clinic's midwife first.")]
    pub text: String,
}

/// Another level for a caution.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeCaution {
    /// The caution's key, as caution sets show it.
    #[schema(example = "pregnancy-no-data")]
    pub key: String,
    /// How strongly it binds from now on; nothing to set it aside. A higher level holds at once, a lower one when a
    /// second instructor has confirmed it; the caution stays visible with the reason either way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<CautionLevel>,
}

/// A change to be made.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "reason": "Agreed with the midwives of the practice.",
    "change": { "change_caution": { "key": "pregnancy-no-data", "level": "contraindication" } },
}))]
pub struct NewAmendment {
    /// Why, in 1 to 2000 characters, without figures of a formula: it is shown with the caution that was changed, to
    /// people who have not been shown the formula.
    pub reason: String,
    /// The change.
    pub change: Change,
}

/// An amendment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Amendment {
    /// The amendment.
    pub id: AmendmentId,
    /// Its subject.
    pub kind: AmendmentKind,
    /// Where it stands.
    pub state: AmendmentState,
    /// Why it was made.
    pub reason: String,
    /// The change; absent for an edition of the reference data.
    pub change: Option<Change>,
    /// The person who made it; absent if the reference data did.
    pub made_by: Option<PersonId>,
    /// The name of the person who made it. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ilse Brandt")]
    pub made_by_name: Option<String>,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// Who decided about it.
    pub decided_by: Option<PersonId>,
    /// The name of the person who decided. Absent for API clients.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Marek Dvorsky")]
    pub decided_by_name: Option<String>,
    /// When it came into force or was refused.
    pub decided_at: Option<DateTime<Utc>>,
    /// "decided by its author", where the policy allows that.
    pub note: Option<String>,
    /// The materials that it touches.
    pub materials: Vec<MaterialId>,
    /// How many revisions it changed; see its `affected`.
    pub affected: u64,
}

words! {
    /// What a second person makes of an amendment.
    AmendmentDecision {
        /// It comes into force.
        Confirm = "confirm",
        /// It never holds.
        Refuse = "refuse",
    }
}

/// A decision about an amendment.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DecideAmendment {
    /// The decision.
    pub decision: AmendmentDecision,
}

words! {
    /// How a revision reached a person.
    Reached {
        /// Made a batch of it, or of something made from it.
        Made = "made",
        /// Read its recipe.
        Pulled = "pulled",
    }
}

/// A person who made a revision, or read its recipe, within the last year.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct ReachedHolder {
    /// The person or the API client.
    pub holder: HolderId,
    /// Its name.
    pub name: String,
    /// How.
    pub how: Reached,
    /// The batch's number, where one was made.
    pub batch: Option<String>,
    /// When the batch was opened or the recipe first read.
    pub at: DateTime<Utc>,
}

/// What an amendment did to one revision.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct AffectedRevision {
    /// The revision.
    pub revision: RevisionId,
    /// Its formula.
    pub formula: FormulaId,
    /// Its title.
    pub title: String,
    /// Its library.
    pub library: LibraryId,
    /// Its caution set changed; acknowledgements of the one before have ended, unless only notes changed.
    pub cautions_changed: bool,
    /// It comes out differently with the present facts; acknowledgements have ended. The approved revision itself never
    /// changes: begin a further one.
    pub evaluation_changed: bool,
    /// It gained a stop and was withheld until an instructor decides.
    pub withheld: bool,
    /// Whether it is withheld now.
    pub still_withheld: bool,
    /// Everybody who made it or read its recipe within the last year.
    pub reached: Vec<ReachedHolder>,
}

/// Which amendments are listed.
#[derive(Clone, Debug, Default, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AmendmentQuery {
    /// Only in this state.
    pub state: Option<AmendmentState>,
    /// Only those that touch this material.
    pub material: Option<Uuid>,
    /// How many at most: 1 to 100.
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}

/// Why something that was withheld may be made again.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Reinstate {
    /// Why, in 1 to 2000 characters.
    #[schema(example = "The lot's assay has come in and is below the limit.")]
    pub reason: String,
}
