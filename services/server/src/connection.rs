//! A connection of a caller. The server library refuses what it cannot parse with a status and an empty body; such a
//! response leaves as a problem, with the headers that every response has.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use actix_web::rt::net::TcpStream;
use actix_web::web::Data;
use api::ApiState;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

/// In bytes. A bare response has a status line, a length, a date and the end of the connection.
const LONGEST_BARE: usize = 256;

/// A TCP connection that answers what cannot be parsed.
pub(crate) struct Connection {
    stream: TcpStream,
    state: Data<ApiState>,
    /// A response of ours that is being written, and how much of it was.
    own: Vec<u8>,
    written: usize,
}

impl Connection {
    pub(crate) const fn new(stream: TcpStream, state: Data<ApiState>) -> Self {
        Self { stream, state, own: Vec::new(), written: 0 }
    }

    /// What to write instead, if `buffer` ends with a bare response.
    fn instead(&self, buffer: &[u8]) -> Option<Vec<u8>> {
        let (before, status) = bare(buffer)?;
        let own = api::unparsed(&self.state, status)?;
        Some([before, &own].concat())
    }

    fn poll_own(&mut self, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        while let Some(rest) = self.own.get(self.written..).filter(|rest| !rest.is_empty()) {
            match ready!(Pin::new(&mut self.stream).poll_write(cx, rest))? {
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
        Pin::new(&mut self.get_mut().stream).poll_read(cx, into)
    }
}

impl AsyncWrite for Connection {
    fn poll_write(self: Pin<&mut Self>, cx: &mut Context<'_>, buffer: &[u8]) -> Poll<io::Result<usize>> {
        let this = self.get_mut();
        ready!(this.poll_own(cx))?;
        let Some(own) = this.instead(buffer) else {
            return Pin::new(&mut this.stream).poll_write(cx, buffer);
        };
        this.own = own;
        // What the socket does not take now is written at the next call, all of which come here.
        if let Poll::Ready(Err(error)) = this.poll_own(cx) {
            return Poll::Ready(Err(error));
        }
        Poll::Ready(Ok(buffer.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        ready!(this.poll_own(cx))?;
        Pin::new(&mut this.stream).poll_flush(cx)
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        ready!(this.poll_own(cx))?;
        Pin::new(&mut this.stream).poll_shutdown(cx)
    }
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
