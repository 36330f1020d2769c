//! The benchmark: drives a running service, the yardstick and the bare service by turns, and reports ratios.
//!
//! `tests/load/run` sets everything up and calls this. What is compared is measured side by side in every round, and the
//! order turns around from round to round, so that neither drift nor a busy moment decides.

mod clinic;
mod drive;
mod http;
mod report;
mod yardstick;

use std::io::{Error, Result};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::Parser;
use serde_json::json;

use crate::clinic::Account;
use crate::drive::{Pace, drive};
use crate::report::{Bound, Figure, Rate};
use crate::yardstick::Yardstick;

/// The page that is compared with the first.
const DEEP: usize = 1000;

/// How often both pages are read.
const PAGE_READS: usize = 1000;

/// How often a search is asked, and a sequential scan made, in each round.
const SEARCHES: usize = 50;
const SCANS: usize = 3;

/// Measures a running service and reports ratios.
#[derive(Parser)]
struct Arguments {
    /// Address and port of the service.
    #[arg(long)]
    service: SocketAddr,
    /// Its process, freshly started: its memory is read before the first request.
    #[arg(long)]
    process: u32,
    /// Address and port of the bare service.
    #[arg(long)]
    bare: SocketAddr,
    /// What `stillroom demo` printed.
    #[arg(long)]
    accounts: PathBuf,
    /// The pgbench program.
    #[arg(long)]
    pgbench: String,
    /// A database that `pgbench -i` has filled, on the service's cluster.
    #[arg(long)]
    pgbench_database: String,
    /// The service's own database, for what a search costs without its index.
    #[arg(long)]
    search_database: String,
    /// Where the report goes as JSON.
    #[arg(long)]
    json: PathBuf,
    /// How often everything is measured.
    #[arg(long, default_value_t = 5)]
    rounds: usize,
    /// Counted seconds of each measurement.
    #[arg(long, default_value_t = 4)]
    seconds: u64,
    /// Connections to a service, and clients of the yardstick.
    #[arg(long, default_value_t = 32)]
    connections: usize,
}

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => {
            complain("a bound was missed");
            ExitCode::FAILURE
        }
        Err(error) => {
            complain(&error.to_string());
            ExitCode::FAILURE
        }
    }
}

#[expect(clippy::print_stderr, reason = "what went wrong is for the person at the terminal")]
fn complain(text: &str) {
    eprintln!("load: {text}");
}

#[expect(clippy::print_stdout, reason = "the table is for the person at the terminal")]
fn say(text: &str) {
    println!("{text}");
}

/// What is driven, by whom, and for how long.
struct Plan<'a> {
    arguments: &'a Arguments,
    pace: Pace,
    yardstick: Yardstick,
    /// One reading request for each connection, each in a session of its own.
    reads: Vec<Vec<u8>>,
    /// One sign-in for each of the other people: enough at once to keep every core of a small machine hashing.
    sign_ins: Vec<Vec<u8>>,
}

/// The rates of one round, a second.
#[derive(Default)]
struct Round {
    yardstick: f64,
    reads: f64,
    bare: f64,
    beside: f64,
    sign_ins: f64,
}

impl Plan<'_> {
    fn read(&self, address: SocketAddr) -> Result<f64> {
        drive(address, &self.reads, 200, self.pace)
    }

    /// Reads with sign-ins at full tilt beside them: the rates of both.
    fn beside(&self) -> Result<(f64, f64)> {
        let service = self.arguments.service;
        std::thread::scope(|scope| {
            let sign_ins =
                scope.spawn(|| drive(service, &self.sign_ins, 201, Pace { threads: 1, ..self.pace }));
            let reads = self.read(service)?;
            let sign_ins = sign_ins.join().unwrap_or_else(|_| Err(Error::other("the sign-ins died")))?;
            Ok((reads, sign_ins))
        })
    }

    fn round(&self, number: usize) -> Result<Round> {
        let mut round = Round::default();
        let mut steps = [0, 1, 2, 3];
        if number % 2 == 1 {
            steps.reverse();
        }
        for step in steps {
            match step {
                0 => round.yardstick = self.yardstick.measure(self.arguments.connections, self.pace)?,
                1 => round.reads = self.read(self.arguments.service)?,
                2 => round.bare = self.read(self.arguments.bare)?,
                _ => (round.beside, round.sign_ins) = self.beside()?,
            }
        }
        Ok(round)
    }
}

/// Resident memory of a process in megabytes.
fn memory(process: u32) -> Result<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status"))?;
    status
        .lines()
        .find_map(|line| line.strip_prefix("VmRSS:")?.trim().split(' ').next()?.parse::<f64>().ok())
        .map(|kilobytes| kilobytes * 1024.0 / 1e6)
        .ok_or_else(|| Error::other("the service's memory cannot be read"))
}

