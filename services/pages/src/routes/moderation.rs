//! Second marks: what waits, marking without a name, and both marks beside each other.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{moderation, teaching};
use wire::ids::{BatchId, CohortId, ModerationId, PersonId};
use wire::page::PageQuery;
use wire::teaching::{
    BlindWork, CohortRole, CriterionLevel, MarkedCriterion, Moderation, ModerationState, NewSecondMark,
    NewSecondMarker, NewSettlement, Rubric, RubricCriterion, SecondDecision, SettlementOutcome,
    WaitingModeration,
};

use crate::acts;
use crate::answer::{page, to};
use crate::figures::spelled;
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::routes::marking::{Criterion, decisions, of_points, said, to_decide};
use crate::routes::people::After;
use crate::routes::record::{Made, Row, missing, product};
use crate::shown::shown;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/moderations", waiting);
    mount.get("/moderations/{id}", either);
    mount.post("/moderations/{id}/mark", mark);
    mount.post("/moderations/{id}/second-marker", second_marker);
    mount.post("/moderations/{id}/settlement", settle);
}

fn id_of(id: &str) -> Result<ModerationId, Trouble> {
    id.parse().map_err(|_| Trouble::NoPage)
}

#[derive(Template)]
#[template(path = "moderations.html")]
struct WaitingPage {
    frame: Frame,
    lines: Vec<WaitingModeration>,
    next: String,
}

async fn waiting(visitor: Visitor, after: Query<After>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let found = moderation::waiting(visitor.clinic(), visitor.credentials(), &after.query()).await?;
    let next = found.next.map(|next| {
        format!("/moderations?{}", serde_urlencoded::to_string([("after", next)]).unwrap_or_default())
    });
    let frame = visitor.frame(t("second-marks-title"));
    page(StatusCode::OK, &WaitingPage { frame, lines: found.items, next: next.unwrap_or_default() })
}

/// Marking it while it waits for the visitor; else both marks.
async fn either(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id_of(&id)?;
    match moderation::blind_work(visitor.clinic(), visitor.credentials(), id).await {
        Ok(work) => desk(&visitor, shown(&work)?, StatusCode::OK, &Form::default(), &[]).await,
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/moderations/{id}")).await
        }
        Err(clinic::Error::NotFound(_) | clinic::Error::State { .. }) => {
            both(&visitor, id, StatusCode::OK, String::new()).await
        }
        Err(other) => Err(other.into()),
    }
}

#[derive(Template)]
#[template(path = "second_mark.html")]
struct DeskPage {
    frame: Frame,
    id: ModerationId,
    code: String,
    said: String,
    look: Vec<Row>,
    asked: Vec<Row>,
    missing: Vec<String>,
    made: Vec<Made>,
    answer: String,
    criteria: Vec<Criterion>,
    once: String,
    cure: String,
}

async fn desk(
    visitor: &Visitor,
    work: BlindWork,
    status: StatusCode,
    form: &Form,
    refused: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let record = work.record;
    let frame = visitor.frame(format!("{} {}", record.summary.title, work.code)).on_desk().with("forms.js");
    let said = t2(
        "second-said",
        frame.day(&frame.day_of(&record.summary.opened_at)),
        spelled(&record.recipe.made_for),
    );
    let rows = acts::acts(&frame, &record, &[]).into_iter();
    let rows = rows.map(|act| Row { act, comments: Vec::new(), newer: false });
    let (look, asked): (Vec<Row>, Vec<Row>) =
        rows.filter(|row| row.act.is_written()).partition(Row::stands_out);
    let sent: Vec<u32> = decided(form, &work.rubric).iter().map(|one| one.criterion).collect();
    let cures = |number: usize| {
        let Some(place) = sent.iter().position(|one| usize::try_from(*one) == Ok(number)) else {
            return String::new();
        };
        let of = format!("criteria/{place}/");
        let cures = refused.iter().filter(|(field, _)| field.starts_with(&of)).map(|(_, cure)| cure.as_str());
        cures.collect::<Vec<_>>().join(" ")
    };
    let criteria = (1_usize..).zip(&work.rubric.criteria).map(|(number, criterion)| {
        let proposal = work.proposals.iter().find(|one| usize::try_from(one.criterion) == Ok(number));
        to_decide((number, criterion), proposal, form, cures(number))
    });
    let whole = refused.iter().filter(|(field, _)| !field.starts_with("criteria/"));
    let page_of = DeskPage {
        id: work.id,
        code: work.code,
        said,
        look,
        asked,
        missing: missing(&record),
        made: product(&frame, &record),
        answer: record.submissions.first().and_then(|one| one.answer.clone()).unwrap_or_default(),
        criteria: criteria.collect(),
        once: visitor.pages().once(),
        cure: whole.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" "),
        frame,
    };
    page(status, &page_of)
}

