//! A connection that sends ready requests and reads the answers: HTTP/1.1, kept alive, one at a time.
//!
//! It knows as much of HTTP as the benchmark meets, so that driving the service costs little of the machine that is
//! measured.

use std::io::{Error, ErrorKind, Result};
use std::net::SocketAddr;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// A kept-alive connection.
pub(crate) struct Connection {
    stream: TcpStream,
    /// What has been read of the present answer.
    buffer: Vec<u8>,
}

/// An answer, as far as it matters here.
pub(crate) struct Answer<'c> {
    /// The status.
    pub(crate) status: u16,
    /// The body.
    pub(crate) body: &'c [u8],
}

fn unreadable(what: &str) -> Error {
    Error::new(ErrorKind::InvalidData, what)
}

impl Connection {
    /// Opens a connection.
    pub(crate) async fn open(address: SocketAddr) -> Result<Self> {
        let stream = TcpStream::connect(address).await?;
        stream.set_nodelay(true)?;
        Ok(Self { stream, buffer: Vec::with_capacity(64 * 1024) })
    }

    /// Sends a request and waits for its whole answer.
    pub(crate) async fn exchange(&mut self, request: &[u8]) -> Result<Answer<'_>> {
        self.stream.write_all(request).await?;
        self.buffer.clear();
        let (status, head, length) = loop {
            self.more().await?;
            if let Some(found) = head(&self.buffer)? {
                break found;
            }
        };
        while self.buffer.len() < head + length {
            self.more().await?;
        }
        let body = self.buffer.get(head..head + length).unwrap_or_default();
        Ok(Answer { status, body })
    }

    /// The tag of what is answered.
    pub(crate) async fn tag(&mut self, request: &[u8]) -> Result<String> {
        let tags = self.headers(request, "etag").await?;
        tags.into_iter().next().ok_or_else(|| unreadable("an answer without a tag"))
    }

    /// The cookie of a session that an answer sets, as it is sent again.
    pub(crate) async fn session(&mut self, request: &[u8]) -> Result<String> {
        let cookies = self.headers(request, "set-cookie").await?;
        let session = cookies.iter().find(|cookie| cookie.starts_with("__Host-session="));
        let session = session.and_then(|cookie| cookie.split(';').next());
        session.map(str::to_owned).ok_or_else(|| unreadable("an answer without a session"))
    }

    /// The values of a header of what is answered.
    async fn headers(&mut self, request: &[u8], wanted: &str) -> Result<Vec<String>> {
        self.exchange(request).await?;
        let head = String::from_utf8_lossy(&self.buffer);
        let of = |line: &str| {
            let (name, value) = line.split_once(':')?;
            name.eq_ignore_ascii_case(wanted).then(|| value.trim().to_owned())
        };
        Ok(head.split("\r\n\r\n").next().unwrap_or_default().lines().filter_map(of).collect())
    }

    async fn more(&mut self) -> Result<()> {
        match self.stream.read_buf(&mut self.buffer).await? {
            0 => Err(Error::new(ErrorKind::UnexpectedEof, "the connection was closed within an answer")),
            _ => Ok(()),
        }
    }
}

/// The status, and how long head and body are; none while the head is not whole.
fn head(buffer: &[u8]) -> Result<Option<(u16, usize, usize)>> {
    let Some(end) = buffer.windows(4).position(|window| window == b"\r\n\r\n") else { return Ok(None) };
    let text = std::str::from_utf8(buffer.get(..end).unwrap_or_default())
        .map_err(|_| unreadable("a head that is not text"))?;
    let mut lines = text.split("\r\n");
    let status = lines
        .next()
        .and_then(|line| line.split(' ').nth(1)?.parse().ok())
        .ok_or_else(|| unreadable("a first line without a status"))?;
    // These have no body and say no length.
    if matches!(status, 204 | 304) {
        return Ok(Some((status, end + 4, 0)));
    }
    let length = lines
        .find_map(|line| {
            let (name, value) = line.split_once(':')?;
            name.eq_ignore_ascii_case("content-length").then(|| value.trim().parse().ok())?
        })
        .ok_or_else(|| unreadable("an answer that does not say its length"))?;
    Ok(Some((status, end + 4, length)))
}

