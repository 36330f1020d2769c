//! A formula: what it is for, and its cautions, which are read here before its recipe opens.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Data, Path, Query};
use askama::Template;
use clinic::{Reader, formulary, overview};
use serde::Deserialize;
use wire::formulary::{Revision, RevisionState};
use wire::ids::{FormulaId, PersonId, RevisionId};
use wire::safety::{Acknowledge, Acknowledgement, AudienceAnswer, CautionSet, NotRaised};

use crate::answer::{page, to};
use crate::audience::{self, Choice, choices};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading::{self, Act, Reading};
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/formulas/{id}", formula);
    mount.get("/revisions/{id}", revision);
    mount.post("/revisions/{id}/read", read);
}

/// Whom it suits, as it was asked in the address.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    audience: String,
    age: String,
    which: String,
}

/// The form by which cautions are read, wherever it stands.
pub(super) struct ReadingForm {
    pub(super) reading: Reading,
    pub(super) revision: RevisionId,
    pub(super) once: String,
    /// Where to go on, with the quantity that was asked for.
    pub(super) then: String,
    /// What the act at its end is called.
    pub(super) act: String,
    /// Said where something was left unread.
    pub(super) fault: String,
    pub(super) audiences: Vec<Choice>,
}

/// Another revision of the same formula.
struct Other {
    id: RevisionId,
    number: u32,
    state: String,
}

struct Made {
    phase: String,
    names: String,
}

#[derive(Template)]
#[template(path = "formula.html")]
struct FormulaPage {
    frame: Frame,
    revision: Revision,
    /// What stands in the place of the reading: read already, withdrawn, waiting.
    said: String,
    open: bool,
    form: Option<ReadingForm>,
    /// The cautions as they were read.
    cautions: Vec<Act>,
    /// What was looked at and not raised.
    silent: Vec<NotRaised>,
    made: Vec<Made>,
    written: String,
    audiences: Vec<Choice>,
    asked: Asked,
    suits: Option<(String, AudienceAnswer)>,
    author: bool,
    decides: bool,
    /// The other revisions, newest first, which an instructor may compare this one with.
    others: Vec<Other>,
    /// An instructor of the library may write a further revision, and withdraw an approved one.
    instructor: bool,
    once: String,
}

async fn formula(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let id: FormulaId = id.parse().map_err(|_| Trouble::NoPage)?;
    let formula = formulary::formula(&reader, visitor.credentials(), id).await?;
    let newest = formula.revisions.first().map(|revision| revision.id);
    let revision = formula.summary.approved_revision.or(newest).ok_or(Trouble::NoPage)?;
    show(&visitor, &reader, revision, asked.into_inner()).await
}

async fn revision(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    show(&visitor, &reader, id, asked.into_inner()).await
}

/// The revisions that an instructor may hold beside this one: a draft is its author's.
async fn others(visitor: &Visitor, reader: &Reader, of: &Revision) -> Result<Vec<Other>, Trouble> {
    if visitor.role() != wire::people::Role::Instructor {
        return Ok(Vec::new());
    }
    let formula = formulary::formula(reader, visitor.credentials(), of.formula).await?;
    let me = visitor.person().id;
    let shown = formula.revisions.into_iter().filter(|one| one.id != of.id);
    let shown = shown.filter(|one| one.state != RevisionState::Draft || one.author == me);
    // word("revision-state")
    let word = |one: RevisionState| t(&format!("revision-state-{}", one.as_str()));
    Ok(shown.map(|one| Other { id: one.id, number: one.number, state: word(one.state) }).collect())
}

