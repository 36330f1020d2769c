//! A recipe: what to weigh for a quantity, and what to do. And opening a batch from it.

use actix_web::http::StatusCode;
use actix_web::web::{Data, Path};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::{Detail, Reader, bench, recipes};
use wire::bench::{BatchRecord, NewBatch};
use wire::ids::RevisionId;
use wire::problem::FieldError;
use wire::recipe::{MakeFor, Recipe, RecipeLine};

use crate::answer::{page, to};
use crate::dated;
use crate::figures::{self, Shown, Sum, heat, one_column, spelled, why};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;
use asked::{Question, Typed, fields, make_for, question, typed, way_of};

mod asked;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/revisions/{id}/recipe", recipe);
    mount.post("/revisions/{id}/batches", batch_create);
}

struct Line {
    name: String,
    function: String,
    weigh: Shown,
    measure: Shown,
    note: String,
    aliquot: Vec<Vec<Sum>>,
    why: Vec<Sum>,
    as_written: String,
}

impl Line {
    fn has_measure(&self) -> bool {
        !self.measure.number.is_empty()
    }
}

struct Phase {
    name: String,
    lines: Vec<Line>,
}

struct Method {
    words: String,
    heat: String,
    beside: String,
    hold: bool,
    any_order: bool,
    rescue: bool,
}

struct Comes {
    name: String,
    value: String,
    sentence: String,
    why: Vec<Sum>,
}

#[derive(Template)]
#[template(path = "recipe.html")]
struct RecipePage {
    frame: Frame,
    revision: RevisionId,
    title: String,
    number: u32,
    route: String,
    note: String,
    made_for: String,
    by_loss: Vec<String>,
    question: Question,
    phases: Vec<Phase>,
    total: Shown,
    total_why: Vec<Sum>,
    method: Vec<Method>,
    comes: Vec<Comes>,
    label: Vec<String>,
    unknown: Vec<String>,
    once: String,
    /// Household measures stand first, where a line has one.
    measures_first: bool,
    /// The quantity, to open a batch with.
    fields: Vec<(String, String)>,
    makes: bool,
}

async fn recipe(
    request: HttpRequest,
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let typed = typed(&request);
    if typed.is_empty() {
        let last = bench::last_asked(visitor.clinic(), visitor.credentials(), id).await?;
        let ask: MakeFor = match last {
            Some(last) => shown(&last)?,
            None => MakeFor::default(),
        };
        return show(&visitor, &reader, id, &typed, way_of(&ask), ask, Vec::new()).await;
    }
    match make_for(&typed) {
        Ok((way, ask)) => show(&visitor, &reader, id, &typed, way, ask, Vec::new()).await,
        Err(errors) => show(&visitor, &reader, id, &typed, "jars", MakeFor::default(), errors).await,
    }
}

/// The recipe for a quantity; where that cannot be met, the cures, beside the recipe for the formula's own.
async fn show(
    visitor: &Visitor,
    reader: &Reader,
    id: RevisionId,
    typed: &Typed,
    way: &'static str,
    ask: MakeFor,
    mut errors: Vec<FieldError>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let frame = visitor.frame(String::new()).with_figures().with("forms.js").with("recipe.js");
    let today = Some(frame.today());
    let dated = MakeFor { made_on: today, ..ask.clone() };
    let released = match recipes::recipe(clinic, reader, credentials, id, &dated, Detail::Explained).await {
        Err(clinic::Error::Invalid(refused)) => {
            errors.extend(refused);
            recipes::recipe(
                clinic,
                reader,
                credentials,
                id,
                &MakeFor { made_on: today, ..MakeFor::default() },
                Detail::Explained,
            )
            .await
        }
        other => other,
    };
    let released = match released {
        Err(clinic::Error::GateClosed(outstanding)) => {
            let query = serde_urlencoded::to_string(typed).unwrap_or_default();
            let query = if query.is_empty() { query } else { format!("?{query}") };
            return formula::gate(visitor, &outstanding, format!("/revisions/{id}/recipe{query}")).await;
        }
        other => other?,
    };
    let recipe: Recipe = shown(&released)?;
    let status = if errors.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let question = question(typed, &ask, way, &errors);
    page(status, &filled(visitor, frame, recipe, question, &errors))
}

