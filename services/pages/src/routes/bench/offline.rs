//! The bench without a network: the key that seals unsent entries, and the page that shows them.

use actix_web::HttpResponse;
use actix_web::http::{StatusCode, header};
use askama::Template;

use crate::answer::{json, page};
use crate::frame::Frame;
use crate::seal::{self, For};
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// The key that this person's device seals unsent entries with. A script hands it to the browser's own cryptography, which
/// gives it to no script again.
pub(super) async fn device_key(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let person = visitor.person().id;
    let key = seal::derived(&visitor.pages().settings.secret, For::Unsent(person));
    let body = serde_json::json!({ "person": person, "key": hex::encode(key) });
    Ok(json(StatusCode::OK, &body))
}

#[derive(Template)]
#[template(path = "offline.html")]
struct OfflinePage {
    frame: Frame,
}

/// What a phone shows when the bench is opened again without a network. It holds nothing of anybody.
pub(super) async fn offline(
    pages: actix_web::web::Data<crate::state::Pages>,
) -> Result<HttpResponse, Trouble> {
    let frame = Frame::anybody(t("kept-here"), pages.clinic.clock().now()).with("offline.js");
    page(StatusCode::OK, &OfflinePage { frame })
}

/// The service worker keeps files and the page above, and no other page.
pub(super) async fn worker() -> Result<HttpResponse, Trouble> {
    let files = ["stillroom.css", "hyperlegible.woff2", "mark.svg", "offline.js", "unsent.js", "balance.js"];
    let addresses: Vec<String> = files.iter().map(|file| crate::assets::address(file)).collect();
    let script = include_str!("../../../assets/worker.js")
        .replace("\"FILES\"", &serde_json::to_string(&addresses).map_err(clinic::Error::from)?)
        .replace("EDITION", crate::assets::edition());
    Ok(HttpResponse::Ok()
        .content_type("text/javascript; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .body(script))
}