async fn show(
    visitor: &Visitor,
    reader: &Reader,
    id: RevisionId,
    asked: Asked,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let revision = formulary::revision(clinic, credentials, id).await?.value;
    let author = revision.author == visitor.person().id;
    let last = last(visitor, id).await?;
    let open = last.as_ref().is_some_and(|last| last.open && last.revision == id);
    let frame = visitor.frame(revision.title.clone());
    let set = revision.caution_set.clone();
    let form = match &set {
        Some(set) if !open && may_read(visitor, &revision) => {
            Some(reading_form(visitor, set, last.as_ref(), None, String::new()))
        }
        _ => None,
    };
    let waits =
        last.as_ref().is_some_and(|last| last.needs_countersignature && !last.open && last.revision == id);
    let said = match (&revision.withheld_since, revision.state) {
        (Some(since), _) => t1("formula-withheld", frame.when(since)),
        (None, RevisionState::Withdrawn) => t("formula-withdrawn"),
        (None, RevisionState::Superseded) => t("formula-superseded"),
        _ if waits => t("formula-waits"),
        _ => String::new(),
    };
    let suits = match audience::asked(&asked.audience, &asked.age, &asked.which) {
        Some(audience) => {
            let answer = formulary::suitability(clinic, credentials, id, &audience).await?;
            Some((super::find::suits(answer.answer).0, answer))
        }
        None => None,
    };
    let cautions =
        if form.is_none() { set.as_ref().map(reading::all).unwrap_or_default() } else { Vec::new() };
    let silent = set.map(|set| set.not_raised).unwrap_or_default();
    let written = written(visitor, &frame, &revision).await?;
    let others = others(visitor, reader, &revision).await?;
    let page_of = FormulaPage {
        made: made(&revision),
        others,
        audiences: choices(&asked.audience),
        decides: revision.state == RevisionState::Proposed
            && !author
            && visitor.role() == wire::people::Role::Instructor,
        instructor: visitor.role() == wire::people::Role::Instructor,
        once: visitor.pages().once(),
        frame,
        revision,
        said,
        open,
        form,
        cautions,
        silent,
        written,
        asked,
        suits,
        author,
    };
    page(StatusCode::OK, &page_of)
}

/// Whether reading the cautions opens anything for this person.
fn may_read(visitor: &Visitor, revision: &Revision) -> bool {
    use wire::people::Role;
    match revision.state {
        RevisionState::Approved => true,
        RevisionState::Draft => false,
        _ => visitor.role() == Role::Instructor,
    }
}

/// What the visitor acknowledged last of a formula.
pub(super) async fn last(visitor: &Visitor, id: RevisionId) -> Result<Option<Acknowledgement>, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match overview::last_acknowledged(clinic, credentials, id).await? {
        Some(last) => Ok(Some(formulary::acknowledgement(clinic, credentials, last).await?)),
        None => Ok(None),
    }
}

/// The set that was read before, where only what changed since is read again.
fn earlier<'a>(
    visitor: &Visitor,
    set: &CautionSet,
    last: Option<&'a Acknowledgement>,
) -> Option<&'a CautionSet> {
    let now = visitor.clinic().clock().now();
    let last = last.filter(|last| last.revision == set.revision && last.valid_until > now)?;
    // What ended for another reason than a change, such as a membership, is read as a whole.
    (last.caution_set.digest != set.digest).then_some(&last.caution_set)
}

pub(super) fn reading_form(
    visitor: &Visitor,
    set: &CautionSet,
    last: Option<&Acknowledgement>,
    form: Option<&Form>,
    then: String,
) -> ReadingForm {
    ReadingForm {
        reading: Reading::of(set, earlier(visitor, set, last), form),
        revision: set.revision,
        once: visitor.pages().once(),
        then,
        act: t("open-recipe"),
        fault: String::new(),
        audiences: choices(""),
    }
}

/// Ingredients by phase, without amounts.
fn made(revision: &Revision) -> Vec<Made> {
    let mut made: Vec<Made> = Vec::new();
    for ingredient in &revision.ingredients {
        match made.last_mut().filter(|last| last.phase == ingredient.phase) {
            Some(last) => last.names = format!("{}, {}", last.names, ingredient.name),
            None => made.push(Made { phase: ingredient.phase.clone(), names: ingredient.name.clone() }),
        }
    }
    made
}

async fn written(visitor: &Visitor, frame: &Frame, revision: &Revision) -> Result<String, Trouble> {
    let mut ids = vec![revision.author];
    ids.extend(revision.decided_by);
    let names = overview::names(visitor.clinic(), visitor.credentials(), &ids).await?;
    let name = |id: PersonId| {
        names.iter().find(|(of, _)| *of == id).map(|(_, name)| name.clone()).unwrap_or_default()
    };
    let number = i64::from(revision.number);
    Ok(match (revision.decided_by, &revision.decided_at, &revision.approval_note) {
        (_, _, Some(note)) => t2("written-alone", name(revision.author), note.clone()),
        (Some(by), Some(at), None) => {
            let day = frame.day(&frame.day_of(at));
            crate::texts::text(
                "written-by",
                &[
                    ("a", name(revision.author).into()),
                    ("b", name(by).into()),
                    ("c", day.into()),
                    ("d", number.into()),
                ],
            )
        }
        _ => t2("written-undecided", name(revision.author), number),
    })
}

