//! The formula workshop: lines and steps as in a notebook, and what comes of them.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Data, Path};
use askama::Template;
use clinic::formulary::typed;
use clinic::{Detail, Reader, formulary, overview, recipes};
use wire::formulary::{
    FormulaContent, LabelText, Library, Line, OwnCaution, Phase, Regime, RevisionComment, Step,
};
use wire::ids::{FormulaId, LibraryId, RevisionId};
use wire::page::PageQuery;
use wire::problem::FieldError;
use wire::recipe::{CompositionBasis, Evaluate, Evaluation, MakeFor, Recipe};
use wire::safety::{CautionLevel, CautionOffer};

use crate::answer::{page, to};
use crate::composed::{Composed, composed};
use crate::figures::{self, spelled};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/workshop", begin);
    mount.post("/workshop", begun);
    mount.get("/revisions/{id}/workshop", open);
    mount.post("/revisions/{id}/workshop", work);
    mount.post("/formulas/{id}/revisions", revise);
}

/// A line as it is typed, with what the service makes of it.
struct TypedLine {
    id: String,
    text: String,
    share: String,
    mass: String,
    cure: String,
}

struct TypedPhase {
    name: String,
    share: String,
    lines: Vec<TypedLine>,
}

struct TypedStep {
    text: String,
    heat: String,
    cure: String,
}

