//! The cookies: whose session it is, that somebody has signed in on this device before, and which measures its person reads
//! first.
//!
//! `__Host-` binds them to this host, to TLS and to all of its addresses; no script can read them.

use actix_web::http::header::{self, HeaderValue};
use actix_web::{HttpRequest, HttpResponse};
use clinic::people::KnownDevice;
use uuid::Uuid;
use wire::ids::PersonId;

use crate::seal::{self, For};
use crate::state::Pages;

const SESSION: &str = "__Host-session";
const DEVICE: &str = "__Host-device";

const MEASURES: &str = "__Host-measures";

/// What the cookie says where household measures stand first.
const FIRST: &str = "first";

/// For how long a choice is kept.
const CHOICE_SECONDS: i64 = 365 * 24 * 60 * 60;

/// As long as a session lasts without being used: a working day.
const SESSION_SECONDS: i64 = 12 * 60 * 60;

/// As long as a device is remembered for its person's attempts to sign in.
const DEVICE_SECONDS: i64 = 180 * 24 * 60 * 60;

/// A cookie to be set. All of our values are letters, digits and `_.-`.
pub(crate) struct Cookie(String);

impl Cookie {
    /// Sets it with a response.
    pub(crate) fn set(&self, response: &mut HttpResponse) {
        if let Ok(value) = HeaderValue::from_str(&self.0) {
            response.headers_mut().append(header::SET_COOKIE, value);
        }
    }
}

fn cookie(name: &str, value: &str, seconds: Option<i64>) -> Cookie {
    let lasting = seconds.map(|seconds| format!("; Max-Age={seconds}")).unwrap_or_default();
    // Lax, so that a link in a message opens the page that it leads to; what changes anything checks where it comes from.
    Cookie(format!("{name}={value}; Path=/; Secure; HttpOnly; SameSite=Lax{lasting}"))
}

fn sent(request: &HttpRequest, name: &str) -> Option<String> {
    let all = request.headers().get_all(header::COOKIE).filter_map(|value| value.to_str().ok());
    let mut pairs = all.flat_map(|value| value.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(sent, _)| *sent == name).map(|(_, value)| value.to_owned())
}

/// The secret of the session that a request carries.
pub(crate) fn session(request: &HttpRequest) -> Option<String> {
    sent(request, SESSION).filter(|secret| secret.starts_with("sp_"))
}

/// Hands the secret of a session to the browser. It outlives a browser that a phone has closed by itself.
pub(crate) fn with_session(secret: &str) -> Cookie {
    cookie(SESSION, secret, Some(SESSION_SECONDS))
}

/// Takes the secret away.
pub(crate) fn without_session() -> Cookie {
    cookie(SESSION, "", Some(0))
}

/// Whether household measures stand first on this device.
pub(crate) fn measures_first(request: &HttpRequest) -> bool {
    sent(request, MEASURES).is_some_and(|value| value == FIRST)
}

/// Keeps which of grams and household measures stands first.
pub(crate) fn with_measures(first: bool) -> Cookie {
    let (value, seconds) = if first { (FIRST, CHOICE_SECONDS) } else { ("", 0) };
    cookie(MEASURES, value, Some(seconds))
}

/// The device, and who signed in on it, as a cookie that nobody else can make.
pub(crate) fn with_device(pages: &Pages, device: KnownDevice) -> Cookie {
    let until = pages.clinic.clock().now().timestamp() + DEVICE_SECONDS;
    let text = format!("{}.{}.{until}", device.id, device.person);
    cookie(DEVICE, &seal::sign(&pages.settings.secret, For::Device, &text), Some(DEVICE_SECONDS))
}

/// The device that a request comes from, if somebody signed in on it lately.
pub(crate) fn device(request: &HttpRequest, pages: &Pages) -> Option<KnownDevice> {
    let sent = sent(request, DEVICE)?;
    let text = seal::signed(&pages.settings.secret, For::Device, &sent)?;
    let mut parts = text.split('.');
    let id: Uuid = parts.next()?.parse().ok()?;
    let person: PersonId = parts.next()?.parse().ok()?;
    let until: i64 = parts.next()?.parse().ok()?;
    (pages.clinic.clock().now().timestamp() < until).then_some(KnownDevice { id, person })
}
