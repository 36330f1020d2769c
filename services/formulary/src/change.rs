//! The change of an amendment, as it is stored.
//!
//! These types are separate from `wire`, so that a change of the API alters no stored amendment. A change is stored as
//! a single field named by its kind, since format 2 with the format number beside it. Material entries are stored in
//! the form of `materia`.

use std::collections::BTreeMap;

use canonical::nfc;
pub use judgement::clinic_cautions::{ClinicCaution, Target};
use judgement::format::Format;
use judgement::written::Level;
use materia::Entry;
use materials::entry::{entry_in, entry_out};
use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::amendments as travels;
use wire::ids::MaterialId;

/// A stored change with its format.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct StoredChange {
    /// The format of this document.
    #[serde(default)]
    pub format: Format,
    /// The change.
    #[serde(flatten)]
    pub change: Change,
}

impl From<Change> for StoredChange {
    fn from(change: Change) -> Self {
        Self { format: Format::Two, change }
    }
}

/// The change. Every text is in Unicode normalisation form C.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Adds a material.
    AddMaterial(Box<Entry>),
    /// Revises a material.
    ReviseMaterial(Box<ReviseMaterial>),
    /// Merges a material into another.
    MergeMaterials(MergeMaterials),
    /// Adds or revises many materials.
    ImportMaterials(ImportMaterials),
    /// Adds a caution.
    AddCaution(ClinicCaution),
    /// Raises, lowers or sets aside a caution.
    ChangeCaution(ChangeCaution),
}

/// New facts of a material.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReviseMaterial {
    /// The material.
    pub material: Uuid,
    /// The version that was read.
    pub version: u32,
    /// The new entry.
    pub entry: Entry,
}

/// A merge of two materials.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MergeMaterials {
    /// The material that is merged.
    pub merged: Uuid,
    /// The material that remains.
    pub into: Uuid,
}

/// A table of materials.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ImportMaterials {
    /// The table, as CSV.
    pub csv: String,
    /// The version of each material that a row revises.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_at: Option<BTreeMap<Uuid, u32>>,
}

/// A change of the level of a caution.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChangeCaution {
    /// The rule of the caution.
    pub key: String,
    /// The new level; `None` sets the caution aside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
}

impl From<&travels::Change> for Change {
    fn from(change: &travels::Change) -> Self {
        match change {
            travels::Change::AddMaterial(entry) => Self::AddMaterial(Box::new(entry_in(entry))),
            travels::Change::ReviseMaterial(travels::ReviseMaterial { material, version, entry }) => {
                let (material, entry) = (material.0, entry_in(entry));
                Self::ReviseMaterial(Box::new(ReviseMaterial { material, version: *version, entry }))
            }
            travels::Change::MergeMaterials(travels::MergeMaterials { merged, into }) => {
                Self::MergeMaterials(MergeMaterials { merged: merged.0, into: into.0 })
            }
            travels::Change::ImportMaterials(travels::ImportMaterials { csv, read_at }) => {
                Self::ImportMaterials(ImportMaterials { csv: nfc(csv), read_at: read_at.clone() })
            }
            travels::Change::AddCaution(travels::ClinicCaution { on, level, audiences, text }) => {
                let travels::CautionTarget { material, preparation, route } = on;
                Self::AddCaution(ClinicCaution {
                    on: Target {
                        material: material.map(|id| id.0),
                        preparation: preparation.as_ref().map(|key| nfc(key)),
                        route: route.as_ref().map(|key| nfc(key)),
                    },
                    level: (*level).into(),
                    audiences: audiences.iter().map(|one| nfc(one)).collect(),
                    text: nfc(text),
                })
            }
            travels::Change::ChangeCaution(travels::ChangeCaution { key, level }) => {
                Self::ChangeCaution(ChangeCaution { key: nfc(key), level: level.map(Level::from) })
            }
        }
    }
}

impl From<Change> for travels::Change {
    fn from(change: Change) -> Self {
        match change {
            Change::AddMaterial(entry) => Self::AddMaterial(entry_out(*entry)),
            Change::ReviseMaterial(revise) => {
                let ReviseMaterial { material, version, entry } = *revise;
                let (material, entry) = (MaterialId(material), entry_out(entry));
                Self::ReviseMaterial(travels::ReviseMaterial { material, version, entry })
            }
            Change::MergeMaterials(MergeMaterials { merged, into }) => {
                let (merged, into) = (MaterialId(merged), MaterialId(into));
                Self::MergeMaterials(travels::MergeMaterials { merged, into })
            }
            Change::ImportMaterials(ImportMaterials { csv, read_at }) => {
                Self::ImportMaterials(travels::ImportMaterials { csv, read_at })
            }
            Change::AddCaution(ClinicCaution { on, level, audiences, text }) => {
                let Target { material, preparation, route } = on;
                let material = material.map(MaterialId);
                let on = travels::CautionTarget { material, preparation, route };
                Self::AddCaution(travels::ClinicCaution { on, level: level.into(), audiences, text })
            }
            Change::ChangeCaution(ChangeCaution { key, level }) => {
                Self::ChangeCaution(travels::ChangeCaution { key, level: level.map(Into::into) })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    /// Changes of every kind of format 1, from amendments of real runs.
    const FORMAT_1: &str = include_str!("change/format_1.json");

    fn samples() -> Vec<Value> {
        serde_json::from_str(FORMAT_1).unwrap()
    }

    fn read(value: Value) -> StoredChange {
        serde_json::from_value(value).unwrap()
    }

    fn shown(stored: StoredChange) -> Value {
        serde_json::to_value(travels::Change::from(stored.change)).unwrap()
    }

    #[test]
    fn a_change_of_format_1_is_read_and_travels_as_it_was() {
        for sample in samples() {
            assert_eq!(read(sample.clone()).format, Format::One);
            assert_eq!(shown(read(sample.clone())), sample);
        }
    }

    #[test]
    fn a_new_change_keeps_its_format_and_travels_as_before() {
        for sample in samples() {
            let change: travels::Change = serde_json::from_value(sample.clone()).unwrap();
            let written = serde_json::to_value(StoredChange::from(Change::from(&change))).unwrap();
            assert_eq!(written["format"], json!(2));
            let read = read(written);
            assert_eq!(read.format, Format::Two);
            assert_eq!(shown(read), sample);
        }
    }

    #[test]
    fn a_change_of_an_unknown_kind_or_format_is_refused() {
        for refused in [json!({ "format": 2 }), json!({ "format": 2, "forget_material": {} })] {
            assert!(serde_json::from_value::<StoredChange>(refused).is_err());
        }
        let mut later = samples().swap_remove(0);
        later["format"] = json!(3);
        assert!(serde_json::from_value::<StoredChange>(later).is_err());
    }
}
