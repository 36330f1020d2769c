//! Handing a batch over to another maker, and answering such an offer.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::handovers;
use wire::handovers::{Handover, HandoverAnswer, Handovers, NewHandover, NewHandoverAnswer};
use wire::ids::{BatchId, HandoverId};
use wire::page::PageQuery;

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::texts::{t, t2, t3};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/handover", view);
    mount.post("/batches/{id}/handover", offer);
    mount.get("/handovers/{id}", offered);
    mount.post("/handovers/{id}", answer);
}

/// How many offers a first page shows.
const SHOWN: u32 = 20;

/// The batches that are offered to the visitor.
pub(in crate::routes) async fn waiting(visitor: &Visitor) -> Result<Vec<Handover>, Trouble> {
    let first = PageQuery { limit: Some(SHOWN), after: None };
    Ok(handovers::offered(visitor.clinic(), visitor.credentials(), &first).await?.items)
}

/// An offer in the list: from whom to whom, why, and what became of it.
struct Line {
    day: String,
    says: String,
    reason: String,
    by: String,
}

#[derive(Template)]
#[template(path = "handover.html")]
struct HandoverPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    has: String,
    may: bool,
    candidates: Vec<(String, String, bool)>,
    reason: String,
    /// The offer that waits, if the visitor may withdraw it.
    open: String,
    lines: Vec<Line>,
    cures: Vec<(String, String)>,
    once: String,
}

impl HandoverPage {
    fn cure(&self, field: &str) -> String {
        let of_field = self.cures.iter().filter(|(name, _)| name == field);
        of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// What stands in the way of the whole.
    fn faults(&self) -> Vec<&str> {
        let known = ["to", "reason"];
        let others = self.cures.iter().filter(|(name, _)| !known.contains(&name.as_str()));
        others.map(|(_, cure)| cure.as_str()).collect()
    }
}

/// What became of an offer, in words.
fn became(answer: Option<HandoverAnswer>) -> String {
    // word("handover")
    answer.map_or_else(|| t("handover-waits"), |answer| t(&format!("handover-{}", answer.as_str())))
}

fn line(frame: &Frame, of: &Handover) -> Line {
    let (from, whom) = (of.from_name.clone().unwrap_or_default(), of.to_name.clone().unwrap_or_default());
    Line {
        day: frame.short_day(&frame.day_of(&of.at)),
        says: t3("handover-line", from, whom, became(of.answer)),
        reason: of.reason.clone().unwrap_or_default(),
        by: t2("who-when", of.by_name.clone().unwrap_or_default(), frame.when(&of.at)),
    }
}

async fn shown_page(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let of: Handovers = match handovers::of_batch(clinic, credentials, id).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/handover")).await;
        }
        other => other?,
    };
    let me = visitor.person().id;
    let open = of.handovers.iter().find(|one| one.answer.is_none());
    let open = open.filter(|one| one.to != me && (one.by == me || one.from == me));
    let chosen = form.text("to");
    let frame = visitor.frame(t("handover-open")).with("forms.js");
    let page_of = HandoverPage {
        id,
        number: of.number.clone(),
        title: of.title.clone(),
        has: of.maker_name.clone().unwrap_or_default(),
        may: of.may_offer,
        candidates: of
            .candidates
            .iter()
            .map(|one| {
                let person = one.person.to_string();
                let is_chosen = person == chosen;
                (person, one.name.clone().unwrap_or_default(), is_chosen)
            })
            .collect(),
        reason: form.text("reason"),
        open: open.map(|one| one.id.to_string()).unwrap_or_default(),
        lines: of.handovers.iter().map(|one| line(&frame, one)).collect(),
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

async fn offer(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/handover"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let done = match form.text("to").parse() {
        Ok(whom) => {
            let request = NewHandover { to: whom, reason: form.given("reason") };
            handovers::offer(clinic, credentials, &once, id, &request).await.map(drop)
        }
        Err(_) => Err(clinic::Error::field("/to", t("handover-to-cure"))),
    };
    match done {
        Ok(()) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/handover"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/handover")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            shown_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, cures).await
        }
    }
}

#[derive(Template)]
#[template(path = "handed_over.html")]
struct OfferPage {
    frame: Frame,
    of: Handover,
    says: String,
    stands: String,
    /// Whether the visitor accepts or declines it.
    may: bool,
    faults: Vec<String>,
    once: String,
}

async fn offer_page(
    visitor: &Visitor,
    id: HandoverId,
    status: StatusCode,
    faults: Vec<String>,
) -> Result<HttpResponse, Trouble> {
    let of = handovers::handover(visitor.clinic(), visitor.credentials(), id).await?;
    let frame = visitor.frame(t("handover-offered-title")).with("forms.js");
    let page_of = OfferPage {
        says: t3(
            "handover-offered-by",
            of.from_name.clone().unwrap_or_default(),
            of.by_name.clone().unwrap_or_default(),
            frame.when(&of.at),
        ),
        stands: became(of.answer),
        may: of.answer.is_none() && of.to == visitor.person().id,
        faults,
        once: visitor.pages().once(),
        of,
        frame,
    };
    page(status, &page_of)
}

async fn offered(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: HandoverId = id.parse().map_err(|_| Trouble::NoPage)?;
    offer_page(&visitor, id, StatusCode::OK, Vec::new()).await
}

async fn answer(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: HandoverId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /handovers/{id}"))?;
    let answer = form.text("answer").parse().map_err(|_| Trouble::Malformed)?;
    let request = NewHandoverAnswer { answer };
    match handovers::answer(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        Ok(of) => Ok(to(&match answer {
            HandoverAnswer::Accepted => format!("/batches/{}", of.batch),
            HandoverAnswer::Withdrawn => format!("/batches/{}/handover", of.batch),
            HandoverAnswer::Declined => "/".to_owned(),
        })),
        Err(clinic::Error::KeyReused) => Ok(to(&format!("/handovers/{id}"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/handovers/{id}")).await
        }
        Err(error) => {
            let faults = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect();
            offer_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, faults).await
        }
    }
}
