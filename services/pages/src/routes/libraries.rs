//! Libraries and their members.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{formulary, people};
use wire::formulary::{Library, Member, NewLibrary};
use wire::ids::{HolderId, LibraryId};
use wire::page::PageQuery;
use wire::people::Person;

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::people::After;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/libraries", libraries);
    mount.post("/libraries", library_create);
    mount.get("/libraries/{id}", library);
    mount.post("/libraries/{id}", library_change);
    mount.post("/libraries/{id}/members", member);
}

#[derive(Template)]
#[template(path = "libraries.html")]
struct LibrariesPage {
    frame: Frame,
    libraries: Vec<Library>,
    next: String,
    once: String,
    name: String,
    description: String,
    cures: Vec<(String, String)>,
    /// Libraries are made, and renamed, by instructors.
    instructor: bool,
}

async fn libraries(visitor: Visitor, after: Query<After>) -> Result<HttpResponse, Trouble> {
    libraries_page(&visitor, StatusCode::OK, &after, &Form::default(), Vec::new()).await
}

async fn libraries_page(
    visitor: &Visitor,
    status: StatusCode,
    after: &After,
    form: &Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let found = formulary::libraries(visitor.clinic(), visitor.credentials(), &after.query()).await?;
    let next = found.next.map(|next| format!("/libraries?after={next}")).unwrap_or_default();
    let frame = visitor.frame(t("libraries-title")).with("forms.js");
    let (name, description) = (form.text("name"), form.text("description"));
    let once = visitor.pages().once();
    page(
        status,
        &LibrariesPage {
            frame,
            libraries: found.items,
            next,
            once,
            name,
            description,
            cures,
            instructor: visitor.role() == wire::people::Role::Instructor,
        },
    )
}

async fn library_create(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let once = form.once("POST /libraries")?;
    let asked = NewLibrary { name: form.text("name"), description: form.text("description") };
    match formulary::library_create(visitor.clinic(), visitor.credentials(), &once, &asked).await {
        Ok(made) => Ok(to(&format!("/libraries/{}", made.value.id))),
        Err(error) => {
            let cures = form::faults(error)?;
            libraries_page(&visitor, StatusCode::UNPROCESSABLE_ENTITY, &After::default(), &form, cures).await
        }
    }
}

#[derive(Template)]
#[template(path = "library.html")]
struct LibraryPage {
    frame: Frame,
    library: Library,
    version: i64,
    members: Vec<Member>,
    next: String,
    people: Vec<Person>,
    cures: Vec<(String, String)>,
    instructor: bool,
}

async fn library(visitor: Visitor, id: Path<String>, after: Query<After>) -> Result<HttpResponse, Trouble> {
    library_page(&visitor, id.parse().map_err(|_| Trouble::NoPage)?, StatusCode::OK, &after, Vec::new()).await
}

async fn library_page(
    visitor: &Visitor,
    id: LibraryId,
    status: StatusCode,
    after: &After,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let library = formulary::library(clinic, credentials, id).await?;
    let members = formulary::members(clinic, credentials, id, &after.query()).await?;
    let all = people::people(clinic, credentials, &PageQuery { limit: Some(100), after: None }).await?;
    let holds = |person: &Person| members.items.iter().any(|member| member.holder.0 == person.id.0);
    let people = all.items.into_iter().filter(|person| !holds(person)).collect();
    let frame = visitor.frame(library.value.name.clone()).with("forms.js");
    let next = members.next.map(|next| format!("/libraries/{id}?after={next}")).unwrap_or_default();
    let page_of = LibraryPage {
        frame,
        version: library.version,
        library: library.value,
        members: members.items,
        next,
        people,
        cures,
        instructor: visitor.role() == wire::people::Role::Instructor,
    };
    page(status, &page_of)
}

async fn library_change(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: LibraryId = id.parse().map_err(|_| Trouble::NoPage)?;
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let asked = NewLibrary { name: form.text("name"), description: form.text("description") };
    match formulary::library_change(visitor.clinic(), visitor.credentials(), id, version, &asked).await {
        Ok(_) => Ok(to(&format!("/libraries/{id}"))),
        Err(error) => {
            let cures = form::faults(error)?;
            library_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &After::default(), cures).await
        }
    }
}

async fn member(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: LibraryId = id.parse().map_err(|_| Trouble::NoPage)?;
    let holder: HolderId = form.text("holder").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    match form.text("do").as_str() {
        "add" => formulary::member_add(clinic, credentials, id, holder).await?,
        // Removed already, perhaps by the first of two taps.
        _ => match formulary::member_remove(clinic, credentials, id, holder).await {
            Ok(()) | Err(clinic::Error::NotFound(_)) => {}
            Err(other) => return Err(other.into()),
        },
    }
    Ok(to(&format!("/libraries/{id}")))
}
