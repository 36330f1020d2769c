//! Work that takes days or weeks: pausing a batch, taking it up again, and looking at it meanwhile.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use chrono::NaiveDate;
use clinic::{Detail, bench, long_work};
use wire::bench::{BatchRecord, BatchState, Entry, EntryKind, NewEntry};
use wire::ids::BatchId;
use wire::long_work::{DueWork, LongWork, LookFor, NewLookPlan, NewPause, Pause, PauseReason};
use wire::page::PageQuery;

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1, t2, t3};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/long-work", view);
    mount.post("/batches/{id}/long-work", act);
}

/// How many batches that wait for their maker a first page shows.
const SHOWN: u32 = 20;

/// A batch that waits for its maker, with what is to be done.
pub(in crate::routes) struct Due {
    pub(in crate::routes) of: DueWork,
    pub(in crate::routes) day: String,
    pub(in crate::routes) says: Vec<String>,
}

/// The visitor's batches that are to be looked at or taken up again.
pub(in crate::routes) async fn due(visitor: &Visitor, frame: &Frame) -> Result<Vec<Due>, Trouble> {
    let first = PageQuery { limit: Some(SHOWN), after: None };
    let found = long_work::due(visitor.clinic(), visitor.credentials(), &first).await?.items;
    let today = frame.today();
    let one = |of: DueWork| {
        let look = of.look_on.map(|day| match day < today {
            true => t("long-look-overdue"),
            false => t("long-look-due"),
        });
        let resume = of.resume_on.map(|day| match day < today {
            true => t("long-resume-overdue"),
            false => t("long-resume-due"),
        });
        Due { day: frame.short_day(&of.due), says: look.into_iter().chain(resume).collect(), of }
    };
    Ok(found.into_iter().map(one).collect())
}

/// Why a batch is left, in words.
pub(in crate::routes) fn why(reason: PauseReason) -> String {
    // word("pause")
    t(&format!("pause-{}", reason.as_str().replace('_', "-")))
}

/// The sentence about a pause that has not ended; nothing where there is none.
pub(in crate::routes) fn paused(frame: &Frame, record: &BatchRecord) -> String {
    let open = record.pauses.iter().find(|pause| pause.resumed_at.is_none());
    let of = open.filter(|_| record.summary.state == BatchState::Making);
    of.map(|pause| t2("long-paused", frame.day(&pause.until), why(pause.why))).unwrap_or_default()
}

/// A thing that is looked at, in words.
fn look_for(what: LookFor) -> String {
    // word("look")
    t(&format!("look-{}", what.as_str()))
}

/// A pause in the list.
struct Left {
    day: String,
    why: String,
    note: String,
    says: Vec<String>,
}

/// A field for one thing that is looked at.
struct Seen {
    word: &'static str,
    label: String,
    value: String,
    /// Whether it is done, and not described.
    done: bool,
}

