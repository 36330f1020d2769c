//! A case of a reaction: its reports, what was found out, what it has in common with others, and how it ends.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::reactions;
use wire::ids::ReactionCaseId;
use wire::people::Role;
use wire::reactions::{
    Causality, NewConclusion, NewErasure, NewJoining, NewReactionNote, ReactionCase, ReactionCaseState,
    ReactionCaseSummary, ReactionQuery, ReactionReport, ReactionShared, SharedKind,
};

use super::telling;
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/reactions/{id}", view);
    mount.post("/reactions/{id}", act);
}

/// How a case stands, in words.
pub(super) fn stands(state: ReactionCaseState) -> String {
    // word("reaction-case")
    t(&format!("reaction-case-{state}"))
}

fn causality(causality: Causality) -> String {
    // word("causality")
    t(&format!("causality-{causality}"))
}

#[derive(Template)]
#[template(path = "reaction_case.html")]
struct CasePage {
    frame: Frame,
    case: ReactionCase,
    stands: String,
    /// Whether the reader works on it.
    works: bool,
    /// Open cases that it can be joined to.
    others: Vec<ReactionCaseSummary>,
    causalities: Vec<(&'static str, String, bool)>,
    /// Which of the forms was sent, and what was typed into it.
    sent: String,
    typed: String,
    faults: Vec<String>,
    once: String,
}

impl CasePage {
    /// Where and when a report was told.
    fn told(&self, report: &ReactionReport) -> String {
        let at = self.frame.when(&report.at);
        match &report.by_name {
            Some(name) => t2("reaction-told-by", name.clone(), at),
            None => t1("reaction-told-on-page", at),
        }
    }

    fn outcome(&self, report: &ReactionReport) -> String {
        telling::outcome(report.outcome)
    }

    fn serious(&self, report: &ReactionReport) -> Vec<String> {
        report.serious.iter().map(|one| telling::criterion(*one)).collect()
    }

    fn kind(&self, shared: &ReactionShared) -> String {
        // word("shared")
        t(&format!("shared-{}", shared.kind))
    }

    /// The page of what is shared, where it has one.
    fn address(&self, shared: &ReactionShared) -> String {
        let Some(id) = shared.id else { return String::new() };
        match shared.kind {
            SharedKind::Lot => format!("/shelf/lots/{id}"),
            SharedKind::Batch => format!("/batches/{id}/trace"),
            SharedKind::Formula => format!("/formulas/{id}"),
            SharedKind::Material => format!("/materials/{id}"),
            SharedKind::Family => String::new(),
        }
    }

    fn ended(&self) -> String {
        let Some(end) = &self.case.ended else { return String::new() };
        t2("reaction-ended-by", end.by_name.clone().unwrap_or_default(), self.frame.when(&end.at))
    }

    fn causality(&self) -> String {
        self.case.ended.as_ref().and_then(|end| end.causality).map(causality).unwrap_or_default()
    }

    fn typed_into(&self, form: &str) -> &str {
        if self.sent == form { &self.typed } else { "" }
    }

    fn faults_of(&self, form: &str) -> &[String] {
        if self.sent == form { &self.faults } else { &[] }
    }

    /// Why it is recalled or amended, as a form begins with it.
    fn because(&self) -> String {
        let because = t1("reaction-because", self.case.summary.number.clone());
        serde_urlencoded::to_string([("reason", because)]).unwrap_or_default()
    }
}

async fn shown(
    visitor: &Visitor,
    id: ReactionCaseId,
    status: StatusCode,
    form: &Form,
    faults: Vec<String>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let case = reactions::case(clinic, credentials, id).await?;
    let works = visitor.role() == Role::Instructor;
    let open = case.summary.state == ReactionCaseState::Open;
    let query = ReactionQuery { state: Some(ReactionCaseState::Open), limit: Some(100), after: None };
    let others = match works && open {
        true => reactions::cases(clinic, credentials, &query).await?.items,
        false => Vec::new(),
    };
    let chosen = form.text("causality");
    let page_of = CasePage {
        frame: visitor.frame(case.summary.number.clone()).with("forms.js"),
        stands: stands(case.summary.state),
        works,
        others: others.into_iter().filter(|other| other.id != id).collect(),
        causalities: Causality::ALL
            .iter()
            .map(|one| (one.as_str(), causality(*one), chosen == one.as_str()))
            .collect(),
        sent: form.text("do"),
        typed: form.text("text"),
        faults,
        once: visitor.pages().once(),
        case,
    };
    page(status, &page_of)
}

async fn view(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: ReactionCaseId = id.parse().map_err(|_| Trouble::NoPage)?;
    shown(&visitor, id, StatusCode::OK, &Form::default(), Vec::new()).await
}

async fn act(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: ReactionCaseId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /reactions/{id}"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let text = form.text("text");
    let done = match form.text("do").as_str() {
        "join" => {
            let case = form.text("case").parse().map_err(|_| Trouble::Malformed)?;
            reactions::join(clinic, credentials, &once, id, &NewJoining { case }).await
        }
        "conclude" => match form.text("causality").parse() {
            Ok(causality) => {
                let request = NewConclusion { causality, conclusion: text };
                reactions::conclude(clinic, credentials, &once, id, &request).await
            }
            Err(_) => Err(clinic::Error::field("/causality", t("causality-cure"))),
        },
        "erase" => {
            let report = form.text("report").parse().map_err(|_| Trouble::Malformed)?;
            reactions::erase(clinic, credentials, &once, id, &NewErasure { report }).await
        }
        _ => reactions::note(clinic, credentials, &once, id, &NewReactionNote { text }).await,
    };
    match done {
        Ok(case) => Ok(to(&format!("/reactions/{}", case.summary.id))),
        Err(clinic::Error::KeyReused) => Ok(to(&format!("/reactions/{id}"))),
        Err(error) => {
            let faults = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect();
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, faults).await
        }
    }
}
