//! The yardstick: what Postgres itself gives, by `pgbench -S -M prepared` on the same cluster.

use std::io::{Error, Result};
use std::process::Command;

use crate::drive::Pace;

/// Where the yardstick is taken.
pub(crate) struct Yardstick {
    /// The program.
    pub(crate) pgbench: String,
    /// A database that `pgbench -i` has filled.
    pub(crate) database: String,
}

impl Yardstick {
    /// Single-row reads a second by as many clients as there are connections to the service.
    pub(crate) fn measure(&self, clients: usize, pace: Pace) -> Result<f64> {
        self.run("-S", clients, pace)
    }

    /// Small writing transactions a second by as many clients as there are writers: pgbench's simple update, which
    /// changes one row, reads it and inserts another.
    pub(crate) fn updates(&self, clients: usize, pace: Pace) -> Result<f64> {
        self.run("-N", clients, pace)
    }

    fn run(&self, script: &str, clients: usize, pace: Pace) -> Result<f64> {
        let output = Command::new(&self.pgbench)
            .args(["-n", script, "-M", "prepared"])
            .args(["-c", &clients.to_string(), "-j", &pace.threads.to_string()])
            .args(["-T", &pace.counted.as_secs().to_string(), &self.database])
            .output()?;
        let said = String::from_utf8_lossy(&output.stdout);
        rate(&said).ok_or_else(|| {
            Error::other(format!("pgbench said no rate: {said}{}", String::from_utf8_lossy(&output.stderr)))
        })
    }
}

/// How long one client's transaction takes, in seconds, when it runs a script some times over.
pub(crate) fn script(pgbench: &str, database: &str, script: &str, times: usize) -> Result<f64> {
    let output = Command::new(pgbench)
        .args(["-n", "-c", "1", "-f", script, "-t", &times.to_string(), database])
        .output()?;
    let said = String::from_utf8_lossy(&output.stdout);
    rate(&said).map(|rate| 1.0 / rate).ok_or_else(|| {
        Error::other(format!("pgbench said no rate: {said}{}", String::from_utf8_lossy(&output.stderr)))
    })
}

/// The rate in pgbench's report, without the time that connecting took.
fn rate(report: &str) -> Option<f64> {
    report.lines().find_map(|line| line.strip_prefix("tps = ")?.split(' ').next()?.parse().ok())
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_rate_is_read_from_the_report() {
        let report = "number of failed transactions: 0 (0.000%)\nlatency average = 0.563 ms\n\
                      initial connection time = 50.236 ms\ntps = 28432.151307 (without initial connection time)\n";
        assert_eq!(super::rate(report), Some(28_432.151_307));
        assert_eq!(super::rate("FATAL: no"), None);
    }
}
