//! Which jars are on the shelf: what must be used first comes first.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::jars;
use serde::Deserialize;
use wire::jars::{JarQuery, JarsHere, JarsOf};
use wire::people::Role;

use super::standing::until;
use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/shelf/jars", shelf);
}

/// Whether a role reads which jars are here. The use case proves it anew.
pub(super) const fn reads_jars(role: Role) -> bool {
    matches!(role, Role::Instructor)
}

/// What was asked for, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    show: String,
    after: String,
}

#[derive(Template)]
#[template(path = "shelf_jars.html")]
struct JarsPage {
    frame: Frame,
    /// The parts of the list: address, words, whether it is shown.
    parts: Vec<(String, String, bool)>,
    found: Vec<JarsHere>,
    none: String,
    next: String,
}

impl JarsPage {
    fn until(&self, jars: &JarsHere) -> String {
        jars.use_by.map_or_else(|| t("shelf-jars-undated"), |day| until(&self.frame, &day))
    }

    fn held(&self, jars: &JarsHere) -> String {
        let count = u32::try_from(jars.jars.len()).unwrap_or(u32::MAX);
        t2("shelf-jars-held", self.frame.count("shelf-jars-count", count), jars.fill.clone())
    }
}

async fn shelf(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let asked = asked.into_inner();
    let of = asked.show.parse().unwrap_or(JarsOf::Ready);
    let after = Some(asked.after).filter(|after| !after.is_empty());
    let query = JarQuery { of: Some(of), limit: Some(50), after, ..JarQuery::default() };
    let here = jars::here(visitor.clinic(), visitor.credentials(), &query).await?;
    let next = here.next.map(|next| {
        let query = [("show", of.as_str()), ("after", &next)];
        format!("/shelf/jars?{}", serde_urlencoded::to_string(query).unwrap_or_default())
    });
    // word("shelf-jars-of")
    let words = |of: JarsOf| t(&format!("shelf-jars-of-{of}"));
    let page_of = JarsPage {
        frame: visitor.frame(t("shelf-jars-title")),
        parts: [JarsOf::Ready, JarsOf::Quarantine, JarsOf::Past]
            .into_iter()
            .map(|one| (format!("/shelf/jars?show={one}"), words(one), one == of))
            .collect(),
        found: here.items,
        // word("shelf-jars-none")
        none: t(&format!("shelf-jars-none-{of}")),
        next: next.unwrap_or_default(),
    };
    page(StatusCode::OK, &page_of)
}
