//! The command: from arguments to calls of the client, and from responses to text.
//!
//! Results go to standard output, refusals to standard error. Never here: a key taken from an argument, which other
//! users of the machine could read, or a key printed.

mod label;
mod options;
mod outcome;
mod sheet;
mod table;
mod text;

use std::io::{Read, Write};
use std::path::Path;
use std::process::ExitCode;

use client::{Client, FormulaQuery, Settings};
use serde::Serialize;
use wire::jars::JarQuery;
use wire::label::BatchLabelQuery;
use wire::safety::Acknowledge;
use wire::stock::LotQuery;

pub(crate) use options::Options;
use options::Task;
use outcome::{Failure, invitation};

const KEY_VARIABLE: &str = "STILLROOM_KEY";

/// In bytes. Bounds what a mistaken `--key-file` reads.
const MAX_KEY_SIZE: u64 = 4096;

/// Runs the command and prints its result.
pub(crate) async fn run(options: &Options) -> ExitCode {
    match carry_out(options).await {
        Ok(text) => match std::io::stdout().lock().write_all(printable(&text).as_bytes()) {
            // The reader may stop early, as `head` does.
            Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => ExitCode::FAILURE,
            _ => ExitCode::SUCCESS,
        },
        Err(failure) => {
            let text = failure.message(options);
            // If standard error is closed, the exit code still reports the failure.
            std::io::stderr().lock().write_all(printable(&text).as_bytes()).ok();
            failure.exit_code()
        }
    }
}

async fn carry_out(options: &Options) -> Result<String, Failure> {
    let settings = Settings { allow_plain_http: options.allow_plain_http, ..Settings::default() };
    let clinic = Client::with(&options.url, &key(options.key_file.as_deref())?, settings)?;
    let clinic = match &options.traceparent {
        Some(trace) => clinic.in_trace(trace.clone()),
        None => clinic,
    };
    match &options.task {
        Task::Formulas { search } => formulas(options, &clinic, search.query()).await,
        Task::Cautions { revision } => {
            let set = clinic.cautions(*revision).await?;
            said(options, &set, || format!("{}\n{}", text::cautions(&set), invitation(options, &set)))
        }
        Task::Acknowledge { revision, i_have_read, contraindication, meant_for } => {
            let request = Acknowledge {
                caution_set: i_have_read.clone(),
                contraindications: contraindication.clone(),
                meant_for: meant_for.clone(),
                for_api_client: None,
            };
            let given = clinic.acknowledge(*revision, &request).await?;
            said(options, &given, || text::acknowledged(&given))
        }
        Task::Label { revision, container } => {
            let label = clinic.label(*revision, &container.query()).await?;
            said(options, &label, || label::label(&label))
        }
        Task::BatchLabel { batch, net, area } => {
            let query = BatchLabelQuery { net: net.clone(), area: area.clone() };
            let label = clinic.batch_label(*batch, &query).await?;
            said(options, &label, || label::label(&label))
        }
        Task::Lots { of } => lots(options, &clinic, of.query()).await,
        Task::Jars { of } => jars(options, &clinic, of.query()).await,
        Task::Jar { code } => {
            let jar = clinic.jar(code).await?;
            said(options, &jar, || text::jar(&jar))
        }
        Task::Recipe { revision, quantity } => {
            let recipe = clinic.recipe_explained(*revision, &quantity.make_for()).await?.value;
            said(options, &recipe, || sheet::recipe(&recipe))
        }
    }
}

async fn formulas(options: &Options, clinic: &Client, mut query: FormulaQuery) -> Result<String, Failure> {
    let mut all = Vec::new();
    loop {
        let page = clinic.formulas(&query).await?;
        all.extend(page.items);
        match page.next {
            Some(next) => query.after = Some(next),
            None => return said(options, &all, || text::formulas(&all)),
        }
    }
}

async fn lots(options: &Options, clinic: &Client, mut query: LotQuery) -> Result<String, Failure> {
    let mut all = Vec::new();
    loop {
        let page = clinic.lots(&query).await?;
        all.extend(page.items);
        match page.next {
            Some(next) => query.after = Some(next),
            None => return said(options, &all, || text::lots(&all)),
        }
    }
}

async fn jars(options: &Options, clinic: &Client, mut query: JarQuery) -> Result<String, Failure> {
    let mut all = Vec::new();
    loop {
        let page = clinic.jars(&query).await?;
        all.extend(page.items);
        match page.next {
            Some(next) => query.after = Some(next),
            None => return said(options, &all, || text::jars(&all)),
        }
    }
}

fn said(options: &Options, value: &impl Serialize, text: impl FnOnce() -> String) -> Result<String, Failure> {
    if options.json { Ok(format!("{}\n", serde_json::to_string_pretty(value)?)) } else { Ok(text()) }
}

/// The key, from the file if one is named, else from the environment.
fn key(file: Option<&Path>) -> Result<String, Failure> {
    let Some(file) = file else {
        return std::env::var(KEY_VARIABLE).map_err(|_| {
            Failure::Usage(format!(
                "No API key is set. Name a key file with --key-file, or set {KEY_VARIABLE}."
            ))
        });
    };
    let mut text = String::new();
    std::fs::File::open(file).and_then(|open| open.take(MAX_KEY_SIZE).read_to_string(&mut text)).map_err(
        |error| Failure::Usage(format!("The key file {} cannot be read: {error}.", file.display())),
    )?;
    Ok(text.trim().to_owned())
}

/// Replaces control characters: texts come from other people and must not control the terminal.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' { '\u{fffd}' } else { c }).collect()
}