async fn read(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let set = formulary::cautions(clinic, credentials, id).await?;
    let last = last(&visitor, id).await?;
    let then = form.text("then");
    let opened = last
        .as_ref()
        .is_some_and(|last| last.open && last.revision == id && last.caution_set.digest == set.digest);
    let mut again = reading_form(&visitor, &set, last.as_ref(), Some(&form), then.clone());
    if form.text("caution_set") != set.digest {
        again.fault = t("reading-changed");
        return closed_page(&visitor, id, StatusCode::CONFLICT, again, String::new()).await;
    }
    if again.reading.unread() > 0 && !opened {
        again.fault = t2(
            "reading-unread",
            i64::try_from(again.reading.unread()).unwrap_or(0),
            i64::try_from(again.reading.acts.len()).unwrap_or(0),
        );
        return closed_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, again, String::new()).await;
    }
    let request = Acknowledge {
        contraindications: reading::contraindications(&set),
        meant_for: audience::asked(&form.text("audience"), &form.text("age"), &form.text("which"))
            .into_iter()
            .collect(),
        caution_set: set.digest,
        for_api_client: None,
    };
    let once = form.once(&format!("POST /revisions/{id}/read"))?;
    let given = match formulary::acknowledge(clinic, credentials, &once, id, &request).await {
        Ok(given) => given,
        // Such as an assignment whose questions come first. What was read stays ticked.
        Err(clinic::Error::State { detail, .. }) => {
            again.fault = detail;
            return closed_page(&visitor, id, StatusCode::CONFLICT, again, String::new()).await;
        }
        Err(other) => return Err(other.into()),
    };
    if given.open { Ok(to(&after(id, &then))) } else { Ok(to(&format!("/revisions/{id}"))) }
}

/// Where reading leads: the page of this service that was asked for, else the recipe.
fn after(id: RevisionId, then: &str) -> String {
    let own = [format!("/revisions/{id}"), "/batches/".to_owned(), "/queue".to_owned()];
    match own.iter().any(|own| then.starts_with(own.as_str())) {
        true => then.to_owned(),
        false => format!("/revisions/{id}/recipe"),
    }
}

#[derive(Template)]
#[template(path = "gate.html")]
struct GatePage {
    frame: Frame,
    preparation: String,
    title: String,
    why: String,
    form: ReadingForm,
}

/// The reading in the place of what it opens.
pub(super) async fn closed_page(
    visitor: &Visitor,
    id: RevisionId,
    status: StatusCode,
    form: ReadingForm,
    why: String,
) -> Result<HttpResponse, Trouble> {
    let revision = formulary::revision(visitor.clinic(), visitor.credentials(), id).await?.value;
    let frame = visitor.frame(revision.title.clone());
    page(status, &GatePage { frame, preparation: revision.preparation, title: revision.title, why, form })
}

/// The closed gate: what is to be read in the place of what was asked for, and why.
pub(super) async fn gate(
    visitor: &Visitor,
    outstanding: &wire::problem::Outstanding,
    then: String,
) -> Result<HttpResponse, Trouble> {
    let id = outstanding.caution_set.revision;
    let last = last(visitor, id).await?;
    let frame = visitor.frame(String::new());
    let now = visitor.clinic().clock().now();
    let form = reading_form(visitor, &outstanding.caution_set, last.as_ref(), None, then);
    let why = match &last {
        None => t("gate-never"),
        Some(last) if last.revision != id => t("gate-revision"),
        Some(last) if last.valid_until <= now => t1("gate-expired", frame.day(&frame.day_of(&last.at))),
        Some(last)
            if last.needs_countersignature
                && !last.open
                && last.caution_set.digest == outstanding.caution_set.digest =>
        {
            t("formula-waits")
        }
        Some(last) if last.caution_set.digest != outstanding.caution_set.digest => crate::texts::text(
            "gate-changed",
            &[
                ("a", frame.day(&frame.day_of(&last.at)).into()),
                ("b", i64::try_from(form.reading.new).unwrap_or(0).into()),
                ("c", i64::try_from(form.reading.changed).unwrap_or(0).into()),
            ],
        ),
        Some(_) => outstanding.reason.clone(),
    };
    closed_page(visitor, id, StatusCode::FORBIDDEN, form, why).await
}