#[derive(Template)]
#[template(path = "workshop.html")]
struct WorkshopPage {
    frame: Frame,
    action: String,
    version: String,
    once: String,
    number: String,
    title: String,
    preparation: String,
    route: String,
    regime: Regime,
    yield_: String,
    site: String,
    youngest: String,
    used_daily: String,
    target_ph: String,
    directions: String,
    storage: String,
    container: String,
    after_opening: String,
    cautions: String,
    libraries: Vec<Library>,
    phases: Vec<TypedPhase>,
    steps: Vec<TypedStep>,
    comes: Option<Composed>,
    /// Faults that belong to no line or step: field and cure.
    faults: Vec<(String, String)>,
    will_read: Vec<reading::Act>,
    /// Texts that are there for what the author entered in other words.
    offers: Vec<CautionOffer>,
    said: String,
    comments: Vec<(String, String)>,
    stale: Option<Vec<String>>,
    regimes: Vec<(&'static str, String)>,
}

/// A line as it would be written.
fn written(line: &Line) -> String {
    let name = line.material.as_deref().or(line.formula.as_deref()).unwrap_or_default();
    let function = line.function.as_deref().map(|function| format!(", {function}")).unwrap_or_default();
    format!("{} {name}{function}", line.amount).trim().to_owned()
}

pub(super) fn step_written(step: &Step) -> String {
    let mut text = step.do_.clone();
    if let Some(heat) = &step.temperature {
        text = format!("{text}, {}", spelled(heat).replace('\u{a0}', " "));
    }
    if step.hold { format!("{text}, hold") } else { text }
}

/// The formula that a form describes. Lines that are empty are left out; several may stand in one field.
async fn content(visitor: &Visitor, form: &Form) -> Result<FormulaContent, Trouble> {
    let mut phases: Vec<Phase> = Vec::new();
    let mut steps = Vec::new();
    let mut cautions = Vec::new();
    for (name, value) in form.fields() {
        let texts = value.lines().map(str::trim).filter(|text| !text.is_empty());
        match name.as_str() {
            "phase" => phases.push(Phase { name: value.trim().to_owned(), lines: Vec::new() }),
            "line" => {
                if phases.is_empty() {
                    phases.push(Phase { name: t("first-phase"), lines: Vec::new() });
                }
                if let Some(last) = phases.last_mut() {
                    last.lines.extend(texts.map(typed::line));
                }
            }
            "step" => steps.extend(texts.map(typed::step)),
            "caution" => {
                cautions.extend(texts.map(|text| OwnCaution {
                    level: CautionLevel::Caution,
                    text: text.to_owned(),
                    stage: None,
                    audiences: Vec::new(),
                }));
            }
            _ => {}
        }
    }
    phases.retain(|phase| !phase.lines.is_empty());
    let names: Vec<String> =
        phases.iter().flat_map(|phase| &phase.lines).filter_map(|line| line.material.clone()).collect();
    let titles = overview::titles(visitor.clinic(), visitor.credentials(), &names).await?;
    for line in phases.iter_mut().flat_map(|phase| phase.lines.iter_mut()) {
        if line.material.as_ref().is_some_and(|name| titles.contains(&name.to_lowercase())) {
            line.formula = line.material.take();
        }
    }
    Ok(FormulaContent {
        title: form.text("title"),
        preparation: form.text("preparation"),
        route: form.text("route"),
        regime: form.text("regime").parse().unwrap_or(Regime::TeachingOnly),
        site: form.given("site"),
        youngest: form.given("youngest"),
        used_daily: form.given("used_daily"),
        serving: None,
        target_ph: form.given("target_ph"),
        stability: None,
        yield_: form.given("yield"),
        phases,
        method: steps,
        cautions,
        label: LabelText {
            directions: form.text("directions"),
            storage: form.text("storage"),
            container: form.text("container"),
            after_opening: form.text("after_opening"),
        },
    })
}

/// What the page does not show of a draft stays as it is: evidence of stability, the serving, the phase of a step and the
/// level of a caution, each with the words that it belongs to.
fn carry_over(content: &mut FormulaContent, earlier: FormulaContent) {
    content.stability = earlier.stability;
    content.serving = earlier.serving;
    for step in &mut content.method {
        step.phase = earlier.method.iter().find(|old| old.do_ == step.do_).and_then(|old| old.phase.clone());
    }
    for caution in &mut content.cautions {
        if let Some(old) = earlier.cautions.iter().find(|old| old.text == caution.text) {
            caution.level = old.level;
            caution.stage = old.stage;
            caution.audiences.clone_from(&old.audiences);
        }
    }
}

fn empty() -> FormulaContent {
    FormulaContent {
        title: String::new(),
        preparation: String::new(),
        route: "on intact skin, leave-on".into(),
        regime: Regime::Cosmetic,
        site: None,
        youngest: None,
        used_daily: None,
        serving: None,
        target_ph: None,
        stability: None,
        yield_: None,
        phases: vec![Phase { name: "oil phase".into(), lines: Vec::new() }],
        method: Vec::new(),
        cautions: Vec::new(),
        label: LabelText::default(),
    }
}

/// What a page of the workshop is made from.
struct Bench<'a> {
    visitor: &'a Visitor,
    /// The draft and its version; nothing for a formula that is not kept yet.
    draft: Option<(RevisionId, i64)>,
    content: FormulaContent,
    errors: Vec<FieldError>,
    said: String,
    stale: Option<FormulaContent>,
    status: StatusCode,
    /// What was said when an earlier revision came back.
    comments: Vec<(String, String)>,
}

