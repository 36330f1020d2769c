//! Failures of the command: message, exit code and remedy.

use std::fmt::Write;
use std::process::ExitCode;

use client::{Error, SetupError, must_be_named};
use wire::problem::{Outstanding, Problem};
use wire::safety::CautionSet;

use super::options::Options;
use super::text;

/// Why the command failed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// Invalid arguments or settings.
    #[error("{0}")]
    Usage(String),
    /// No client can be made with these settings.
    #[error(transparent)]
    Setup(#[from] SetupError),
    /// A call failed.
    #[error(transparent)]
    Call(#[from] Error),
    /// A response cannot be written as JSON.
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

    /// The text for standard error.
    pub(crate) fn message(&self, options: &Options) -> String {
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

/// An error and its causes, one on each line.
fn chain(error: &dyn std::error::Error) -> String {
    let mut out = format!("{error}\n");
    let mut cause = error.source();
    while let Some(error) = cause {
        text::indented(&mut out, 2, &format!("cause: {error}"));
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
    let mut out = String::from("The cautions must be acknowledged before the recipe is shown.\n");
    text::indented(&mut out, 2, &outstanding.reason);
    out.push('\n');
    out.push_str(&text::cautions(&outstanding.caution_set));
    out.push('\n');
    out.push_str(&invitation(options, &outstanding.caution_set));
    out
}

/// The command that acknowledges a caution set, to be typed once the cautions are read.
pub(crate) fn invitation(options: &Options, set: &CautionSet) -> String {
    let mut out = String::from("When you have read all the cautions, acknowledge them with:\n\n");
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

/// Quotes a word for a POSIX shell, so that text from the service cannot become a command.
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
