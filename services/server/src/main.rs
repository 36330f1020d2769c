//! `stillroom`: the service of a herbal teaching clinic.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use clinic::{Clinic, journal, people, photographs};
use clinic::{Clock, Rng};
use server::{Settings, StartError, demo, keys, logging, migrate, service_login, start};

// Less memory and more speed under load than the system's allocator.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// The service of a herbal teaching clinic.
#[derive(Parser)]
#[command(name = "stillroom", version, about)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Serve until a signal.
    Serve,
    /// Bring the database up to date, under its owner (MIGRATION_DATABASE_URL), and load the reference data.
    Migrate,
    /// Make the service's own login in the database that DATABASE_URL names under its owner, keep its password in a file,
    /// and print the address of the database under it. Run again, it prints the same.
    ServiceLogin {
        /// The file, which only its owner may read.
        file: PathBuf,
    },
    /// Load the demo clinic into an empty database, on a loopback address only, and print its accounts.
    Demo {
        /// Give the demo accounts new random passwords and print them.
        #[arg(long)]
        new_passwords: bool,
    },
    /// Make an administrator and print a one-time code to set the password with.
    Administrator {
        /// The name to sign in with.
        sign_in_name: String,
        /// The name shown to others.
        #[arg(default_value = "Administrator")]
        name: String,
    },
    /// Print a one-time code for an account whose password was lost, for whoever runs this machine.
    Recover {
        /// The name to sign in with.
        sign_in_name: String,
    },
    /// The journal of events.
    Journal {
        #[command(subcommand)]
        command: JournalCommand,
    },
    /// The files of photographs.
    Photographs {
        #[command(subcommand)]
        command: PhotographsCommand,
    },
    /// The keys that access tokens are signed with.
    SigningKey {
        #[command(subcommand)]
        command: KeyCommand,
    },
    /// Print the OpenAPI document.
    Openapi,
    /// Print the method and address of every page.
    Pages,
}

#[derive(Subcommand)]
enum JournalCommand {
    /// Recompute every hash and every digest, and say where the journal or a row does not hold.
    Verify {
        /// Verify a statement that was kept outside as well.
        #[arg(long)]
        statement: Option<PathBuf>,
    },
    /// Print a signed statement of how the journal stands, to be kept outside.
    State,
}

#[derive(Subcommand)]
enum PhotographsCommand {
    /// Compare every file with what the database says of it, and name what is missing or was changed.
    Verify,
}

#[derive(Subcommand)]
enum KeyCommand {
    /// Make a key in a new file.
    New {
        /// The file.
        path: PathBuf,
    },
}

#[tokio::main]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    logging::begin();
    match run(arguments.command).await {
        Ok(code) => code,
        Err(error) => {
            complain(&error.to_string());
            ExitCode::FAILURE
        }
    }
}

#[expect(clippy::print_stdout, reason = "the commands speak on standard output")]
fn say(text: &str) {
    println!("{text}");
}

#[expect(clippy::print_stderr, reason = "what went wrong is for the person at the terminal")]
fn complain(text: &str) {
    eprintln!("stillroom: {text}");
}

