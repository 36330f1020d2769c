//! The clinic's amendments to cautions: cautions it adds, and levels it changes.
//!
//! Never here: a caution that disappears. A caution that was set aside stays visible as a note.

use std::collections::HashMap;

use serde::{Deserialize, Serialize};
use uuid::Uuid;
use wire::ids::AmendmentId;
use wire::safety::{Caution, CautionLevel, ChangedLevel};

use crate::written::Level;

/// The clinic's amendments to cautions that are in force.
#[derive(Default)]
pub struct ClinicCautions {
    /// Cautions that the clinic adds.
    pub added: Vec<Added>,
    levels: HashMap<String, Given>,
}

/// A caution that the clinic adds, as its amendment is stored.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClinicCaution {
    /// What it is said of.
    #[serde(default)]
    pub on: Target,
    /// How strongly it binds.
    pub level: Level,
    /// For whom; everyone where nothing is given.
    #[serde(default)]
    pub audiences: Vec<String>,
    /// What it says.
    pub text: String,
}

/// What a caution of the clinic's own is said of: one of these, or nothing for every formula.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Target {
    /// Every formula that contains this material.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub material: Option<Uuid>,
    /// Every preparation of the kind with this key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub preparation: Option<String>,
    /// Everything used by the route with this key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub route: Option<String>,
}

/// A caution that the clinic adds.
pub struct Added {
    /// The amendment that adds the caution.
    pub amendment: Uuid,
    /// The caution and its target.
    pub caution: ClinicCaution,
    /// Every material ID that the target names; one material can have several.
    pub materials: Vec<Uuid>,
}

/// A level that the clinic gives to a caution.
struct Given {
    level: GivenLevel,
    reason: String,
    amendment: Uuid,
}

/// How the clinic changed a level. One person may raise a level but not lower it, so an unconfirmed level is a minimum.
/// A level that a second person confirmed is exact.
#[derive(Clone, Copy)]
enum GivenLevel {
    AtLeast(CautionLevel),
    Exactly(CautionLevel),
    SetAside,
}

impl GivenLevel {
    fn of(self, computed: CautionLevel) -> CautionLevel {
        match self {
            Self::AtLeast(level) => level.max(computed),
            Self::Exactly(level) => level,
            Self::SetAside => CautionLevel::Note,
        }
    }
}

impl ClinicCautions {
    /// Adds a change of the level of the cautions of `rule`. Call in the order of the amendments, because the newest
    /// change holds. `level` is `None` if the caution was set aside; `confirmed` says that a second person agreed.
    pub fn change(
        &mut self,
        rule: String,
        level: Option<CautionLevel>,
        confirmed: bool,
        reason: String,
        amendment: Uuid,
    ) {
        let before = self.levels.get(&rule).map(|given| given.level);
        let level = match (level, confirmed, before) {
            (None, ..) => GivenLevel::SetAside,
            (Some(level), true, _) => GivenLevel::Exactly(level),
            (Some(level), false, Some(GivenLevel::AtLeast(before))) => GivenLevel::AtLeast(level.max(before)),
            (Some(level), false, _) => GivenLevel::AtLeast(level),
        };
        self.levels.insert(rule, Given { level, reason, amendment });
    }

    /// The level of a caution of `rule` whose computed level is `computed`.
    #[must_use]
    pub fn level(&self, rule: &str, computed: CautionLevel) -> CautionLevel {
        self.levels.get(rule).map_or(computed, |given| given.level.of(computed))
    }

    /// Applies the clinic's level for `rule` to a caution. Records the computed level, the reason and the amendment if
    /// the level changes or the caution was set aside.
    pub fn apply(&self, rule: &str, caution: &mut Caution) {
        let Some(given) = self.levels.get(rule) else { return };
        let was = caution.level;
        let set_aside = matches!(given.level, GivenLevel::SetAside);
        caution.level = given.level.of(was);
        if caution.level != was || set_aside {
            caution.changed = Some(ChangedLevel {
                was,
                set_aside,
                reason: given.reason.clone(),
                amendment: AmendmentId(given.amendment),
            });
        }
    }
}

/// The key of the caution that an amendment adds.
#[must_use]
pub fn key(amendment: Uuid) -> String {
    format!("clinic-{amendment}")
}