fn run(arguments: &Arguments) -> Result<bool> {
    let idle = memory(arguments.process)?;
    let demo = std::fs::read_to_string(&arguments.accounts)?;
    let (reader, others) = clinic::accounts(&demo)
        .ok_or_else(|| Error::other("the demo printed no accounts that this could use"))?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build()?;
    let (reads, length, pages, token) = runtime.block_on(prepare(arguments, &reader))?;
    let searches = runtime.block_on(searches(arguments, &token))?;
    let threads = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let plan = Plan {
        arguments,
        pace: Pace {
            threads,
            warm_up: Duration::from_secs(1),
            counted: Duration::from_secs(arguments.seconds),
        },
        yardstick: Yardstick {
            pgbench: arguments.pgbench.clone(),
            database: arguments.pgbench_database.clone(),
        },
        reads,
        sign_ins: others.iter().map(|one| one.sign_in(arguments.service)).collect(),
    };
    let rounds = (0..arguments.rounds).map(|number| plan.round(number)).collect::<Result<Vec<_>>>()?;
    let (figures, rates) = figures(&rounds, &pages, &searches, idle);
    say(&report::table(&figures, &rates));
    let how = json!({
        "cores": threads,
        "connections": arguments.connections,
        "seconds": arguments.seconds,
        "recipe_bytes": length,
        "memory_after_load": memory(arguments.process)?,
    });
    let document = report::document(&figures, &rates, how);
    std::fs::write(&arguments.json, format!("{document:#}\n"))?;
    Ok(figures.iter().all(Figure::kept))
}

/// The time of a first and of a deep page, as they follow each other.
type Pages = Vec<(Duration, Duration)>;

/// Signs the readers in, finds their recipe, sees that both services answer it alike, and reads the long list.
async fn prepare(arguments: &Arguments, reader: &Account) -> Result<(Vec<Vec<u8>>, usize, Pages, String)> {
    let service = arguments.service;
    let tokens = clinic::tokens(service, reader, arguments.connections).await?;
    let token = tokens.first().ok_or_else(|| Error::other("there are no connections"))?;
    let (path, length) = clinic::open_recipe(service, token).await?;
    if clinic::bytes(service, &path, token).await? != clinic::bytes(arguments.bare, &path, token).await? {
        return Err(Error::other("the bare service does not answer the same recipe"));
    }
    let pages = clinic::pages(service, token, DEEP, PAGE_READS).await?;
    let reads = tokens.iter().map(|token| http::get(service, &path, token)).collect();
    Ok((reads, length, pages, token.clone()))
}

/// A whole search through the service against the sequential scan alone, by turns.
async fn searches(arguments: &Arguments, token: &str) -> Result<Vec<f64>> {
    let mut ratios = Vec::new();
    for _ in 0..arguments.rounds {
        let ours = report::middle(&clinic::searches(arguments.service, token, SEARCHES).await?);
        let scan = yardstick::script(
            &arguments.pgbench,
            &arguments.search_database,
            "tests/load/sequential_search.sql",
            SCANS,
        )?;
        ratios.push(ours / scan);
    }
    Ok(ratios)
}

fn figures(rounds: &[Round], pages: &Pages, searches: &[f64], idle: f64) -> (Vec<Figure>, Vec<Rate>) {
    let each = |of: fn(&Round) -> f64| rounds.iter().map(of).collect::<Vec<_>>();
    // In ten parts, each the ratio of two middle times: single times say nothing.
    let pages = pages
        .chunks(pages.len().div_ceil(10).max(1))
        .map(|part| {
            let middle = |of: fn(&(Duration, Duration)) -> Duration| {
                report::middle(&part.iter().map(|pair| of(pair).as_secs_f64()).collect::<Vec<_>>())
            };
            middle(|pair| pair.1) / middle(|pair| pair.0)
        })
        .collect();
    let figures = vec![
        Figure {
            name: "recipe reads / single-row reads by pgbench",
            bound: Bound::AtLeast(0.30),
            rounds: each(|round| round.reads / round.yardstick),
        },
        Figure {
            name: "recipe reads / the same by the bare Python service",
            bound: Bound::AtLeast(5.0),
            rounds: each(|round| round.reads / round.bare),
        },
        Figure {
            name: "time of page 1,000 / of page one, of 100,000 formulas",
            bound: Bound::AtMost(1.3),
            rounds: pages,
        },
        Figure {
            name: "time of a search / of a sequential scan, of 100,000 materials",
            bound: Bound::AtMost(0.1),
            rounds: searches.to_vec(),
        },
        Figure { name: "idle memory after start, MB", bound: Bound::AtMost(40.0), rounds: vec![idle] },
        Figure {
            name: "recipe reads beside sign-ins at full tilt / alone",
            bound: Bound::AtLeast(0.5),
            rounds: each(|round| round.beside / round.reads),
        },
    ];
    let rates = vec![
        Rate { name: "single-row reads a second by pgbench", rounds: each(|round| round.yardstick) },
        Rate { name: "recipe reads a second", rounds: each(|round| round.reads) },
        Rate { name: "recipe reads a second by the bare service", rounds: each(|round| round.bare) },
        Rate { name: "recipe reads a second beside sign-ins", rounds: each(|round| round.beside) },
        Rate { name: "sign-ins a second beside them", rounds: each(|round| round.sign_ins) },
    ];
    (figures, rates)
}