async fn run(command: Command) -> Result<ExitCode, StartError> {
    match command {
        Command::Openapi => {
            say(&api::document().to_pretty_json().map_err(std::io::Error::other)?);
        }
        Command::Pages => {
            let all = pages::listed();
            let lines: Vec<String> =
                all.iter().map(|page| format!("{} {}", page.method, page.pattern)).collect();
            say(&lines.join("\n"));
        }
        Command::SigningKey { command: KeyCommand::New { path } } => {
            keys::make(&path)
                .map_err(|error| std::io::Error::other(format!("{}: {error}", path.display())))?;
        }
        Command::Serve => {
            let settings = Settings::load()?;
            let keys = keys::read(settings.signing_keys.iter().map(PathBuf::as_path))?;
            let running = start(&settings, keys, Clock::System, Rng::system()).await?;
            // Everything else works without them, so this is said and stops nothing.
            if let Err(error) = photographs::ready(&running.clinic).await {
                tracing::warn!(cause = ?error, "photographs cannot be kept: see STILLROOM_PHOTOGRAPHS");
            }
            running.wait().await?;
        }
        Command::Migrate => {
            let settings = Settings::load()?;
            let done = migrate::migrate(&settings.pool(), settings.owner_url()?).await?;
            say(&format!(
                "{} migrations run, {} older rows vouched for, {} older results kept, {} materials loaded",
                done.ran.len(),
                done.vouched_for,
                done.results.stored,
                done.materials
            ));
            if !done.results.unreadable.is_empty() {
                let ids: Vec<String> = done.results.unreadable.iter().map(ToString::to_string).collect();
                say(&format!(
                    "These revisions cannot be read because they were changed in the database: {}. Run \
                     `stillroom journal verify`, and restore them from a backup.",
                    ids.join(", ")
                ));
            }
        }
        Command::ServiceLogin { file } => {
            let settings = Settings::load()?;
            say(&service_login::make(&settings.database_url, &file, service_login::LOGIN).await?);
        }
        Command::Demo { new_passwords } => {
            let settings = Settings::load()?;
            let clinic = open(&settings)?.with_photographs(settings.home_of_photographs()?);
            say(&demo::run(&settings, &clinic, new_passwords).await?);
        }
        Command::Administrator { sign_in_name, name } => {
            let settings = Settings::load()?;
            let made = people::administrator_create(&open(&settings)?, &sign_in_name, &name).await?;
            say(&code_told(&settings, &made));
        }
        Command::Recover { sign_in_name } => {
            let settings = Settings::load()?;
            let made = people::recover(&open(&settings)?, &sign_in_name).await?;
            say(&code_told(&settings, &made));
        }
        Command::Journal { command } => return run_journal(command).await,
        Command::Photographs { command: PhotographsCommand::Verify } => {
            let settings = Settings::load()?;
            let clinic = open(&settings)?.with_photographs(settings.home_of_photographs()?);
            let verdict = photographs::verify(&clinic).await?;
            say(&verdict.to_string());
            return Ok(if verdict.holds() { ExitCode::SUCCESS } else { ExitCode::FAILURE });
        }
    }
    Ok(ExitCode::SUCCESS)
}

async fn run_journal(command: JournalCommand) -> Result<ExitCode, StartError> {
    let settings = Settings::load()?;
    let clinic = open(&settings)?;
    let holds = match command {
        JournalCommand::Verify { statement } => {
            let verdict = journal::verify(&clinic).await?;
            say(&verdict.to_string());
            let kept_outside = match statement {
                None => true,
                Some(path) => {
                    let statement = keys::read_statement(&path)?;
                    let verdict = journal::verify_statement(&clinic, &statement).await?;
                    say(&verdict.to_string());
                    if !keys::is_configured(&settings, &statement)? {
                        say(
                            "None of the configured signing keys signed the statement. Compare its key with \
                             the one you wrote down when you stored the statement.",
                        );
                    }
                    verdict.holds()
                }
            };
            verdict.holds() && kept_outside
        }
        JournalCommand::State => {
            let key = keys::newest(&settings)?;
            let statement = journal::state(&clinic, &key).await?;
            say(&serde_json::to_string_pretty(&statement).map_err(std::io::Error::other)?);
            true
        }
    };
    Ok(if holds { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

fn code_told(settings: &Settings, made: &wire::people::OneTimeCode) -> String {
    format!(
        "One-time code for {}: {}\nSet a password with it until {}:\n  curl -X POST {}/v1/one-time-codes/use \\\n    \
         -H 'Content-Type: application/json' -d '{{\"code\": \"...\", \"password\": \"...\"}}'",
        made.person.sign_in_name,
        made.code.as_deref().unwrap_or_default(),
        made.valid_until.format("%Y-%m-%d %H:%M UTC"),
        settings.public_url,
    )
}

fn open(settings: &Settings) -> Result<Clinic, StartError> {
    Ok(Clinic::open(&settings.pool(), Clock::System, Rng::system())?)
}
