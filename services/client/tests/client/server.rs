//! A server that gives prepared answers, one after the other, each on a connection of its own.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};

/// A request as it arrived.
#[derive(Clone, Debug)]
pub(crate) struct Received {
    /// Method, path and query.
    pub(crate) target: String,
    headers: Vec<(String, String)>,
    /// The body.
    pub(crate) body: String,
}

impl Received {
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }
}

/// A prepared answer: status line, headers and body as bytes on the line.
#[derive(Clone, Debug)]
pub(crate) struct Answer(Vec<u8>);

impl Answer {
    /// An answer with a body whose length it states.
    pub(crate) fn new(status: &str, headers: &[(&str, &str)], body: &str) -> Self {
        let length = body.len().to_string();
        let all: Vec<(&str, &str)> = headers.iter().copied().chain([("content-length", &*length)]).collect();
        Self::without_length(status, &all, body)
    }

    /// An answer that ends when the connection does.
    pub(crate) fn without_length(status: &str, headers: &[(&str, &str)], body: &str) -> Self {
        let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
        Self(format!("HTTP/1.1 {status}\r\nconnection: close\r\n{headers}\r\n{body}").into_bytes())
    }
}

/// The server; it lives as long as the test's process, on a port of its own.
pub(crate) struct Server {
    /// Its address.
    pub(crate) url: String,
    received: Arc<Mutex<Vec<Received>>>,
}

impl Server {
    /// Gives these answers in order; the last one again and again.
    pub(crate) fn answering(answers: Vec<Answer>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let url = format!("http://{}", listener.local_addr().unwrap());
        let received = Arc::new(Mutex::new(Vec::new()));
        let kept = Arc::clone(&received);
        std::thread::spawn(move || {
            let last = answers.last().cloned();
            let mut answers = answers.into_iter();
            for stream in listener.incoming() {
                let (Ok(mut stream), Some(answer)) = (stream, answers.next().or_else(|| last.clone())) else {
                    return;
                };
                // What is no HTTP, as a TLS greeting, gets no answer. It is kept before it is answered, so that a test
                // that has its answer finds its request.
                let Some(request) = read(&mut stream) else { continue };
                kept.lock().unwrap().push(request);
                // A client that hangs up early, as one does on an answer that is too large, is no fault here.
                stream.write_all(&answer.0).ok();
            }
        });
        Self { url, received }
    }

    pub(crate) fn received(&self) -> Vec<Received> {
        self.received.lock().unwrap().clone()
    }
}

fn read(stream: &mut TcpStream) -> Option<Received> {
    let mut reader = BufReader::new(stream);
    let mut lines = Vec::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).ok().filter(|read| *read > 0)?;
        match line.trim_end() {
            "" => break,
            text => lines.push(text.to_owned()),
        }
    }
    let (first, rest) = lines.split_first()?;
    let target = first.strip_suffix(" HTTP/1.1")?.to_owned();
    let headers = rest
        .iter()
        .filter_map(|line| line.split_once(':'))
        .map(|(name, value)| (name.to_ascii_lowercase(), value.trim().to_owned()))
        .collect();
    let mut request = Received { target, headers, body: String::new() };
    let length = request.header("content-length").map_or(0, |text| text.parse().unwrap());
    reader.take(length).read_to_string(&mut request.body).ok()?;
    Some(request)
}
