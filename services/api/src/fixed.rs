//! Files that never change while the service runs: their bytes, their tag and each coding of them are made once.

use std::sync::OnceLock;

use actix_web::http::header;
use actix_web::web::{self, Bytes};
use actix_web::{HttpRequest, HttpResponse};

use crate::answer;
use crate::coding::Coding;

/// A file, with its codings as they were first asked for.
pub(crate) struct Fixed {
    kind: String,
    tag: String,
    plain: Bytes,
    brotli: OnceLock<Option<Bytes>>,
    gzip: OnceLock<Option<Bytes>>,
}

impl Fixed {
    pub(crate) fn new(kind: impl Into<String>, bytes: impl Into<Bytes>) -> Self {
        let plain = bytes.into();
        let tag = answer::digest_tag(&plain);
        Self { kind: kind.into(), tag, plain, brotli: OnceLock::new(), gzip: OnceLock::new() }
    }

    /// The file, or that the caller's copy is current. Browsers keep it and ask each time whether it is.
    pub(crate) async fn answer(&'static self, request: &HttpRequest) -> HttpResponse {
        let mut response = match answer::not_modified(request, &self.tag) {
            Some(response) => response,
            None => self.whole(Coding::accepted(request)).await,
        };
        response.headers_mut().insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-cache"));
        response
    }

    async fn whole(&'static self, coding: Option<Coding>) -> HttpResponse {
        let coding = coding.filter(|_| !self.kind.starts_with("image/"));
        let mut response = HttpResponse::Ok();
        response.content_type(self.kind.as_str()).insert_header((header::ETAG, self.tag.as_str()));
        if let Some(coding) = coding
            && let Some(coded) = self.coded(coding).await
        {
            let mut response = response.body(coded);
            coding.mark(response.headers_mut());
            return response;
        }
        response.body(self.plain.clone())
    }

    /// Coded off the executor, since the largest file has more than a megabyte.
    async fn coded(&'static self, coding: Coding) -> Option<Bytes> {
        let kept = match coding {
            Coding::Brotli => &self.brotli,
            Coding::Gzip => &self.gzip,
        };
        if let Some(done) = kept.get() {
            return done.clone();
        }
        let make = move || kept.get_or_init(|| coding.encode(&self.plain).ok().map(Bytes::from)).clone();
        web::block(make).await.ok().flatten()
    }
}
