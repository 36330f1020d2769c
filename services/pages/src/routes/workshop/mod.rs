//! The formula workshop: lines and steps as in a notebook, and what comes of them.

mod sheet;
mod typed;

use actix_web::http::StatusCode;
use actix_web::web::{Data, Path};
use actix_web::{HttpRequest, HttpResponse};
use clinic::{Detail, Reader, formulary, recipes};
use wire::formulary::{FormulaContent, RevisionState};
use wire::ids::{FormulaId, LibraryId, RevisionId};
use wire::recipe::{MakeFor, Recipe};

use self::sheet::{Bench, comments, show};
use self::typed::{carry_over, content, copied, empty};
use crate::answer::to;
use crate::form::Form;
use crate::mount::Mount;
use crate::notebook::all_of;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/workshop", begin);
    mount.post("/workshop", begun);
    mount.get("/revisions/{id}/workshop", open);
    mount.post("/revisions/{id}/workshop", work);
    mount.post("/formulas/{id}/revisions", revise);
}

/// What a form of the workshop is sent for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Act {
    /// To see what comes of it.
    Work,
    /// To be saved while its author types.
    Save,
    /// To be kept, by its author's own act.
    Keep,
    /// To be kept and proposed.
    Propose,
}

impl Act {
    fn of(form: &Form) -> Self {
        match form.text("do").as_str() {
            "work" => Self::Work,
            "save" => Self::Save,
            "propose" => Self::Propose,
            _ => Self::Keep,
        }
    }
}

async fn begin(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    show(Bench { said: t("draft-not-kept"), ..Bench::of(&visitor, None, empty()) }).await
}

async fn begun(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let content = content(&visitor, &form).await?;
    let bench = Bench { said: t("draft-not-kept"), ..Bench::of(&visitor, None, content.clone()) };
    if matches!(Act::of(&form), Act::Work | Act::Save) {
        return show(bench).await;
    }
    let library: LibraryId = form.text("library").parse().map_err(|_| Trouble::Malformed)?;
    let once = form.once("POST /workshop")?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match formulary::formula_create(clinic, credentials, &once, library, &content).await {
        Ok(formula) => {
            let id = formula.revisions.first().map(|revision| revision.id).ok_or(Trouble::NoPage)?;
            propose_or_stay(&visitor, &form, id, 1).await
        }
        Err(clinic::Error::Invalid(errors)) => show(bench.refused(errors)).await,
        Err(other) => Err(other.into()),
    }
}

/// In the address of a draft that was copied just now.
const COPIED: &str = "copied";

/// What stands about a draft beside its text: what was said when an earlier revision came back, and the approved one.
async fn around<'a>(visitor: &'a Visitor, reader: &Reader, bench: Bench<'a>) -> Result<Bench<'a>, Trouble> {
    let Some((id, _)) = bench.draft else { return Ok(bench) };
    let revision = formulary::revision(visitor.clinic(), visitor.credentials(), id).await?.value;
    let formula = formulary::formula(reader, visitor.credentials(), revision.formula).await?;
    let one = |state| formula.revisions.iter().find(|one| one.state == state);
    let comments = match one(RevisionState::Returned) {
        Some(returned) => comments(visitor, returned.id).await?,
        None => Vec::new(),
    };
    let before = one(RevisionState::Approved).map(|one| (one.id, one.number));
    Ok(Bench { comments, before, ..bench })
}

async fn open(
    request: HttpRequest,
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let draft = formulary::draft(visitor.clinic(), visitor.credentials(), id).await?;
    let content: FormulaContent = shown(&draft.value)?;
    let said = if request.query_string() == COPIED { t("draft-copied") } else { String::new() };
    let bench = Bench { said, ..Bench::of(&visitor, Some((id, draft.version)), content) };
    show(around(&visitor, &reader, bench).await?).await
}

async fn work(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let version: i64 = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let mut content = content(&visitor, &form).await?;
    let kept = formulary::draft(clinic, credentials, id).await?;
    let earlier: FormulaContent = shown(&kept.value)?;
    carry_over(&mut content, earlier.clone());
    let act = Act::of(&form);
    let bench = Bench::of(&visitor, Some((id, version)), content.clone());
    if act == Act::Work {
        return show(around(&visitor, &reader, bench).await?).await;
    }
    let saved = |version| {
        let time = visitor.frame(String::new()).time(&visitor.clinic().clock().now());
        Bench {
            draft: Some((id, version)),
            said: t1("draft-saved", time),
            ..Bench::of(&visitor, None, content.clone())
        }
    };
    // Saving what is there already changes nothing: an answer that got lost, or two windows with one text.
    let done = match act {
        Act::Save if all_of(&earlier) == all_of(&content) => Ok(kept.version),
        _ => {
            formulary::draft_change(clinic, credentials, id, version, &content).await.map(|kept| kept.version)
        }
    };
    match done {
        Ok(version) if act == Act::Save => show(saved(version)).await,
        Ok(version) => propose_or_stay(&visitor, &form, id, version).await,
        Err(clinic::Error::Invalid(errors)) => {
            let bench = Bench { said: t("draft-not-saved"), ..bench.refused(errors) };
            show(around(&visitor, &reader, bench).await?).await
        }
        // Both are kept: theirs is shown beside what was typed, which stays in its fields.
        Err(clinic::Error::PreconditionFailed) => {
            let theirs = formulary::draft(clinic, credentials, id).await?;
            let bench = Bench {
                draft: Some((id, theirs.version)),
                stale: Some(shown(&theirs.value)?),
                said: t("draft-stale"),
                status: StatusCode::PRECONDITION_FAILED,
                ..bench
            };
            show(around(&visitor, &reader, bench).await?).await
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
    let draft = formula.revisions.iter().find(|one| one.state == RevisionState::Draft);
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
    let content = copied(recipe, &formulary::cautions(clinic, credentials, from).await?);
    let once = form.once(&format!("POST /formulas/{id}/revisions"))?;
    let made = formulary::revision_create(clinic, credentials, &once, id, &content).await?;
    Ok(to(&format!("/revisions/{}/workshop?{COPIED}", made.value.id)))
}
