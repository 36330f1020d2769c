//! What is seen of a batch in its samples: writing it down, correcting it, and bringing the last day forward.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use chrono::NaiveDate;
use clinic::observations;
use serde::Deserialize;
use wire::bench::Disposition;
use wire::ids::{BatchId, ObservationId};
use wire::observations::{
    DueObservation, NewObservation, NewShortening, Observation, Observations, SampleSign, Shortening,
};
use wire::page::PageQuery;
use wire::people::Role;

use super::batch::stands;
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::texts::{t, t1, t2, t3};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/observations", view);
    mount.post("/batches/{id}/observations", act);
}

/// How many batches with due samples a first page shows.
const SHOWN: u32 = 20;

/// A batch whose samples are due, with when.
pub(in crate::routes) struct Due {
    pub(in crate::routes) of: DueObservation,
    pub(in crate::routes) day: String,
    pub(in crate::routes) says: String,
}

/// The batches whose samples the visitor looks at today.
pub(in crate::routes) async fn due(visitor: &Visitor, frame: &Frame) -> Result<Vec<Due>, Trouble> {
    let first = PageQuery { limit: Some(SHOWN), after: None };
    let found = observations::due(visitor.clinic(), visitor.credentials(), &first).await?.items;
    let one = |of: DueObservation| Due {
        day: frame.short_day(&of.due),
        says: if of.overdue { t("observe-is-overdue") } else { t("observe-is-due") },
        of,
    };
    Ok(found.into_iter().map(one).collect())
}

/// The last day of a batch that was brought forward, with by whom and why; nothing where it was not.
pub(in crate::routes) async fn brought_forward(
    visitor: &Visitor,
    frame: &Frame,
    id: BatchId,
) -> Result<Option<(String, String)>, Trouble> {
    let of = observations::of_batch(visitor.clinic(), visitor.credentials(), id).await?;
    let earliest = of.shortenings.iter().min_by_key(|one| one.last_day);
    Ok(earliest.map(|one| {
        let (says, reason) = shortened(frame, one);
        (frame.day(&one.last_day), format!("{says} {reason}"))
    }))
}

/// Who brought a last day forward and when, and why.
fn shortened(frame: &Frame, one: &Shortening) -> (String, String) {
    let by = one.by_name.clone().unwrap_or_default();
    (t3("shortened-by", frame.day(&one.last_day), by, frame.when(&one.at)), one.reason.clone())
}

/// A sign in words.
fn sign(sign: SampleSign) -> String {
    // word("sign")
    t(&format!("sign-{}", sign.as_str().replace('_', "-")))
}

/// What was seen, in a sentence.
fn seen(of: &Observation) -> String {
    let signs: Vec<String> = of.seen.iter().map(|one| sign(*one)).collect();
    let what = if signs.is_empty() { t("observe-nothing") } else { signs.join(", ") };
    t2("observe-line", i64::from(of.jar), what)
}

/// An observation in the list.
struct Line {
    id: ObservationId,
    day: String,
    what: String,
    note: String,
    reason: String,
    by: String,
    corrected: bool,
    /// The address of a recall that it begins; empty where it calls for none.
    recall: String,
}

#[derive(Template)]
#[template(path = "observations.html")]
struct ObservationsPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    stands: String,
    until: String,
    due: String,
    /// Each with its number, how it is named, and whether it is chosen.
    jars: Vec<(u32, String, bool)>,
    signs: Vec<(&'static str, String, bool)>,
    note: String,
    /// The observation that is corrected.
    corrects: String,
    corrected_line: String,
    reason: String,
    lines: Vec<Line>,
    shortened: Vec<(String, String)>,
    may_observe: bool,
    may_shorten: bool,
    /// Of the form that was sent: for which observation, the day and the reason as typed.
    shortens: String,
    day: String,
    why: String,
    cures: Vec<(String, String)>,
    once: String,
}