#[derive(Template)]
#[template(path = "long_work.html")]
struct LongWorkPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    stands: String,
    look: String,
    may: bool,
    is_paused: bool,
    reasons: Vec<(&'static str, String, bool)>,
    until: String,
    note: String,
    what: Vec<(&'static str, String, bool)>,
    every: String,
    last: String,
    has_plan: bool,
    seen: Vec<Seen>,
    more: String,
    looks: Vec<(String, String, String)>,
    pauses: Vec<Left>,
    /// The form that was sent, and what was not accepted of it.
    sent: String,
    cures: Vec<(String, String)>,
    once: String,
}

impl LongWorkPage {
    /// Why a field of a form was not accepted.
    fn cure(&self, form: &str, field: &str) -> String {
        let of_form = self.cures.iter().filter(|(name, _)| self.sent == form && name == field);
        of_form.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// What stands in the way of the whole.
    fn faults(&self) -> Vec<&str> {
        let known: &[&str] = match self.sent.as_str() {
            "pause" => &["until", "note"],
            "plan" => &["what", "every_days", "until"],
            "look" => &["note"],
            _ => &[],
        };
        let others = self.cures.iter().filter(|(name, _)| !known.contains(&name.as_str()));
        others.map(|(_, cure)| cure.as_str()).collect()
    }
}

/// How it stands, in a sentence.
fn stands(frame: &Frame, of: &LongWork) -> String {
    let open = of.pauses.first().filter(|pause| of.paused && pause.resumed_at.is_none());
    match open {
        Some(pause) if pause.until < frame.today() => {
            t2("long-paused-over", frame.day(&pause.until), why(pause.why))
        }
        Some(pause) => t2("long-paused", frame.day(&pause.until), why(pause.why)),
        None if of.making => t("long-goes-on"),
        None => t("long-not-making"),
    }
}

/// When it is looked at next, in a sentence.
fn when_due(frame: &Frame, of: &LongWork) -> String {
    let today = frame.today();
    match (&of.plan, of.look_on) {
        (None, _) => t("long-no-plan"),
        (Some(_), Some(day)) if day < today => t1("long-look-was", frame.day(&day)),
        (Some(_), Some(day)) if day == today => t("long-look-due"),
        (Some(_), Some(day)) => t1("long-look-next", frame.day(&day)),
        (Some(_), None) => t("long-look-over"),
    }
}

fn left(frame: &Frame, pause: &Pause) -> Left {
    let by = pause.by_name.clone().unwrap_or_default();
    let ended = pause
        .resumed_at
        .map(|at| t2("long-resumed-by", pause.resumed_by_name.clone().unwrap_or_default(), frame.when(&at)));
    let begun = t3("long-paused-by", by, frame.when(&pause.at), frame.day(&pause.until));
    Left {
        day: frame.short_day(&frame.day_of(&pause.at)),
        why: why(pause.why),
        note: pause.note.clone().unwrap_or_default(),
        says: [begun].into_iter().chain(ended).collect(),
    }
}

/// What somebody saw, the newest first: day, words, and who.
fn looked(frame: &Frame, record: &BatchRecord) -> Vec<(String, String, String)> {
    let seen = |one: &&Entry| one.kind.is_seen() && one.corrected_by.is_none();
    let told = |one: &Entry| {
        let by = t2("who-when", one.by_name.clone().unwrap_or_default(), frame.when(&one.at));
        (frame.short_day(&frame.day_of(&one.at)), one.note.clone().unwrap_or_default(), by)
    };
    record.entries.iter().rev().filter(seen).map(told).collect()
}

async fn shown_page(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Brief).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/long-work")).await;
        }
        other => shown(&other?)?,
    };
    let of = long_work::of_batch(clinic, credentials, id).await?;
    let frame = visitor.frame(t("long-open")).with("forms.js");
    let sent = form.text("do");
    let typed = |of_form: &str, name: &str| if sent == of_form { form.text(name) } else { String::new() };
    let planned = |one: &LookFor| of.plan.as_ref().is_some_and(|plan| plan.what.contains(one));
    let ticked = form.all("what");
    let plan_typed = |name: &str, stands: Option<String>| match sent.as_str() {
        "plan" => form.text(name),
        _ => stands.unwrap_or_default(),
    };
    let seen = LookFor::ALL.iter().filter(|one| planned(one)).map(|one| Seen {
        word: one.as_str(),
        label: look_for(*one),
        value: typed("look", &format!("seen-{}", one.as_str())),
        done: *one == LookFor::Shake,
    });
    let page_of = LongWorkPage {
        id,
        number: of.number.clone(),
        title: of.title.clone(),
        stands: stands(&frame, &of),
        look: if of.making { when_due(&frame, &of) } else { String::new() },
        may: of.making && record.summary.maker == visitor.person().id,
        is_paused: of.paused,
        reasons: PauseReason::ALL
            .iter()
            .map(|one| (one.as_str(), why(*one), typed("pause", "why") == one.as_str()))
            .collect(),
        until: typed("pause", "until"),
        note: typed("pause", "note"),
        what: LookFor::ALL
            .iter()
            .map(|one| {
                let was = sent != "plan" && planned(one);
                (one.as_str(), look_for(*one), was || ticked.iter().any(|ticked| ticked == one.as_str()))
            })
            .collect(),
        every: plan_typed("every_days", of.plan.as_ref().map(|plan| plan.every_days.to_string())),
        last: plan_typed("until", of.plan.as_ref().map(|plan| plan.until.to_string())),
        has_plan: of.plan.is_some(),
        seen: seen.collect(),
        more: typed("look", "note"),
        looks: looked(&frame, &record),
        pauses: of.pauses.iter().map(|pause| left(&frame, pause)).collect(),
        sent,
        cures,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn view(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    shown_page(&visitor, id, StatusCode::OK, &Form::default(), Vec::new()).await
}

/// What was seen, as one note: what is done, each thing with its words, and what else was typed.
fn note(form: &Form) -> Option<String> {
    let each = LookFor::ALL.iter().filter_map(|one| {
        let value = form.given(&format!("seen-{}", one.as_str()))?;
        Some(match one {
            LookFor::Shake => t("look-shaken"),
            _ => t2("look-said", look_for(*one), value.trim_end_matches('.').to_owned()),
        })
    });
    let all: Vec<String> = each.chain(form.given("note")).collect();
    (!all.is_empty()).then(|| all.join(" "))
}

/// A day that was typed, or its cure.
fn day(form: &Form) -> Result<NaiveDate, clinic::Error> {
    form.text("until").parse().map_err(|_| clinic::Error::field("/until", t("day-cure")))
}

async fn act(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/long-work"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let mut next = format!("/batches/{id}/long-work");
    let done = match form.text("do").as_str() {
        "pause" => {
            let why = form.text("why").parse().map_err(|_| Trouble::Malformed)?;
            match day(&form) {
                Ok(until) => {
                    let request = NewPause { why, until, note: form.given("note") };
                    long_work::pause(clinic, credentials, &once, id, &request).await.map(drop)
                }
                Err(error) => Err(error),
            }
        }
        "resume" => {
            next = format!("/batches/{id}/bench");
            long_work::resume(clinic, credentials, &once, id).await.map(drop)
        }
        "plan" => {
            let what = form.all("what").iter().map(|word| word.parse()).collect::<Result<Vec<_>, _>>();
            let what: Vec<LookFor> = what.map_err(|_| Trouble::Malformed)?;
            match (what.is_empty(), day(&form)) {
                (true, _) => Err(clinic::Error::field("/what", t("plan-what-cure"))),
                (false, Err(error)) => Err(error),
                (false, Ok(until)) => {
                    // What is no number of days is refused by the use case as none.
                    let every_days = Some(form.text("every_days").parse().unwrap_or_default());
                    let request = NewLookPlan { what, every_days, until: Some(until) };
                    long_work::plan_looks(clinic, credentials, &once, id, &request).await.map(drop)
                }
            }
        }
        "end" => {
            let request = NewLookPlan { what: Vec::new(), every_days: None, until: None };
            long_work::plan_looks(clinic, credentials, &once, id, &request).await.map(drop)
        }
        "look" => match note(&form) {
            Some(note) => {
                let request = NewEntry { note: Some(note), ..NewEntry::of(EntryKind::Observation) };
                bench::entry_create(clinic, credentials, &once, id, &request).await.map(drop)
            }
            None => Err(clinic::Error::field("/note", t("look-cure"))),
        },
        _ => return Err(Trouble::Malformed),
    };
    match done {
        Ok(()) | Err(clinic::Error::KeyReused) => Ok(to(&next)),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/long-work")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            shown_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, cures).await
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_seen_is_one_note_and_nothing_typed_is_none() {
        let form = Form::parse(b"seen-shake=yes&seen-mould=none.&note=+Darker+than+last+week.+").unwrap();
        assert_eq!(note(&form).unwrap(), "Shaken or turned. Mould: none. Darker than last week.");
        assert_eq!(note(&Form::parse(b"do=look&note=+").unwrap()), None);
    }
}
