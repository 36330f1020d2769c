//! Printed documents, read with poppler's programs, which `./tests/run` puts on the path.

use std::io::Write;
use std::process::{Command, Stdio};

/// What one of poppler's programs answers about a document that it is given.
///
/// # Panics
/// Fails the test where the program is missing or refuses the document.
#[must_use]
pub fn poppler(program: &str, options: &[&str], pdf: &[u8]) -> Vec<u8> {
    let mut child = Command::new(program)
        .args(options)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{program}, which ./tests/run sets up: {error}"));
    let mut into = child.stdin.take().unwrap();
    let pdf = pdf.to_vec();
    let writing = std::thread::spawn(move || into.write_all(&pdf));
    let output = child.wait_with_output().unwrap();
    writing.join().unwrap().unwrap();
    assert!(output.status.success(), "{program} refused it");
    output.stdout
}

/// The words of a document as they stand on its pages, so that whoever looks for a word in an answer finds it on paper too. An answer
/// without a body has none.
#[must_use]
pub fn words(pdf: &[u8]) -> String {
    if pdf.is_empty() {
        return String::new();
    }
    String::from_utf8_lossy(&poppler("pdftotext", &["-raw", "-", "-"], pdf)).into_owned()
}
