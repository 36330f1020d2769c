//! A caller: sends requests as one person, one tool, or nobody, and reads the answers.

use reqwest::header::{HeaderMap, HeaderName, HeaderValue};
use reqwest::{Method, StatusCode};
use serde_json::Value;

use crate::paper;

/// An answer, read whole.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The status.
    pub status: StatusCode,
    /// The headers.
    pub headers: HeaderMap,
    /// The body as it came.
    pub bytes: Vec<u8>,
    /// The same as text; of a printed document the words on its pages.
    pub text: String,
    /// The body as JSON; null when it is not JSON.
    pub json: Value,
}

impl Answer {
    /// Fails the test, with everything that was answered, unless the status is as expected.
    #[track_caller]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "answered: {}", self.text);
        self
    }

    /// Fails the test unless this is a problem of the kind, with everything that every problem has.
    #[track_caller]
    pub fn problem(self, status: u16, slug: &str) -> Self {
        let answer = self.expect(status);
        assert_eq!(answer.header("content-type"), "application/problem+json");
        assert_eq!(answer.json["type"], format!("/problems/{slug}"), "{}", answer.text);
        assert_eq!(answer.json["status"], status);
        assert!(!answer.json["detail"].as_str().unwrap().is_empty());
        assert_eq!(answer.json["request_id"], answer.header("x-request-id"));
        answer
    }

    /// Fails the test unless this names exactly these fields as not accepted.
    #[track_caller]
    pub fn fields(self, pointers: &[&str]) -> Self {
        let answer = self.problem(422, "invalid-request");
        let named: Vec<&str> = answer.json["errors"]
            .as_array()
            .unwrap()
            .iter()
            .map(|error| error["pointer"].as_str().unwrap())
            .collect();
        assert_eq!(named, pointers, "{}", answer.text);
        answer
    }

    /// A header, empty when it is missing.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default()
    }

    /// A text in the body, by JSON pointer.
    #[track_caller]
    #[must_use]
    pub fn text_at(&self, pointer: &str) -> String {
        self.json
            .pointer(pointer)
            .and_then(Value::as_str)
            .unwrap_or_else(|| panic!("no {pointer} in {}", self.text))
            .to_owned()
    }

    /// The id in the body.
    #[track_caller]
    #[must_use]
    pub fn id(&self) -> String {
        self.text_at("/id")
    }

    /// The `ETag`.
    #[must_use]
    pub fn etag(&self) -> String {
        self.header("etag").to_owned()
    }
}

/// Somebody who sends requests.
#[derive(Clone)]
pub struct Caller {
    /// Where the service is.
    pub base: String,
    http: reqwest::Client,
    /// What is sent as `Authorization: Bearer`; none for nobody.
    pub token: Option<String>,
    /// The id of the person or API client, empty for nobody.
    pub id: String,
}

impl Caller {
    /// Nobody in particular.
    #[must_use]
    pub fn nobody(base: &str) -> Self {
        // Another test may have done it already.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let http = reqwest::Client::builder()
            .no_proxy()
            .redirect(reqwest::redirect::Policy::none())
            .build()
            .expect("a client");
        Self { base: base.to_owned(), http, token: None, id: String::new() }
    }

    /// The same, with a token or key.
    #[must_use]
    pub fn with(&self, token: &str, id: &str) -> Self {
        Self { token: Some(token.to_owned()), id: id.to_owned(), ..self.clone() }
    }

    /// Sends a request as it is given.
    pub async fn send(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<Vec<u8>>,
    ) -> Answer {
        let mut request = self.http.request(method, format!("{}{path}", self.base));
        if let Some(token) = &self.token {
            request = request.bearer_auth(token);
        }
        for (name, value) in headers {
            request = request.header(
                HeaderName::from_bytes(name.as_bytes()).unwrap(),
                HeaderValue::from_str(value).unwrap(),
            );
        }
        if let Some(body) = body {
            request = request.body(body);
        }
        let response = request.send().await.unwrap_or_else(|error| panic!("{path}: {error:?}"));
        let (status, headers) = (response.status(), response.headers().clone());
        let bytes = response.bytes().await.unwrap().to_vec();
        let kind = headers.get("content-type").and_then(|kind| kind.to_str().ok());
        let text = match kind {
            Some("application/pdf") => paper::words(&bytes),
            _ => String::from_utf8_lossy(&bytes).into_owned(),
        };
        let json = serde_json::from_str(&text).unwrap_or(Value::Null);
        Answer { status, headers, bytes, text, json }
    }

    /// Reads.
    pub async fn get(&self, path: &str) -> Answer {
        self.send(Method::GET, path, &[], None).await
    }

