//! The kinds of problems (RFC 9457): the stable `type` of each, its status, and the text of its page. No other file
//! states a status for an error. Here, since the API answers with them and the pages explain them.

/// A kind of problem: its stable name, title, status and what its page says.
pub struct Kind {
    /// The end of its `type`: `/problems/{slug}`.
    pub slug: &'static str,
    /// In a few words.
    pub title: &'static str,
    /// The HTTP status.
    pub status: u16,
    /// The meaning, for authors of tools; code stands between backquotes.
    pub page: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $status:literal $slug:literal $title:literal $page:literal;)+) => {
        $(#[doc = $title] pub static $name: Kind = Kind { slug: $slug, title: $title, status: $status, page: $page };)+
        /// Every kind of problem there is.
        pub static KINDS: &[&Kind] = &[$(&$name),+];
    };
}

kinds! {
    MALFORMED = 400 "malformed-request" "Malformed request"
        "The body is not valid JSON, or a header or the address cannot be parsed. `detail` names the place and the reason.";
    KEY_MISSING = 400 "idempotency-key-missing" "Idempotency-Key required"
        "Creating requests must carry an `Idempotency-Key` header of 1 to 255 visible ASCII characters. Send a new key with each new request. Repeating a request with its key creates nothing twice.";
    UNAUTHENTICATED = 401 "not-known" "Authentication required"
        "Send `Authorization: Bearer` with an access token or an API key. Access tokens expire after ten minutes; exchange the refresh token for new ones. Tokens of an ended session, disabled accounts and revoked keys are refused.";
    FORBIDDEN = 403 "forbidden" "Permission denied"
        "Your role or membership does not permit this action. `detail` names who may perform it.";
    GATE_CLOSED = 403 "gate-closed" "Cautions not acknowledged"
        "Only users who have acknowledged the current cautions see amounts and method. This holds for every role. `outstanding` lists the cautions and gives the address to send the acknowledgement to. An acknowledgement ends when the cautions or the revision change, when the membership ends, or after the period that the clinic's policy sets.";
    NOT_FOUND = 404 "not-found" "Not found"
        "The resource does not exist, or you may not see it. The response is the same in both cases.";
    METHOD = 405 "method-not-allowed" "Method not allowed"
        "This address does not support the method of the request. The `Allow` header lists the supported methods.";
    TOO_SLOW = 408 "body-too-slow" "Body too slow"
        "The body did not arrive in full in the time that the service allows; `detail` states it. Nothing was saved. Send the request again over a steady connection.";
    HEAD_TOO_SLOW = 408 "headers-too-slow" "Headers too slow"
        "The headers of the request did not arrive in full within 10 seconds. Send the request again over a steady connection.";
    WRONG_STATE = 409 "wrong-state" "Not possible in the current state"
        "`state` names the current state, `detail` the state that the action requires.";
    CONFLICT = 409 "conflict" "Conflict with an existing record"
        "`detail` names the existing record and the remedy.";
    KEY_IN_FLIGHT = 409 "request-in-flight" "First request still running"
        "The first request with this Idempotency-Key is still running. Wait for the seconds given in `Retry-After`, then repeat the request.";
    GONE = 410 "gone" "No longer available"
        "The resource was withdrawn, or its file is missing or was changed. `detail` says which, and names the remedy where there is one.";
    PRECONDITION_FAILED = 412 "stale" "Record changed after you read it"
        "Another change was saved after your last read. Read the current version, reapply your change, and send its `ETag` in `If-Match`.";
    TOO_LARGE = 413 "too-large" "Body too large"
        "A body may have at most 1 MiB (1,048,576 bytes), a photograph at most 10 MB (10,000,000 bytes).";
    MEDIA_TYPE = 415 "media-type" "Unsupported media type"
        "The body must be JSON, sent with `Content-Type: application/json`. A photograph is sent as `image/jpeg`, `image/png` or `image/webp`, without `Content-Encoding`.";
    INVALID = 422 "invalid-request" "Invalid fields"
        "`errors` names each invalid field by a JSON pointer, or by `?name` for a query parameter, and states what is accepted. Nothing was saved.";
    KEY_REUSED = 422 "idempotency-key-reused" "Idempotency-Key used for another request"
        "An Idempotency-Key belongs to one request: method, address and body. Send a new key with a new request.";
    PRECONDITION_REQUIRED = 428 "precondition-required" "If-Match required"
        "Send `If-Match` with the `ETag` from your last read, so that you do not overwrite another user's change.";
    RATE_LIMITED = 429 "too-many-requests" "Too many requests"
        "The request limit is reached. Wait for the seconds given in `Retry-After`, then repeat the request.";
    HEAD_TOO_LARGE = 431 "headers-too-large" "Headers too large"
        "The request line and the headers may have at most 128 KiB and 96 headers. Remove unneeded headers \
         and cookies.";
    INTERNAL = 500 "internal" "Internal error"
        "The error is logged under the request ID; quote that ID when you report it. No partial change was saved.";
    CONTENDED = 503 "contended" "Too many changes at the same time"
        "Other requests changed the same records at the same time, at every attempt of this one. Nothing was \
         saved. Wait for the seconds given in `Retry-After`, then repeat the request.";
    TOOK_TOO_LONG = 503 "took-too-long" "Calculation stopped"
        "The calculation exceeded its time limit, which `detail` names, and was stopped. Nothing was saved. Wait for the seconds given in `Retry-After` and repeat the request, or split the formula into smaller ones.";
    UNAVAILABLE = 503 "unavailable" "Service unavailable"
        "The database, or the place where photographs are stored, is unavailable or overloaded. Wait for the seconds given in `Retry-After`, then repeat the request.";
}
