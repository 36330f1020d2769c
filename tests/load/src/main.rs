//! The benchmark: drives a running service, the yardstick and the bare service by turns, and reports ratios.
//!
//! `tests/load/run` sets everything up and calls this. What is compared is measured side by side in every round, and the
//! order turns around from round to round, so that neither drift nor a busy moment decides.

mod class;
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

use crate::drive::{Pace, drive};
use crate::report::Figure;
use crate::yardstick::Yardstick;

/// The page that is compared with the first.
const DEEP: usize = 1000;

/// How often both pages are read.
const PAGE_READS: usize = 1000;

/// How many families are traced.
const TRACES: usize = 500;

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
    /// Address and port of the server that answers the same bytes without any proof.
    #[arg(long)]
    unproved: SocketAddr,
    /// The file whose bytes that server answers: the recipe is written into it.
    #[arg(long)]
    recipe: PathBuf,
    /// Which revision of the project is measured.
    #[arg(long, default_value = "unknown")]
    revision: String,
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

/// Requests for each connection, sent in turn.
type Requests = Vec<Vec<Vec<u8>>>;

/// What is read, and how it is called in the report.
const READINGS: [&str; 12] = [
    "recipe in its own quantity",
    "recipe for an asked quantity",
    "list of formulas",
    "formula",
    "caution set",
    "batch record",
    "recipe explained, with its date",
    "page of the recipe",
    "batch record explained",
    "page of the bench",
    "recipe, unchanged (304)",
    "list of formulas, unchanged (304)",
];
const OWN: usize = 0;
const ASKED: usize = 1;
/// Each page behind the API's own answer with the same content.
const PAGES: [(usize, usize); 2] = [(6, 7), (8, 9)];
const UNCHANGED: usize = 10;

/// Who writes weighings at once, and who of them are the class whose slowest answers are looked at.
const WRITERS: usize = 50;
const IN_CLASS: usize = 24;

/// What is driven, by whom, and for how long.
struct Plan<'a> {
    arguments: &'a Arguments,
    pace: Pace,
    yardstick: Yardstick,
    /// In the order of [`READINGS`].
    readings: Vec<Requests>,
    /// A weighing for each writer.
    weighings: Requests,
    /// One sign-in for each of the other people: enough at once to keep every core of a small machine hashing.
    sign_ins: Requests,
}

/// One round: rates a second, and CPU.
#[derive(Default)]
struct Round {
    yardstick: f64,
    readings: Vec<f64>,
    bare: f64,
    unproved: f64,
    beside: f64,
    sign_ins: f64,
    updates: f64,
    weighings: f64,
    /// The slowest hundredth of a class's weighings against the middle one.
    slowest: f64,
}

