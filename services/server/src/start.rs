//! Starting the service: the same way in production and in tests.

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use actix_web::dev::ServerHandle;
use actix_web::middleware::from_fn;
use actix_web::web::Data;
use actix_web::{App, HttpServer};
use api::{ApiSettings, ApiState, SigningKeys};
use tokio::sync::oneshot;

use clinic::retention::{self, Retention};
use clinic::{Clinic, Clock, Rng, security};

use crate::error::StartError;
use crate::migrate;
use crate::settings::Settings;

/// A running service.
pub struct Running {
    /// The address it listens on.
    pub address: SocketAddr,
    /// The clinic it serves.
    pub clinic: Arc<Clinic>,
    handle: ServerHandle,
    serving: tokio::task::JoinHandle<std::io::Result<()>>,
}

impl Running {
    /// Waits until the service has stopped, by a signal or by [`stop`](Self::stop).
    ///
    /// # Errors
    /// When the server failed.
    pub async fn wait(self) -> Result<(), StartError> {
        self.serving.await.map_err(|error| StartError::Server(std::io::Error::other(error)))??;
        Ok(())
    }

    /// Stops gracefully: what is being answered is answered, then the workers end.
    ///
    /// # Errors
    /// When the server failed.
    pub async fn stop(self) -> Result<(), StartError> {
        self.handle.stop(true).await;
        self.wait().await
    }
}

/// How long requests that are being answered have when the service stops.
const GRACE_SECONDS: u64 = 15;

/// Starts the service on a migrated database and answers once it listens.
///
/// # Errors
/// When the settings cannot be used, the database lacks a migration, or the port cannot be had.
pub async fn start(
    settings: &Settings,
    keys: SigningKeys,
    clock: Clock,
    rng: Rng,
) -> Result<Running, StartError> {
    migrate::check(&settings.database_url).await?;
    let clinic = Clinic::open(&settings.pool(), clock, rng)?
        .with_digest_key(keys.digest_key())
        .with_calculations_within(settings.calculation);
    let clinic = Arc::new(clinic);
    let state = Data::new(ApiState::new(
        Arc::clone(&clinic),
        ApiSettings {
            keys,
            issuer: settings.public_url.clone(),
            trusted_proxies: settings.trusted_proxies.clone(),
            requests_per_second: settings.requests_per_second,
        },
    ));
    let cannot_listen =
        |error: std::io::Error| StartError::Listen { address: settings.listen, error: error.to_string() };
    let listener = TcpListener::bind(settings.listen).map_err(cannot_listen)?;
    let address = listener.local_addr().map_err(cannot_listen)?;
    let for_workers = (state.clone(), Arc::clone(&clinic));
    let server = HttpServer::new(move || {
        let (state, clinic) = for_workers.clone();
        App::new()
            .app_data(Data::new(clinic.reader()))
            .wrap(from_fn(api::boundary))
            .configure(move |config| api::configure(config, state))
    })
    .workers(settings.workers)
    .shutdown_timeout(GRACE_SECONDS)
    .client_request_timeout(Duration::from_secs(10))
    .listen(listener)?
    .run();
    let handle = server.handle();
    let serving = tokio::spawn(server);
    let retention = settings.retention();
    let housekeeping = Apart::begin(move || async move { keep_house(state, retention).await }, || async {});
    let (noting, last) = (Arc::clone(&clinic), Arc::clone(&clinic));
    let noting = Apart::begin(
        move || async move { write_down(&noting).await },
        move || async move { flush(&last).await },
    );
    let serving = tokio::spawn(async move {
        let ended = serving.await.map_err(std::io::Error::other);
        housekeeping.end().await;
        noting.end().await;
        ended?
    });
    tracing::info!(%address, "listening");
    Ok(Running { address, clinic, handle, serving })
}

/// Work that goes on beside the requests, on a thread of its own: what may be tried again cannot be shown to the compiler
/// to move between threads.
struct Apart {
    stop: oneshot::Sender<()>,
    done: tokio::task::JoinHandle<()>,
}

impl Apart {
    /// Does `work` until it is told to end, and then what is left `at_the_end`.
    fn begin<W: Future<Output = ()>, E: Future<Output = ()>>(
        work: impl FnOnce() -> W + Send + 'static,
        at_the_end: impl FnOnce() -> E + Send + 'static,
    ) -> Self {
        let (stop, stopped) = oneshot::channel();
        let runtime = tokio::runtime::Handle::current();
        let done = tokio::task::spawn_blocking(move || {
            runtime.block_on(async {
                tokio::select! {
                    () = work() => {}
                    _ = stopped => {}
                }
                at_the_end().await;
            });
        });
        Self { stop, done }
    }

    async fn end(self) {
        drop(self.stop);
        if let Err(error) = self.done.await {
            tracing::error!(%error, "work beside the requests ended badly");
        }
    }
}

/// Once a minute: forget callers whose limits are full again, remove rows that have been kept long enough, and give
/// committed events their place in the public order. Whoever reads that order numbers what is new first, so nobody waits
/// for this.
async fn keep_house(state: Data<ApiState>, retention: Retention) {
    let mut ticks = tokio::time::interval(Duration::from_secs(60));
    loop {
        ticks.tick().await;
        state.tidy();
        if let Err(error) = retention::purge(&state.clinic, &retention).await {
            tracing::warn!(%error, "rows past their time could not be removed");
        }
        if let Err(error) = clinic::journal::number_events(&state.clinic).await {
            tracing::warn!(%error, "events could not be numbered");
        }
    }
}

/// How often security events are written down: a process that is killed loses at most so much.
const WRITE_DOWN_EVERY: Duration = Duration::from_secs(15);

async fn write_down(clinic: &Clinic) {
    let mut ticks = tokio::time::interval(WRITE_DOWN_EVERY);
    loop {
        ticks.tick().await;
        flush(clinic).await;
    }
}

async fn flush(clinic: &Clinic) {
    if let Err(error) = security::flush(clinic).await {
        tracing::warn!(%error, "security events could not be written");
    }
}
