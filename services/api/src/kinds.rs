//! The kinds of problems (RFC 9457): the stable `type` of each, its status, and the text of its page. No other file states
//! a status for an error.

/// A kind of problem: its stable name, title, status and what its page says.
pub(crate) struct Kind {
    pub(crate) slug: &'static str,
    pub(crate) title: &'static str,
    pub(crate) status: u16,
    pub(crate) page: &'static str,
}

macro_rules! kinds {
    ($($name:ident = $status:literal $slug:literal $title:literal $page:literal;)+) => {
        $(pub(crate) static $name: Kind = Kind { slug: $slug, title: $title, status: $status, page: $page };)+
        /// Every kind of problem there is.
        pub(crate) static KINDS: &[&Kind] = &[$(&$name),+];
    };
}

kinds! {
    MALFORMED = 400 "malformed-request" "The request cannot be read"
        "The body is not JSON, or a header or address cannot be read. `detail` says what and where.";
    KEY_MISSING = 400 "idempotency-key-missing" "An Idempotency-Key is needed"
        "Creating requests carry an `Idempotency-Key` header of 1 to 255 visible characters, new for every new request. Repeating a request with its key does nothing twice.";
    NOT_KNOWN = 401 "not-known" "Who is calling is not known"
        "Send `Authorization: Bearer` with an access token or an API key. Tokens last ten minutes: exchange the refresh token for new ones. A session that was ended, a disabled account and a revoked key are not known.";
    FORBIDDEN = 403 "forbidden" "Not yours to do"
        "The thing exists, but this is done by somebody else. `detail` says by whom.";
    GATE_CLOSED = 403 "gate-closed" "The cautions have not been acknowledged"
        "Amounts and method are shown to whoever has acknowledged the current cautions, whatever their role. `outstanding` lists the cautions and says where to acknowledge them. An acknowledgement ends when the cautions or the revision change, when a membership ends, and after the time the clinic's policy sets.";
    NOT_FOUND = 404 "not-found" "There is no such thing"
        "It does not exist, or it is not open to you: the two are not told apart.";
    METHOD = 405 "method-not-allowed" "This method is not for this address"
        "The `Allow` header lists the methods that are.";
    WRONG_STATE = 409 "wrong-state" "The thing is in the wrong state"
        "`state` names the state it is in, `detail` what it would have to be.";
    CONFLICT = 409 "conflict" "It collides with something that exists"
        "`detail` says with what, and what can be done.";
    KEY_IN_FLIGHT = 409 "request-in-flight" "The first request is still being worked on"
        "A request with the same Idempotency-Key has not been answered yet. Wait and repeat it.";
    STALE = 412 "stale" "It has changed since you read it"
        "Read it again, apply your change to what it is now, and send the new `ETag` in `If-Match`.";
    TOO_LARGE = 413 "too-large" "The body is too large"
        "A body has at most one mebibyte.";
    MEDIA_TYPE = 415 "media-type" "The body is not JSON"
        "Send `Content-Type: application/json`.";
    INVALID = 422 "invalid-request" "Fields were not accepted"
        "`errors` names each field by a JSON pointer (or `?name` for a query parameter) and says what would be accepted. Nothing was written.";
    KEY_REUSED = 422 "idempotency-key-reused" "The key was used for another request"
        "An Idempotency-Key belongs to one request: method, address and body. Send a new key with a new request.";
    PRECONDITION = 428 "precondition-required" "An If-Match is needed"
        "Changes of things that others may change too carry the `ETag` that was read, in `If-Match`.";
    TOO_MANY = 429 "too-many-requests" "Too many requests"
        "Wait for the seconds that `Retry-After` names.";
    INTERNAL = 500 "internal" "Something went wrong here"
        "It is in the log under the request id. Nothing was half-written.";
    UNAVAILABLE = 503 "unavailable" "The service cannot answer at the moment"
        "The database cannot be reached or is too busy. Wait for the seconds that `Retry-After` names and repeat.";
}
