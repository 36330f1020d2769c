//! The SQLSTATE of a connection's last error.
//!
//! Diesel 2.3 tells a few errors by their kind and keeps no code of the others, deadlocks and timeouts among them; their
//! messages are in the language of the server. So the bytes that the server sends are listened to on their way, and the
//! code of each error is kept beside the connection. What never happens here: a byte changed, or a message kept.

use std::io;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll, ready};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio_postgres::error::SqlState;

/// The code of the last error that the server sent on a connection.
#[derive(Clone, Debug, Default)]
pub(crate) struct LastError(Arc<Mutex<Option<SqlState>>>);

impl LastError {
    /// The code, which is forgotten here, so that a later error is not taken for it.
    pub(crate) fn take(&self) -> Option<SqlState> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    fn keep(&self, code: SqlState) {
        // What is refused because the transaction has failed already says nothing of why it failed.
        if code != SqlState::IN_FAILED_SQL_TRANSACTION {
            *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(code);
        }
    }
}

/// A stream from the server whose errors are noted.
pub(crate) struct Listening<S> {
    stream: S,
    messages: Messages,
}

impl<S> Listening<S> {
    pub(crate) fn new(stream: S, last: LastError) -> Self {
        Self { stream, messages: Messages { last, at: At::BEGINNING } }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Listening<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = buffer.filled().len();
        ready!(Pin::new(&mut self.stream).poll_read(cx, buffer))?;
        self.messages.pass(buffer.filled().get(before..).unwrap_or_default());
        Poll::Ready(Ok(()))
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Listening<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, bytes)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        slices: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write_vectored(cx, slices)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

/// How long a message's head is: its type, and its length without the type.
const HEAD: usize = 5;

/// The type of an error's message.
const ERROR: u8 = b'E';

/// The field of an error that holds its code.
const CODE: u8 = b'C';

/// Where in the messages of the server the next byte belongs (PostgreSQL's documentation, "Message Formats").
enum At {
    Head { bytes: [u8; HEAD], got: usize },
    Body { left: usize, error: Option<Vec<u8>> },
}

impl At {
    const BEGINNING: Self = Self::Head { bytes: [0; HEAD], got: 0 };
}

struct Messages {
    last: LastError,
    at: At,
}

impl Messages {
    fn pass(&mut self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            match &mut self.at {
                At::Head { bytes: head, got } => {
                    for place in &mut head[*got..] {
                        let Some((byte, rest)) = bytes.split_first() else { return };
                        (*place, bytes) = (*byte, rest);
                        *got += 1;
                    }
                    let [kind, length @ ..] = *head;
                    // The length counts its own four bytes.
                    let left = u32::from_be_bytes(length).saturating_sub(4);
                    let left = usize::try_from(left).unwrap_or(usize::MAX);
                    self.at = At::Body { left, error: (kind == ERROR).then(Vec::new) };
                }
                At::Body { left, error } => {
                    let (here, rest) = bytes.split_at((*left).min(bytes.len()));
                    bytes = rest;
                    *left -= here.len();
                    if let Some(error) = error {
                        error.extend_from_slice(here);
                    }
                }
            }
            self.end();
        }
    }

    /// Ends a message that is complete; one without a body ends with its head.
    fn end(&mut self) {
        if let At::Body { left: 0, error } = &self.at {
            if let Some(code) = error.as_deref().and_then(code) {
                self.last.keep(code);
            }
            self.at = At::BEGINNING;
        }
    }
}

/// The code in an error's body: fields of a type and a text that ends in zero.
fn code(body: &[u8]) -> Option<SqlState> {
    body.split(|byte| *byte == 0)
        .filter_map(<[u8]>::split_first)
        .find(|(kind, _)| **kind == CODE)
        .and_then(|(_, text)| std::str::from_utf8(text).ok())
        .map(SqlState::from_code)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(kind: u8, body: &[u8]) -> Vec<u8> {
        let length = u32::try_from(body.len() + 4).unwrap().to_be_bytes();
        [&[kind][..], &length, body].concat()
    }

    fn error(code: &str) -> Vec<u8> {
        message(ERROR, format!("SFEHLER\0VERROR\0C{code}\0MVerklemmung entdeckt\0\0").as_bytes())
    }

    #[test]
    fn the_code_of_the_last_error_is_kept_however_the_bytes_arrive() {
        let sent = [
            message(b'Z', b"I"),
            message(b'n', b""),
            message(b'D', b"C40001\0E"),
            error("23505"),
            message(b'Z', b"E"),
            error("40P01"),
            error("25P02"),
            message(b'Z', b"E"),
        ]
        .concat();
        for size in [1, 2, 3, 5, 7, sent.len()] {
            let last = LastError::default();
            let mut messages = Messages { last: last.clone(), at: At::BEGINNING };
            sent.chunks(size).for_each(|chunk| messages.pass(chunk));
            assert_eq!(last.take(), Some(SqlState::T_R_DEADLOCK_DETECTED), "in chunks of {size}");
            assert_eq!(last.take(), None);
        }
    }

    #[test]
    fn what_is_no_error_leaves_no_code() {
        let last = LastError::default();
        let mut messages = Messages { last: last.clone(), at: At::BEGINNING };
        messages.pass(&message(b'D', &error("40001")));
        messages.pass(&message(ERROR, b"\0"));
        assert_eq!(last.take(), None);
    }
}
