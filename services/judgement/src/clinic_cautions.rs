//! The clinic's own word on cautions: those that it adds, and the levels that it gives to others.

use std::collections::HashMap;

use uuid::Uuid;
use wire::amendments::ClinicCaution;
use wire::ids::AmendmentId;
use wire::safety::{Caution, CautionLevel, ChangedLevel};

/// What the clinic says of cautions, as of now.
#[derive(Default)]
pub struct ClinicCautions {
    pub added: Vec<Added>,
    levels: HashMap<String, Given>,
}

/// A caution that the clinic adds.
pub struct Added {
    pub amendment: Uuid,
    pub caution: ClinicCaution,
    /// The material that it is said of, by every name of that material.
    pub materials: Vec<Uuid>,
}

/// The level that the clinic gives to a caution.
struct Given {
    level: GivenLevel,
    reason: String,
    amendment: Uuid,
}

/// One person may make a caution bind more, never less: a raised one binds at least so much. What two have confirmed is
/// what it binds.
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
    /// Takes in a change of a caution's level. The newest word on a caution holds. `level` is none where the caution was
    /// set aside, and `confirmed` says that a second person agreed.
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

    /// How much a caution of a rule binds that would bind so much by itself.
    pub fn level(&self, rule: &str, computed: CautionLevel) -> CautionLevel {
        self.levels.get(rule).map_or(computed, |given| given.level.of(computed))
    }

    /// Gives a caution the level that the clinic gave to its rule. It stays visible, whatever became of it.
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

/// How the key of a caution that the clinic added is written.
pub fn key(amendment: Uuid) -> String {
    format!("clinic-{amendment}")
}
