//! The row of a material in a list.

use diesel::prelude::*;
use uuid::Uuid;
use wire::ids::MaterialId;
use wire::materials::MaterialSummary;

/// One material of a list or of a search.
#[derive(QueryableByName)]
pub(super) struct Summary {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    pub(super) id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    pub(super) name: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    kind: String,
    #[diesel(sql_type = diesel::sql_types::Integer)]
    current_version: i32,
}

impl From<Summary> for MaterialSummary {
    fn from(row: Summary) -> Self {
        Self {
            id: MaterialId(row.id),
            name: row.name,
            kind: row.kind,
            version: row.current_version.unsigned_abs(),
        }
    }
}