async fn show(bench: Bench<'_>) -> Result<HttpResponse, Trouble> {
    let Bench { visitor, draft, content, mut errors, said, stale, status, comments } = bench;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let some = content.phases.iter().any(|phase| !phase.lines.is_empty());
    let asked = Evaluate { content: content.clone(), composition: CompositionBasis::default() };
    let evaluation: Option<Evaluation> =
        match formulary::evaluate(clinic, credentials, &asked, Detail::Explained).await {
            Ok(released) => Some(shown(&released)?),
            Err(clinic::Error::Invalid(refused)) => {
                if some && errors.is_empty() {
                    errors = refused;
                }
                None
            }
            // What is nested is closed to the author now.
            Err(clinic::Error::GateClosed(outstanding)) => {
                let then = draft.map_or("/queue".to_owned(), |(id, _)| format!("/revisions/{id}/workshop"));
                return formula::gate(visitor, &outstanding, then).await;
            }
            Err(other) => return Err(other.into()),
        };
    let cure = |pointer: &str| -> String {
        let of =
            errors.iter().filter(|error| error.pointer.trim_start_matches("/content").starts_with(pointer));
        of.map(|error| error.detail.clone()).collect::<Vec<_>>().join(" ")
    };
    let mut phases = Vec::new();
    for (i, phase) in content.phases.iter().enumerate() {
        let totals = evaluation.as_ref().and_then(|evaluation| evaluation.phases.get(i));
        let lines = phase.lines.iter().enumerate().map(|(j, line)| {
            let total = totals.and_then(|totals| totals.lines.get(j));
            TypedLine {
                id: format!("l{}-{}", i + 1, j + 1),
                text: written(line),
                share: total.map(|total| figures::shown(&total.share).whole()).unwrap_or_default(),
                mass: total.map(|total| figures::shown(&total.mass).whole()).unwrap_or_default(),
                cure: cure(&format!("/phases/{i}/lines/{j}/")),
            }
        });
        let mut lines: Vec<TypedLine> = lines.collect();
        lines.push(TypedLine {
            id: format!("l{}-{}", i + 1, lines.len() + 1),
            text: String::new(),
            share: String::new(),
            mass: String::new(),
            cure: String::new(),
        });
        phases.push(TypedPhase {
            name: phase.name.clone(),
            share: totals.map(|totals| figures::shown(&totals.share).whole()).unwrap_or_default(),
            lines,
        });
    }
    let mut steps: Vec<TypedStep> = content
        .method
        .iter()
        .enumerate()
        .map(|(i, step)| TypedStep {
            text: step_written(step),
            heat: step.temperature.as_deref().map(spelled).unwrap_or_default(),
            cure: cure(&format!("/method/{i}/")),
        })
        .collect();
    steps.push(TypedStep { text: String::new(), heat: String::new(), cure: String::new() });
    let faults = errors
        .iter()
        .map(|error| (error.pointer.trim_start_matches("/content").to_owned(), error.detail.clone()))
        .filter(|(pointer, _)| !(pointer.contains("/lines/") || pointer.starts_with("/method/")))
        .collect();
    let set = match draft {
        Some((id, _)) => formulary::cautions(clinic, credentials, id).await.ok(),
        None => None,
    };
    let will_read = set.as_ref().map(reading::all).unwrap_or_default();
    let offers = set.map(|set| set.offers).unwrap_or_default();
    let libraries = match draft {
        Some(_) => Vec::new(),
        None => {
            formulary::libraries(clinic, credentials, &PageQuery { limit: Some(100), after: None })
                .await?
                .items
        }
    };
    let title = if content.title.is_empty() { t("workshop-title") } else { content.title.clone() };
    let frame = visitor.frame(title).on_desk().with("forms.js").with("workshop.js");
    let page_of = WorkshopPage {
        action: draft.map_or("/workshop".to_owned(), |(id, _)| format!("/revisions/{id}/workshop")),
        version: draft.map(|(_, version)| version.to_string()).unwrap_or_default(),
        once: visitor.pages().once(),
        number: t("draft-word"),
        title: content.title.clone(),
        preparation: content.preparation.clone(),
        route: content.route.clone(),
        regime: content.regime,
        yield_: content.yield_.clone().unwrap_or_default(),
        site: content.site.clone().unwrap_or_default(),
        youngest: content.youngest.clone().unwrap_or_default(),
        used_daily: content.used_daily.clone().unwrap_or_default(),
        target_ph: content.target_ph.clone().unwrap_or_default(),
        directions: content.label.directions.clone(),
        storage: content.label.storage.clone(),
        container: content.label.container.clone(),
        after_opening: content.label.after_opening.clone(),
        cautions: content.cautions.iter().map(|caution| caution.text.as_str()).collect::<Vec<_>>().join("\n"),
        libraries,
        phases,
        steps,
        comes: evaluation.as_ref().map(composed),
        faults,
        will_read,
        offers,
        said,
        comments,
        stale: stale.map(|theirs| {
            let lines = theirs.phases.iter().flat_map(|phase| phase.lines.iter().map(written));
            lines.chain(theirs.method.iter().map(step_written)).collect()
        }),
        regimes: Regime::ALL.iter().map(|one| (one.as_str(), one.as_str().replace('_', " "))).collect(),
        frame,
    };
    page(status, &page_of)
}

