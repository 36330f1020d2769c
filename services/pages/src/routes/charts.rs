//! Control charts: of a class by formula, and of a student.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{progress, teaching};
use wire::ids::CohortId;
use wire::teaching::{ChartedFormula, ControlCharts};

use crate::answer::page;
use crate::chart::{Chart, chart};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::id_of;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/progress/charts", own);
    mount.get("/classes/{id}/students/{person}/charts", of_student);
    mount.get("/classes/{id}/charts", charted);
    mount.get("/classes/{id}/charts/{formula}", of_formula);
}

#[derive(Template)]
#[template(path = "charts.html")]
struct ChartsPage {
    frame: Frame,
    /// Where it leads back to, by name.
    back: String,
    name: String,
    /// Each with what it shows.
    charts: Vec<(Chart, String)>,
    rule: String,
}

fn show(
    frame: Frame,
    (back, name): (String, String),
    found: &ControlCharts,
) -> Result<HttpResponse, Trouble> {
    let weighing = chart("weighing", t("chart-weighing"), &found.weighing_error);
    let yields = chart("yield", t("chart-yield"), &found.yield_share);
    let charts = vec![(weighing, t("chart-weighing-says")), (yields, t("chart-yield-says"))];
    page(StatusCode::OK, &ChartsPage { frame, back, name, charts, rule: found.rule.clone() })
}

async fn own(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let found = progress::charts_own(visitor.clinic(), visitor.credentials()).await?;
    show(visitor.frame(t("charts-title")), ("/progress".to_owned(), t("progress-title")), &found)
}

async fn of_student(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&path.0)?;
    let person = path.1.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = progress::charts_of(clinic, credentials, id, person).await?;
    let student = progress::of(clinic, credentials, id, person).await?.name.unwrap_or_default();
    let back = format!("/classes/{id}/students/{person}/progress");
    let name = t1("progress-of", student.clone());
    show(visitor.frame(t1("charts-of", student)), (back, name), &found)
}

async fn of_formula(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&path.0)?;
    let formula = path.1.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = progress::charts_of_formula(clinic, credentials, id, formula).await?;
    let known = progress::charted(clinic, credentials, id).await?.formulas;
    let title = known.into_iter().find(|one| one.formula == formula).ok_or(Trouble::NoPage)?.title;
    let name = teaching::cohort(clinic, credentials, id).await?.value.name;
    show(visitor.frame(t1("charts-of", title)), (format!("/classes/{id}/charts"), name), &found)
}

#[derive(Template)]
#[template(path = "charted.html")]
struct ChartedPage {
    frame: Frame,
    id: CohortId,
    name: String,
    formulas: Vec<ChartedFormula>,
}

async fn charted(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let formulas = progress::charted(clinic, credentials, id).await?.formulas;
    let name = teaching::cohort(clinic, credentials, id).await?.value.name;
    let frame = visitor.frame(t1("charts-of", name.clone()));
    page(StatusCode::OK, &ChartedPage { frame, id, name, formulas })
}
