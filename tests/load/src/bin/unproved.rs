//! The limit: the same server with the same outermost layer, answering ready bytes to whoever asks, without any proof.
//!
//! `unproved ADDRESS FILE` answers every request with the bytes of the file, once it is there.

use std::io::{Error, Result};
use std::sync::{Arc, OnceLock};

use actix_web::middleware::from_fn;
use actix_web::web::{Bytes, to};
use actix_web::{App, HttpResponse, HttpServer};

// As the service.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

#[actix_web::main]
async fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let (Some(address), Some(file)) = (arguments.next(), arguments.next()) else {
        return Err(Error::other("unproved ADDRESS FILE"));
    };
    let bytes: Arc<OnceLock<Bytes>> = Arc::default();
    HttpServer::new(move || {
        let (bytes, file) = (Arc::clone(&bytes), file.clone());
        let answer = move || {
            if bytes.get().is_none()
                && let Ok(read) = std::fs::read(&file)
            {
                // Another worker may have been first, with the same bytes.
                bytes.set(Bytes::from(read)).ok();
            }
            let bytes = bytes.get().cloned().unwrap_or_default();
            async move { HttpResponse::Ok().content_type("application/json").body(bytes) }
        };
        App::new().wrap(from_fn(api::boundary)).default_service(to(answer))
    })
    .bind(address)?
    .run()
    .await
}
