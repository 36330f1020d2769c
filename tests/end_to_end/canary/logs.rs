//! What the service logs while the tests run, every level of its own crates.
//!
//! One process runs all tests, so the log holds what others caused too; what is sought in it is planted by one test.

use std::io::Write;
use std::sync::{Mutex, Once};

use tracing_subscriber::EnvFilter;

static LOG: Mutex<Vec<u8>> = Mutex::new(Vec::new());
static LISTENING: Once = Once::new();

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

/// Begins to keep the log.
pub(crate) fn listen() {
    LISTENING.call_once(|| {
        tracing_subscriber::fmt()
            .json()
            .with_env_filter(EnvFilter::new(
                "clinic=trace,api=trace,server=trace,galenics=trace,materia=trace",
            ))
            .with_writer(|| Into)
            .try_init()
            .unwrap();
    });
}

/// The log until now.
pub(crate) fn so_far() -> String {
    String::from_utf8(LOG.lock().unwrap().clone()).unwrap()
}
