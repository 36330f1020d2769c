//! A caller who drips a body in chunks holds no connection, whether it is read or refused before.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use stillroom_tests::TeachingClinic;

/// Drips chunks until the service ends the connection. Answers what was answered, and whether it was ended.
async fn drip(base: &str, head: String) -> (String, bool) {
    let address = base.strip_prefix("http://").unwrap().to_owned();
    tokio::task::spawn_blocking(move || {
        let mut stream = TcpStream::connect(address).unwrap();
        stream.write_all(head.as_bytes()).unwrap();
        // Waiting to read, for less than the limit, is what makes the chunks drip.
        stream.set_read_timeout(Some(Duration::from_millis(10))).unwrap();
        let mut answer = Vec::new();
        for _ in 0..900 {
            if stream.read_to_end(&mut answer).is_ok() || stream.write_all(b"1\r\n \r\n").is_err() {
                return (String::from_utf8_lossy(&answer).into_owned(), true);
            }
        }
        (String::from_utf8_lossy(&answer).into_owned(), false)
    })
    .await
    .unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn chunks_that_drip_are_ended_whether_read_or_refused() {
    let room = TeachingClinic::start_with(&[("STILLROOM_BODY_MILLISECONDS", "100")]).await;
    let token = room.ilse.token.as_ref().unwrap();
    for (case, token, status) in [("read", token.as_str(), 408), ("refused", "nobody", 401)] {
        let head = format!(
            "POST /v1/libraries HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {token}\r\nIdempotency-Key: drip\r\n\
             Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
        );
        let (answer, ended) = drip(&room.ilse.base, head).await;
        assert!(answer.starts_with(&format!("HTTP/1.1 {status} ")), "{case}: {answer}");
        assert!(ended, "{case}: the connection is held");
    }
    room.stop().await;
}
