//! The clinic's own word on cautions: those that it adds, and the levels that it gives to others.

use std::collections::HashMap;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::amendment;
use uuid::Uuid;
use wire::amendments::{Change, ClinicCaution};
use wire::ids::AmendmentId;
use wire::safety::{Caution, CautionLevel, ChangedLevel};

use crate::error::Result;
use crate::tx::Tx;

/// What the clinic says of cautions, as of now.
#[derive(Default)]
pub(super) struct Own {
    /// Cautions that it adds, by the amendment that did.
    pub(super) added: Vec<(Uuid, ClinicCaution)>,
    levels: HashMap<String, Given>,
}

/// The level that the clinic gives to a caution; none sets it aside.
struct Given {
    level: Option<CautionLevel>,
    reason: String,
    amendment: Uuid,
}

impl Own {
    /// Gives a caution the level that the clinic gave to its rule. It stays visible, whatever became of it.
    pub(super) fn apply(&self, rule: &str, caution: &mut Caution) {
        let Some(given) = self.levels.get(rule) else { return };
        let was = caution.level;
        let level = given.level.unwrap_or(CautionLevel::Note);
        if level == was && given.level.is_some() {
            return;
        }
        caution.level = level;
        caution.changed = Some(ChangedLevel {
            was,
            set_aside: given.level.is_none(),
            reason: given.reason.clone(),
            amendment: AmendmentId(given.amendment),
        });
    }
}

/// How the key of a caution that the clinic added is written.
pub(super) fn key(amendment: Uuid) -> String {
    format!("clinic-{amendment}")
}

/// Reads what is in force. The newest word on a caution holds. Cost: one statement over the clinic's own amendments of
/// cautions, which are few.
pub(super) async fn own(tx: &mut Tx<'_>) -> Result<Own> {
    let rows: Vec<(Uuid, serde_json::Value, String)> = amendment::table
        .filter(amendment::state.eq("in_force"))
        .filter(amendment::kind.eq_any(["add_caution", "change_caution"]))
        .order((amendment::decided_at, amendment::id))
        .select((amendment::id, amendment::change, amendment::reason))
        .load(tx.conn())
        .await?;
    let mut own = Own::default();
    for (amendment, change, reason) in rows {
        match serde_json::from_value(change)? {
            Change::AddCaution(caution) => own.added.push((amendment, caution)),
            Change::ChangeCaution(change) => {
                own.levels.insert(change.key, Given { level: change.level, reason, amendment });
            }
            _ => {}
        }
    }
    Ok(own)
}
