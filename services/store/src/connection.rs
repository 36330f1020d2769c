//! One connection to the database, with the code of its last error.

use std::time::Duration;

use diesel::ConnectionError;
use diesel_async::AsyncPgConnection;
use socket2::{SockRef, TcpKeepalive};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpStream, UnixStream};
use tokio_postgres::config::{Host, TargetSessionAttrs};
use tokio_postgres::{Client, Config, NoTls, SimpleQueryMessage};

use crate::login::{lacking, missing_defaults};
use crate::sqlstate::{LastError, Listening};

type Fault = Box<dyn std::error::Error + Send + Sync>;

/// A connection, and the code of the last error that the server sent on it.
pub(crate) struct Connection {
    pub(crate) pg: AsyncPgConnection,
    pub(crate) last_error: LastError,
}

/// One connection of the service's login, whose defaults are the role that owns nothing, time limits for every statement
/// and lock, and how values become text. Nothing is set on the connection itself: see [`crate::login`].
///
/// # Errors
/// When the database cannot be reached or its login lacks a default.
pub async fn connect(url: &str) -> Result<AsyncPgConnection, ConnectionError> {
    open(url).await.map(|connection| connection.pg)
}

/// As [`connect`], with the code of its last error beside it.
///
/// # Errors
/// As [`connect`].
pub(crate) async fn open(url: &str) -> Result<Connection, ConnectionError> {
    let last_error = LastError::default();
    let client =
        client(url, &last_error).await.map_err(|fault| ConnectionError::BadConnection(chain(&*fault)))?;
    let mut pg = AsyncPgConnection::try_from(client).await?;
    let missing = missing_defaults(&mut pg).await.map_err(ConnectionError::CouldntSetupConfiguration)?;
    if !missing.is_empty() {
        return Err(ConnectionError::BadConnection(lacking(&missing)));
    }
    Ok(Connection { pg, last_error })
}

/// What is wrong, with its causes.
fn chain(fault: &dyn std::error::Error) -> String {
    let mut text = fault.to_string();
    let mut next = fault.source();
    while let Some(cause) = next {
        text = format!("{text}: {cause}");
        next = cause.source();
    }
    text
}

/// A client of the first host in the URL that can be reached.
async fn client(url: &str, last: &LastError) -> Result<Client, Fault> {
    let config: Config = url.parse()?;
    let mut refused: Fault = "the database's URL names no host".into();
    let ports = config.get_ports();
    for (place, host) in config.get_hosts().iter().enumerate() {
        let port = ports.get(place).or(ports.first()).copied().unwrap_or(5432);
        match client_at(&config, place, host, port, last).await {
            Ok(client) => return Ok(client),
            Err(fault) => refused = fault,
        }
    }
    Err(refused)
}

async fn client_at(
    config: &Config,
    place: usize,
    host: &Host,
    port: u16,
    last: &LastError,
) -> Result<Client, Fault> {
    let wait = config.get_connect_timeout().copied();
    let client = match (config.get_hostaddrs().get(place), host) {
        (None, Host::Unix(folder)) => {
            let socket = within(wait, UnixStream::connect(folder.join(format!(".s.PGSQL.{port}")))).await?;
            over(socket, config, last).await?
        }
        (address, host) => {
            let socket = match (address, host) {
                (Some(address), _) => within(wait, TcpStream::connect((*address, port))).await?,
                (None, Host::Tcp(name)) => within(wait, TcpStream::connect((name.as_str(), port))).await?,
                (None, Host::Unix(_)) => return Err("a socket in a folder has no address".into()),
            };
            socket.set_nodelay(true)?;
            if config.get_keepalives() {
                let idle = TcpKeepalive::new().with_time(config.get_keepalives_idle());
                SockRef::from(&socket).set_tcp_keepalive(&idle)?;
            }
            over(socket, config, last).await?
        }
    };
    wanted(config, &client).await?;
    Ok(client)
}

async fn within<S>(
    wait: Option<Duration>,
    connecting: impl Future<Output = std::io::Result<S>>,
) -> Result<S, Fault> {
    match wait {
        Some(wait) => Ok(tokio::time::timeout(wait, connecting).await??),
        None => Ok(connecting.await?),
    }
}

async fn over<S>(socket: S, config: &Config, last: &LastError) -> Result<Client, Fault>
where
    S: AsyncRead + AsyncWrite + Send + Unpin + 'static,
{
    let (client, connection) = config.connect_raw(Listening::new(socket, last.clone()), NoTls).await?;
    // Ends with its client. Whoever waits for an answer is told when it ends before.
    tokio::spawn(async move {
        if let Err(error) = connection.await {
            tracing::warn!(%error, "a connection to the database was lost");
        }
    });
    Ok(client)
}

/// Refuses a server that is not of the kind that the URL asks for with `target_session_attrs`.
async fn wanted(config: &Config, client: &Client) -> Result<(), Fault> {
    let read_only = match config.get_target_session_attrs() {
        TargetSessionAttrs::ReadWrite => "off",
        TargetSessionAttrs::ReadOnly => "on",
        _ => return Ok(()),
    };
    let answer = client.simple_query("SHOW transaction_read_only").await?;
    let is = answer.iter().find_map(|message| match message {
        SimpleQueryMessage::Row(row) => row.get(0),
        _ => None,
    });
    if is == Some(read_only) { Ok(()) } else { Err("the server is not of the kind asked for".into()) }
}
