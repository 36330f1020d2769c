//! What cases have in common: lots and batches at any depth, formulas, materials through every level, botanical families.

use diesel::QueryableByName;
use diesel::sql_types::{Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Result, Tx, word};
use uuid::Uuid;
use wire::ids::ReactionCaseId;
use wire::reactions::{ReactionCaseRef, ReactionShared, SharedKind};

use crate::visible::VISIBLE;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    id: Option<Uuid>,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = SqlUuid)]
    case_id: Uuid,
    #[diesel(sql_type = Text)]
    case_number: String,
}

/// The jars of each case, walked back to every lot and batch that they were made of, as a trace is walked; beside them what
/// the approved formulas name. One statement: what the case of interest, `$2`, holds that another one holds too.
fn statement() -> String {
    format!(
        "WITH RECURSIVE jarred (case_id, batch_id, revision_id, formula_id) AS (
            SELECT DISTINCT c.id, b.id, b.revision_id, r.formula_id
            FROM reaction_case c JOIN reaction_report p ON p.case_id = c.id JOIN jar j ON j.id = p.jar_id
            JOIN batch b ON b.id = j.batch_id JOIN revision r ON r.id = b.revision_id WHERE {VISIBLE}
        ), walked (case_id, kind, id) AS (
            SELECT case_id, 'batch', batch_id FROM jarred
            UNION
            SELECT w.case_id, n.kind, n.id FROM walked w CROSS JOIN LATERAL (
                SELECT 'lot' AS kind, m.lot_id AS id FROM lot_movement m
                WHERE w.kind = 'batch' AND m.batch_id = w.id AND m.kind = 'used' AND NOT EXISTS (
                    SELECT FROM lot_movement r WHERE r.entry_id = m.entry_id AND r.kind = 'returned')
                UNION ALL
                SELECT 'batch', l.batch_id FROM lot l
                WHERE w.kind = 'lot' AND l.id = w.id AND l.batch_id IS NOT NULL) n
        ), material_of (case_id, material_id, family) AS (
            SELECT DISTINCT d.case_id, m.id, v.facts #>> '{{botanical,species,family}}'
            FROM jarred d JOIN revision_material o ON o.revision_id = d.revision_id
            JOIN material m ON m.id = o.material_id
            JOIN material_version v ON v.material_id = m.id AND v.version = m.current_version
        ), thing (case_id, kind, id, name) AS (
            SELECT w.case_id, w.kind, w.id, CASE w.kind WHEN 'lot' THEN (
                    SELECT l.number || ' ' || coalesce(m.name, r.title) FROM lot l
                    LEFT JOIN material m ON m.id = l.material_id LEFT JOIN revision r ON r.id = l.revision_id
                    WHERE l.id = w.id)
                ELSE (SELECT b.number || ' ' || r.title FROM batch b JOIN revision r ON r.id = b.revision_id
                    WHERE b.id = w.id) END FROM walked w
            UNION
            SELECT d.case_id, 'formula', d.formula_id, f.title FROM jarred d JOIN formula f ON f.id = d.formula_id
            UNION
            SELECT o.case_id, 'material', o.material_id, m.name FROM material_of o JOIN material m ON m.id = o.material_id
            UNION
            SELECT case_id, 'family', NULL::uuid, family FROM material_of WHERE family <> ''
        )
        SELECT mine.kind, mine.id, mine.name, other.case_id, c.number AS case_number
        FROM thing mine JOIN thing other ON other.case_id <> mine.case_id AND other.kind = mine.kind
            AND other.id IS NOT DISTINCT FROM mine.id AND other.name = mine.name
        JOIN reaction_case c ON c.id = other.case_id
        WHERE mine.case_id = $2
        ORDER BY array_position(ARRAY['lot', 'batch', 'formula', 'material', 'family'], mine.kind), mine.name, mine.id,
            other.case_id"
    )
}

/// What a case has in common with others of the caller's libraries: the narrowest first, each with the cases that hold it too.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn with_others(tx: &mut Tx<'_>, case: ReactionCaseId) -> Result<Vec<ReactionShared>> {
    let me = tx.actor()?.holder();
    let rows: Vec<Row> = diesel::sql_query(statement())
        .bind::<SqlUuid, _>(me.0)
        .bind::<SqlUuid, _>(case.0)
        .load(tx.conn())
        .await?;
    let mut all: Vec<ReactionShared> = Vec::new();
    for row in rows {
        let kind: SharedKind = word(&row.kind)?;
        let other = ReactionCaseRef { id: ReactionCaseId(row.case_id), number: row.case_number };
        match all.last_mut() {
            Some(last) if last.kind == kind && last.id == row.id && last.name == row.name => {
                last.cases.push(other);
            }
            _ => all.push(ReactionShared { kind, id: row.id, name: row.name, cases: vec![other] }),
        }
    }
    Ok(all)
}
