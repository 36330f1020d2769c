//! Cautions of a stored recipe. Recipes from before cautions had a group and a stage hold neither; both then follow from
//! level and audiences.

use judgement::written::{Group, Level, Stage};
use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::safety as travels;

use super::parts::ChangedLevel;
use super::turn::Turn;

/// The cautions that were acknowledged.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CautionSet {
    /// The revision.
    pub revision: Uuid,
    /// The digest of the set, in hex.
    pub digest: String,
    /// The cautions, strongest first.
    pub cautions: Vec<Caution>,
    /// The clinic's notice.
    pub notice: String,
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Caution {
    /// Its key.
    pub key: String,
    /// The version of its text.
    pub text_version: u32,
    /// Its level.
    pub level: Level,
    /// Where it is read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<Group>,
    /// What it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<Stage>,
    /// The language of its text.
    pub language: String,
    /// Its text.
    pub text: String,
    /// Its text for a small label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// Its audiences.
    pub audiences: Vec<String>,
    /// Its source.
    pub source: String,
    /// Whether its source was verified.
    pub status: String,
    /// Its origins.
    pub origins: Vec<String>,
    /// The clinic's change of its level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed: Option<ChangedLevel>,
}

impl Turn<CautionSet> for travels::CautionSet {
    fn turn(self) -> CautionSet {
        // What was not raised was not acknowledged either.
        let Self { revision, digest, cautions, not_raised: _, offers: _, looked_at: _, notice } = self;
        CautionSet { revision: revision.turn(), digest, cautions: cautions.turn(), notice }
    }
}

impl Turn<travels::CautionSet> for CautionSet {
    fn turn(self) -> travels::CautionSet {
        let Self { revision, digest, cautions, notice } = self;
        let not_raised = Vec::new();
        travels::CautionSet {
            revision: revision.turn(),
            digest,
            cautions: cautions.turn(),
            not_raised,
            offers: Vec::new(),
            looked_at: None,
            notice,
        }
    }
}

impl Turn<Caution> for travels::Caution {
    fn turn(self) -> Caution {
        Caution {
            key: self.key,
            text_version: self.text_version,
            level: self.level.turn(),
            group: Some(self.group.turn()),
            stage: Some(self.stage.turn()),
            language: self.language,
            text: self.text,
            label: self.label,
            audiences: self.audiences,
            source: self.source,
            status: self.status,
            origins: self.origins,
            changed: self.changed.turn(),
        }
    }
}

impl Turn<travels::Caution> for Caution {
    fn turn(self) -> travels::Caution {
        let level = self.level.turn();
        let (group, stage) = travels::CautionGroup::unstated(level, &self.audiences);
        travels::Caution {
            key: self.key,
            text_version: self.text_version,
            level,
            group: self.group.map_or(group, Turn::turn),
            stage: self.stage.map_or(stage, Turn::turn),
            language: self.language,
            text: self.text,
            label: self.label,
            audiences: self.audiences,
            source: self.source,
            status: self.status,
            origins: self.origins,
            changed: self.changed.turn(),
        }
    }
}
