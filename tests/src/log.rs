//! What the service logs while the tests run. What it calls an error is said at once on standard error, so that a failed test
//! whose answer was "an unexpected error" has its cause beside it, by the request's id. Where a test asks for it, every level
//! of our own crates is kept from then on.
//!
//! One process runs all tests, so the log holds what others caused too; what is sought in it is planted by one test.

use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, Once};

use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{EnvFilter, Layer};

static LOG: Mutex<Vec<u8>> = Mutex::new(Vec::new());
static KEPT: AtomicBool = AtomicBool::new(false);
static BEGUN: Once = Once::new();

struct Into;

impl Write for Into {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        LOG.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Says errors from now on.
pub(crate) fn begin() {
    BEGUN.call_once(|| {
        let ours = EnvFilter::new("clinic=trace,api=trace,server=trace,galenics=trace,materia=trace");
        let asked = tracing_subscriber::filter::dynamic_filter_fn(|_, _| KEPT.load(Ordering::Relaxed));
        let kept = tracing_subscriber::fmt::layer().json().with_writer(|| Into).with_filter(ours);
        let said = tracing_subscriber::fmt::layer()
            .with_ansi(false)
            .with_writer(std::io::stderr)
            .with_filter(EnvFilter::new("clinic=error,api=error,server=error"));
        tracing_subscriber::registry().with(kept.with_filter(asked)).with(said).init();
    });
}

/// Keeps every level of the log from now on.
pub fn keep() {
    begin();
    KEPT.store(true, Ordering::Relaxed);
}

/// What was kept until now.
///
/// # Panics
/// When a test failed while it wrote.
#[must_use]
pub fn so_far() -> String {
    String::from_utf8(LOG.lock().unwrap().clone()).unwrap()
}
