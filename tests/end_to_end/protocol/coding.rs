//! gzip and brotli.

use std::io::Read;

use serde_json::json;
use stillroom_tests::{TeachingClinic, TestClinic};

use super::{Raw, read};
use crate::formulas::infused_oil;

/// The body without its coding.
fn decoded(raw: &Raw) -> Vec<u8> {
    let mut plain = Vec::new();
    match raw.header("content-encoding") {
        "gzip" => flate2::read::GzDecoder::new(raw.body.as_slice()).read_to_end(&mut plain).unwrap(),
        "br" => brotli::Decompressor::new(raw.body.as_slice(), 4096).read_to_end(&mut plain).unwrap(),
        other => panic!("coding {other:?}"),
    };
    plain
}

#[tokio::test(flavor = "multi_thread")]
async fn large_body_comes_in_the_coding_that_the_request_asks_for() {
    let room = TeachingClinic::start().await;
    let path = "/v1/materials?limit=50";
    let plain = read(&room.noor, path, &[]).await;
    assert_eq!((plain.status, plain.header("content-encoding")), (200, ""));
    assert!(plain.body.len() > 4096);
    for (asked, coding) in [
        ("gzip", "gzip"),
        ("br", "br"),
        ("gzip, deflate, br", "br"),
        ("br;q=0.2, gzip;q=0.9", "gzip"),
        ("br;q=0, gzip", "gzip"),
    ] {
        let coded = read(&room.noor, path, &[("accept-encoding", asked)]).await;
        assert_eq!((coded.status, coded.header("content-encoding")), (200, coding), "{asked}");
        assert_eq!(coded.header("vary"), "Accept-Encoding");
        assert_eq!(coded.header("content-length"), coded.body.len().to_string());
        assert!(coded.body.len() * 2 < plain.body.len(), "{asked}: {}", coded.body.len());
        assert_eq!(decoded(&coded), plain.body, "{asked}");
    }
    for asked in ["", "identity", "deflate", "zstd", "gzip;q=0", "*;q=0", "nonsense;;q"] {
        let same = read(&room.noor, path, &[("accept-encoding", asked)]).await;
        assert_eq!((same.status, same.header("content-encoding")), (200, ""), "{asked}");
        assert_eq!((same.header("vary"), &same.body), ("Accept-Encoding", &plain.body), "{asked}");
    }
    let small = read(&room.noor, "/v1/me", &[("accept-encoding", "gzip, br")]).await;
    assert_eq!((small.status, small.header("content-encoding")), (200, ""));
    room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn tag_names_the_coding_and_stays_good_for_reads_and_changes() {
    let room = TeachingClinic::start().await;
    let revision = room.approved(infused_oil()).await;
    room.noor.acknowledge(&revision).await.expect(201);
    let recipe = format!("/v1/revisions/{revision}/recipe");
    for path in ["/v1/materials?limit=50", recipe.as_str(), "/openapi.json"] {
        let plain = read(&room.noor, path, &[]).await;
        let tag = plain.header("etag").to_owned();
        let inside = tag.trim_matches('"');
        for (coding, other) in [("gzip", "br"), ("br", "gzip")] {
            let coded = read(&room.noor, path, &[("accept-encoding", coding)]).await;
            let own = format!("\"{inside}.{coding}\"");
            assert_eq!(coded.header("etag"), own, "{path}");
            for sent in [own.clone(), format!("W/{own}"), format!("\"x\", {own}")] {
                let headers = [("accept-encoding", coding), ("if-none-match", sent.as_str())];
                let again = read(&room.noor, path, &headers).await;
                assert_eq!((again.status, again.body.len()), (304, 0), "{path}: {sent}");
                assert_eq!((again.header("etag"), again.header("vary")), (own.as_str(), "Accept-Encoding"));
            }
            for sent in [format!("\"x.{coding}\""), format!("\"{inside}.{coding}.{other}\"")] {
                let headers = [("accept-encoding", coding), ("if-none-match", sent.as_str())];
                assert_eq!(read(&room.noor, path, &headers).await.status, 200, "{path}: {sent}");
            }
        }
        assert_eq!(read(&room.noor, path, &[("if-none-match", &tag)]).await.status, 304, "{path}");
    }
    // A change may send the tag of a coded read.
    let library = format!("/v1/libraries/{}", room.library);
    let long = json!({ "name": "First-year creams", "description": "Oils and creams. ".repeat(100) });
    let tag = room.ilse.put(&library, "\"v1\"", long.clone()).await.expect(200).etag();
    let coded = read(&room.ilse, &library, &[("accept-encoding", "gzip")]).await;
    assert_eq!(coded.header("etag"), format!("{}.gzip\"", tag.trim_end_matches('"')));
    room.ilse.put(&library, coded.header("etag"), long.clone()).await.expect(200);
    room.ilse.put(&library, coded.header("etag"), long).await.problem(412, "stale");
    room.stop().await;
}

/// The length of a coded body tells how alike its parts are: a secret beside chosen text could be found by trying.
#[tokio::test(flavor = "multi_thread")]
async fn response_with_secrets_is_never_coded() {
    let clinic = TestClinic::start().await;
    let petra = &clinic.administrator;
    for _ in 0..8 {
        clinic.api_client(petra, &["formulas:read"], &[]).await;
        stillroom_tests::clinic::sign_in(&clinic.nobody, "petra.hollweg").await;
    }
    let asked = [("accept-encoding", "gzip, br")];
    for path in ["/v1/api-clients", "/v1/sessions"] {
        let raw = read(petra, path, &asked).await;
        assert_eq!((raw.status, raw.header("content-encoding")), (200, ""), "{path}");
        assert!(raw.body.len() > 1024, "{path} is large enough to be coded");
    }
    let headers =
        [("content-type", "application/json"), ("accept-encoding", "gzip"), ("idempotency-key", "k")];
    let long = "Label printer ".repeat(14);
    let bodies = [
        ("/v1/invitations", json!({ "sign_in_name": "ilse.brandt", "name": long.trim(), "role": "student" })),
        (
            "/v1/sessions",
            json!({ "sign_in_name": "petra.hollweg", "password": stillroom_tests::clinic::PASSWORD }),
        ),
    ];
    for (path, body) in bodies {
        let body = Some(body.to_string().into_bytes());
        let answer = petra.send(reqwest::Method::POST, path, &headers, body).await.expect(201);
        assert_eq!(answer.header("content-encoding"), "", "{path}");
    }
    clinic.stop().await;
}

/// Every operation that answers a token, a code or a key is among those that are never coded.
#[test]
fn every_operation_with_secrets_is_known_to_the_coding() {
    let document: serde_json::Value = serde_json::from_str(&api::document().to_json().unwrap()).unwrap();
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for operation in item.as_object().unwrap().values() {
            let answers = operation["responses"].as_object().unwrap().iter();
            let answers = answers.filter(|(status, _)| status.starts_with('2'));
            for reference in answers
                .filter_map(|(_, answer)| answer.pointer("/content/application~1json/schema/$ref")?.as_str())
            {
                let schema = document.pointer(reference.strip_prefix('#').unwrap()).unwrap();
                let fields = &schema["properties"];
                if ["access_token", "refresh_token", "code", "key"].iter().any(|name| {
                    // The key of a caution is a name; that of an API client is a secret.
                    // The code of work that is marked blind stands in for a name.
                    let blind = *name == "code" && path.starts_with("/v1/moderations");
                    let secret = !blind && (*name != "key" || reference.ends_with("ApiClient"));
                    secret && !fields[name].is_null()
                }) {
                    found.push(path.as_str());
                }
            }
        }
    }
    assert!(found.len() >= 5, "{found:?}");
    for path in found {
        assert!(api::is_never_coded(path), "{path}");
    }
}
