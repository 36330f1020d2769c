//! A clinic for one test: its own database, clock and service, and people to act in it.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use clinic::{Clock, Rng};
use serde_json::{Value, json};
use server::{Running, Settings};

use crate::caller::Caller;
use crate::database;

/// When every test's clock begins: a Monday in March.
pub const BEGINNING: &str = "2026-03-02T08:00:00Z";

/// The password of everybody in tests.
pub const PASSWORD: &str = "marigold petals in warm oil";

static KEY: LazyLock<String> = LazyLock::new(|| server::keys::new_pem(&Rng::system()).unwrap());

/// The signing key of every test's service.
#[must_use]
pub fn signing_key() -> &'static str {
    &KEY
}

/// A clinic for one test.
pub struct TestClinic {
    /// The service.
    pub service: Running,
    /// Its database.
    pub database: String,
    /// Nobody in particular.
    pub nobody: Caller,
    /// The administrator.
    pub administrator: Caller,
}

impl TestClinic {
    /// Starts a service on a fresh copy of the migrated database, with one administrator.
    pub async fn start() -> Self {
        Self::start_with(&[]).await
    }

    /// As [`start`](Self::start), with settings in the environment's words.
    pub async fn start_with(settings: &[(&str, &str)]) -> Self {
        Self::start_on(database::copy().await, settings).await
    }

    /// As [`start`](Self::start), with the service behind a pooler in transaction mode, which has two connections.
    pub async fn start_behind_the_pooler(settings: &[(&str, &str)]) -> Self {
        let database = database::copy().await;
        let url = database::behind_the_pooler(&database);
        let settings: Vec<_> = settings.iter().copied().chain([("DATABASE_URL", url.as_str())]).collect();
        Self::start_on(database, &settings).await
    }

    async fn start_on(database: String, settings: &[(&str, &str)]) -> Self {
        let service = serve(&database, settings).await;
        let nobody = Caller::nobody(&format!("http://{}", service.address));
        let code = clinic::people::administrator_create(&service.clinic, "petra.hollweg", "Petra Hollweg")
            .await
            .expect("the first administrator");
        let administrator = settle(&nobody, &code.code.unwrap(), "petra.hollweg").await;
        Self { service, database, nobody, administrator }
    }

    /// Invites a person, who accepts and signs in.
    pub async fn person(&self, sign_in_name: &str, role: &str) -> Caller {
        let invited = self
            .administrator
            .post(
                "/v1/invitations",
                json!({ "sign_in_name": sign_in_name, "name": sign_in_name, "role": role }),
            )
            .await
            .expect(201);
        settle(&self.nobody, &invited.text_at("/code"), sign_in_name).await
    }

    /// A library of an instructor with these members.
    pub async fn library(&self, instructor: &Caller, name: &str, members: &[&Caller]) -> String {
        let library = instructor.post("/v1/libraries", json!({ "name": name })).await.expect(201).id();
        for member in members {
            instructor.put_bare(&format!("/v1/libraries/{library}/members/{}", member.id)).await.expect(204);
        }
        library
    }

    /// An API client that a person answers for, as a member of the libraries.
    pub async fn api_client(&self, responsible: &Caller, scopes: &[&str], libraries: &[&str]) -> Caller {
        let made = self
            .administrator
            .post(
                "/v1/api-clients",
                json!({
                    "name": "Label printer",
                    "responsible": responsible.id,
                    "scopes": scopes,
                    "valid_until": "2026-12-31T00:00:00Z",
                }),
            )
            .await
            .expect(201);
        for library in libraries {
            self.administrator
                .put_bare(&format!("/v1/libraries/{library}/members/{}", made.id()))
                .await
                .expect(204);
        }
        self.nobody.with(&made.text_at("/key"), &made.id())
    }

    /// Writes a formula, proposes it, and has the second instructor acknowledge and approve it. Answers the revision.
    pub async fn approved(&self, author: &Caller, second: &Caller, library: &str, content: Value) -> String {
        let revision = self.proposed(author, library, content).await;
        second.acknowledge(&revision).await.expect(201);
        let decision = json!({ "decision": "approve" });
        second.post(&format!("/v1/revisions/{revision}/decision"), decision).await.expect(200);
        revision
    }

    /// Writes a formula and proposes it. Answers the revision.
    pub async fn proposed(&self, author: &Caller, library: &str, content: Value) -> String {
        let made = author
            .post(&format!("/v1/libraries/{library}/formulas"), json!({ "content": content }))
            .await
            .expect(201);
        let revision = made.text_at("/revisions/0/id");
        let draft = author.get(&format!("/v1/revisions/{revision}/draft")).await.expect(200);
        author
            .post_bare(&format!("/v1/revisions/{revision}/proposal"), &[("if-match", &draft.etag())])
            .await
            .expect(200);
        revision
    }

