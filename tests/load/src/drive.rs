//! Driving a service: a fixed number of connections, each sending its next request when the last was answered.

use std::io::{Error, Result};
use std::net::SocketAddr;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use tokio::runtime::Builder;
use tokio::task::JoinSet;

use crate::http::{self, Connection};

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

/// What came of driving.
pub(crate) struct Driven {
    /// Answers a second.
    pub(crate) rate: f64,
    /// How long each counted answer took, in microseconds, sorted.
    taken: Vec<u32>,
}

impl Driven {
    /// The time, in microseconds, that so many of a thousand answers did not exceed.
    pub(crate) fn within(&self, per_mille: usize) -> f64 {
        let place = self.taken.len().saturating_sub(1) * per_mille / 1000;
        self.taken.get(place).copied().map_or(0.0, f64::from)
    }
}

/// Every creating request of a run has a key that no other has.
static SENT: AtomicU64 = AtomicU64::new(1);

/// Sends each list of requests over and over, in turn, on a connection of its own. Requests that are under way at the end
/// are waited for, so that none is cut off.
///
/// # Errors
/// When any answer has another status than `expected`: a rate of refusals would say nothing.
pub(crate) fn drive(
    address: SocketAddr,
    requests: &[Vec<Vec<u8>>],
    expected: u16,
    pace: Pace,
) -> Result<Driven> {
    let begin = Instant::now() + pace.warm_up;
    let end = begin + pace.counted;
    let share = requests.len().div_ceil(pace.threads.max(1)).max(1);
    let mut taken = std::thread::scope(|scope| {
        let threads: Vec<_> = requests
            .chunks(share)
            .map(|share| scope.spawn(move || connections(address, share, expected, begin, end)))
            .collect();
        let each = threads
            .into_iter()
            .map(|thread| thread.join().unwrap_or_else(|_| Err(Error::other("a driving thread died"))));
        each.collect::<Result<Vec<_>>>().map(|each| each.concat())
    })?;
    taken.sort_unstable();
    let count = u32::try_from(taken.len()).map_err(Error::other)?;
    Ok(Driven { rate: f64::from(count) / pace.counted.as_secs_f64(), taken })
}

/// One thread's connections; answers how long each answer took that came from `begin` to `end`.
fn connections(
    address: SocketAddr,
    requests: &[Vec<Vec<u8>>],
    expected: u16,
    begin: Instant,
    end: Instant,
) -> Result<Vec<u32>> {
    Builder::new_current_thread().enable_io().build()?.block_on(async {
        let mut connections = JoinSet::new();
        for requests in requests {
            connections.spawn(connection(address, requests.clone(), expected, begin, end));
        }
        Ok(connections.join_all().await.into_iter().collect::<Result<Vec<_>>>()?.concat())
    })
}

async fn connection(
    address: SocketAddr,
    mut requests: Vec<Vec<u8>>,
    expected: u16,
    begin: Instant,
    end: Instant,
) -> Result<Vec<u32>> {
    let mut connection = Connection::open(address).await?;
    let mut taken = Vec::new();
    loop {
        for request in &mut requests {
            http::number(request, SENT.fetch_add(1, Ordering::Relaxed));
            let sent = Instant::now();
            let answer = connection.exchange(request).await?;
            if answer.status != expected {
                let text = String::from_utf8_lossy(answer.body).into_owned();
                return Err(Error::other(format!("{} instead of {expected}: {text}", answer.status)));
            }
            let now = Instant::now();
            if now >= end {
                return Ok(taken);
            }
            if now >= begin {
                taken.push(u32::try_from((now - sent).as_micros()).unwrap_or(u32::MAX));
            }
        }
    }
}