/// Stands where every request that is sent has a key of its own: [`number`] writes it.
pub(crate) const EACH_ITS_OWN: &str = "load-0000000000000000";

/// Gives a request that was made with [`EACH_ITS_OWN`] the key of this number; leaves any other as it is.
pub(crate) fn number(request: &mut [u8], number: u64) {
    let start = b"load-";
    let place = request.windows(start.len()).position(|window| window == start);
    let digits = place.and_then(|place| request.get_mut(place + start.len()..place + EACH_ITS_OWN.len()));
    if let Some(digits) = digits {
        digits.copy_from_slice(format!("{number:016x}").as_bytes());
    }
}

/// A reading request as it is sent.
pub(crate) fn get(address: SocketAddr, path: &str, token: &str) -> Vec<u8> {
    format!("GET {path} HTTP/1.1\r\nhost: {address}\r\nauthorization: Bearer {token}\r\n\r\n").into_bytes()
}

/// As [`get`], for whoever has the answer with this tag already.
pub(crate) fn get_if_changed(address: SocketAddr, path: &str, token: &str, tag: &str) -> Vec<u8> {
    format!(
        "GET {path} HTTP/1.1\r\nhost: {address}\r\nauthorization: Bearer {token}\r\nif-none-match: {tag}\r\n\r\n"
    )
    .into_bytes()
}

/// A page, for whoever this cookie belongs to.
pub(crate) fn page(address: SocketAddr, path: &str, cookie: &str) -> Vec<u8> {
    format!("GET {path} HTTP/1.1\r\nhost: {address}\r\naccept: text/html\r\ncookie: {cookie}\r\n\r\n")
        .into_bytes()
}

/// The form of the page to sign in, as a browser sends it. Name and password have no sign that a form writes otherwise,
/// but spaces.
pub(crate) fn sign_in_form(address: SocketAddr, name: &str, password: &str) -> Vec<u8> {
    let body = format!("sign_in_name={name}&password={}", password.replace(' ', "+"));
    format!(
        "POST /sign-in HTTP/1.1\r\nhost: {address}\r\norigin: http://{address}\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

/// A request that puts something where its address says, without a body.
pub(crate) fn put(address: SocketAddr, path: &str, token: &str) -> Vec<u8> {
    format!(
        "PUT {path} HTTP/1.1\r\nhost: {address}\r\nauthorization: Bearer {token}\r\ncontent-length: 0\r\n\r\n"
    )
    .into_bytes()
}

/// A request that creates something, with its key.
pub(crate) fn create(
    address: SocketAddr,
    path: &str,
    token: &str,
    key: &str,
    body: &serde_json::Value,
) -> Vec<u8> {
    let body = body.to_string();
    format!(
        "POST {path} HTTP/1.1\r\nhost: {address}\r\nauthorization: Bearer {token}\r\nidempotency-key: {key}\r\n\
         content-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

/// A request with a JSON body as it is sent.
pub(crate) fn post(address: SocketAddr, path: &str, body: &serde_json::Value) -> Vec<u8> {
    let body = body.to_string();
    format!(
        "POST {path} HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

#[cfg(test)]
mod tests {
    use super::{EACH_ITS_OWN, head, number};

    #[test]
    fn an_answer_is_read_in_whatever_pieces_it_comes() {
        let answer = b"HTTP/1.1 201 Created\r\nContent-Length: 2\r\netag: \"x\"\r\n\r\n{}";
        let whole = answer.len() - 2;
        for part in 0..whole {
            assert_eq!(head(&answer[..part]).unwrap(), None);
        }
        assert_eq!(head(answer).unwrap(), Some((201, whole, 2)));
        assert!(head(b"HTTP/1.1 200 OK\r\n\r\n").is_err());
        assert_eq!(head(b"HTTP/1.1 304 Not Modified\r\n\r\n").unwrap(), Some((304, 29, 0)));
    }

    #[test]
    fn every_creating_request_gets_a_key_of_its_own() {
        let mut request = format!("idempotency-key: {EACH_ITS_OWN}\r\n").into_bytes();
        number(&mut request, 0x2a);
        assert_eq!(request, b"idempotency-key: load-000000000000002a\r\n");
        let mut other = b"no key".to_vec();
        number(&mut other, 1);
        assert_eq!(other, b"no key");
    }
}