    /// Stops the service and removes its database.
    pub async fn stop(self) {
        self.service.stop().await.expect("a graceful end");
        database::remove(&self.database).await;
    }
}

/// Starts a service on a database, the way production does. With `TEST_BEHIND_POOLER=1` in the environment every one of
/// them is behind the pooler.
pub async fn serve(database: &str, settings: &[(&str, &str)]) -> Running {
    crate::log::begin();
    let photographs = database::photographs(database);
    let database = match std::env::var("TEST_BEHIND_POOLER").as_deref() {
        Ok("1") => database::behind_the_pooler(database),
        _ => database::of_service(database),
    };
    let mut environment: BTreeMap<String, String> = [
        ("DATABASE_URL", database.as_str()),
        ("STILLROOM_LISTEN", "127.0.0.1:0"),
        ("STILLROOM_PUBLIC_URL", "https://clinic.example"),
        ("STILLROOM_CONNECTIONS", "2"),
        ("STILLROOM_WORKERS", "1"),
        ("STILLROOM_REQUESTS_PER_SECOND", "0"),
        ("STILLROOM_PHOTOGRAPHS", photographs.to_str().expect("a path")),
    ]
    .iter()
    .chain(settings)
    .map(|(name, value)| ((*name).to_owned(), (*value).to_owned()))
    .collect();
    environment.retain(|_, value| !value.is_empty());
    let settings = Settings::read("", &environment).expect("settings");
    let keys = api::SigningKeys::from_pems([signing_key()]).expect("keys");
    server::start(&settings, keys, Clock::manual(BEGINNING.parse().unwrap()), Rng::system())
        .await
        .expect("the service starts")
}

/// Sets the password with a one-time code and signs in.
pub async fn settle(nobody: &Caller, code: &str, sign_in_name: &str) -> Caller {
    nobody.post("/v1/one-time-codes/use", json!({ "code": code, "password": PASSWORD })).await.expect(204);
    sign_in(nobody, sign_in_name).await
}

/// Signs in.
pub async fn sign_in(nobody: &Caller, sign_in_name: &str) -> Caller {
    let tokens = nobody
        .post("/v1/sessions", json!({ "sign_in_name": sign_in_name, "password": PASSWORD }))
        .await
        .expect(201);
    nobody.with(&tokens.text_at("/access_token"), &tokens.text_at("/person/id"))
}

/// A clinic in which two instructors and a student share a library.
pub struct TeachingClinic {
    /// The clinic.
    pub clinic: TestClinic,
    /// An instructor, who made the library.
    pub ilse: Caller,
    /// The second instructor.
    pub marek: Caller,
    /// A student.
    pub noor: Caller,
    /// The library.
    pub library: String,
}

impl TeachingClinic {
    /// Starts it.
    pub async fn start() -> Self {
        Self::start_with(&[]).await
    }

    /// Starts it with settings in the environment's words.
    pub async fn start_with(settings: &[(&str, &str)]) -> Self {
        Self::gather(TestClinic::start_with(settings).await).await
    }

    /// Starts it behind the pooler.
    pub async fn start_behind_the_pooler(settings: &[(&str, &str)]) -> Self {
        Self::gather(TestClinic::start_behind_the_pooler(settings).await).await
    }

    async fn gather(clinic: TestClinic) -> Self {
        let ilse = clinic.person("ilse.brandt", "instructor").await;
        let marek = clinic.person("marek.dvorsky", "instructor").await;
        let noor = clinic.person("noor.haddad", "student").await;
        let library = clinic.library(&ilse, "First-year creams", &[&marek, &noor]).await;
        Self { clinic, ilse, marek, noor, library }
    }

    /// Approves a formula of the first instructor. Answers the revision.
    pub async fn approved(&self, content: Value) -> String {
        self.clinic.approved(&self.ilse, &self.marek, &self.library, content).await
    }

    /// What every table holds now.
    pub async fn contents(&self) -> BTreeMap<String, String> {
        database::contents(&self.clinic.database).await
    }

    /// Proves the journal and stops.
    pub async fn stop(self) {
        let verdict =
            clinic::journal::verify(&self.clinic.service.clinic).await.expect("the journal can be read");
        assert!(verdict.breaks.is_empty(), "{verdict:?}");
        self.clinic.stop().await;
    }
}
