//! The interactive documentation and the OpenAPI document that it shows. Neither is in the document itself.

use std::sync::{Arc, LazyLock};

use actix_web::HttpResponse;
use actix_web::guard::Get;
use actix_web::web::{self, Bytes, ServiceConfig};
use utoipa_swagger_ui::{Config, SwaggerUi};

use crate::answer::Answer;
use crate::document::document;

/// Where the OpenAPI document is.
const DOCUMENT: &str = "/openapi.json";

/// Where the page is that shows it.
const PAGE: &str = "/docs/";

/// The interactive documentation, every file of it built into the binary, and the document that it shows.
pub(crate) fn routes(config: &mut ServiceConfig) {
    let page = Config::from(DOCUMENT)
        .try_it_out_enabled(true)
        .persist_authorization(false)
        .validator_url("none")
        .use_base_layout();
    config.service(web::resource(PAGE).guard(Get()).to(front));
    config.service(SwaggerUi::new("/docs/{_:.*}").config(page));
    config.service(web::resource(DOCUMENT).guard(Get()).to(openapi));
}

/// The page of the documentation, by our name instead of its library's.
async fn front() -> Answer {
    let file = utoipa_swagger_ui::serve("", Arc::new(Config::from(DOCUMENT)))
        .map_err(|error| clinic::Error::internal(error.to_string()))?
        .ok_or_else(|| clinic::Error::internal("the documentation has no page"))?;
    let page =
        String::from_utf8_lossy(&file.bytes).replace("<title>Swagger UI</title>", "<title>Stillroom</title>");
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(page))
}

/// The OpenAPI document. Written out once, when first asked for: a copy for every worker would be most of the memory
/// that an idle service takes.
async fn openapi() -> Answer {
    static TEXT: LazyLock<Option<Bytes>> = LazyLock::new(|| document().to_json().ok().map(Bytes::from));
    let text = TEXT.clone().ok_or_else(|| clinic::Error::internal("the document cannot be written"))?;
    Ok(HttpResponse::Ok().content_type("application/json").body(text))
}
