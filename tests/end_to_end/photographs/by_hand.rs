//! Photographs on the pages: a form that brings a file, without a script.

use reqwest::Method;
use stillroom_tests::{Answer, pictures};

use super::Bench;
use crate::pages::Browser;

const BOUNDARY: &str = "of-a-test";

/// A form in parts.
fn parts(fields: &[(&str, &str)], file: Option<Vec<u8>>) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, value) in fields {
        let part =
            format!("--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend(part.into_bytes());
    }
    if let Some(bytes) = file {
        let head = format!(
            "--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"photograph\"; filename=\"IMG_1.jpg\"\r\n\
             Content-Type: image/jpeg\r\n\r\n"
        );
        body.extend(head.into_bytes());
        body.extend(bytes);
        body.extend(b"\r\n");
    }
    body.extend(format!("--{BOUNDARY}--\r\n").into_bytes());
    body
}

async fn post(bench: &Bench, browser: &Browser, body: Vec<u8>) -> Answer {
    let media = format!("multipart/form-data; boundary={BOUNDARY}");
    browser.send_bytes(Method::POST, &format!("/batches/{}/photographs", bench.batch), &media, body).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photograph_is_added_by_a_form_with_its_words_as_an_observation() {
    let bench = Bench::start().await;
    let noor = Browser::of(&bench.room, "noor.haddad").await;
    let page = format!("/batches/{}/photographs", bench.batch);
    let shown = noor.get(&page).await.expect(200);
    assert!(shown.text.contains("enctype=\"multipart/form-data\"") && shown.text.contains("capture="));

    let fields = [("once", "key-1"), ("subject", "preparation"), ("words", "It has set at 41 g.")];
    let body = parts(&fields, Some(pictures::photograph()));
    let added = post(&bench, &noor, body.clone()).await.expect(303);
    let again = post(&bench, &noor, body).await.expect(303);
    assert_eq!(added.header("location"), again.header("location"), "a form does its work once");
    let list = bench.list(&bench.room.noor).await;
    assert_eq!(list["photographs"].as_array().unwrap().len(), 1);
    assert_eq!(list["photographs"][0]["entry"], 1);
    let record = bench.room.noor.get(&format!("/v1/batches/{}", bench.batch)).await.expect(200);
    assert_eq!(record.text_at("/entries/0/note"), "It has set at 41 g.");
    // The same form with another picture is another act.
    post(&bench, &noor, parts(&fields, Some(pictures::file(32, 32, image::ImageFormat::Png))))
        .await
        .expect(303);
    assert_eq!(bench.list(&bench.room.noor).await["photographs"].as_array().unwrap().len(), 2);

    let id = list["photographs"][0]["id"].as_str().unwrap();
    let shown = noor.get(&page).await.expect(200);
    let picture = format!("{page}/{id}/preview");
    assert!(shown.text.contains(&format!("src=\"{picture}\"")), "{}", shown.text);
    assert!(shown.text.contains("alt=\"Photograph 1: The appearance of the preparation\""), "{}", shown.text);
    assert!(!shown.text.contains("41 g"), "the words stand in the record");
    let answer = noor.get(&picture).await.expect(200);
    assert_eq!(
        (answer.header("content-type"), answer.header("x-content-type-options")),
        ("image/jpeg", "nosniff")
    );
    assert_eq!(pictures::read(&answer.bytes).width(), 64);

    // Whoever reviews sees them on the record and beside the decision.
    bench.hand_in().await;
    let marek = Browser::of(&bench.room, "marek.dvorsky").await;
    for address in [format!("/batches/{}", bench.batch), format!("/batches/{}/review", bench.batch)] {
        let shown = marek.get(&address).await.expect(200);
        assert!(shown.text.contains(&format!("src=\"{picture}\"")), "{address}");
    }
    let withdrawal = format!("{page}/{id}/withdrawal");
    let refused = marek.send(Method::POST, &withdrawal, "once=key-2&reason=").await.expect(422);
    assert!(refused.text.contains("Enter why it is withdrawn"), "{}", refused.text);
    marek.send(Method::POST, &withdrawal, "once=key-3&reason=It+shows+a+face.").await.expect(303);
    let shown = noor.get(&page).await.expect(200);
    assert!(shown.text.contains("Withdrawn by marek.dvorsky") && shown.text.contains("It shows a face."));
    noor.get(&picture).await.expect(410);
    let shown = marek.get(&format!("/batches/{}", bench.batch)).await.expect(200);
    assert!(!shown.text.contains(&picture), "{}", shown.text);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refused_file_keeps_what_was_typed_and_says_what_to_do() {
    let bench = Bench::start().await;
    let noor = Browser::of(&bench.room, "noor.haddad").await;
    let fields = [("once", "key-1"), ("subject", "jars"), ("words", "Seven of them.")];
    for (file, said) in [
        (None, "No photograph was chosen."),
        (Some(Vec::new()), "No photograph was chosen."),
        (Some(b"<script>alert(1)</script>".to_vec()), "This file is no JPEG, PNG or WebP picture."),
        (Some(vec![0; 10_000_001]), "This file is larger than 10 MB."),
    ] {
        let refused = post(&bench, &noor, parts(&fields, file)).await.expect(422);
        assert!(refused.text.contains(said), "{said}: {}", refused.text);
        assert!(refused.text.contains("Seven of them."), "what was typed stays");
        assert!(refused.text.contains("<option value=\"jars\" selected>"));
    }
    let record = bench.room.noor.get(&format!("/v1/batches/{}", bench.batch)).await.expect(200);
    assert_eq!(
        record.json["entries"].as_array().unwrap().len(),
        0,
        "words of a refused photograph are not written"
    );
    let without = [("once", "key-1"), ("subject", "dog")];
    post(&bench, &noor, parts(&without, Some(pictures::photograph()))).await.expect(422);
    post(&bench, &noor, b"no parts".to_vec()).await.expect(400);
    let many = vec![("a", "b"); 40];
    post(&bench, &noor, parts(&many, None)).await.expect(400);
    let long = "x".repeat(70_000);
    post(&bench, &noor, parts(&[("words", long.as_str())], None)).await.expect(413);
    assert_eq!(bench.files(), Vec::<String>::new());
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photograph_whose_file_is_missing_is_told_on_its_page() {
    let bench = Bench::start().await;
    bench.photograph().await.expect(201);
    let noor = Browser::of(&bench.room, "noor.haddad").await;
    let page = format!("/batches/{}/photographs", bench.batch);
    assert!(noor.get(&page).await.expect(200).text.contains("<img "));
    std::fs::remove_dir_all(bench.folder()).unwrap();
    let shown = noor.get(&page).await.expect(200);
    assert!(shown.text.contains("The file of this photograph is missing or was changed."), "{}", shown.text);
    assert!(!shown.text.contains("<img "));
    bench.stop().await;
}
