//! Driving a service: a fixed number of connections, each sending its next request when the last was answered.

use std::io::{Error, Result};
use std::net::SocketAddr;
use std::time::{Duration, Instant};

use tokio::runtime::Builder;
use tokio::task::JoinSet;

use crate::http::Connection;

/// How long, and by how many threads.
#[derive(Clone, Copy)]
pub(crate) struct Pace {
    /// Threads that share the connections.
    pub(crate) threads: usize,
    /// Before counting begins.
    pub(crate) warm_up: Duration,
    /// Counted time.
    pub(crate) counted: Duration,
}

/// Sends each of `requests` over and over on a connection of its own; answers how many a second were answered within
/// the counted time. Requests that are under way at the end are waited for, so that none is cut off.
///
/// # Errors
/// When any answer has another status than `expected`: a rate of refusals would say nothing.
pub(crate) fn drive(address: SocketAddr, requests: &[Vec<u8>], expected: u16, pace: Pace) -> Result<f64> {
    let begin = Instant::now() + pace.warm_up;
    let end = begin + pace.counted;
    let share = requests.len().div_ceil(pace.threads.max(1)).max(1);
    let answered = std::thread::scope(|scope| {
        let threads: Vec<_> = requests
            .chunks(share)
            .map(|share| scope.spawn(move || connections(address, share, expected, begin, end)))
            .collect();
        threads
            .into_iter()
            .map(|thread| thread.join().unwrap_or_else(|_| Err(Error::other("a driving thread died"))))
            .sum::<Result<u32>>()
    })?;
    Ok(f64::from(answered) / pace.counted.as_secs_f64())
}

/// One thread's connections; answers how many requests they had answered from `begin` to `end`.
fn connections(
    address: SocketAddr,
    requests: &[Vec<u8>],
    expected: u16,
    begin: Instant,
    end: Instant,
) -> Result<u32> {
    Builder::new_current_thread().enable_io().build()?.block_on(async {
        let mut connections = JoinSet::new();
        for request in requests {
            let request = request.clone();
            connections.spawn(async move {
                let mut connection = Connection::open(address).await?;
                let mut counted = 0;
                loop {
                    let answer = connection.exchange(&request).await?;
                    if answer.status != expected {
                        let text = String::from_utf8_lossy(answer.body).into_owned();
                        return Err(Error::other(format!("{} instead of {expected}: {text}", answer.status)));
                    }
                    let now = Instant::now();
                    if now >= end {
                        return Ok(counted);
                    }
                    if now >= begin {
                        counted += 1;
                    }
                }
            });
        }
        connections.join_all().await.into_iter().sum()
    })
}
