//! How it went, when it did not go well, and what can be done about it.

use std::fmt::Write;
use std::process::ExitCode;

use client::{Error, SetupError, must_be_named};
use wire::problem::{Outstanding, Problem};
use wire::safety::CautionSet;

use super::options::Options;
use super::text;

/// Why the command did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// Something has to be typed or set otherwise.
    #[error("{0}")]
    Usage(String),
    /// No client could be made of what was given.
    #[error(transparent)]
    Setup(#[from] SetupError),
    /// A call has no result.
    #[error(transparent)]
    Call(#[from] Error),
    /// An answer could not be written as JSON.
    #[error(transparent)]
    Json(#[from] serde_json::Error),
}

impl Failure {
    pub(crate) fn exit_code(&self) -> ExitCode {
        match self {
            Self::Usage(_) | Self::Setup(_) => ExitCode::from(2),
            Self::Call(error) if error.closed_gate().is_some() => ExitCode::from(3),
            Self::Call(_) | Self::Json(_) => ExitCode::FAILURE,
        }
    }

    /// What is said about it.
    pub(crate) fn told(&self, options: &Options) -> String {
        let Self::Call(Error::Problem(problem)) = self else { return chain(self) };
        if options.json
            && let Ok(json) = serde_json::to_string_pretty(problem)
        {
            return format!("{json}\n");
        }
        match &problem.outstanding {
            Some(outstanding) => closed(options, outstanding),
            None => refused(problem),
        }
    }
}

/// An error with what caused it, one cause a line.
fn chain(error: &dyn std::error::Error) -> String {
    let mut out = format!("{error}\n");
    let mut cause = error.source();
    while let Some(error) = cause {
        text::indented(&mut out, 2, &format!("because: {error}"));
        cause = error.source();
    }
    out
}

fn refused(problem: &Problem) -> String {
    let mut out = format!("Refused: {} ({})\n", problem.title, problem.status);
    text::indented(&mut out, 2, &problem.detail);
    for error in &problem.errors {
        text::indented(&mut out, 2, &format!("{}: {}", error.pointer, error.detail));
    }
    text::indented(&mut out, 2, &format!("request {}, {}", problem.request_id, problem.kind));
    out
}

fn closed(options: &Options, outstanding: &Outstanding) -> String {
    let mut out = String::from("The gate is closed.\n");
    text::indented(&mut out, 2, &outstanding.reason);
    out.push('\n');
    out.push_str(&text::cautions(&outstanding.caution_set));
    out.push('\n');
    out.push_str(&invitation(options, &outstanding.caution_set));
    out
}

/// The exact command that acknowledges a set, to be typed when it has been read.
pub(crate) fn invitation(options: &Options, set: &CautionSet) -> String {
    let mut out = String::from("When you have read them all, this acknowledges them:\n\n");
    let mut word = |before: &str, word: &str| {
        // Writing to a string does not fail.
        write!(out, "{before}{}", quoted(word)).ok();
    };
    word("  ", "stillroom-client");
    word(" --url ", &options.url);
    if let Some(file) = &options.key_file {
        word(" --key-file ", &file.to_string_lossy());
    }
    if options.allow_plain_http {
        word(" ", "--allow-plain-http");
    }
    word(" acknowledge ", &set.revision.to_string());
    word(" \\\n    --i-have-read ", &set.digest);
    for key in must_be_named(set) {
        word(" \\\n    --contraindication ", key);
    }
    out.push('\n');
    out
}

/// A word as a POSIX shell reads it back: what comes from elsewhere must not become a command.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./:@%+=,".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn a_word_stays_one_word_in_a_shell() {
        assert_eq!(quoted("https://clinic.example:8443"), "https://clinic.example:8443");
        assert_eq!(quoted(""), "''");
        assert_eq!(quoted("two words"), "'two words'");
        assert_eq!(quoted("it's; rm -r $HOME"), r"'it'\''s; rm -r $HOME'");
    }
}
