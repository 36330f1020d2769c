//! What a service asks of its database, counted on the way: a relay between the two that reads the heads of the messages
//! (PostgreSQL's documentation, "Message Formats").

use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream, UnixStream};

/// One transaction.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Transaction {
    /// How it began.
    pub begin: String,
    /// How many statements it had after that, the one that ends it among them.
    pub statements: usize,
    /// How many statements were prepared for it.
    pub prepared: usize,
    /// How many rows it was answered.
    pub rows: usize,
}

type Tallies = Arc<Mutex<Vec<Transaction>>>;

/// A relay to a database that counts.
pub struct Tally {
    /// The database, by way of the relay.
    pub url: String,
    /// The transactions of every connection, in the order in which they began.
    tallies: Tallies,
}

impl Tally {
    /// Begins to relay to a database whose URL names the folder of its socket.
    pub async fn of(database: &str) -> Self {
        let (login, place) = database.rsplit_once('@').expect("a URL with a login");
        let (folder, name) = place.split_once('/').expect("a URL with the name of a database");
        let socket: PathBuf = format!("{}/.s.PGSQL.5432", folder.replace("%2F", "/")).into();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let url = format!("{login}@{}/{name}", listener.local_addr().unwrap());
        let tallies = Tallies::default();
        let counted = Arc::clone(&tallies);
        tokio::spawn(async move {
            while let Ok((client, _)) = listener.accept().await {
                let server = UnixStream::connect(&socket).await.expect("the socket of the test's server");
                relay(client, server, &counted);
            }
        });
        Self { url, tallies }
    }

    /// The transactions that were begun while this is waited for.
    pub async fn during<T>(&self, what: impl Future<Output = T>) -> (T, Vec<Transaction>) {
        self.tallies.lock().unwrap().clear();
        let answer = what.await;
        (answer, self.tallies.lock().unwrap().clone())
    }
}

/// Both ways of one connection. Nothing is asked in a transaction before the one before it has ended, so that each row
/// belongs to the last transaction of its connection.
fn relay(client: TcpStream, server: UnixStream, tallies: &Tallies) {
    let current = Arc::new(Mutex::new(0));
    let (from_client, to_client) = client.into_split();
    let (from_server, to_server) = server.into_split();
    let (asked, of_asked) = (Arc::clone(tallies), Arc::clone(&current));
    tokio::spawn(pass(from_client, to_server, true, move |kind, body| {
        let text = String::from_utf8_lossy(body);
        let mut tallies = asked.lock().unwrap();
        if kind == b'Q' && text.starts_with("BEGIN") {
            *of_asked.lock().unwrap() = tallies.len();
            let begin = text.trim_end_matches('\0').to_owned();
            tallies.push(Transaction { begin, ..Transaction::default() });
        } else if let Some(current) = tallies.get_mut(*of_asked.lock().unwrap()) {
            match kind {
                b'Q' | b'E' => current.statements += 1,
                b'P' => current.prepared += 1,
                _ => {}
            }
        }
    }));
    let answered = Arc::clone(tallies);
    tokio::spawn(pass(from_server, to_client, false, move |kind, _| {
        if kind == b'D'
            && let Some(current) = answered.lock().unwrap().get_mut(*current.lock().unwrap())
        {
            current.rows += 1;
        }
    }));
}

/// Passes messages on, whole, until either side ends. The first of a client has no type.
async fn pass(
    mut from: impl AsyncRead + Unpin,
    mut to: impl AsyncWrite + Unpin,
    first_is_bare: bool,
    mut seen: impl FnMut(u8, &[u8]),
) {
    let mut bare = first_is_bare;
    loop {
        let kind = if bare { None } else { from.read_u8().await.ok() };
        if kind.is_none() && !bare {
            return;
        }
        let Ok(length) = from.read_u32().await else { return };
        let mut body = vec![0; usize::try_from(length).unwrap().saturating_sub(4)];
        if from.read_exact(&mut body).await.is_err() {
            return;
        }
        if let Some(kind) = kind {
            seen(kind, &body);
        }
        bare = false;
        let message: Vec<u8> = kind.into_iter().chain(length.to_be_bytes()).chain(body).collect();
        if to.write_all(&message).await.is_err() {
            return;
        }
    }
}
