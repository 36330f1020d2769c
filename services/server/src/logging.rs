//! Logs: one JSON object a line on standard error. They carry ids, never secrets or what people wrote.

use tracing_subscriber::EnvFilter;

/// What is logged unless `RUST_LOG` says otherwise.
const LEVEL: &str = "info";

/// The server library logs every request that cannot be parsed and every connection that breaks off as an error. Both are
/// the caller's doing, and the first is logged by us, with its request ID; so the library speaks only where `RUST_LOG`
/// names it.
const CALLERS_FAULTS: &str = "actix_http";

fn filter(asked: Option<&str>) -> EnvFilter {
    let asked = asked.filter(|asked| !asked.is_empty()).unwrap_or(LEVEL);
    let directives = if asked.contains(CALLERS_FAULTS) {
        asked.to_owned()
    } else {
        format!("{asked},{CALLERS_FAULTS}=off")
    };
    EnvFilter::try_new(directives).unwrap_or_else(|_| EnvFilter::new(format!("{LEVEL},{CALLERS_FAULTS}=off")))
}

/// Begins logging; `RUST_LOG` says what.
pub fn begin() {
    let asked = std::env::var(EnvFilter::DEFAULT_ENV).ok();
    // A second beginning, as in tests, changes nothing.
    let _ = tracing_subscriber::fmt()
        .json()
        .flatten_event(true)
        .with_current_span(true)
        .with_span_list(false)
        .with_env_filter(filter(asked.as_deref()))
        .with_writer(std::io::stderr)
        .try_init();
}

#[cfg(test)]
mod tests {
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    use super::*;

    #[derive(Clone, Default)]
    struct Log(Arc<Mutex<Vec<u8>>>);

    impl Write for Log {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    /// What is written of an error of the server library and of our own lines.
    fn written(asked: Option<&str>) -> String {
        let log = Log::default();
        let writer = log.clone();
        let subscriber = tracing_subscriber::fmt()
            .with_env_filter(filter(asked))
            .with_writer(move || writer.clone())
            .finish();
        tracing::subscriber::with_default(subscriber, || {
            tracing::error!(target: "actix_http::h1::dispatcher", "stream error: request parse error");
            tracing::info!("ours");
            tracing::debug!("details");
        });
        String::from_utf8(log.0.lock().unwrap().clone()).unwrap()
    }

    #[test]
    fn request_that_cannot_be_parsed_is_no_error_in_the_log() {
        for asked in [None, Some(""), Some("info"), Some("debug"), Some("=,nonsense[")] {
            let written = written(asked);
            assert!(!written.contains("stream error") && written.contains("ours"), "{asked:?}: {written}");
            assert_eq!(written.contains("details"), asked == Some("debug"), "{asked:?}");
        }
        assert!(written(Some("info,actix_http=error")).contains("stream error"));
    }
}
