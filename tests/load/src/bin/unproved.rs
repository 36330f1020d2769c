//! The limit: the same server with the same outermost layer, answering ready bytes to whoever asks, without any proof.
//!
//! `unproved ADDRESS FILE` answers every request with the bytes of the file, which is read when the first comes.

use std::io::{Error, Result};
use std::sync::{Arc, LazyLock};

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
    let bytes: Arc<LazyLock<Bytes, _>> =
        Arc::new(LazyLock::new(move || Bytes::from(std::fs::read(file).unwrap_or_default())));
    HttpServer::new(move || {
        let bytes = Arc::clone(&bytes);
        let answer = move || {
            let bytes = Bytes::clone(&bytes);
            async move { HttpResponse::Ok().content_type("application/json").body(bytes) }
        };
        App::new().wrap(from_fn(api::boundary)).default_service(to(answer))
    })
    .bind(address)?
    .run()
    .await
}
