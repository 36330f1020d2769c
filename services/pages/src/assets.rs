//! The files that pages need: served by us, under an address that changes with their bytes, so that browsers keep them
//! for ever.

use std::sync::LazyLock;

use actix_web::http::header;
use actix_web::{HttpResponse, web};
use sha2::{Digest, Sha256};

use crate::trouble::Trouble;

const STYLE: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";

/// Every file, with its kind.
static FILES: &[(&str, &str, &[u8])] = &[
    ("stillroom.css", STYLE, include_bytes!("../assets/stillroom.css")),
    ("hyperlegible.woff2", "font/woff2", include_bytes!("../assets/hyperlegible.woff2")),
    (
        "hyperlegible-licence.txt",
        "text/plain; charset=utf-8",
        include_bytes!("../assets/hyperlegible-licence.txt"),
    ),
    ("mark.svg", "image/svg+xml", include_bytes!("../assets/mark.svg")),
    ("code.js", SCRIPT, include_bytes!("../assets/code.js")),
    ("recipe.js", SCRIPT, include_bytes!("../assets/recipe.js")),
    ("bench.js", SCRIPT, include_bytes!("../assets/bench.js")),
    ("balance.js", SCRIPT, include_bytes!("../assets/balance.js")),
    ("unsent.js", SCRIPT, include_bytes!("../assets/unsent.js")),
    ("offline.js", SCRIPT, include_bytes!("../assets/offline.js")),
    ("signed-out.js", SCRIPT, include_bytes!("../assets/signed-out.js")),
    ("desk.js", SCRIPT, include_bytes!("../assets/desk.js")),
    ("follow.js", SCRIPT, include_bytes!("../assets/follow.js")),
    ("names.js", SCRIPT, include_bytes!("../assets/names.js")),
    ("draft.js", SCRIPT, include_bytes!("../assets/draft.js")),
    ("titles.js", SCRIPT, include_bytes!("../assets/titles.js")),
    ("workshop.js", SCRIPT, include_bytes!("../assets/workshop.js")),
    ("calculator.js", SCRIPT, include_bytes!("../assets/calculator.js")),
    ("forms.js", SCRIPT, include_bytes!("../assets/forms.js")),
];

/// One address for all of them: a module imports its neighbour, and the style its font, by name alone.
static EDITION: LazyLock<String> = LazyLock::new(|| {
    let mut digest = Sha256::new();
    for (name, _, bytes) in FILES {
        digest.update(name.as_bytes());
        digest.update(bytes);
    }
    hex::encode(digest.finalize().get(..8).unwrap_or_default())
});

/// What tells this edition of the files from others.
pub(crate) fn edition() -> &'static str {
    &EDITION
}

/// The address of a file.
pub(crate) fn address(name: &str) -> String {
    format!("/assets/{}/{name}", *EDITION)
}

/// A file. Of another edition, which an open page may still ask for while the service is being renewed, the file of now,
/// to be kept by nobody.
pub(crate) async fn file(path: web::Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    let (edition, name) = path.into_inner();
    let (_, kind, bytes) = FILES.iter().find(|(file, ..)| *file == name).ok_or(Trouble::NoPage)?;
    let keep = if edition == *EDITION { "public, max-age=31536000, immutable" } else { "no-store" };
    Ok(HttpResponse::Ok().content_type(*kind).insert_header((header::CACHE_CONTROL, keep)).body(*bytes))
}
