//! Photographs in a store that speaks the S3 protocol: a stand-in that knows the few calls that are made.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use actix_web::dev::ServerHandle;
use actix_web::http::Method;
use actix_web::web::{Bytes, Data, PayloadConfig, to};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer};
use clinic::photographs;

use super::Bench;

/// What the stand-in holds, and what it was asked.
#[derive(Default)]
struct Held {
    files: Mutex<BTreeMap<String, Vec<u8>>>,
    unsigned: Mutex<Vec<String>>,
    ill: Mutex<bool>,
}

struct Store {
    held: Arc<Held>,
    address: String,
    handle: ServerHandle,
}

impl Store {
    async fn start() -> Self {
        let held = Arc::new(Held::default());
        let data = Data::from(Arc::clone(&held));
        let server = HttpServer::new(move || {
            App::new()
                .app_data(data.clone())
                .app_data(PayloadConfig::new(20_000_000))
                .default_service(to(answer))
        })
        .workers(1)
        .disable_signals()
        .bind("127.0.0.1:0")
        .unwrap();
        let address = format!("http://{}", server.addrs()[0]);
        let server = server.run();
        let handle = server.handle();
        tokio::spawn(server);
        Self { held, address, handle }
    }

    fn names(&self) -> Vec<String> {
        self.held.files.lock().unwrap().keys().cloned().collect()
    }
}

const DATE: &str = "Mon, 02 Mar 2026 08:00:00 GMT";

async fn answer(request: HttpRequest, held: Data<Held>, body: Bytes) -> HttpResponse {
    let authorization =
        request.headers().get("authorization").map(|value| value.to_str().unwrap().to_owned());
    let signed = authorization.is_some_and(|text| {
        text.starts_with("AWS4-HMAC-SHA256 Credential=clinic-key/")
            && text.contains("/eu-test-1/s3/aws4_request")
    });
    if !signed {
        held.unsigned.lock().unwrap().push(request.path().to_owned());
        return HttpResponse::Forbidden().finish();
    }
    if *held.ill.lock().unwrap() {
        return HttpResponse::Forbidden().body("<Error><Code>AccessDenied</Code></Error>");
    }
    let mut files = held.files.lock().unwrap();
    let Some(rest) = request.path().strip_prefix("/pictures") else {
        return HttpResponse::NotFound().finish();
    };
    let key = rest.trim_start_matches('/').to_owned();
    let missing = || HttpResponse::NotFound().body("<Error><Code>NoSuchKey</Code></Error>");
    match *request.method() {
        Method::PUT => {
            files.insert(key, body.to_vec());
            HttpResponse::Ok().insert_header(("etag", "\"1\"")).finish()
        }
        Method::DELETE => {
            files.remove(&key);
            HttpResponse::NoContent().finish()
        }
        Method::GET if key.is_empty() => listing(&files, request.query_string()),
        Method::GET | Method::HEAD => match files.get(&key) {
            None => missing(),
            Some(bytes) => HttpResponse::Ok()
                .insert_header(("etag", "\"1\""))
                .insert_header(("last-modified", DATE))
                .body(bytes.clone()),
        },
        _ => HttpResponse::MethodNotAllowed().finish(),
    }
}

fn listing(files: &BTreeMap<String, Vec<u8>>, query: &str) -> HttpResponse {
    assert!(query.contains("list-type=2") && query.contains("prefix=of%2Fclinic%2F"), "{query}");
    let contents: Vec<String> = files
        .iter()
        .map(|(key, bytes)| {
            let length = bytes.len();
            format!(
                "<Contents><Key>{key}</Key><LastModified>2026-03-02T08:00:00.000Z</LastModified><ETag>\"1\"</ETag>\
                 <Size>{length}</Size></Contents>"
            )
        })
        .collect();
    HttpResponse::Ok().content_type("application/xml").body(format!(
        "<ListBucketResult><Name>pictures</Name><KeyCount>{}</KeyCount><IsTruncated>false</IsTruncated>{}</ListBucketResult>",
        contents.len(),
        contents.join("")
    ))
}

#[tokio::test(flavor = "multi_thread")]
async fn photographs_are_kept_in_a_bucket() {
    let store = Store::start().await;
    let key = std::env::temp_dir().join(format!("bucket-key-{}", uuid::Uuid::now_v7()));
    std::fs::write(&key, "clinic-key\nclinic-secret\n").unwrap();
    let place = format!("s3+{}/pictures/of/clinic", store.address);
    let bench = Bench::start_with(&[
        ("STILLROOM_PHOTOGRAPHS", &place),
        ("STILLROOM_PHOTOGRAPHS_REGION", "eu-test-1"),
        ("STILLROOM_PHOTOGRAPHS_KEY", key.to_str().unwrap()),
    ])
    .await;
    let clinic = &bench.room.clinic.service.clinic;
    photographs::ready(clinic).await.unwrap();
    let kept = bench.photograph().await.expect(201);
    let id = kept.id();
    let names = [format!("of/clinic/{id}.jpg"), format!("of/clinic/{id}.preview.jpg")];
    assert_eq!(store.names(), names);
    let answer = bench.room.noor.get(&kept.text_at("/picture/address")).await.expect(200);
    assert_eq!(store.held.files.lock().unwrap()[&names[0]], answer.bytes);
    assert!(photographs::verify(clinic).await.unwrap().holds());

    // What somebody else put into the bucket is changed, and what went is missing.
    store.held.files.lock().unwrap().insert(names[0].clone(), b"something else".to_vec());
    bench.room.noor.get(&kept.text_at("/picture/address")).await.problem(410, "gone");
    store.held.files.lock().unwrap().remove(&names[1]);
    bench.room.noor.get(&kept.text_at("/preview/address")).await.problem(410, "gone");
    assert!(!photographs::verify(clinic).await.unwrap().holds());

    // A store that refuses is no missing photograph.
    *store.held.ill.lock().unwrap() = true;
    let down = bench.room.noor.get(&kept.text_at("/picture/address")).await.problem(503, "unavailable");
    assert!(!down.text.contains("clinic-key") && !down.text.contains(&store.address), "{}", down.text);
    bench.photograph().await.problem(503, "unavailable");
    *store.held.ill.lock().unwrap() = false;

    let orphan = clinic.rng().id(clinic.clock().now());
    let orphan = format!("of/clinic/{orphan}.jpg");
    store.held.files.lock().unwrap().insert(orphan.clone(), b"cut off".to_vec());
    clinic.clock().advance(chrono::Duration::hours(2));
    assert_eq!(photographs::sweep(clinic).await.unwrap(), 1);
    assert!(!store.names().contains(&orphan));
    let noor = stillroom_tests::clinic::sign_in(&bench.room.clinic.nobody, "noor.haddad").await;
    bench.withdraw(&noor, &id).await.expect(201);
    assert_eq!(store.names(), Vec::<String>::new());
    assert_eq!(*store.held.unsigned.lock().unwrap(), Vec::<String>::new());
    std::fs::remove_file(&key).unwrap();
    bench.stop().await;
    store.handle.stop(false).await;
}
