//! Logs: one JSON object a line on standard error. They carry ids, never secrets or what people wrote.

use tracing_subscriber::EnvFilter;

/// Begins logging; `RUST_LOG` says what.
pub fn begin() {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info"));
    // A second beginning, as in tests, changes nothing.
    let _ = tracing_subscriber::fmt()
        .json()
        .flatten_event(true)
        .with_current_span(true)
        .with_span_list(false)
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .try_init();
}
