//! `stillroom-client`: approved formulas, their cautions and their recipes on the command line.

use std::process::ExitCode;

use clap::Parser;

mod command;

#[tokio::main(flavor = "current_thread")]
async fn main() -> ExitCode {
    command::run(&command::Options::parse()).await
}