impl Plan<'_> {
    fn drive(&self, address: SocketAddr, requests: &Requests, expected: u16) -> Result<f64> {
        Ok(drive(address, requests, expected, self.pace)?.rate)
    }

    fn own(&self) -> Result<&Requests> {
        self.readings.get(OWN).ok_or_else(|| Error::other("there is nothing to read"))
    }

    /// Reads with sign-ins at full tilt beside them: the rates of both.
    fn beside(&self) -> Result<(f64, f64)> {
        let service = self.arguments.service;
        std::thread::scope(|scope| {
            let sign_ins =
                scope.spawn(|| drive(service, &self.sign_ins, 201, Pace { threads: 1, ..self.pace }));
            let reads = self.drive(service, self.own()?, 200)?;
            let sign_ins = sign_ins.join().unwrap_or_else(|_| Err(Error::other("the sign-ins died")))?;
            Ok((reads, sign_ins.rate))
        })
    }

    fn weigh(&self, round: &mut Round) -> Result<()> {
        let service = self.arguments.service;
        round.updates = self.yardstick.updates(self.weighings.len(), self.pace)?;
        round.weighings = self.drive(service, &self.weighings, 201)?;
        let class: Requests = self.weighings.iter().take(IN_CLASS).cloned().collect();
        let written = drive(service, &class, 201, self.pace)?;
        round.slowest = written.within(990) / written.within(500);
        Ok(())
    }

    fn read(&self, round: &mut Round) -> Result<()> {
        for (kind, requests) in self.readings.iter().enumerate() {
            let expected = if kind >= UNCHANGED { 304 } else { 200 };
            round.readings.push(self.drive(self.arguments.service, requests, expected)?);
        }
        Ok(())
    }

    fn round(&self, number: usize) -> Result<Round> {
        let mut round = Round::default();
        let mut steps = [0, 1, 2, 3, 4, 5];
        if number % 2 == 1 {
            steps.reverse();
        }
        for step in steps {
            match step {
                0 => round.yardstick = self.yardstick.measure(self.arguments.connections, self.pace)?,
                1 => self.read(&mut round)?,
                2 => round.bare = self.drive(self.arguments.bare, self.own()?, 200)?,
                3 => round.unproved = self.drive(self.arguments.unproved, self.own()?, 200)?,
                4 => (round.beside, round.sign_ins) = self.beside()?,
                _ => self.weigh(&mut round)?,
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
    let accounts = clinic::accounts(&demo)
        .ok_or_else(|| Error::other("the demo printed no accounts that this could use"))?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build()?;
    let prepared = runtime.block_on(prepare(arguments, &accounts))?;
    let threads = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let sign_in = |one: &clinic::Account| vec![one.sign_in(arguments.service)];
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
        readings: prepared.readings,
        weighings: prepared.weighings,
        sign_ins: accounts.all.iter().map(sign_in).collect(),
    };
    let rounds = (0..arguments.rounds).map(|number| plan.round(number)).collect::<Result<Vec<_>>>()?;
    let lists = [&prepared.pages, &prepared.queues, &prepared.traces].map(Vec::as_slice);
    let (figures, rates) = report::all(&rounds, lists, &prepared.searches, idle);
    say(&report::table(&figures, &rates));
    let how = json!({
        "cores": threads,
        "processor": processor(),
        "connections": arguments.connections,
        "writers": WRITERS,
        "seconds": arguments.seconds,
        "revision": arguments.revision,
        "recipe_bytes": prepared.length,
        "memory_after_load": memory(arguments.process)?,
    });
    say(&format!("{how}"));
    let document = report::document(&figures, &rates, how);
    std::fs::write(&arguments.json, format!("{document:#}\n"))?;
    Ok(figures.iter().all(Figure::kept))
}

/// What the machine calls its processor.
fn processor() -> String {
    let known = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let named = known.lines().find_map(|line| line.strip_prefix("model name")?.split(':').nth(1));
    named.unwrap_or("unknown").trim().to_owned()
}

/// The time of a first and of a deep page, as they follow each other.
type Pages = Vec<(Duration, Duration)>;

struct Prepared {
    readings: Vec<Requests>,
    weighings: Requests,
    length: usize,
    pages: Pages,
    /// First pages of the queue, among a thousand and among a million.
    queues: Pages,
    /// Traces onward and back, among a million batches.
    traces: Pages,
    searches: Vec<f64>,
}

/// Gathers the class, sees that all services answer its recipe alike, and reads the long list.
async fn prepare(arguments: &Arguments, accounts: &clinic::Accounts) -> Result<Prepared> {
    let service = arguments.service;
    let seats = WRITERS.max(arguments.connections);
    let class = class::gather(service, &accounts.administrator, &accounts.instructor, seats).await?;
    let recipe = class.recipe();
    let bytes = clinic::bytes(service, &recipe, class.token()).await?;
    if bytes != clinic::bytes(arguments.bare, &recipe, class.token()).await? {
        return Err(Error::other("the bare service does not answer the same recipe"));
    }
    std::fs::write(&arguments.recipe, &bytes)?;
    if bytes != clinic::bytes(arguments.unproved, &recipe, class.token()).await? {
        return Err(Error::other("the server without a proof does not answer the same recipe"));
    }
    let pages = clinic::pages(service, class.token(), DEEP, PAGE_READS).await?;
    let queues = clinic::queues(service, &accounts.instructor, PAGE_READS).await?;
    let traces = clinic::traces(service, &accounts.instructor, TRACES).await?;
    let searches = searches(arguments, class.token()).await?;
    let mut readings = vec![
        class.own_quantity(),
        class.asked_quantities(),
        class.list(),
        class.formula(),
        class.cautions(),
        class.records(),
        class.explained(),
        class.recipe_pages(),
        class.explained_records(),
        class.benches(),
        class.unchanged(&recipe).await?,
        class.unchanged(class::LIST).await?,
    ];
    readings.iter_mut().for_each(|requests| requests.truncate(arguments.connections));
    Ok(Prepared {
        readings,
        weighings: class.weighings(WRITERS),
        length: bytes.len(),
        pages,
        queues,
        traces,
        searches,
    })
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
