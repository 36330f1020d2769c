//! How a class stands: a grid of students by assignment, and its marks to take along.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{marking, teaching};
use wire::ids::{AssignmentId, CohortId, PersonId};
use wire::teaching::{AssignmentState, CohortGrid, GridCell};

use crate::answer::{file, page};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::id_of;
use crate::routes::own_work::{state_word, when};
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/classes/{id}/grid", grid);
    mount.get("/classes/{id}/marks.csv", table);
    mount.get("/classes/{id}/marks.ndjson", lines);
    mount.get("/classes/{id}/oneroster.zip", archive);
}

/// An assignment at the head of the grid.
struct Head {
    id: AssignmentId,
    title: String,
    due: String,
    withdrawn: bool,
}

/// How a student stands with an assignment.
struct Cell {
    assignment: AssignmentId,
    words: String,
    /// Whether there is work to look at.
    handed: bool,
    late: bool,
}

struct Row {
    person: PersonId,
    name: String,
    cells: Vec<Cell>,
}

#[derive(Template)]
#[template(path = "grid.html")]
struct GridPage {
    frame: Frame,
    id: CohortId,
    name: String,
    heads: Vec<Head>,
    rows: Vec<Row>,
}

async fn grid(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = marking::grid(clinic, credentials, id).await?;
    let name = teaching::cohort(clinic, credentials, id).await?.value.name;
    let frame = visitor.frame(t1("grid-title", name.clone()));
    let heads = found.assignments.iter().map(|one| Head {
        id: one.id,
        title: one.title.clone(),
        due: when(&frame, &one.due),
        withdrawn: one.state == AssignmentState::Withdrawn,
    });
    let heads = heads.collect();
    page(StatusCode::OK, &GridPage { id, name, heads, rows: rows(&found), frame })
}

fn rows(grid: &CohortGrid) -> Vec<Row> {
    let row = |student: &wire::teaching::GridStudent| Row {
        person: student.person,
        name: student.name.clone(),
        cells: student
            .cells
            .iter()
            .zip(&grid.assignments)
            .map(|(cell, of)| Cell {
                assignment: of.id,
                words: words(cell, of.total_points),
                handed: cell.submission.is_some(),
                late: cell.late,
            })
            .collect(),
    };
    grid.students.iter().map(row).collect()
}

/// Points where there are some, else how it stands.
fn words(cell: &GridCell, total: u32) -> String {
    if cell.hidden {
        return t("hidden-until-marked");
    }
    match cell.points {
        Some(points) => t2("points-of", i64::from(points), i64::from(total)),
        None => state_word(cell.state),
    }
}

async fn table(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let text = marking::marks_table(visitor.clinic(), visitor.credentials(), id_of(&id)?).await?;
    Ok(file("text/csv; charset=utf-8; header=present", "marks.csv", text))
}

async fn lines(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let text = marking::marks_lines(visitor.clinic(), visitor.credentials(), id_of(&id)?).await?;
    Ok(file("application/x-ndjson; charset=utf-8", "marks.ndjson", text))
}

async fn archive(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let bytes = marking::marks_archive(visitor.clinic(), visitor.credentials(), id_of(&id)?).await?;
    Ok(file("application/zip", "oneroster.zip", bytes))
}