fn decided(form: &Form, rubric: &Rubric) -> Vec<SecondDecision> {
    let all = decisions(form, rubric).into_iter();
    all.filter(|one| one.level.is_some() || one.met.is_some())
        .map(|one| SecondDecision { criterion: one.criterion, level: one.level, met: one.met })
        .collect()
}

async fn mark(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id_of(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let once = form.once(&format!("POST /moderations/{id}/mark"))?;
    let work: BlindWork = match moderation::blind_work(clinic, credentials, id).await {
        Ok(work) => shown(&work)?,
        // The same form again: the mark is there.
        Err(clinic::Error::State { .. }) => return Ok(to(&format!("/moderations/{id}"))),
        Err(other) => return Err(other.into()),
    };
    let request = NewSecondMark { criteria: decided(&form, &work.rubric) };
    match moderation::second_mark_create(clinic, credentials, &once, id, &request).await {
        // Others of this assignment wait, and what came of this one is told after them.
        Ok(made) if made.state == ModerationState::Given => Ok(to("/moderations")),
        Ok(_) | Err(clinic::Error::State { .. }) => Ok(to(&format!("/moderations/{id}"))),
        Err(error) => {
            let refused = form::faults(error)?;
            desk(&visitor, work, StatusCode::UNPROCESSABLE_ENTITY, &form, &refused).await
        }
    }
}

/// A criterion with both decisions in words.
struct Compared {
    title: String,
    first: String,
    second: String,
    differs: bool,
}

#[derive(Template)]
#[template(path = "moderated.html")]
struct BothPage {
    frame: Frame,
    id: ModerationId,
    code: String,
    batch: BatchId,
    cohort: CohortId,
    state: String,
    whose: String,
    /// The points of each mark, and who gave it.
    first: (String, String),
    second: Option<(String, String)>,
    rows: Vec<Compared>,
    /// Who can give the second mark, where the visitor can name somebody.
    people: Vec<(PersonId, String)>,
    /// What the visitor can settle them as.
    settle: Vec<(SettlementOutcome, String)>,
    /// The levels between the two, where the visitor can choose.
    between: Vec<Criterion>,
    once: String,
    cure: String,
}

async fn both(
    visitor: &Visitor,
    id: ModerationId,
    status: StatusCode,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let found = moderation::moderation(visitor.clinic(), visitor.credentials(), id).await?;
    let frame = visitor.frame(t1("moderated-title", found.title.clone())).with("forms.js");
    let rubric = &found.rubric;
    let second = found.second.as_ref().map(|second| {
        let who = t2("marked-by", second.marker_name.clone().unwrap_or_default(), frame.when(&second.at));
        (of_points(second.points, rubric), who)
    });
    let rows = (1_u32..).zip(&rubric.criteria).map(|(number, criterion)| {
        let of = |all: &[MarkedCriterion]| {
            all.iter().find(|one| one.criterion == number).map(|one| words(criterion, one))
        };
        Compared {
            title: criterion.title.clone(),
            first: found.first.as_ref().and_then(|first| of(&first.criteria)).unwrap_or_default(),
            second: found.second.as_ref().and_then(|second| of(&second.criteria)).unwrap_or_default(),
            differs: found.differences.contains(&number),
        }
    });
    // word("settle-as")
    let word = |one: &SettlementOutcome| t(&format!("settle-as-{}", one.as_str().replace('_', "-")));
    let choose = found.can_settle.contains(&SettlementOutcome::Decided);
    let page_of = BothPage {
        id,
        code: found.code.clone(),
        batch: found.batch,
        cohort: found.cohort,
        state: state(&frame, &found),
        whose: t2("moderated-of", found.name.clone().unwrap_or_default(), i64::from(found.percent)),
        first: found
            .first
            .as_ref()
            .map(|first| (of_points(first.points, rubric), said(&frame, first)))
            .unwrap_or_default(),
        second,
        rows: rows.collect(),
        people: people(visitor, &found).await?,
        settle: found.can_settle.iter().map(|one| (*one, word(one))).collect(),
        between: if choose { between(&found) } else { Vec::new() },
        once: visitor.pages().once(),
        cure,
        frame,
    };
    page(status, &page_of)
}

/// A decision in words, with its points.
fn words(criterion: &RubricCriterion, one: &MarkedCriterion) -> String {
    let level = one.level.and_then(|level| usize::try_from(level).ok()?.checked_sub(1));
    match (level.and_then(|place| criterion.levels.get(place)), one.met) {
        (Some(level), _) => t2("level-words", i64::from(level.points), level.title.clone()),
        (None, Some(true)) => t("met-yes"),
        (None, _) => t("met-no"),
    }
}

fn state(frame: &Frame, found: &Moderation) -> String {
    match (&found.second, &found.settlement) {
        (None, _) => match &found.second_marker_name {
            Some(name) => t1("moderation-waits", name.clone()),
            None => t("moderation-nobody"),
        },
        (Some(_), None) => frame.count("moderation-differs", found.differences.len()),
        (Some(_), Some(settled)) => {
            let who = settled.settled_by_name.clone().unwrap_or_default();
            match settled.outcome {
                SettlementOutcome::Agreed => t("settled-agreed"),
                SettlementOutcome::FirstStands => t2("settled-first-stands", who, frame.when(&settled.at)),
                SettlementOutcome::SecondTaken => t2("settled-second-taken", who, frame.when(&settled.at)),
                SettlementOutcome::Decided => t2("settled-decided", who, frame.when(&settled.at)),
            }
        }
    }
}

/// Who else can give the second mark while it is missing, for an instructor of the class.
async fn people(visitor: &Visitor, found: &Moderation) -> Result<Vec<(PersonId, String)>, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let role = teaching::cohort(clinic, credentials, found.cohort).await?.value.role;
    if found.second.is_some() || role != Some(CohortRole::Instructor) {
        return Ok(Vec::new());
    }
    let all = PageQuery { limit: Some(100), after: None };
    let members = teaching::members(clinic, credentials, found.cohort, &all).await?.items.into_iter();
    let may = members.filter(|one| {
        one.role != CohortRole::Student
            && one.person != visitor.person().id
            && found.first.as_ref().is_none_or(|first| one.person != first.marker)
            && Some(one.person) != found.second_marker
    });
    Ok(may.map(|one| (one.person, one.name)).collect())
}

