//! A connection of a caller. The server library refuses what it cannot parse with a status and an empty body; such a
//! response leaves as a problem, with the headers that every response has.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use actix_web::rt::net::TcpStream;
use actix_web::web::Data;
use api::{ApiState, Ending};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadBuf};
use tokio::runtime::Handle;

/// In bytes. A bare response has a status line, a length, a date and the end of the connection.
const LONGEST_BARE: usize = 256;

/// How long a refused caller's bytes are still taken and dropped. To close at once would reset the connection, and the
/// caller might never read why it was refused.
const LINGER: Duration = Duration::from_secs(1);

/// A TCP connection that answers what cannot be parsed, and reads no more of what was refused.
pub(crate) struct Connection {
    /// Present until the connection is dropped.
    stream: Option<TcpStream>,
    state: Data<ApiState>,
    ending: Ending,
    refused: bool,
    /// A response of ours that is being written, and how much of it was.
    own: Vec<u8>,
    written: usize,
}

impl Connection {
    pub(crate) fn new(stream: TcpStream, state: Data<ApiState>) -> Self {
        let ending = Ending::default();
        Self { stream: Some(stream), state, ending, refused: false, own: Vec::new(), written: 0 }
    }

    /// What its requests end it by.
    pub(crate) const fn ending(&self) -> &Ending {
        &self.ending
    }

    fn stream(&mut self) -> io::Result<Pin<&mut TcpStream>> {
        self.stream.as_mut().map(Pin::new).ok_or_else(|| io::ErrorKind::NotConnected.into())
    }

    /// What to write instead, if `buffer` ends with a bare response.
    fn instead(&self, buffer: &[u8]) -> Option<Vec<u8>> {
        let (before, status) = bare(buffer)?;
        let own = api::unparsed(&self.state, status)?;
        Some([before, &own].concat())
    }

    fn poll_own(&mut self, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let Some(stream) = self.stream.as_mut() else {
            return Poll::Ready(Err(io::ErrorKind::NotConnected.into()));
        };
        while let Some(rest) = self.own.get(self.written..).filter(|rest| !rest.is_empty()) {
            match ready!(Pin::new(&mut *stream).poll_write(cx, rest))? {
                0 => return Poll::Ready(Err(io::ErrorKind::WriteZero.into())),
                more => self.written += more,
            }
        }
        self.own.clear();
        self.written = 0;
        Poll::Ready(Ok(()))
    }
}

/// The status of the bare response that `buffer` ends with, and what stands before it: responses to requests that came
/// first. No response of ours is both an error and empty.
fn bare(buffer: &[u8]) -> Option<(&[u8], u16)> {
    if !buffer.ends_with(b"\r\n\r\n") {
        return None;
    }
    let from = buffer.len().saturating_sub(LONGEST_BARE);
    let at = from + buffer.get(from..)?.windows(9).rposition(|window| window == b"HTTP/1.1 ")?;
    let (before, response) = buffer.split_at_checked(at)?;
    let text = std::str::from_utf8(response).ok()?;
    let empty = text.lines().any(|line| line.eq_ignore_ascii_case("content-length: 0"));
    let status = text.get(9..12)?.parse().ok()?;
    (empty && status >= 400).then_some((before, status))
}

impl AsyncRead for Connection {
    fn poll_read(self: Pin<&mut Self>, cx: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        if this.ending.has_come(cx) {
            return Poll::Ready(Ok(()));
        }
        this.stream()?.poll_read(cx, into)
    }
}

impl AsyncWrite for Connection {
    fn poll_write(self: Pin<&mut Self>, cx: &mut Context<'_>, buffer: &[u8]) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        ready!(this.poll_own(cx))?;
        let Some(own) = this.instead(buffer) else {
            return this.stream()?.poll_write(cx, buffer);
        };
        this.own = own;
        this.refused = true;
        // What the socket does not take now is written at the next call, all of which come here.
        if let Poll::Ready(Err(error)) = this.poll_own(cx) {
            return Poll::Ready(Err(error));
        }
        Poll::Ready(Ok(buffer.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        ready!(this.poll_own(cx))?;
        this.stream()?.poll_flush(cx)
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        ready!(this.poll_own(cx))?;
        this.stream()?.poll_shutdown(cx)
    }
}

impl Drop for Connection {
    fn drop(&mut self) {
        if !self.refused && !self.ending.is_over() {
            return;
        }
        if let (Some(stream), Ok(runtime)) = (self.stream.take(), Handle::try_current()) {
            runtime.spawn(tokio::time::timeout(LINGER, drain(stream)));
        }
    }
}

/// Says that no more is written, and drops what comes until the caller ends too.
async fn drain(mut stream: TcpStream) -> io::Result<()> {
    stream.shutdown().await?;
    let mut dropped = [0; 4096];
    while stream.read(&mut dropped).await? > 0 {}
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bare_response_is_found_behind_others() {
        let refused = b"HTTP/1.1 400 Bad Request\r\ncontent-length: 0\r\ndate: now\r\n\r\n";
        assert_eq!(bare(refused), Some((&b""[..], 400)));
        let first = b"HTTP/1.1 200 OK\r\ncontent-length: 2\r\n\r\n{}";
        let both = [&first[..], refused].concat();
        assert_eq!(bare(&both), Some((&first[..], 400)));
    }

    #[test]
    fn response_of_a_route_is_left_as_it_is() {
        for text in [
            "HTTP/1.1 204 No Content\r\ndate: now\r\n\r\n",
            "HTTP/1.1 303 See Other\r\ncontent-length: 0\r\nlocation: /docs/\r\n\r\n",
            "HTTP/1.1 404 Not Found\r\ncontent-length: 20\r\n\r\n",
            "HTTP/1.1 400 Bad Request\r\ncontent-length: 2\r\n\r\n{}",
            "content-length: 0\r\n\r\n",
        ] {
            assert_eq!(bare(text.as_bytes()), None, "{text}");
        }
    }
}
