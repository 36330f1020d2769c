//! The interactive documentation and the OpenAPI document that it shows. Neither is in the document itself. All of it is
//! made once, when first asked for: a copy for every worker would be most of the memory that an idle service takes.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use actix_web::HttpRequest;
use actix_web::http::Method;
use actix_web::web::{self, Bytes};
use routing::Handlers;
use utoipa_swagger_ui::Config;

use crate::answer::Answer;
use crate::document::document;
use crate::fixed::Fixed;
use crate::problem::Refusal;

/// Where the OpenAPI document is.
const DOCUMENT: &str = "/openapi.json";

/// Where the page is that shows it.
const PAGE: &str = "/docs/";

/// Where the files are that the page loads.
const FILE: &str = "/docs/{file}";

/// The files that the page loads; the library has others.
const FILES: [&str; 8] = [
    "favicon-16x16.png",
    "favicon-32x32.png",
    "index.css",
    "index.html",
    "swagger-initializer.js",
    "swagger-ui-bundle.js",
    "swagger-ui-standalone-preset.js",
    "swagger-ui.css",
];

/// The interactive documentation, every file of it built into the binary, and the document that it shows.
pub(crate) fn routes(handlers: &mut Handlers) {
    handlers.at(Method::GET, PAGE, front);
    handlers.at(Method::GET, FILE, file);
    handlers.at(Method::GET, DOCUMENT, openapi);
}

async fn front(request: HttpRequest) -> Answer {
    Ok(made("index.html")?.answer(&request).await)
}

async fn file(request: HttpRequest, name: web::Path<String>) -> Answer {
    let name = FILES.into_iter().find(|file| **file == **name).ok_or(Refusal::NoRoute)?;
    Ok(made(name)?.answer(&request).await)
}

/// The file with this name, for as long as the process runs.
fn made(name: &'static str) -> Result<&'static Fixed, Refusal> {
    static MADE: LazyLock<Mutex<BTreeMap<&'static str, &'static Fixed>>> = LazyLock::new(Mutex::default);
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(file) = made.get(name) {
        return Ok(file);
    }
    let file: &'static Fixed = Box::leak(Box::new(make(name)?));
    made.insert(name, file);
    Ok(file)
}

fn make(name: &str) -> Result<Fixed, Refusal> {
    let config = Config::from(DOCUMENT)
        .try_it_out_enabled(true)
        .persist_authorization(false)
        .validator_url("none")
        .use_base_layout();
    let file = utoipa_swagger_ui::serve(name, Arc::new(config))
        .map_err(|error| clinic::Error::internal(error.to_string()))?
        .ok_or_else(|| clinic::Error::internal(format!("the documentation has no file {name}")))?;
    if name == "index.html" {
        // By our name instead of the library's.
        let page = String::from_utf8_lossy(&file.bytes)
            .replace("<title>Swagger UI</title>", "<title>Stillroom</title>");
        return Ok(Fixed::new("text/html; charset=utf-8", page));
    }
    // Straight from the binary, but for the one that the library fills in.
    let bytes = match file.bytes {
        Cow::Borrowed(bytes) => Bytes::from_static(bytes),
        Cow::Owned(bytes) => Bytes::from(bytes),
    };
    Ok(Fixed::new(file.content_type, bytes))
}

async fn openapi(request: HttpRequest) -> Answer {
    static TEXT: LazyLock<Option<Fixed>> =
        LazyLock::new(|| Some(Fixed::new("application/json", document().to_json().ok()?)));
    let text = TEXT.as_ref().ok_or_else(|| clinic::Error::internal("the document cannot be written"))?;
    Ok(text.answer(&request).await)
}
