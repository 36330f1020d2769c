//! Printed documents, read back: their text by pdftotext, their page by pdfinfo, and the page looked at as an image.

mod long;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use stillroom_tests::figures::tells;
use stillroom_tests::paper::{self, poppler};
use stillroom_tests::{Caller, TeachingClinic};

use crate::labels::with_cream;

/// The words of a document, with single spaces; words that were parted at the end of a line are joined.
pub(crate) fn text(pdf: &[u8]) -> String {
    let text = String::from_utf8(poppler("pdftotext", &["-raw", "-", "-"], pdf)).unwrap();
    let joined = text.replace("-\n", "").replace('\u{ad}', "");
    joined.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Without spaces and hyphens: a word may be parted where it has a hyphen of its own.
pub(crate) fn bare(text: &str) -> String {
    text.chars()
        .filter(|letter| !letter.is_whitespace() && !matches!(letter, '-' | '\u{2010}' | '\u{ad}'))
        .collect()
}

fn told(pdf: &[u8], name: &str) -> String {
    let info = String::from_utf8(poppler("pdfinfo", &["-"], pdf)).unwrap();
    let line = info.lines().find_map(|line| line.strip_prefix(name));
    line.unwrap_or_else(|| panic!("{name} in {info}")).trim().to_owned()
}

/// As which part of ISO 19005 and at which level a document declares itself.
fn archival(pdf: &[u8]) -> (String, String) {
    let described = String::from_utf8(poppler("pdfinfo", &["-meta", "-"], pdf)).unwrap();
    let of = |name: &str| {
        let (_, after) = described.split_once(name).unwrap_or_else(|| panic!("{name} in {described}"));
        after.chars().find(char::is_ascii_alphanumeric).map(String::from).unwrap()
    };
    (of("pdfaid:part>"), of("pdfaid:conformance>"))
}

/// Where there is ink on the first page, in tenths of a millimetre from the upper left.
fn ink(pdf: &[u8]) -> Vec<(u32, u32)> {
    // 254 dots per inch are ten a millimetre.
    let page = paper::page(pdf, 1, 254);
    let dots = (0..page.high).flat_map(|y| (0..page.wide).map(move |x| (x, y)));
    let dark = dots.filter(|(x, y)| page.at(*x, *y) < 128);
    dark.map(|(x, y)| (u32::try_from(x).unwrap(), u32::try_from(y).unwrap())).collect()
}

/// A batch of the cream in twelve jars, as its label is printed from.
async fn batch(clinic: &TeachingClinic, revision: &str) -> String {
    clinic.noor.acknowledge(revision).await.expect(201);
    let asked = json!({ "revision": revision, "make_for": { "containers": 12, "fill": "30 g" } });
    format!("/v1/batches/{}", clinic.noor.post("/v1/batches", asked).await.expect(201).id())
}

/// What stands on the jar and on the leaflet of a label of this size.
async fn layout(caller: &Caller, batch: &str, area: &str) -> Value {
    caller.get(&format!("{batch}/label?area={area}")).await.expect(200).json["layout"].clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_sheet_of_labels_holds_every_word_of_the_label_and_no_ink_outside_of_them() {
    let (clinic, revision) = with_cream().await;
    let batch = batch(&clinic, &revision).await;
    let noor = &clinic.noor;
    let asked =
        "size=60%20x%2040%20mm&copies=12&top=15%20mm&left=12%20mm&gap_across=3%20mm&gap_down=2%20mm&used=2";
    let printed = noor.get(&format!("{batch}/label.pdf?{asked}")).await.expect(200);
    assert_eq!(printed.header("content-type"), "application/pdf");
    assert_eq!(printed.header("content-disposition"), "inline; filename=\"labels.pdf\"");
    let pdf = &printed.bytes;
    // Three beside each other and six below each other: two used, twelve printed, all on one sheet of 210 by 297 mm.
    assert_eq!(told(pdf, "Pages:"), "1");
    assert_eq!(told(pdf, "Page size:"), "595.276 x 841.89 pts (A4)");
    assert_eq!(told(pdf, "Tagged:"), "yes");
    assert_eq!(archival(pdf), ("2".to_owned(), "A".to_owned()));

    let words = bare(&text(pdf));
    for piece in layout(noor, &batch, "60%20x%2040%20mm").await["jar"].as_array().unwrap() {
        let said = bare(piece["text"].as_str().unwrap());
        assert!(words.matches(&said).count() >= 12, "{} on each of the labels: {words}", piece["text"]);
    }
    let mut inked = vec![0_u32; 18];
    for (x, y) in ink(pdf) {
        let (across, down) =
            (x.checked_sub(120).map(|x| (x / 630, x % 630)), y.checked_sub(150).map(|y| (y / 420, y % 420)));
        let (Some((column, x)), Some((row, y))) = (across, down) else {
            panic!("ink on the edge, at {x}, {y}")
        };
        assert!(
            column < 3 && row < 6 && x < 600 && y < 400,
            "ink between the labels, at {x}, {y} of {column}, {row}"
        );
        inked[usize::try_from(row * 3 + column).unwrap()] += 1;
    }
    assert_eq!(inked[..2], [0, 0], "the used labels stay as they are");
    assert!(
        inked[2..14].iter().all(|dots| *dots > 500) && inked[14..].iter().all(|dots| *dots == 0),
        "{inked:?}"
    );

    // The same question gives the same bytes, so that a document can be compared.
    assert_eq!(noor.get(&format!("{batch}/label.pdf?{asked}")).await.expect(200).bytes, *pdf);
    let roll = noor.get(&format!("{batch}/label.pdf?size=62%20x%2029%20mm&paper=roll&copies=3")).await;
    let roll = &roll.expect(200).bytes;
    assert_eq!(told(roll, "Pages:"), "3");
    assert_eq!(told(roll, "Page size:"), "175.748 x 82.2047 pts");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_label_printer_draws_a_label_at_its_own_dots_and_reads_no_recipe() {
    let (clinic, revision) = with_cream().await;
    let batch = batch(&clinic, &revision).await;
    let printer = clinic.clinic.api_client(&clinic.ilse, &["labels:read"], &[&clinic.library]).await;
    let drawn = printer.get(&format!("{batch}/label.png?size=62%20x%2029%20mm&dpi=203")).await.expect(200);
    assert_eq!(drawn.header("content-type"), "image/png");
    assert_eq!(drawn.bytes[..8], *b"\x89PNG\r\n\x1a\n");
    let side = |at: usize| u32::from_be_bytes(drawn.bytes[at..at + 4].try_into().unwrap());
    // 62 mm are 495.5 dots at 203 dots per inch, 29 mm are 231.8.
    assert_eq!((side(16), side(20)), (496, 232));
    printer.get(&format!("/v1/revisions/{revision}/recipe")).await.problem(403, "forbidden");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_has_no_room_is_named_and_the_leaflet_says_it_in_full() {
    let (clinic, revision) = with_cream().await;
    let batch = batch(&clinic, &revision).await;
    let noor = &clinic.noor;
    let refused = noor.get(&format!("{batch}/label.pdf?size=15%20x%2012%20mm")).await.fields(&["?size"]);
    let detail = refused.text_at("/errors/0/detail");
    assert!(detail.contains("Take a larger label") && detail.contains("cm\u{b2}"), "{detail}");
    noor.get(&format!("{batch}/label.pdf?size=wide&used=x")).await.fields(&["?used"]);
    noor.get(&format!("{batch}/label.pdf?size=wide&copies=0&paper=a9"))
        .await
        .fields(&["?size", "?copies", "?paper"]);
    noor.get(&format!("{batch}/label.png?size=60%20x%2040%20mm&dpi=9")).await.fields(&["?dpi"]);

    let leaflet = noor.get(&format!("{batch}/leaflet.pdf?size=60%20x%2040%20mm")).await.expect(200);
    let words = bare(&text(&leaflet.bytes));
    for piece in layout(noor, &batch, "60%20x%2040%20mm").await["leaflet"].as_array().unwrap() {
        assert!(words.contains(&bare(piece["text"].as_str().unwrap())), "{} in {words}", piece["text"]);
    }
    assert_eq!(told(&leaflet.bytes, "Page size:"), "419.528 x 595.276 pts");
    let whole =
        noor.get(&format!("{batch}/leaflet.pdf?size=200%20x%20200%20mm")).await.problem(409, "wrong-state");
    assert!(whole.text_at("/detail").contains("No leaflet is needed"));
    clinic.stop().await;
}

/// A label is read before the gate, and printed it tells no more.
#[tokio::test(flavor = "multi_thread")]
async fn no_printed_label_tells_an_amount_or_a_word_of_the_method() {
    let (clinic, revision) = with_cream().await;
    let batch = batch(&clinic, &revision).await;
    let said = clinic.noor.get(&format!("{batch}/label.pdf?size=120%20x%20100%20mm")).await.expect(200);
    let said = text(&said.bytes);
    for amount in ["616", "300", "0.4", "850", "1000"] {
        assert!(!tells(&said, amount), "{amount} in {said}");
    }
    assert!(!said.contains("Melt the wax"), "{said}");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_for_the_file_tells_everything_that_is_written_and_how_it_is_verified() {
    let (clinic, revision) = with_cream().await;
    let batch = batch(&clinic, &revision).await;
    let noor = &clinic.noor;
    let sheet = noor.get(&format!("{batch}/sheet.pdf")).await.expect(200);
    let record = noor.get(&batch).await.expect(200).json;
    let on_sheet = bare(&text(&sheet.bytes));
    for line in record["recipe"]["phases"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|phase| phase["lines"].as_array().unwrap())
    {
        let asked = format!(
            "{}{}{}",
            line["name"].as_str().unwrap(),
            line["weigh"]["value"].as_str().unwrap(),
            line["weigh"]["unit"].as_str().unwrap()
        );
        assert!(on_sheet.contains(&bare(&asked)), "{asked} in {on_sheet}");
    }
    for caution in record["recipe"]["caution_set"]["cautions"].as_array().unwrap() {
        assert!(on_sheet.contains(&bare(caution["text"].as_str().unwrap())), "{caution} in {on_sheet}");
    }

    let weighed =
        json!({ "kind": "weighing", "line": "1.1", "quantity": "31 g", "lot": "A 7", "reason_later": true });
    let entry = noor.post(&format!("{batch}/entries"), weighed).await.expect(201);
    let corrects = entry.text_at("/entry/id");
    let mended = json!({ "kind": "weighing", "line": "1.1", "quantity": "30.2 g", "lot": "A 7", "corrects": corrects,
        "reason": "The balance was not at zero.", "reason_later": true });
    noor.post(&format!("{batch}/entries"), mended).await.expect(201);
    noor.post(&format!("{batch}/submissions"), json!({})).await.expect(201);
    clinic.ilse.acknowledge(&revision).await.expect(201);
    let review =
        json!({ "verdict": "return", "summary": "Weigh the rest.", "comments": [{ "text": "Which jar?" }] });
    clinic.ilse.post(&format!("{batch}/reviews"), review).await.expect(201);

    let printed = clinic.ilse.get(&format!("{batch}/record.pdf")).await.expect(200);
    assert_eq!(archival(&printed.bytes), ("2".to_owned(), "A".to_owned()));
    let said = bare(&text(&printed.bytes));
    for words in [
        "31 g",
        "30.2 g",
        "lot A 7",
        "The balance was not at zero.",
        "corrects an earlier entry",
        "corrected later",
        "noor.haddad",
        "Weigh the rest.",
        "Which jar?",
        "not weighed",
    ] {
        assert!(said.contains(&bare(words)), "{words} in {said}");
    }
    let read = clinic.ilse.get(&batch).await.expect(200);
    for finding in read.json["findings"].as_array().unwrap() {
        assert!(said.contains(&bare(finding["sentence"].as_str().unwrap())), "{finding} in {said}");
    }
    let filed = clinic.ilse.get(&format!("{batch}/record")).await.expect(200);
    assert_eq!(filed.json["record"], read.json);
    let digest: String = Sha256::digest(&filed.bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(said.contains(&digest), "{digest} in {said}");
    assert!(said.contains(read.json["recipe"]["digest"].as_str().unwrap()), "{said}");
    // Whoever may not read the record prints nothing of it.
    let stranger = clinic.clinic.person("sten.berg", "student").await;
    for name in ["record.pdf", "sheet.pdf", "label.pdf?size=60%20x%2040%20mm"] {
        stranger.get(&format!("{batch}/{name}")).await.problem(404, "not-found");
    }
    clinic.stop().await;
}
