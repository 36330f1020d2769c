//! What the client does not do: show its key, follow a redirect, read without end, ask without end.

use std::time::Duration;

use client::{Client, Error, Settings};
use wire::safety::Acknowledge;

use crate::answers::{DIGEST, REVISION, acknowledgement, busy, caution_set, created, ok};
use crate::server::{Answer, Server};

const KEY: &str = "sk_5Jb2forTestsOnly";
const NOW: [(&str, &str); 1] = [("retry-after", "0")];

fn client(server: &Server) -> Client {
    Client::new(&server.url, KEY).unwrap()
}

fn read() -> Acknowledge {
    Acknowledge {
        caution_set: DIGEST.into(),
        contraindications: Vec::new(),
        meant_for: Vec::new(),
        for_api_client: None,
    }
}

#[tokio::test]
async fn a_repeated_acknowledgement_carries_the_same_idempotency_key_and_body() {
    let server = Server::answering(vec![
        busy("429 Too Many Requests", &NOW),
        busy("503 Service Unavailable", &NOW),
        created(&acknowledgement()),
    ]);
    client(&server).acknowledge(REVISION.parse().unwrap(), &read()).await.unwrap();
    let received = server.received();
    let keys: Vec<&str> = received.iter().map(|request| request.header("idempotency-key").unwrap()).collect();
    assert_eq!(keys.len(), 3);
    assert!(!keys.iter().any(|key| key.is_empty() || *key != keys[0]), "{keys:?}");
    assert!(received.iter().all(|request| request.body == received[0].body));
}

#[tokio::test]
async fn a_busy_service_is_asked_a_bounded_number_of_times() {
    let server = Server::answering(vec![busy("503 Service Unavailable", &NOW)]);
    let error = client(&server).cautions(REVISION.parse().unwrap()).await.unwrap_err();
    assert_eq!(error.problem().unwrap().status, 503);
    assert_eq!(server.received().len(), 1 + 3);
}

#[tokio::test]
async fn without_an_invitation_or_past_the_longest_wait_nothing_is_repeated() {
    let settings = Settings { longest_wait: Duration::from_secs(30), ..Settings::default() };
    for (status, headers) in [
        ("429 Too Many Requests", vec![]),
        ("429 Too Many Requests", vec![("retry-after", "31")]),
        ("500 Internal Server Error", NOW.to_vec()),
        ("409 Conflict", NOW.to_vec()),
    ] {
        let server = Server::answering(vec![busy(status, &headers)]);
        let client = Client::with(&server.url, KEY, settings.clone()).unwrap();
        let error = client.acknowledge(REVISION.parse().unwrap(), &read()).await.unwrap_err();
        assert!(error.problem().is_some(), "{error:?}");
        assert_eq!(server.received().len(), 1, "{status} {headers:?}");
    }
}

#[tokio::test]
async fn a_redirect_is_not_followed() {
    for status in ["301 Moved Permanently", "302 Found", "307 Temporary Redirect", "308 Permanent Redirect"] {
        let elsewhere = Server::answering(vec![ok(&caution_set())]);
        let server = Server::answering(vec![Answer::new(status, &[("location", &elsewhere.url)], "")]);
        let error = client(&server).cautions(REVISION.parse().unwrap()).await.unwrap_err();
        assert!(matches!(error, Error::Unexpected { status: 301..=308, .. }), "{error:?}");
        assert_eq!((server.received().len(), elsewhere.received().len()), (1, 0));
    }
}

#[tokio::test]
async fn an_answer_is_read_up_to_its_limit_and_no_further() {
    let body = caution_set().to_string();
    let json = [("content-type", "application/json")];
    for answer in [Answer::new("200 OK", &json, &body), Answer::without_length("200 OK", &json, &body)] {
        for (limit, fits) in [(body.len(), true), (body.len() - 1, false), (0, false)] {
            let server = Server::answering(vec![answer.clone()]);
            let settings = Settings { largest_answer: limit, ..Settings::default() };
            let client = Client::with(&server.url, KEY, settings).unwrap();
            match client.cautions(REVISION.parse().unwrap()).await {
                Ok(_) => assert!(fits, "{limit}"),
                Err(Error::TooLarge { limit: said }) => assert!(!fits && said == limit),
                Err(other) => panic!("{other:?}"),
            }
        }
    }
    assert_eq!(Settings::default().largest_answer, 8 * 1024 * 1024);
}

#[tokio::test]
async fn an_answer_of_any_status_is_limited() {
    let server = Server::answering(vec![Answer::without_length("500 Oh", &[], &"x".repeat(100_000))]);
    let client =
        Client::with(&server.url, KEY, Settings { largest_answer: 1000, ..Settings::default() }).unwrap();
    assert!(matches!(client.me().await, Err(Error::TooLarge { limit: 1000 })));
}

#[tokio::test]
async fn an_answer_cut_short_is_no_answer() {
    let cut = Answer::without_length("200 OK", &[("content-length", "5000")], "{\"revision\":");
    let server = Server::answering(vec![cut]);
    let error = client(&server).cautions(REVISION.parse().unwrap()).await.unwrap_err();
    assert!(matches!(error, Error::Transport(_)), "{error:?}");
    assert_eq!(server.received().len(), 1);
}

#[tokio::test]
async fn a_silent_service_is_given_up() {
    // Connections are taken up by the system, and nobody ever answers them.
    let silent = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}", silent.local_addr().unwrap());
    let settings = Settings { timeout: Duration::from_millis(20), ..Settings::default() };
    let error = Client::with(&url, KEY, settings).unwrap().me().await.unwrap_err();
    assert!(matches!(&error, Error::Transport(cause) if cause.is_timeout()), "{error:?}");
}

#[tokio::test]
async fn nobody_there_is_said_without_the_address() {
    // The port is held at one loopback address, so nobody can be listening to it at another.
    let held = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://127.0.0.2:{}", held.local_addr().unwrap().port());
    let error = Client::new(&url, KEY).unwrap().me().await.unwrap_err();
    assert!(matches!(error, Error::Transport(_)));
    assert!(!format!("{error} {error:?}").contains("v1/me"), "{error:?}");
}

/// The TLS provider is there (making the client would fail without one), and plain text is not taken for TLS.
#[tokio::test]
async fn https_is_not_spoken_with_a_plain_server() {
    let server = Server::answering(vec![ok(&caution_set())]);
    let client = Client::new(&server.url.replace("http://", "https://"), KEY).unwrap();
    let error = client.cautions(REVISION.parse().unwrap()).await.unwrap_err();
    assert!(matches!(error, Error::Transport(_)), "{error:?}");
    assert_eq!(server.received().len(), 0);
}

#[tokio::test]
async fn the_key_is_not_shown() {
    let server = Server::answering(vec![busy("401 Unauthorized", &[])]);
    let client = client(&server);
    let error = client.me().await.unwrap_err();
    let shown = format!("{client:?} {client:#?} {error} {error:?}");
    assert!(shown.contains("127.0.0.1"), "{shown}");
    assert!(!shown.contains("5Jb2"), "{shown}");
    let refused = Client::new("http://clinic.example", KEY).unwrap_err();
    assert!(!format!("{refused} {refused:?}").contains("5Jb2"));
}
