//! The sheet of the workshop: what is typed, and beside it what the service makes of it.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use clinic::{Detail, formulary, overview, recipes};
use wire::calculations::use_by::UseByAnswer;
use wire::formulary::{FormulaContent, Library, Line, Regime, RevisionComment};
use wire::ids::RevisionId;
use wire::page::PageQuery;
use wire::problem::FieldError;
use wire::recipe::{CompositionBasis, Evaluate, Evaluation};
use wire::safety::CautionOffer;

use crate::answer::page;
use crate::composed::{Composed, composed};
use crate::figures::{self, spelled};
use crate::frame::Frame;
use crate::notebook::{Compared, all_of, compare, step_written, written};
use crate::reading;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A line as it is typed, with what the service makes of it.
struct TypedLine {
    id: String,
    text: String,
    share: String,
    mass: String,
    cure: String,
    /// What may be meant, and the line with it.
    instead: Vec<(String, String)>,
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
    /// The value, and where its measurement is filed.
    water_activity: (String, String),
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
    /// The revision that a further one is compared with.
    before: Option<(RevisionId, u32)>,
    comments: Vec<(String, String)>,
    stale: Option<Vec<Compared>>,
    regimes: Vec<(&'static str, String)>,
}

/// What a page of the workshop is made from.
pub(super) struct Bench<'a> {
    pub(super) visitor: &'a Visitor,
    /// The draft and its version; nothing for a formula that is not kept yet.
    pub(super) draft: Option<(RevisionId, i64)>,
    pub(super) content: FormulaContent,
    pub(super) errors: Vec<FieldError>,
    pub(super) said: String,
    pub(super) stale: Option<FormulaContent>,
    pub(super) status: StatusCode,
    /// What was said when an earlier revision came back.
    pub(super) comments: Vec<(String, String)>,
    /// The approved revision, which a further one is compared with.
    pub(super) before: Option<(RevisionId, u32)>,
}

impl<'a> Bench<'a> {
    pub(super) fn of(
        visitor: &'a Visitor,
        draft: Option<(RevisionId, i64)>,
        content: FormulaContent,
    ) -> Self {
        Self {
            visitor,
            draft,
            content,
            errors: Vec::new(),
            said: String::new(),
            stale: None,
            status: StatusCode::OK,
            comments: Vec::new(),
            before: None,
        }
    }

    /// The same with what was refused.
    pub(super) fn refused(self, errors: Vec<FieldError>) -> Self {
        Self { errors, status: StatusCode::UNPROCESSABLE_ENTITY, ..self }
    }
}

/// The cures of the fields whose pointer begins so.
fn cure(errors: &[FieldError], pointer: &str) -> String {
    let of = errors.iter().filter(|error| error.pointer.trim_start_matches("/content").starts_with(pointer));
    of.map(|error| error.detail.clone()).collect::<Vec<_>>().join(" ")
}

/// What may be meant by a line that is refused, and the line with it.
fn instead(errors: &[FieldError], pointer: &str, line: &Line) -> Vec<(String, String)> {
    let text = written(line);
    let of = errors.iter().filter_map(|error| {
        let field = error.pointer.trim_start_matches("/content").strip_prefix(pointer)?;
        let typed = if field == "amount" { Some(&line.amount) } else { line.material.as_ref() }?;
        Some(error.instead.iter().map(|meant| (meant.clone(), text.replacen(typed.as_str(), meant, 1))))
    });
    of.flatten().collect()
}

fn phases(
    content: &FormulaContent,
    evaluation: Option<&Evaluation>,
    errors: &[FieldError],
) -> Vec<TypedPhase> {
    let phase = |(i, phase): (usize, &wire::formulary::Phase)| {
        let totals = evaluation.and_then(|evaluation| evaluation.phases.get(i));
        let lines = phase.lines.iter().enumerate().map(|(j, line)| {
            let total = totals.and_then(|totals| totals.lines.get(j));
            let pointer = format!("/phases/{i}/lines/{j}/");
            TypedLine {
                id: format!("l{}-{}", i + 1, j + 1),
                text: written(line),
                share: total.map(|total| figures::shown(&total.share).whole()).unwrap_or_default(),
                mass: total.map(|total| figures::shown(&total.mass).whole()).unwrap_or_default(),
                cure: cure(errors, &pointer),
                instead: instead(errors, &pointer, line),
            }
        });
        let mut lines: Vec<TypedLine> = lines.collect();
        lines.push(TypedLine {
            id: format!("l{}-{}", i + 1, lines.len() + 1),
            text: String::new(),
            share: String::new(),
            mass: String::new(),
            cure: String::new(),
            instead: Vec::new(),
        });
        TypedPhase {
            name: phase.name.clone(),
            share: totals.map(|totals| figures::shown(&totals.share).whole()).unwrap_or_default(),
            lines,
        }
    };
    content.phases.iter().enumerate().map(phase).collect()
}

fn steps(content: &FormulaContent, errors: &[FieldError]) -> Vec<TypedStep> {
    let step = |(i, step): (usize, &wire::formulary::Step)| TypedStep {
        text: step_written(step),
        heat: step.temperature.as_deref().map(spelled).unwrap_or_default(),
        cure: cure(errors, &format!("/method/{i}/")),
    };
    let empty = TypedStep { text: String::new(), heat: String::new(), cure: String::new() };
    content.method.iter().enumerate().map(step).chain(std::iter::once(empty)).collect()
}

pub(super) async fn show(bench: Bench<'_>) -> Result<HttpResponse, Trouble> {
    let Bench { visitor, draft, content, mut errors, said, stale, status, comments, before } = bench;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let title = if content.title.is_empty() { t("workshop-title") } else { content.title.clone() };
    let frame = visitor.frame(title).on_desk().with("forms.js").with("workshop.js");
    let some = content.phases.iter().any(|phase| !phase.lines.is_empty());
    let asked = Evaluate { content: content.clone(), composition: CompositionBasis::default() };
    let evaluated = formulary::evaluate_dated(clinic, credentials, &asked, frame.today(), Detail::Explained);
    let evaluated: Option<(Evaluation, UseByAnswer)> = match evaluated.await {
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
    let evaluation = evaluated.as_ref().map(|(evaluation, _)| evaluation);
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
        water_activity: content
            .water_activity
            .as_ref()
            .map(|it| (it.value.clone(), it.source.clone()))
            .unwrap_or_default(),
        directions: content.label.directions.clone(),
        storage: content.label.storage.clone(),
        container: content.label.container.clone(),
        after_opening: content.label.after_opening.clone(),
        cautions: content.cautions.iter().map(|caution| caution.text.as_str()).collect::<Vec<_>>().join("\n"),
        libraries,
        phases: phases(&content, evaluation, &errors),
        steps: steps(&content, &errors),
        comes: evaluated
            .as_ref()
            .map(|(evaluation, use_by)| composed(evaluation).dated(&frame, use_by).priced(evaluation)),
        faults,
        will_read,
        offers,
        said,
        before,
        comments,
        stale: stale.map(|theirs| compare(&all_of(&theirs), &all_of(&content)).0),
        regimes: Regime::ALL.iter().map(|one| (one.as_str(), one.as_str().replace('_', " "))).collect(),
        frame,
    };
    page(status, &page_of)
}

/// What was said of earlier decisions, for the author.
pub(super) async fn comments(visitor: &Visitor, id: RevisionId) -> Result<Vec<(String, String)>, Trouble> {
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