/// The criteria whose levels differ, each with the levels from the lower of the two to the higher.
fn between(found: &Moderation) -> Vec<Criterion> {
    let level = |all: &[MarkedCriterion], number: u32| {
        all.iter().find(|one| one.criterion == number).and_then(|one| usize::try_from(one.level?).ok())
    };
    let criteria = (1_u32..).zip(&found.rubric.criteria).filter_map(|(number, criterion)| {
        let first = level(&found.first.as_ref()?.criteria, number)?;
        let second = level(&found.second.as_ref()?.criteria, number)?;
        let place = usize::try_from(number).ok()?;
        let mut shown = to_decide((place, criterion), None, &Form::default(), String::new());
        shown.levels.retain(|one| (first.min(second)..=first.max(second)).contains(&one.number));
        (first != second).then_some(shown)
    });
    criteria.collect()
}

async fn second_marker(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id_of(&id)?;
    let person = form.text("person").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let once = form.once(&format!("POST /moderations/{id}/second-marker"))?;
    let request = NewSecondMarker { person };
    match moderation::second_marker_name(clinic, credentials, &once, id, &request).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/moderations/{id}"))),
        Err(error) => refused(&visitor, id, error).await,
    }
}

async fn settle(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id_of(&id)?;
    let outcome: SettlementOutcome = form.text("outcome").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let once = form.once(&format!("POST /moderations/{id}/settlement"))?;
    let level = |(name, value): &(String, String)| {
        let criterion = name.strip_prefix("level-")?.parse().ok()?;
        Some(CriterionLevel { criterion, level: value.parse().ok()? })
    };
    // Levels that stand there and are not decided on go nowhere.
    let criteria = match outcome {
        SettlementOutcome::Decided => form.fields().iter().filter_map(level).collect(),
        _ => Vec::new(),
    };
    let request = NewSettlement { outcome, criteria };
    match moderation::settle(clinic, credentials, &once, id, &request).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/moderations/{id}"))),
        Err(error) => refused(&visitor, id, error).await,
    }
}

async fn refused(visitor: &Visitor, id: ModerationId, error: clinic::Error) -> Result<HttpResponse, Trouble> {
    let status = match error {
        clinic::Error::State { .. } => StatusCode::CONFLICT,
        _ => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
    both(visitor, id, status, cure).await
}