/// What was said of earlier decisions, for the author.
async fn comments(visitor: &Visitor, id: RevisionId) -> Result<Vec<(String, String)>, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let all: Vec<RevisionComment> = match recipes::comments(clinic, credentials, id).await {
        Ok(released) => shown(&released)?,
        Err(_) => Vec::new(),
    };
    let ids: Vec<_> = all.iter().map(|comment| comment.by).collect();
    let names = overview::names(clinic, credentials, &ids).await?;
    Ok(all
        .into_iter()
        .map(|comment| {
            let name = names
                .iter()
                .find(|(id, _)| *id == comment.by)
                .map(|(_, name)| name.clone())
                .unwrap_or_default();
            (name, comment.comment)
        })
        .collect())
}

async fn begin(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let (content, errors, said, comments) = (empty(), Vec::new(), String::new(), Vec::new());
    show(Bench {
        visitor: &visitor,
        draft: None,
        content,
        errors,
        said,
        stale: None,
        status: StatusCode::OK,
        comments,
    })
    .await
}

async fn begun(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let content = content(&visitor, &form).await?;
    let bench = |errors, status| Bench {
        visitor: &visitor,
        draft: None,
        content: content.clone(),
        errors,
        said: String::new(),
        stale: None,
        status,
        comments: Vec::new(),
    };
    if form.text("do") == "work" {
        return show(bench(Vec::new(), StatusCode::OK)).await;
    }
    let library: LibraryId = form.text("library").parse().map_err(|_| Trouble::Malformed)?;
    let once = form.once("POST /workshop")?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match formulary::formula_create(clinic, credentials, &once, library, &content).await {
        Ok(formula) => {
            let id = formula.revisions.first().map(|revision| revision.id).ok_or(Trouble::NoPage)?;
            propose_or_stay(&visitor, &form, id, 1).await
        }
        Err(clinic::Error::Invalid(errors)) => show(bench(errors, StatusCode::UNPROCESSABLE_ENTITY)).await,
        Err(other) => Err(other.into()),
    }
}

async fn open(visitor: Visitor, reader: Data<Reader>, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let revision = formulary::revision(visitor.clinic(), visitor.credentials(), id).await?.value;
    let formula = formulary::formula(&reader, visitor.credentials(), revision.formula).await?;
    let returned = formula.revisions.iter().find(|one| one.state == wire::formulary::RevisionState::Returned);
    let comments = match returned {
        Some(returned) => comments(&visitor, returned.id).await?,
        None => Vec::new(),
    };
    let draft = formulary::draft(visitor.clinic(), visitor.credentials(), id).await?;
    let content: FormulaContent = shown(&draft.value)?;
    let (draft, errors, said) = (Some((id, draft.version)), Vec::new(), String::new());
    show(Bench {
        visitor: &visitor,
        draft,
        content,
        errors,
        said,
        stale: None,
        status: StatusCode::OK,
        comments,
    })
    .await
}

