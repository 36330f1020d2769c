//! Starting the service: the same way in production and in tests.

use std::future::ready;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use actix_http::HttpService;
use actix_http::error::DispatchError;
use actix_server::Server;
use actix_service::{IntoServiceFactory, ServiceFactory, ServiceFactoryExt, fn_service, map_config};
use actix_web::body::MessageBody;
use actix_web::dev::{AppConfig, ServerHandle};
use actix_web::middleware::from_fn;
use actix_web::rt::net::TcpStream;
use actix_web::web::{Data, ServiceConfig};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer, Route};
use api::{ApiSettings, ApiState, SigningKeys};
use pages::{Pages, PagesSettings};
use routing::Handlers;
use tokio::sync::oneshot;

use clinic::retention::{self, Retention};
use clinic::{Clinic, Clock, Rng, photographs, security};

use crate::connection::Connection;
use crate::error::StartError;
use crate::migrate;
use crate::settings::Settings;
use crate::telemetry::Export;

/// A running service.
pub struct Running {
    /// The address it listens on.
    pub address: SocketAddr,
    /// The address that it serves `/metrics` on, if it does.
    pub metrics: Option<SocketAddr>,
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

/// How long the headers of the first request of a connection may take to arrive. The page of the problem states it.
const HEAD_TIME: Duration = Duration::from_secs(10);

/// How long a connection stays open without a request. Longer than proxies (usually 60 s) and HTTP clients (usually 90 s)
/// keep one: who sends on a connection in the moment in which we close it gets no answer, and cannot know whether a
/// write was done.
const KEEP_ALIVE: Duration = Duration::from_secs(120);

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
    let digest_key = keys.digest_key();
    let clinic = Clinic::open(&settings.pool(), clock, rng)?
        .with_digest_key(digest_key)
        .with_photographs(settings.home_of_photographs()?)
        .with_public_address(settings.stated_url.as_deref())
        .with_calculations_within(settings.calculation);
    let clinic = Arc::new(clinic);
    let export = settings.otlp_endpoint.as_ref().map(Export::begin).transpose()?;
    let state = Data::new(ApiState::new(
        Arc::clone(&clinic),
        ApiSettings {
            keys,
            issuer: settings.public_url.clone(),
            trusted_proxies: settings.trusted_proxies.clone(),
            requests_per_second: settings.requests_per_second,
            body_time: settings.body_time,
            metrics: settings.metrics_listen.is_some(),
            spans: export.as_ref().map(Export::spans),
        },
    ));
    let (listener, address) = listen(settings.listen)?;
    let metrics = settings.metrics_listen.map(listen).transpose()?;
    let metrics_address = metrics.as_ref().map(|(_, address)| *address);
    let pages = Data::new(Pages::new(
        Arc::clone(&clinic),
        PagesSettings {
            secret: digest_key,
            request_id: api::current_request_id,
            address: api::address,
            document: || serde_json::to_value(api::document()).unwrap_or_default(),
            admit: api::admit,
            admit_stranger: api::admit_stranger,
            admit_report: api::admit_report,
            credential: api::sign_credential,
        },
    ));
    let for_workers = (state.clone(), pages, Arc::clone(&clinic));
    let server = serve(
        listener,
        settings.workers,
        move || {
            let (state, pages, clinic) = for_workers.clone();
            App::new().app_data(Data::new(clinic.reader())).wrap(from_fn(api::boundary)).configure(
                move |config| {
                    api::configure(config, state);
                    pages::configure(config, pages);
                    serve_handlers(config);
                },
            )
        },
        state.clone(),
    )?;
    let handle = server.handle();
    let serving = tokio::spawn(server);
    let metering = metrics.map(|(listener, _)| serve_metrics(listener, state.clone())).transpose()?;
    let retention = settings.retention();
    let housekeeping = Apart::begin(move || async move { keep_house(state, retention).await }, || async {});
    let (noting, last) = (Arc::clone(&clinic), Arc::clone(&clinic));
    let noting = Apart::begin(
        move || async move { write_down(&noting).await },
        move || async move { flush(&last).await },
    );
    let serving = tokio::spawn(async move {
        let ended = serving.await.map_err(std::io::Error::other);
        if let Some(metering) = metering {
            metering.stop(false).await;
        }
        housekeeping.end().await;
        noting.end().await;
        if let Some(export) = export {
            export.end().await;
        }
        ended?
    });
    tracing::info!(%address, metrics = metrics_address.map(tracing::field::display), "listening");
    Ok(Running { address, metrics: metrics_address, clinic, handle, serving })
}

