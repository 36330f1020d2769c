//! What is refused, clearly and within bounds.

use std::io::Write;

use image::ImageFormat;
use stillroom_tests::pictures::file;

use super::{Bench, cure};

/// A PNG of this size without a pixel: its head, with the check sum that it needs, and nothing else.
fn head_of_png(width: u32, height: u32) -> Vec<u8> {
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    png.extend(width.to_be_bytes());
    png.extend(height.to_be_bytes());
    png.extend([8, 2, 0, 0, 0]);
    let mut crc = flate2::Crc::new();
    crc.update(&png[12..]);
    png.extend(crc.sum().to_be_bytes());
    png.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
    png
}

fn gzipped(bytes: &[u8]) -> Vec<u8> {
    let mut writer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    writer.write_all(bytes).unwrap();
    writer.finish().unwrap()
}

fn zipped(bytes: &[u8]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    writer.start_file("photograph.jpg", zip::write::SimpleFileOptions::default()).unwrap();
    writer.write_all(bytes).unwrap();
    writer.finish().unwrap().into_inner()
}

/// A WebP of two frames: enough of its head to say that it is animated.
fn animated() -> Vec<u8> {
    let still = file(8, 8, ImageFormat::WebP);
    let frame = still[12..].to_vec();
    let chunk = |name: &[u8], content: &[u8]| {
        let length = u32::try_from(content.len()).unwrap().to_le_bytes();
        [name, &length, content, if content.len() % 2 == 1 { &[0] } else { &[] }].concat()
    };
    // Animated; the canvas is 8 x 8.
    let head = chunk(b"VP8X", &[0b10, 0, 0, 0, 7, 0, 0, 7, 0, 0]);
    let times = chunk(b"ANIM", &[0; 6]);
    let of_frame = [&[0, 0, 0, 0, 0, 0, 7, 0, 0, 7, 0, 0, 100, 0, 0, 0][..], &frame].concat();
    let frames = [chunk(b"ANMF", &of_frame), chunk(b"ANMF", &of_frame)].concat();
    let body = [&b"WEBP"[..], &head, &times, &frames].concat();
    [&b"RIFF"[..], &u32::try_from(body.len()).unwrap().to_le_bytes(), &body].concat()
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_no_photograph_is_refused_with_its_cure() {
    let bench = Bench::start().await;
    let whole = file(200, 200, ImageFormat::Jpeg);
    let cut = whole[..whole.len() / 2].to_vec();
    let cases: [(&str, Vec<u8>, &str); 10] = [
        ("a script", b"#!/bin/sh\necho hello".to_vec(), "no JPEG, PNG or WebP"),
        ("a page", b"<!doctype html><script>alert(1)</script>".to_vec(), "no JPEG, PNG or WebP"),
        ("a drawing", b"<svg xmlns='http://www.w3.org/2000/svg'/>".to_vec(), "no JPEG, PNG or WebP"),
        ("an archive of zeros", zipped(&vec![0; 1 << 20]), "no JPEG, PNG or WebP"),
        ("packed zeros", gzipped(&vec![0; 100 << 20]), "no JPEG, PNG or WebP"),
        ("nothing", Vec::new(), "no JPEG, PNG or WebP"),
        ("a script behind the first bytes", b"\xff\xd8\xff\xe0<script>".to_vec(), "damaged or incomplete"),
        ("a photograph that was cut off", cut, "damaged or incomplete"),
        ("a huge picture", head_of_png(40_000, 40_000), "40000 x 40000 pixels"),
        ("an animation", animated(), "animated"),
    ];
    for (name, bytes, said) in cases {
        let refused = bench.send("image/jpeg", bytes).await.fields(&[""]);
        assert!(cure(&refused).contains(said), "{name}: {}", refused.text);
    }
    assert_eq!(bench.files(), Vec::<String>::new());
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_body_that_is_too_large_packed_or_of_another_kind_is_not_read_as_a_photograph() {
    let bench = Bench::start().await;
    // Zeros behind the end of a picture are no part of it.
    let mut largest = file(64, 48, ImageFormat::Jpeg);
    largest.resize(10_000_000, 0);
    bench.send("image/jpeg", largest.clone()).await.expect(201);
    largest.push(0);
    bench.send("image/jpeg", largest).await.problem(413, "too-large");

    bench.send("application/zip", zipped(b"0")).await.problem(415, "media-type");
    bench.send("image/svg+xml", b"<svg/>".to_vec()).await.problem(415, "media-type");
    let (path, packed) = (bench.path("photographs?subject=work"), gzipped(&vec![0; 100 << 20]));
    let headers =
        [("content-type", "image/png"), ("content-encoding", "gzip"), ("idempotency-key", "packed")];
    let noor = &bench.room.noor;
    noor.send(reqwest::Method::POST, &path, &headers, Some(packed)).await.problem(415, "media-type");
    let headers = [("content-type", "image/png")];
    let bytes = Some(file(8, 8, ImageFormat::Png));
    noor.send(reqwest::Method::POST, &path, &headers, bytes).await.problem(400, "idempotency-key-missing");
    let path = bench.path("photographs");
    noor.post_bytes(&path, "image/png", file(8, 8, ImageFormat::Png)).await.fields(&["?subject"]);
    let path = bench.path("photographs?subject=dog");
    noor.post_bytes(&path, "image/png", file(8, 8, ImageFormat::Png)).await.fields(&["?subject"]);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_hundred_and_first_photograph_is_refused() {
    let bench = Bench::start().await;
    for _ in 0..100 {
        bench.send("image/png", file(2, 2, ImageFormat::Png)).await.expect(201);
    }
    let refused = bench.photograph().await.problem(409, "conflict");
    assert!(refused.text.contains("100 photographs"), "{}", refused.text);
    assert_eq!(bench.files().len(), 200, "what was refused leaves no files");
    bench.stop().await;
}