async fn work(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let version: i64 = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let mut content = content(&visitor, &form).await?;
    let kept = formulary::draft(visitor.clinic(), visitor.credentials(), id).await?;
    carry_over(&mut content, shown(&kept.value)?);
    let bench = |errors, status| Bench {
        visitor: &visitor,
        draft: Some((id, version)),
        content: content.clone(),
        errors,
        said: String::new(),
        stale: None,
        status,
        comments: Vec::new(),
    };
    if form.text("do") == "work" {
        return show(bench(Vec::new(), StatusCode::OK)).await;
    }
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match formulary::draft_change(clinic, credentials, id, version, &content).await {
        Ok(kept) => propose_or_stay(&visitor, &form, id, kept.version).await,
        Err(clinic::Error::Invalid(errors)) => show(bench(errors, StatusCode::UNPROCESSABLE_ENTITY)).await,
        // Both are kept: theirs is shown beside what was typed, which stays in its fields.
        Err(clinic::Error::PreconditionFailed) => {
            let theirs = formulary::draft(clinic, credentials, id).await?;
            let stale: FormulaContent = shown(&theirs.value)?;
            let draft = Some((id, theirs.version));
            let bench =
                Bench { draft, stale: Some(stale), ..bench(Vec::new(), StatusCode::PRECONDITION_FAILED) };
            show(bench).await
        }
        Err(other) => Err(other.into()),
    }
}

async fn propose_or_stay(
    visitor: &Visitor,
    form: &Form,
    id: RevisionId,
    version: i64,
) -> Result<HttpResponse, Trouble> {
    if form.text("do") != "propose" {
        return Ok(to(&format!("/revisions/{id}/workshop")));
    }
    match formulary::propose(visitor.clinic(), visitor.credentials(), id, version).await {
        Ok(_) | Err(clinic::Error::State { .. }) => Ok(to(&format!("/revisions/{id}"))),
        Err(other) => Err(other.into()),
    }
}

/// A further revision begins as a copy of the approved one.
async fn revise(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    let id: FormulaId = id.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let formula = formulary::formula(&reader, credentials, id).await?;
    let draft = formula.revisions.iter().find(|one| one.state == wire::formulary::RevisionState::Draft);
    if let Some(draft) = draft {
        return Ok(to(&format!("/revisions/{}/workshop", draft.id)));
    }
    let from = formula.revisions.first().ok_or(Trouble::NoPage)?.id;
    let own = MakeFor::default();
    let recipe: Recipe = match recipes::recipe(clinic, &reader, credentials, from, &own, Detail::Brief).await
    {
        Ok(released) => shown(&released)?,
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(&visitor, &outstanding, format!("/revisions/{from}")).await;
        }
        Err(other) => return Err(other.into()),
    };
    let content = copied(recipe);
    let once = form.once(&format!("POST /formulas/{id}/revisions"))?;
    let made = formulary::revision_create(clinic, credentials, &once, id, &content).await?;
    Ok(to(&format!("/revisions/{}/workshop", made.value.id)))
}

fn copied(recipe: Recipe) -> FormulaContent {
    let lines = |lines: Vec<wire::recipe::RecipeLine>| {
        lines
            .into_iter()
            .map(|line| {
                let nested = line.nested_revision.is_some();
                let name = Some(line.name);
                Line {
                    material: name.clone().filter(|_| !nested),
                    formula: name.filter(|_| nested),
                    amount: line.as_written,
                    function: line.function,
                }
            })
            .collect()
    };
    FormulaContent {
        title: recipe.title,
        preparation: recipe.preparation,
        route: recipe.route,
        regime: recipe.regime,
        site: recipe.site,
        youngest: recipe.youngest,
        used_daily: None,
        serving: None,
        target_ph: None,
        stability: None,
        yield_: None,
        phases: recipe
            .phases
            .into_iter()
            .map(|phase| Phase { name: phase.name, lines: lines(phase.lines) })
            .collect(),
        method: recipe.method,
        cautions: Vec::new(),
        label: recipe.label,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_and_a_step_are_written_as_they_are_read() {
        for text in ["50 g emulsifying wax, emulsifier", "q.s. 1000 g purified water"] {
            assert_eq!(written(&typed::line(text)), text);
        }
        for text in ["Melt the wax, 70 °C at most, hold", "Stir"] {
            assert_eq!(step_written(&typed::step(text)), text);
        }
    }
}