impl ObservationsPage {
    fn cure(&self, field: &str) -> String {
        let of_field = self.cures.iter().filter(|(name, _)| self.shortens.is_empty() && name == field);
        of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    fn is_sent(&self, line: &Line) -> bool {
        self.shortens == line.id.to_string()
    }

    fn cure_of(&self, line: &Line, field: &str) -> String {
        let of_field = self.cures.iter().filter(|(name, _)| self.is_sent(line) && name == field);
        of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// What stands in the way of the whole.
    fn faults(&self) -> Vec<&str> {
        let known = ["jar", "note", "reason", "last_day"];
        self.cures
            .iter()
            .filter(|(name, _)| !known.contains(&name.as_str()))
            .map(|(_, cure)| cure.as_str())
            .collect()
    }
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    correct: String,
}

fn line(frame: &Frame, batch: BatchId, recalls: bool, of: &Observation) -> Line {
    let what = seen(of);
    let calls = recalls && of.corrected_by.is_none() && of.seen.iter().any(|one| one.calls_for_recall());
    let because = t2("observe-because", frame.day(&of.on), what.clone());
    let query = [("cause", "batch"), ("id", &batch.to_string()), ("reason", &because)];
    Line {
        id: of.id,
        day: frame.short_day(&of.on),
        note: of.note.clone().unwrap_or_default(),
        reason: of.reason.clone().unwrap_or_default(),
        by: t2("observe-by", of.by_name.clone().unwrap_or_default(), frame.when(&of.at)),
        corrected: of.corrected_by.is_some(),
        recall: match calls {
            true => format!("/recall?{}", serde_urlencoded::to_string(query).unwrap_or_default()),
            false => String::new(),
        },
        what,
    }
}

/// When it is looked at next, in a sentence.
fn when_due(frame: &Frame, of: &Observations) -> String {
    let today = frame.today();
    match of.next_on {
        Some(day) if day < today => t1("observe-overdue", frame.day(&day)),
        Some(day) if day == today => t("observe-due-today"),
        Some(day) => t1("observe-next", frame.day(&day)),
        None if of.samples.is_empty() => t("observe-no-sample"),
        None => t("observe-over"),
    }
}

async fn shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let of = match observations::of_batch(visitor.clinic(), visitor.credentials(), id).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/observations")).await;
        }
        other => other?,
    };
    let frame = visitor.frame(t("observe-open")).with("forms.js");
    let instructor = visitor.role() == Role::Instructor;
    let recalled = matches!(of.disposition, Disposition::Recalled | Disposition::Discarded);
    let corrects = form.text("corrects");
    let old = of.observations.iter().find(|one| one.id.to_string() == corrects && one.corrected_by.is_none());
    // A correction begins with what it corrects.
    let fresh = !form.ticked("jar");
    let begins = old.filter(|_| fresh);
    let chosen = match begins {
        Some(old) => old.jar.to_string(),
        None => form.text("jar"),
    };
    let ticked = form.all("seen");
    let mut jars: Vec<(u32, String, bool)> = Vec::new();
    jars.extend(of.samples.iter().map(|jar| (*jar, t1("observe-sample", i64::from(*jar)), false)));
    jars.extend(of.others.iter().map(|jar| (*jar, t1("observe-other", i64::from(*jar)), false)));
    if let Some(old) = old.filter(|old| !jars.iter().any(|(jar, ..)| *jar == old.jar)) {
        jars.push((old.jar, t1("observe-other", i64::from(old.jar)), false));
    }
    for (jar, _, is_chosen) in &mut jars {
        *is_chosen = jar.to_string() == chosen;
    }
    let shortening = form.text("do") == "shorten";
    let typed = |name: &str, of_shortening: bool| {
        if shortening == of_shortening { form.text(name) } else { String::new() }
    };
    let page_of = ObservationsPage {
        id,
        stands: stands(of.disposition),
        until: match &of.last_day {
            Some(day) => t1("observe-until", frame.day(day)),
            None => t("observe-undated"),
        },
        due: when_due(&frame, &of),
        may_observe: of.disposition != Disposition::Discarded && !jars.is_empty() || old.is_some(),
        may_shorten: instructor && of.disposition != Disposition::Discarded,
        jars,
        signs: SampleSign::ALL
            .iter()
            .map(|one| {
                let was = begins.is_some_and(|old| old.seen.contains(one));
                (one.as_str(), sign(*one), was || ticked.iter().any(|ticked| ticked == one.as_str()))
            })
            .collect(),
        note: begins.map_or_else(|| typed("note", false), |old| old.note.clone().unwrap_or_default()),
        corrected_line: old.map(seen).unwrap_or_default(),
        corrects: old.map(|old| old.id.to_string()).unwrap_or_default(),
        reason: typed("reason", false),
        lines: of.observations.iter().map(|one| line(&frame, id, instructor && !recalled, one)).collect(),
        shortened: of.shortenings.iter().map(|one| shortened(&frame, one)).collect(),
        shortens: typed("observation", true),
        day: typed("last_day", true),
        why: typed("reason", true),
        number: of.number,
        title: of.title,
        cures,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn view(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let form = Form::of([("corrects", &asked.correct)]);
    shown(&visitor, id, StatusCode::OK, &form, Vec::new()).await
}

async fn act(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/observations"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let done = match form.text("do").as_str() {
        "shorten" => {
            let observation = form.text("observation").parse().map_err(|_| Trouble::Malformed)?;
            match form.text("last_day").parse::<NaiveDate>() {
                Ok(last_day) => {
                    let request = NewShortening { observation, last_day, reason: form.text("reason") };
                    observations::shorten(clinic, credentials, &once, id, &request).await
                }
                Err(_) => Err(clinic::Error::field("/last_day", t("day-cure"))),
            }
        }
        _ => {
            let corrects = form.given("corrects").map(|id| id.parse()).transpose();
            let seen = form.all("seen").iter().map(|word| word.parse()).collect::<Result<_, _>>();
            let request = NewObservation {
                // What is no number of a jar is refused by the use case as none.
                jar: form.text("jar").parse().unwrap_or_default(),
                seen: seen.map_err(|_| Trouble::Malformed)?,
                note: form.given("note"),
                corrects: corrects.map_err(|_| Trouble::Malformed)?,
                reason: form.given("reason"),
            };
            observations::observe(clinic, credentials, &once, id, &request).await
        }
    };
    match done {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/observations"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/observations")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, cures).await
        }
    }
}