    /// Creates, with a fresh key.
    pub async fn post(&self, path: &str, body: Value) -> Answer {
        self.post_with_key(path, &uuid::Uuid::now_v7().to_string(), body).await
    }

    /// Writes an entry at the address of a record's entries, and reads the whole record, explained.
    pub async fn entered(&self, entries: &str, entry: Value) -> Answer {
        self.post(entries, entry).await.expect(201);
        let record = entries.trim_end_matches("/entries");
        self.get(&format!("{record}?explain=true")).await.expect(200)
    }

    /// Creates, with this key.
    pub async fn post_with_key(&self, path: &str, key: &str, body: Value) -> Answer {
        let headers = [("content-type", "application/json"), ("idempotency-key", key)];
        self.send(Method::POST, path, &headers, Some(body.to_string().into_bytes())).await
    }

    /// Adds a photograph to a batch, with a fresh key.
    pub async fn photograph(&self, batch: &str, bytes: Vec<u8>) -> Answer {
        let path = format!("/v1/batches/{batch}/photographs?subject=preparation");
        self.post_bytes(&path, "image/jpeg", bytes).await
    }

    /// Creates from bytes of a media type, with a fresh key.
    pub async fn post_bytes(&self, path: &str, media: &str, bytes: Vec<u8>) -> Answer {
        let key = uuid::Uuid::now_v7().to_string();
        let headers = [("content-type", media), ("idempotency-key", &key)];
        self.send(Method::POST, path, &headers, Some(bytes)).await
    }

    /// Creates, with a fresh key, if what is there still has this tag.
    pub async fn post_if(&self, path: &str, tag: &str, body: Value) -> Answer {
        let key = uuid::Uuid::now_v7().to_string();
        let headers = [("content-type", "application/json"), ("idempotency-key", &key), ("if-match", tag)];
        self.send(Method::POST, path, &headers, Some(body.to_string().into_bytes())).await
    }

    /// Posts without a body, with headers.
    pub async fn post_bare(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        self.send(Method::POST, path, headers, None).await
    }

    /// Replaces, if what is there still has this tag.
    pub async fn put(&self, path: &str, tag: &str, body: Value) -> Answer {
        let headers = [("content-type", "application/json"), ("if-match", tag)];
        self.send(Method::PUT, path, &headers, Some(body.to_string().into_bytes())).await
    }

    /// Puts without a body.
    pub async fn put_bare(&self, path: &str) -> Answer {
        self.send(Method::PUT, path, &[], None).await
    }

    /// Changes, if what is there still has this tag.
    pub async fn patch(&self, path: &str, tag: &str, body: Value) -> Answer {
        let headers = [("content-type", "application/json"), ("if-match", tag)];
        self.send(Method::PATCH, path, &headers, Some(body.to_string().into_bytes())).await
    }

    /// Deletes.
    pub async fn delete(&self, path: &str) -> Answer {
        self.send(Method::DELETE, path, &[], None).await
    }

    /// Acknowledges the current cautions of a revision, each contraindication too.
    pub async fn acknowledge(&self, revision: &str) -> Answer {
        let set = self.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200);
        let contraindications: Vec<&Value> = set.json["cautions"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|caution| matches!(caution["level"].as_str(), Some("contraindication" | "stop")))
            .map(|caution| &caution["key"])
            .collect();
        let body =
            serde_json::json!({ "caution_set": set.json["digest"], "contraindications": contraindications });
        self.post(&format!("/v1/revisions/{revision}/acknowledgements"), body).await
    }

    /// Records every check before the start of a batch, each as it should be.
    pub async fn check_before_start(&self, batch: &str) {
        let meter = |kind: &str, reference: &str, reading: &str, tolerance: &str| {
            serde_json::json!({ "kind": kind, "instrument": "number 2", "reference": reference, "reading": reading,
                "tolerance": tolerance })
        };
        let all = [
            serde_json::json!({ "kind": "line_clearance", "passed": true }),
            serde_json::json!({ "kind": "cleaning", "passed": true, "note": "Wiped with 70 % alcohol." }),
            meter("check_weight", "100 g", "100.02 g", "0.05 g"),
            meter("thermometer", "0 C", "0.2 C", "0.5 C"),
            meter("ph_meter", "7.00", "6.98", "0.05"),
            serde_json::json!({ "kind": "room", "reading": "21 C", "humidity": "45 %" }),
            serde_json::json!({ "kind": "equipment", "instrument": "water bath 1" }),
        ];
        for check in all {
            self.post(&format!("/v1/batches/{batch}/checks"), check).await.expect(201);
        }
    }
}
