//! Keys of other tools, and what each pulled.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{overview, people};
use wire::ids::{ApiClientId, PersonId};
use wire::page::PageQuery;
use wire::people::{ApiClient, ApiClientState, NewApiClient, Person, Scope};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::people::After;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/api-clients", api_clients);
    mount.post("/api-clients", api_client_create);
    mount.post("/api-clients/{id}/revoke", api_client_revoke);
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
            let cures = form::faults(error)?;
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