fn filled(
    visitor: &Visitor,
    mut frame: Frame,
    recipe: Recipe,
    question: Question,
    errors: &[FieldError],
) -> RecipePage {
    frame.title = recipe.title.clone();
    let mut phases: Vec<Phase> = recipe
        .phases
        .iter()
        .map(|phase| Phase { name: phase.name.clone(), lines: phase.lines.iter().map(line).collect() })
        .collect();
    let mut total = figures::shown(&recipe.total);
    {
        let lines = phases.iter_mut().flat_map(|phase| phase.lines.iter_mut()).map(|line| &mut line.weigh);
        one_column(&mut lines.chain(std::iter::once(&mut total)).collect::<Vec<_>>());
    }
    let method = recipe.method.iter().map(step).collect();
    let makes = recipe.state == wire::formulary::RevisionState::Approved && errors.is_empty();
    RecipePage {
        revision: recipe.revision,
        title: recipe.title.clone(),
        number: recipe.number,
        route: recipe.route.clone(),
        note: recipe.approval_note.clone().unwrap_or_default(),
        made_for: spelled(&recipe.made_for),
        by_loss: reading::by_loss(&recipe.caution_set, None),
        comes: comes(&frame, &recipe),
        label: [
            &recipe.label.directions,
            &recipe.label.storage,
            &recipe.label.after_opening,
            &recipe.label.container,
        ]
        .into_iter()
        .filter(|text| !text.is_empty())
        .cloned()
        .collect(),
        unknown: recipe.unknown.clone(),
        total_why: total_why(&recipe),
        total,
        phases,
        method,
        once: visitor.pages().once(),
        fields: fields(&recipe.asked),
        measures_first: visitor.measures_first(),
        makes,
        question,
        frame,
    }
}

/// What was asked for, worked out to what is to be weighed; then the sum of the lines as the balance weighs them.
fn total_why(recipe: &Recipe) -> Vec<Sum> {
    let asked = recipe.figures.iter().find(|figure| figure.name == "to weigh in all");
    let mut sums = asked.map(why).unwrap_or_default();
    if !sums.is_empty() {
        sums.extend(why(&recipe.total).pop());
    }
    sums
}

fn line(line: &RecipeLine) -> Line {
    let mut sums = why(&line.weigh);
    if let Some(rounding) = line.rounding.as_ref().filter(|figure| figure.value.as_deref() != Some("0")) {
        let last = why(rounding).pop();
        sums.extend(last);
    }
    Line {
        name: line.name.clone(),
        function: line.function.clone().unwrap_or_default(),
        weigh: figures::shown(&line.weigh),
        measure: line.measure.as_ref().map(figures::shown).unwrap_or_default(),
        note: line.weighing_note.as_deref().map(spelled).unwrap_or_default(),
        aliquot: line.aliquot.iter().map(why).collect(),
        why: sums,
        as_written: spelled(&line.as_written),
    }
}

fn step(step: &wire::formulary::Step) -> Method {
    let (heat, beside) = step.temperature.as_deref().map(heat).unwrap_or_default();
    Method {
        words: spelled(&step.do_),
        heat,
        beside,
        hold: step.hold,
        any_order: step.any_order,
        rescue: step.rescue,
    }
}

/// What is told of the product: the date first, then what the service worked out.
fn comes(frame: &Frame, recipe: &Recipe) -> Vec<Comes> {
    let mut all = Vec::new();
    if let Some(use_by) = &recipe.use_by {
        all.push(dated(frame, use_by));
    }
    // What the quantity was worked out by stands at the sum of the weights.
    let steps = ["net", "loss", "made before losses", "to weigh in all", "factor"];
    for figure in recipe.figures.iter().filter(|figure| !steps.contains(&figure.name.as_str())) {
        all.push(Comes {
            name: figure.name.clone(),
            value: figures::shown(figure).whole(),
            sentence: figures::beside(figure),
            why: why(figure),
        });
    }
    all
}

fn dated(frame: &Frame, use_by: &wire::calculations::use_by::UseByAnswer) -> Comes {
    let date = dated::date(frame, use_by);
    Comes {
        name: t("use-by"),
        value: t1("if-made-today", date.value),
        sentence: date.sentence,
        why: date.why,
    }
}

async fn batch_create(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let revision: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let typed: Typed = form.fields().iter().cloned().collect();
    let (_, make_for) = make_for(&typed).map_err(clinic::Error::Invalid)?;
    let once = form.once(&format!("POST /revisions/{revision}/batches"))?;
    let request = NewBatch { revision, make_for };
    let opened = bench::batch_create(visitor.clinic(), visitor.credentials(), &once, &request).await;
    match opened {
        Ok(opened) => {
            let record: BatchRecord = shown(&opened)?;
            Ok(to(&format!("/batches/{}/bench", record.summary.id)))
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/revisions/{revision}/recipe")).await
        }
        Err(other) => Err(other.into()),
    }
}
