//! HTTP itself: codings, tags, limits told in headers, requests that cannot be parsed, metrics and spans.

mod coding;
mod documentation;
mod malformed;
mod metrics;
mod rate;
mod slow;
mod spans;

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use stillroom_tests::Caller;

/// A response with its body as it came.
pub(crate) struct Raw {
    pub(crate) status: u16,
    pub(crate) headers: reqwest::header::HeaderMap,
    pub(crate) body: Vec<u8>,
}

impl Raw {
    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }
}

/// Reads an address with these headers.
pub(crate) async fn read(caller: &Caller, path: &str, headers: &[(&str, &str)]) -> Raw {
    let client = reqwest::Client::builder().no_proxy().build().unwrap();
    let mut request = client.get(format!("{}{path}", caller.base));
    if let Some(token) = &caller.token {
        request = request.bearer_auth(token);
    }
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    let response = request.send().await.unwrap();
    let (status, headers) = (response.status().as_u16(), response.headers().clone());
    Raw { status, headers, body: response.bytes().await.unwrap().to_vec() }
}

/// Sends bytes over a socket of their own and reads until the service closes it.
pub(crate) async fn send(base: &str, bytes: Vec<u8>) -> String {
    let address = base.strip_prefix("http://").unwrap().to_owned();
    tokio::task::spawn_blocking(move || {
        let mut stream = TcpStream::connect(address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        stream.write_all(&bytes).unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        String::from_utf8_lossy(&answer).into_owned()
    })
    .await
    .unwrap()
}