/// Mounts every operation and every page.
#[expect(
    clippy::expect_used,
    reason = "two handlers at one address are a mistake in the program; no start survives it"
)]
fn serve_handlers(config: &mut ServiceConfig) {
    let around = |page: Route| page.wrap(from_fn(pages::around));
    let (mut handlers, mut pages) = (Handlers::default(), Handlers::default());
    api::mount(&mut handlers);
    pages::mount(&mut pages);
    handlers.take(pages, around);
    handlers
        .serve(config, around(Route::new().to(unknown)))
        .expect("each address has one handler for a method");
}

/// An unknown address: a page for a browser, a problem in JSON for anything else.
async fn unknown(request: HttpRequest) -> Result<HttpResponse, actix_web::Error> {
    if pages::wants_page(&request) {
        return pages::no_page(request).await;
    }
    api::no_route(request).await.map_err(Into::into)
}

/// Serves an application as `HttpServer` does, on connections of our own.
fn serve<F, I, S, B>(
    listener: TcpListener,
    workers: usize,
    application: F,
    state: Data<ApiState>,
) -> std::io::Result<Server>
where
    F: Fn() -> I + Send + Clone + 'static,
    I: IntoServiceFactory<S, actix_http::Request>,
    S: ServiceFactory<actix_http::Request, Config = AppConfig, Error = actix_web::Error> + 'static,
    S::InitError: std::fmt::Debug,
    S::Response: Into<actix_http::Response<B>>,
    B: MessageBody + 'static,
    <S::Service as actix_service::Service<actix_http::Request>>::Future: 'static,
{
    let builder = Server::build().workers(workers).shutdown_timeout(GRACE_SECONDS);
    let ending = builder.graceful_shutdown_signal();
    let server = builder.listen("stillroom", listener, move || {
        let (state, ending) = (state.clone(), ending.clone());
        let application = application()
            .into_factory()
            .map_err(|error: actix_web::Error| actix_http::Response::from(error.error_response()));
        let http = HttpService::build()
            .graceful_shutdown_signal(move || {
                let ending = ending.clone();
                async move { ending.notified().await }
            })
            .keep_alive(KEEP_ALIVE)
            .client_request_timeout(HEAD_TIME)
            .client_disconnect_timeout(Duration::from_secs(1))
            .on_connect_ext(|connection: &Connection, data| {
                data.insert(connection.ending().clone());
            })
            .h1(map_config(application, |_| AppConfig::default()));
        fn_service(move |stream: TcpStream| {
            let peer = stream.peer_addr().ok();
            ready(Ok::<_, DispatchError>((Connection::new(stream, state.clone()), peer)))
        })
        .and_then(http)
    })?;
    Ok(server.run())
}

fn listen(address: SocketAddr) -> Result<(TcpListener, SocketAddr), StartError> {
    let cannot = |error: std::io::Error| StartError::Listen { address, error: error.to_string() };
    let listener = TcpListener::bind(address).map_err(cannot)?;
    let address = listener.local_addr().map_err(cannot)?;
    Ok((listener, address))
}

/// Serves `/metrics` on a listener and a worker of its own, so that monitoring works while the others are busy. Stops
/// with the service, which alone listens to signals.
fn serve_metrics(listener: TcpListener, state: Data<ApiState>) -> Result<ServerHandle, StartError> {
    let server = HttpServer::new(move || {
        let state = state.clone();
        App::new().configure(move |config| api::configure_metrics(config, state))
    })
    .workers(1)
    .disable_signals()
    .client_request_timeout(Duration::from_secs(10))
    .listen(listener)?
    .run();
    let handle = server.handle();
    tokio::spawn(server);
    Ok(handle)
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
    for minute in 0_u64.. {
        ticks.tick().await;
        state.tidy();
        if minute % SWEEP_EVERY == 0
            && let Err(error) = photographs::sweep(&state.clinic).await
        {
            tracing::warn!(%error, "files of photographs that nothing stands for could not be removed");
        }
        if let Err(error) = retention::purge(&state.clinic, &retention).await {
            tracing::warn!(%error, "rows past their time could not be removed");
        }
        if let Err(error) = clinic::journal::number_events(&state.clinic).await {
            tracing::warn!(%error, "events could not be numbered");
        }
    }
}

/// How often files of photographs that nothing stands for are looked for, in minutes.
const SWEEP_EVERY: u64 = 60;

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
