//! An assignment as it is shown.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::assignment_version;
use std::collections::HashMap;
use store::{Error, Result, Tx, known_as};
use uuid::Uuid;
use wire::ids::{AssignmentId, FormulaId, PersonId, RevisionId};
use wire::teaching::{AssignedFormula, Assignment, AssignmentVersion};

use crate::stored::Assessed;
use crate::{cohorts, local, versions};

/// How many versions are named.
const VERSIONS: i64 = 50;

/// An assignment with its version in force. Seven statements.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn assignment(tx: &mut Tx<'_>, row: &versions::Row) -> Result<Assignment> {
    let class = cohorts::class(tx, row.cohort()).await?;
    let version = versions::in_force(tx, row).await?;
    let formulas = formulas(tx, &[row.id]).await?.remove(&row.id).unwrap_or_default();
    let small = |value: i16| u8::try_from(value).map_err(|error| Error::Internal(error.into()));
    Ok(Assignment {
        id: AssignmentId(row.id),
        cohort: row.cohort(),
        cohort_name: class.name,
        state: row.state()?,
        title: version.title,
        instructions: version.instructions,
        formulas,
        quantity: version.quantity,
        opens: local::shown(version.opens_at, class.zone),
        due: local::shown(version.due_at, class.zone),
        late_until: version.late_until.map(|at| local::shown(at, class.zone)),
        attempts: small(version.attempts)?,
        returns_allowed: small(version.returns_allowed)?,
        marked_blind: version.marked_blind.unwrap_or_default(),
        rubric: serde_json::from_value::<Assessed>(version.rubric)?.turn(),
        questions: versions::questions(tx, row).await?,
        versions: all_versions(tx, row.id).await?,
    })
}

async fn all_versions(tx: &mut Tx<'_>, id: Uuid) -> Result<Vec<AssignmentVersion>> {
    let rows: Vec<(i32, Option<String>, Uuid, DateTime<Utc>)> = assignment_version::table
        .filter(assignment_version::assignment_id.eq(id))
        .order(assignment_version::number.desc())
        .limit(VERSIONS)
        .select((
            assignment_version::number,
            assignment_version::reason,
            assignment_version::created_by,
            assignment_version::created_at,
        ))
        .load(tx.conn())
        .await?;
    let names = known_as::people(tx, rows.iter().map(|(_, _, by, _)| *by).collect::<Vec<_>>()).await?;
    let shown = |(number, reason, by, created_at): (i32, Option<String>, Uuid, DateTime<Utc>)| {
        let created_by_name = names.of(by);
        AssignmentVersion { number, reason, created_by: PersonId(by), created_by_name, created_at }
    };
    Ok(rows.into_iter().map(shown).collect())
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = SqlUuid)]
    assignment_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    formula_id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = SmallInt)]
    position: i16,
}

/// The formulas of assignments, by assignment. One statement.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn formulas(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<HashMap<Uuid, Vec<AssignedFormula>>> {
    let mut rows: Vec<Named> = diesel::sql_query(
        "SELECT f.assignment_id, f.revision_id, f.formula_id, r.title, f.position
         FROM assignment_formula f
         JOIN assignment a ON a.id = f.assignment_id AND a.current_version = f.version_number
         JOIN revision r ON r.id = f.revision_id
         WHERE f.assignment_id = ANY($1)",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.conn())
    .await?;
    rows.sort_by_key(|row| row.position);
    let mut found: HashMap<Uuid, Vec<AssignedFormula>> = HashMap::new();
    for row in rows {
        found.entry(row.assignment_id).or_default().push(AssignedFormula {
            revision: RevisionId(row.revision_id),
            formula: FormulaId(row.formula_id),
            title: row.title,
        });
    }
    Ok(found)
}
