//! One call: its attempts, their limits, and the reading of the response. Never logs, and never follows a redirect.

use reqwest::header::{ACCEPT, AUTHORIZATION, CONTENT_TYPE, ETAG, HeaderMap, HeaderValue, IF_NONE_MATCH};
use reqwest::{RequestBuilder, Response, StatusCode, Url};
use serde::Serialize;
use serde::de::DeserializeOwned;
use uuid::Uuid;
use wire::problem::Problem;

use crate::error::{Error, SetupError};
use crate::retry;
use crate::settings::{Settings, authorization};
use crate::trace::TraceParent;

const PROBLEM: &str = "application/problem+json";

/// The connection, key and limits that all calls share.
#[derive(Clone)]
pub(crate) struct Exchange {
    http: reqwest::Client,
    base: Url,
    authorization: HeaderValue,
    settings: Settings,
    trace: Option<TraceParent>,
}

impl Exchange {
    pub(crate) fn new(base: &str, key: &str, settings: Settings) -> Result<Self, SetupError> {
        let base = settings.base(base)?;
        let authorization = authorization(key)?;
        Ok(Self { http: settings.connect(&base)?, base, authorization, settings, trace: None })
    }

    pub(crate) fn in_trace(&self, trace: TraceParent) -> Self {
        Self { trace: Some(trace), ..self.clone() }
    }

    pub(crate) const fn base(&self) -> &Url {
        &self.base
    }

    /// Sends a GET; with a tag, a conditional one.
    pub(crate) async fn get(
        &self,
        path: &str,
        query: &impl Serialize,
        tag: Option<&str>,
    ) -> Result<Answer, Error> {
        self.attempts(|| {
            let request = self.http.get(self.url(path)).query(query);
            match tag {
                Some(tag) => request.header(IF_NONE_MATCH, tag),
                None => request,
            }
        })
        .await
    }

    /// Sends a POST that creates. Its Idempotency-Key is new for each call and the same in each attempt, so that
    /// repeating it is safe.
    pub(crate) async fn post(&self, path: &str, body: &impl Serialize) -> Result<Answer, Error> {
        let key = Uuid::now_v7().to_string();
        self.attempts(|| self.http.post(self.url(path)).header("Idempotency-Key", &key).json(body)).await
    }

    fn url(&self, path: &str) -> String {
        format!("{}{path}", self.base)
    }

    /// Builds the request anew for each attempt. Every request sent here may be repeated.
    async fn attempts(&self, request: impl Fn() -> RequestBuilder) -> Result<Answer, Error> {
        let mut left = self.settings.retries;
        loop {
            let answer = self.attempt(request()).await?;
            match retry::wait(answer.status, &answer.headers) {
                Some(wait) if left > 0 && wait <= self.settings.longest_wait => {
                    left -= 1;
                    tokio::time::sleep(wait).await;
                }
                _ => return Ok(answer),
            }
        }
    }

    async fn attempt(&self, request: RequestBuilder) -> Result<Answer, Error> {
        let request = match &self.trace {
            Some(trace) => request.header("traceparent", trace.header()),
            None => request,
        };
        let response = request
            .header(AUTHORIZATION, &self.authorization)
            .header(ACCEPT, "application/json, application/problem+json")
            .send()
            .await?;
        Answer::receive(response, self.settings.largest_answer).await
    }
}

/// A complete response.
pub(crate) struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    body: Vec<u8>,
}

impl Answer {
    async fn receive(mut response: Response, limit: usize) -> Result<Self, Error> {
        let too_large = Error::TooLarge { limit };
        let declared = response.content_length().unwrap_or_default();
        if usize::try_from(declared).map_or(true, |declared| declared > limit) {
            return Err(too_large);
        }
        let mut body = Vec::new();
        while let Some(chunk) = response.chunk().await? {
            if chunk.len() > limit - body.len() {
                return Err(too_large);
            }
            body.extend_from_slice(&chunk);
        }
        Ok(Self { status: response.status(), headers: response.headers().clone(), body })
    }

    /// Whether the service answered `304 Not Modified`.
    pub(crate) fn is_unchanged(&self) -> bool {
        self.status == StatusCode::NOT_MODIFIED
    }

    /// The strong entity tag.
    pub(crate) fn tag(&self) -> Option<String> {
        self.headers.get(ETAG)?.to_str().ok().map(str::to_owned)
    }

    /// The body of a success; otherwise the problem, or what was unexpected.
    pub(crate) fn read<T: DeserializeOwned>(&self) -> Result<T, Error> {
        if self.status.is_success() {
            return serde_json::from_slice(&self.body).map_err(|error| self.unexpected(&unreadable(&error)));
        }
        if self.status.is_redirection() {
            return Err(
                self.unexpected("a redirect, which this client does not follow. Use the address it leads to")
            );
        }
        if !self.is_problem() {
            return Err(
                self.unexpected("without problem details. Check that the address is that of the service")
            );
        }
        let problem = serde_json::from_slice::<Problem>(&self.body);
        Err(match problem {
            Ok(problem) => Error::Problem(Box::new(problem)),
            Err(error) => self.unexpected(&unreadable(&error)),
        })
    }

    /// Media types are compared without their parameters and without regard to case (RFC 9110, section 8.3.1).
    fn is_problem(&self) -> bool {
        let media_type = self.headers.get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
        media_type
            .and_then(|text| text.split(';').next())
            .is_some_and(|text| text.trim().eq_ignore_ascii_case(PROBLEM))
    }

    fn unexpected(&self, what: &str) -> Error {
        Error::Unexpected { status: self.status.as_u16(), what: what.to_owned() }
    }
}

/// The position alone. The parser's message may quote the body, which may contain amounts or method.
fn unreadable(error: &serde_json::Error) -> String {
    format!(
        "with a body that cannot be read at line {}, column {}. Check that service and client have the same \
         version",
        error.line(),
        error.column()
    )
}
