//! What is taken: each format, and of each file its picture alone.

use image::ImageFormat;
use serde_json::json;
use stillroom_tests::pictures::{self, file, read};

use super::Bench;

/// The marks of a camera that no answer may repeat.
const CAMERA: &str = "Obscura Mark Seven";
const WHO: &str = "Wilhelmina Kestrel";

/// An entry of a TIFF directory, little-endian.
fn entry(tag: u16, kind: u16, count: u32, value: u32) -> Vec<u8> {
    [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &count.to_le_bytes(), &value.to_le_bytes()].concat()
}

/// An EXIF segment: the camera was held upright (orientation 6), its make, and where it was.
fn exif() -> Vec<u8> {
    let make = format!("{CAMERA}\0");
    // Three entries and the end: 8 + 2 + 36 + 4 = 50, where the make stands; after it the directory of places.
    let place = 50 + u32::try_from(make.len()).unwrap();
    let mut tiff = b"II*\0\x08\0\0\0\x03\0".to_vec();
    tiff.extend(entry(0x010f, 2, u32::try_from(make.len()).unwrap(), 50));
    tiff.extend(entry(0x0112, 3, 1, 6));
    tiff.extend(entry(0x8825, 4, 1, place));
    tiff.extend([0; 4]);
    tiff.extend(make.as_bytes());
    tiff.extend([2, 0]);
    // Latitude reference "N", and a latitude of three rationals behind the directory.
    tiff.extend(entry(1, 2, 2, u32::from(b'N')));
    tiff.extend(entry(2, 5, 3, place + 2 + 24 + 4));
    tiff.extend([0; 4]);
    for degrees in [52_u32, 31, 12] {
        tiff.extend(degrees.to_le_bytes());
        tiff.extend(1_u32.to_le_bytes());
    }
    segment(0xe1, &[b"Exif\0\0", tiff.as_slice()].concat())
}

/// A segment of a JPEG.
fn segment(marker: u8, content: &[u8]) -> Vec<u8> {
    let length = u16::try_from(content.len() + 2).unwrap().to_be_bytes();
    [&[0xff, marker][..], &length, content].concat()
}

/// A photograph as a phone writes it: with EXIF, XMP, a comment, and something behind its end.
fn of_a_phone() -> Vec<u8> {
    let plain = file(96, 64, ImageFormat::Jpeg);
    let xmp = format!("http://ns.adobe.com/xap/1.0/\0<x:xmpmeta><dc:creator>{WHO}</dc:creator></x:xmpmeta>");
    let parts = [
        plain[..2].to_vec(),
        exif(),
        segment(0xe1, xmp.as_bytes()),
        segment(0xfe, WHO.as_bytes()),
        plain[2..].to_vec(),
        format!("<script>alert('{WHO}')</script>").into_bytes(),
    ];
    parts.concat()
}

fn holds(bytes: &[u8], text: &str) -> bool {
    bytes.windows(text.len()).any(|some| some == text.as_bytes())
}

#[tokio::test(flavor = "multi_thread")]
async fn each_format_is_taken_and_read_back_as_a_picture() {
    let bench = Bench::start().await;
    let formats = [
        ("image/jpeg", ImageFormat::Jpeg),
        ("image/png", ImageFormat::Png),
        ("image/webp", ImageFormat::WebP),
    ];
    for (at, (media, format)) in formats.into_iter().enumerate() {
        let kept = bench.send(media, file(600, 300, format)).await.expect(201);
        assert_eq!(kept.json["number"], json!(at + 1));
        assert_eq!(
            (&kept.json["picture"]["width"], &kept.json["picture"]["height"]),
            (&json!(600), &json!(300))
        );
        assert_eq!(kept.header("location"), kept.text_at("/picture/address"));
        for (of, width) in [("picture", 600), ("preview", 480)] {
            let address = kept.text_at(&format!("/{of}/address"));
            let answer = bench.room.noor.get(&address).await.expect(200);
            assert_eq!(answer.header("content-type"), "image/jpeg");
            assert_eq!(answer.header("x-content-type-options"), "nosniff");
            assert_eq!(answer.header("cache-control"), "no-store");
            assert!(answer.header("content-security-policy").starts_with("default-src 'none'"));
            assert!(answer.header("content-disposition").starts_with("inline; filename="));
            let sha256: [u8; 32] = sha2::Digest::finalize(sha2::Digest::chain_update(
                <sha2::Sha256 as sha2::Digest>::new(),
                &answer.bytes,
            ))
            .into();
            assert_eq!(kept.text_at(&format!("/{of}/sha256")), hex::encode(sha256));
            assert_eq!(kept.json[of]["bytes"], json!(answer.bytes.len()));
            let picture = read(&answer.bytes);
            assert_eq!(picture.width(), width, "{media}");
            let (above, below) =
                (picture.get_pixel(20, 10).0, picture.get_pixel(20, picture.height() - 10).0);
            assert!(above[0] > 180 && below[2] > 180, "{media}: {above:?} {below:?}");
        }
    }
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photograph_of_a_phone_stands_upright_and_tells_nothing_else() {
    let bench = Bench::start().await;
    let sent = of_a_phone();
    assert!(holds(&sent, CAMERA) && holds(&sent, WHO));
    let kept = bench.send("image/jpeg", sent).await.expect(201);
    for of in ["picture", "preview"] {
        let answer = bench.room.noor.get(&kept.text_at(&format!("/{of}/address"))).await.expect(200);
        for mark in [CAMERA, WHO, "Exif", "xmpmeta", "II*", "<script>"] {
            assert!(!holds(&answer.bytes, mark), "{of}: {mark}");
        }
        let picture = read(&answer.bytes);
        assert_eq!((picture.width(), picture.height()), (64, 96), "{of}: it lies on its side");
        // Turned to the right, what was above stands right.
        let (left, right) = (picture.get_pixel(8, 48).0, picture.get_pixel(56, 48).0);
        assert!(right[0] > 180 && left[2] > 180, "{of}: {left:?} {right:?}");
    }
    for name in bench.files() {
        let bytes = std::fs::read(bench.folder().join(name)).unwrap();
        assert!(!holds(&bytes, CAMERA) && !holds(&bytes, WHO));
    }
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photograph_belongs_to_an_entry_and_to_the_submission_that_follows() {
    let bench = Bench::start().await;
    let path = bench.path("photographs?subject=reading&entry=1");
    bench.room.noor.post_bytes(&path, "image/jpeg", pictures::photograph()).await.fields(&["?entry"]);
    assert_eq!(bench.files(), Vec::<String>::new(), "what was refused leaves no files");
    let note = json!({ "kind": "observation", "note": "Clear." });
    bench.room.noor.post(&bench.path("entries"), note).await.expect(201);
    let kept = bench.room.noor.post_bytes(&path, "image/jpeg", pictures::photograph()).await.expect(201);
    assert_eq!((&kept.json["entry"], &kept.json["subject"]), (&json!(1), &json!("reading")));
    assert_eq!(kept.json.get("submission"), None);
    bench.hand_in().await;
    let list = bench.list(&bench.room.noor).await;
    assert_eq!(
        (&list["photographs"][0]["submission"], &list["may_add"]),
        (&json!(1), &json!(false)),
        "{list}"
    );
    bench.stop().await;
}
