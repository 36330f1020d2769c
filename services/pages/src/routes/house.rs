//! The clinic's own affairs: libraries and members, policy, keys of other tools, and events.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{formulary, journal, overview, people, policy};
use serde::Deserialize;
use wire::formulary::{Library, Member, NewLibrary};
use wire::ids::{ApiClientId, HolderId, LibraryId, PersonId};
use wire::journal::EventQuery;
use wire::page::PageQuery;
use wire::people::{ApiClient, ApiClientState, NewApiClient, Person, Scope};
use wire::policy::{Customary, DatingSetOff, DropsPerMl, PolicyContent};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::people::After;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/libraries", libraries);
    mount.post("/libraries", library_create);
    mount.get("/libraries/{id}", library);
    mount.post("/libraries/{id}", library_change);
    mount.post("/libraries/{id}/members", member);
    mount.get("/policy", policy_page);
    mount.post("/policy", policy_change);
    mount.get("/api-clients", api_clients);
    mount.post("/api-clients", api_client_create);
    mount.post("/api-clients/{id}/revoke", api_client_revoke);
    mount.get("/events", events);
    mount.post("/events/verify", verify);
}

fn cures(error: clinic::Error) -> Result<Vec<(String, String)>, Trouble> {
    match error {
        clinic::Error::Invalid(errors) => Ok(form::cures(errors)),
        clinic::Error::Conflict(detail) => Ok(vec![(String::new(), detail)]),
        other => Err(other.into()),
    }
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
            let cures = cures(error)?;
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
            let cures = cures(error)?;
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

#[derive(Template)]
#[template(path = "policy.html")]
struct PolicyPage {
    frame: Frame,
    version: i64,
    since: String,
    content: PolicyContent,
    audiences: String,
    sets_off: String,
    /// Kind of liquid, its label, and the drops that were stated of it.
    drops: Vec<(&'static str, String, String)>,
    /// The word, what it means, and whether it is in force.
    customary: Vec<(&'static str, String, bool)>,
    editable: bool,
    cures: Vec<(String, String)>,
    stale: bool,
}

impl PolicyPage {
    fn cure(&self, field: &str) -> String {
        self.cures
            .iter()
            .filter(|(of, _)| of.starts_with(field))
            .map(|(_, cure)| cure.clone())
            .collect::<Vec<_>>()
            .join(" ")
    }
}

async fn policy_page(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    policy_show(&visitor, StatusCode::OK, None, Vec::new(), false).await
}

async fn policy_show(
    visitor: &Visitor,
    status: StatusCode,
    typed: Option<PolicyContent>,
    cures: Vec<(String, String)>,
    stale: bool,
) -> Result<HttpResponse, Trouble> {
    let found = policy::policy(visitor.clinic(), visitor.credentials()).await?;
    let frame = visitor.frame(t("policy-title")).with("forms.js");
    let content =
        typed.unwrap_or_else(|| PolicyContent { reason: String::new(), ..found.value.content.clone() });
    let sets = content.dating_sets_off.iter().map(|set| format!("{}: {}", set.set, set.reason));
    let page_of = PolicyPage {
        since: t2("policy-since", i64::from(found.value.version), frame.when(&found.value.made_at)),
        version: found.version,
        audiences: content.countersign_audiences.join(", "),
        sets_off: sets.collect::<Vec<_>>().join("\n"),
        drops: drops_of(&content.drops_per_ml, &frame),
        // word("customary")
        customary: Customary::ALL
            .iter()
            .map(|one| (one.as_str(), t(&format!("customary-{}", one.as_str())), *one == content.customary))
            .collect(),
        editable: visitor.role() == wire::people::Role::Administrator,
        content,
        cures,
        stale,
        frame,
    };
    page(status, &page_of)
}

/// The fields for drops in a millilitre, one for each kind of liquid.
fn drops_of(drops: &DropsPerMl, frame: &Frame) -> Vec<(&'static str, String, String)> {
    let typed = |drops: &Option<String>| drops.clone().unwrap_or_default();
    vec![
        ("water", frame.t("drops-water"), typed(&drops.water)),
        ("spirit", frame.t("drops-spirit"), typed(&drops.spirit)),
        ("oil", frame.t("drops-oil"), typed(&drops.oil)),
        ("essential_oil", frame.t("drops-essential-oil"), typed(&drops.essential_oil)),
        ("glycerol", frame.t("drops-glycerol"), typed(&drops.glycerol)),
    ]
}

async fn policy_change(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let list = form.text("countersign_audiences");
    let drops = |liquid: &str| {
        Some(form.text(&format!("drops_{liquid}")).trim().to_owned()).filter(|typed| !typed.is_empty())
    };
    let content = PolicyContent {
        clinic_name: form.text("clinic_name"),
        notice: form.text("notice"),
        time_zone: form.text("time_zone"),
        currency: form.text("currency"),
        customary: form.text("customary").parse().map_err(|_| Trouble::Malformed)?,
        second_person: form.ticked("second_person"),
        acknowledgement_days: form.text("acknowledgement_days").parse().unwrap_or(0),
        countersign_audiences: list
            .split(',')
            .map(|one| one.trim().to_owned())
            .filter(|one| !one.is_empty())
            .collect(),
        tolerance_percent: form.text("tolerance_percent"),
        active_tolerance_percent: form.text("active_tolerance_percent"),
        dating_sets_off: form
            .text("dating_sets_off")
            .lines()
            .filter_map(|line| line.split_once(':'))
            .map(|(set, reason)| DatingSetOff {
                set: set.trim().to_owned(),
                reason: reason.trim().to_owned(),
            })
            .collect(),
        drops_per_ml: DropsPerMl {
            water: drops("water"),
            spirit: drops("spirit"),
            oil: drops("oil"),
            essential_oil: drops("essential_oil"),
            glycerol: drops("glycerol"),
        },
        reason: form.text("reason"),
    };
    match policy::policy_change(visitor.clinic(), visitor.credentials(), version, &content).await {
        Ok(_) => Ok(to("/policy")),
        Err(clinic::Error::PreconditionFailed) => {
            policy_show(&visitor, StatusCode::PRECONDITION_FAILED, Some(content), Vec::new(), true).await
        }
        Err(error) => {
            let cures = cures(error)?;
            policy_show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, Some(content), cures, false).await
        }
    }
}

#[derive(Template)]
#[template(path = "api_clients.html")]
struct ClientsPage {
    frame: Frame,
    clients: Vec<(ApiClient, String)>,
    next: String,
    people: Vec<Person>,
    once: String,
    scopes: Vec<&'static str>,
    /// The key of a client that was made just now: shown once.
    made: Option<ApiClient>,
    name: String,
    cures: Vec<(String, String)>,
}

impl ClientsPage {
    fn active(&self, client: &ApiClient) -> bool {
        client.state == ApiClientState::Active
    }

    fn scopes_of(&self, client: &ApiClient) -> String {
        client.scopes.iter().map(|scope| scope.as_str()).collect::<Vec<_>>().join(", ")
    }
}

async fn api_clients(visitor: Visitor, after: Query<After>) -> Result<HttpResponse, Trouble> {
    clients_page(&visitor, StatusCode::OK, &after, None, String::new(), Vec::new()).await
}

async fn clients_page(
    visitor: &Visitor,
    status: StatusCode,
    after: &After,
    made: Option<ApiClient>,
    name: String,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = people::api_clients(clinic, credentials, &after.query()).await?;
    let ids: Vec<PersonId> = found.items.iter().map(|client| client.responsible).collect();
    let names = overview::names(clinic, credentials, &ids).await?;
    let name_of = |id: PersonId| {
        names.iter().find(|(of, _)| *of == id).map(|(_, name)| name.clone()).unwrap_or_default()
    };
    let next = found.next.map(|next| format!("/api-clients?after={next}")).unwrap_or_default();
    let clients =
        found.items.into_iter().map(|client| (client.clone(), name_of(client.responsible))).collect();
    let all = people::people(clinic, credentials, &PageQuery { limit: Some(100), after: None }).await?;
    let people = all.items.into_iter().filter(|person| person.role != wire::people::Role::Student).collect();
    let frame = visitor.frame(t("clients-title")).with("forms.js");
    let secret = made.is_some();
    let page_of = ClientsPage {
        frame,
        clients,
        next,
        people,
        once: visitor.pages().once(),
        scopes: Scope::ALL.iter().map(|scope| scope.as_str()).collect(),
        made,
        name,
        cures,
    };
    let mut response = page(status, &page_of)?;
    if secret {
        let value = header::HeaderValue::from_static("no-store, no-transform");
        response.headers_mut().insert(header::CACHE_CONTROL, value);
    }
    Ok(response)
}

async fn api_client_create(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let once = form.once("POST /api-clients")?;
    let days: i64 = form.text("days").parse().unwrap_or(365);
    let asked = NewApiClient {
        name: form.text("name"),
        responsible: form.text("responsible").parse().map_err(|_| Trouble::Malformed)?,
        scopes: form.all("scope").iter().filter_map(|scope| scope.parse().ok()).collect(),
        valid_until: visitor.clinic().clock().now() + chrono::Duration::days(days.clamp(0, 4000)),
    };
    match people::api_client_create(visitor.clinic(), visitor.credentials(), &once, &asked).await {
        Ok(made) => {
            let made = Some(made.value);
            clients_page(&visitor, StatusCode::OK, &After::default(), made, String::new(), Vec::new()).await
        }
        Err(error) => {
            let cures = cures(error)?;
            clients_page(
                &visitor,
                StatusCode::UNPROCESSABLE_ENTITY,
                &After::default(),
                None,
                asked.name,
                cures,
            )
            .await
        }
    }
}

async fn api_client_revoke(visitor: Visitor, id: Path<String>, _form: Form) -> Result<HttpResponse, Trouble> {
    let id: ApiClientId = id.parse().map_err(|_| Trouble::NoPage)?;
    match people::api_client_revoke(visitor.clinic(), visitor.credentials(), id).await {
        Ok(_) | Err(clinic::Error::State { .. }) => Ok(to("/api-clients")),
        Err(other) => Err(other.into()),
    }
}

/// Which events, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    actor: String,
    subject: String,
    before: String,
}

struct Told {
    time: String,
    who: String,
    what: String,
    subject: String,
    kind: String,
}

#[derive(Template)]
#[template(path = "events.html")]
struct EventsPage {
    frame: Frame,
    events: Vec<Told>,
    next: String,
    people: Vec<Person>,
    asked: Asked,
    verdict: String,
}

async fn events(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    events_page(&visitor, asked.into_inner(), String::new()).await
}

async fn events_page(visitor: &Visitor, asked: Asked, verdict: String) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let query = EventQuery {
        subject: asked.subject.trim().parse().ok(),
        actor: asked.actor.parse().ok(),
        limit: Some(50),
        after: None,
    };
    let mut found = journal::newest(clinic, credentials, &query, asked.before.parse().ok()).await?;
    let more = found.len() > 50;
    found.truncate(50);
    let next = match found.last().filter(|_| more) {
        Some(last) => format!("/events?actor={}&subject={}&before={}", asked.actor, asked.subject, last.id),
        None => String::new(),
    };
    let ids: Vec<PersonId> =
        found.iter().filter_map(|event| event.actor).map(|actor| PersonId(actor.0)).collect();
    let names = overview::names(clinic, credentials, &ids).await?;
    let frame = visitor.frame(t("events-title")).with("forms.js");
    let events = found
        .into_iter()
        .map(|event| Told {
            time: frame.when(&event.at),
            who: event
                .actor
                .and_then(|actor| names.iter().find(|(id, _)| id.0 == actor.0))
                .map_or_else(|| t("events-service"), |(_, name)| name.clone()),
            what: event.action.replace('_', " "),
            subject: event.subject.to_string(),
            kind: event.subject_kind.replace('_', " "),
        })
        .collect();
    let people =
        people::people(clinic, credentials, &PageQuery { limit: Some(100), after: None }).await?.items;
    page(StatusCode::OK, &EventsPage { frame, events, next, people, asked, verdict })
}

async fn verify(visitor: Visitor, _form: Form) -> Result<HttpResponse, Trouble> {
    // Only an administrator reads events, so only an administrator has them verified.
    let one = EventQuery { subject: None, actor: None, limit: Some(1), after: None };
    journal::newest(visitor.clinic(), visitor.credentials(), &one, None).await?;
    let verdict = journal::verify(visitor.clinic()).await?;
    events_page(&visitor, Asked::default(), verdict.to_string()).await
}
