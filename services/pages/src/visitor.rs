//! Who is looking: the person behind the cookie of a request.

use std::future::Future;
use std::pin::Pin;
use std::rc::Rc;
use std::sync::Arc;

use actix_web::dev::Payload;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use clinic::Credentials;
use clinic::people::{Origin, PageVisitor, page_visitor};
use sha2::{Digest, Sha256};
use wire::people::Role;

use crate::cookies;
use crate::frame::Frame;
use crate::state::Pages;
use crate::trouble::Trouble;

/// In seconds. Name, role and notice on top and foot of a page may be so old; rights never are.
const FRESH: i64 = 60;

/// A person who is signed in. A handler that takes one sends everybody else to sign in first.
#[derive(Clone)]
pub(crate) struct Visitor {
    inner: Arc<PageVisitor>,
    pages: Data<Pages>,
    path: Rc<str>,
    measures_first: bool,
}

impl Visitor {
    /// Proved by each use case anew.
    pub(crate) fn credentials(&self) -> &Credentials {
        &self.inner.credentials
    }

    pub(crate) fn pages(&self) -> &Pages {
        &self.pages
    }

    pub(crate) fn clinic(&self) -> &clinic::Clinic {
        &self.pages.clinic
    }

    pub(crate) fn person(&self) -> &wire::people::Person {
        &self.inner.person
    }

    pub(crate) fn role(&self) -> Role {
        self.inner.person.role
    }

    /// Whether the clinic's policy asks for a second person.
    pub(crate) fn second_person(&self) -> bool {
        self.inner.policy.second_person
    }

    /// Sends everybody but instructors away from a page that is theirs. What they may do is proved by each use case anew.
    pub(crate) fn only_instructors(&self) -> Result<(), Trouble> {
        match self.role() {
            Role::Instructor => Ok(()),
            _ => Err(clinic::Error::Forbidden(crate::texts::t("only-instructors")).into()),
        }
    }

    /// Whether household measures stand first, and grams beside them.
    pub(crate) const fn measures_first(&self) -> bool {
        self.measures_first
    }

    /// The frame of a page with this title.
    pub(crate) fn frame(&self, title: impl Into<String>) -> Frame {
        Frame::of(&self.inner, &self.path, title.into(), self.pages.clinic.clock().now())
    }
}

fn pages(request: &HttpRequest) -> Result<Data<Pages>, Trouble> {
    request
        .app_data::<Data<Pages>>()
        .cloned()
        .ok_or_else(|| clinic::Error::internal("the pages have no state").into())
}

async fn visitor(request: HttpRequest) -> Result<Visitor, Trouble> {
    if let Some(known) = request.extensions().get::<Visitor>() {
        return Ok(known.clone());
    }
    let pages = pages(&request)?;
    let secret = cookies::session(&request).ok_or(Trouble::SignedOut)?;
    let digest: [u8; 32] = Sha256::digest(&secret).into();
    let now = pages.clinic.clock().now().timestamp();
    let remembered = pages.visitors.get(&digest).filter(|(_, at)| (0..FRESH).contains(&(now - at)));
    let inner = match remembered {
        Some((inner, _)) => inner,
        None => {
            let found = match page_visitor(&pages.clinic, &secret).await {
                Err(clinic::Error::Unauthenticated(_)) => return Err(Trouble::SignedOut),
                other => Arc::new(other?),
            };
            pages.visitors.insert(digest, (Arc::clone(&found), now));
            found
        }
    };
    (pages.settings.admit)(&request, &inner.credentials)
        .map_err(|retry_after| Trouble::TooFast { retry_after })?;
    let path = Rc::from(request.path());
    let measures_first = cookies::measures_first(&request);
    let visitor = Visitor { inner, pages, path, measures_first };
    request.extensions_mut().insert(visitor.clone());
    Ok(visitor)
}

impl FromRequest for Visitor {
    type Error = Trouble;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Trouble>>>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        Box::pin(visitor(request.clone()))
    }
}

/// Forgets who stands behind a request's cookie, because they sign out or their session changed.
pub(crate) fn forget(request: &HttpRequest, pages: &Pages) {
    if let Some(secret) = cookies::session(request) {
        let digest: [u8; 32] = Sha256::digest(&secret).into();
        pages.visitors.remove(&digest);
    }
}

/// Where a request comes from, as far as attempts are counted by it.
pub(crate) fn origin(request: &HttpRequest, pages: &Pages) -> Origin {
    Origin::of((pages.settings.address)(request), cookies::device(request, pages))
}
