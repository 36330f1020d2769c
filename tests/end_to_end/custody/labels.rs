//! The labels of jars: printed, and read back by eye and by a camera.

use stillroom_tests::paper::{self, poppler};

use super::Custody;

/// The words of one page, without spaces and hyphens.
pub(super) fn words(pdf: &[u8], page: usize) -> String {
    let page = page.to_string();
    let text = poppler("pdftotext", &["-raw", "-f", &page, "-l", &page, "-", "-"], pdf);
    bare(&String::from_utf8(text).unwrap())
}

pub(super) fn bare(text: &str) -> String {
    let letter = |letter: &char| !letter.is_whitespace() && !matches!(letter, '-' | '\u{2010}' | '\u{ad}');
    text.chars().filter(letter).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn each_jar_has_a_label_with_its_number_and_a_code_that_leads_to_its_page() {
    let of = Custody::of_salve().await;
    let noor = &of.room.noor;
    of.fill(noor, 3, "30 g").await.expect(201);
    let sooner = serde_json::json!({ "jars": 2, "fill": "10 g", "use_by": "2026-03-20" });
    noor.post(&of.path("jars"), sooner).await.expect(201);
    let jars = noor.get(&of.path("jars")).await.expect(200).json;
    assert!(jars["no_scan"].is_null(), "{jars}");
    let jars = jars["jars"].as_array().unwrap();

    let asked = format!("{}?size=70%20x%2040%20mm&paper=roll", of.path("jars/labels.pdf"));
    let printed = noor.get(&asked).await.expect(200);
    assert_eq!(printed.header("content-type"), "application/pdf");
    for (at, jar) in jars.iter().enumerate() {
        let (number, code) = (jar["number"].as_u64().unwrap(), jar["code"].as_str().unwrap());
        let said = words(&printed.bytes, at + 1);
        for word in [
            format!("Jar {number}"),
            code.to_owned(),
            format!("Net: {}", jar["fill"].as_str().unwrap()),
            format!("Use by: {}", jar["use_by"].as_str().unwrap()),
            "For external use only.".to_owned(),
        ] {
            assert!(said.contains(&bare(&word)), "{word} in {said}");
        }
        // As printers for offices draw it. One of fewer dots takes the image, whose modules are whole dots.
        for dots in [300, 600] {
            let codes = paper::page(&printed.bytes, at + 1, dots).codes();
            assert_eq!(codes, [format!("https://clinic.example/jars/{code}")], "{dots} dots");
        }
        let page = of.page(code).await.expect(200);
        assert!(page.text.contains(&format!("jar {number}.")), "{}", page.text);
    }
    assert_eq!(noor.get(&asked).await.expect(200).bytes, printed.bytes, "the same question, the same bytes");

    // On a sheet the chosen ones stand beside each other, and a label that is high has its code below.
    for size in ["60%20x%2040%20mm", "45%20x%2070%20mm"] {
        let asked = format!("{}?size={size}&jars=2-3,%205", of.path("jars/labels.pdf"));
        let sheet = noor.get(&asked).await.expect(200);
        let mut codes = paper::page(&sheet.bytes, 1, 300).codes();
        codes.sort();
        let code = |at: usize| format!("https://clinic.example{}", jars[at]["page"].as_str().unwrap());
        let mut meant = [code(1), code(2), code(4)];
        meant.sort();
        assert_eq!(codes, meant, "{size}");
    }
    // What the labels shorten beside their code stands on the leaflet.
    let leaflet =
        noor.get(&format!("{}?size=50%20x%2030%20mm", of.path("jars/leaflet.pdf"))).await.expect(200);
    assert!(words(&leaflet.bytes, 1).contains("Externaluse") || words(&leaflet.bytes, 1).contains("doctor"));
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_label_printer_draws_the_label_of_a_jar_in_whole_dots() {
    let of = Custody::of_salve().await;
    of.fill(&of.room.noor, 2, "30 g").await.expect(201);
    let code = of.codes().await.remove(1);
    let printer = of.room.clinic.api_client(&of.room.ilse, &["labels:read"], &[&of.room.library]).await;
    for (dots, module) in [(203, 3), (300, 4), (305, 4)] {
        let path = of.path(&format!("jars/2/label.png?size=70%20x%2040%20mm&dpi={dots}"));
        let image = paper::png(&printer.get(&path).await.expect(200).bytes);
        assert_eq!(image.codes(), [format!("https://clinic.example/jars/{code}")], "{dots} dots");
        // Nothing of the code is grey: within it each dot is of one module. 33 modules and a margin of 1.5 mm.
        let side = 33 * module;
        let black: Vec<usize> = (0..image.wide)
            .filter(|x| {
                let from = image.high - 4 * module - side;
                (from..image.high).filter(|y| image.at(*x, *y) == 0).count() > 4 * module
            })
            .collect();
        let right = *black.last().unwrap();
        let rows = (0..image.high).filter(|y| image.at(right, *y) < 255).collect::<Vec<_>>();
        let (top, left) = (*rows.first().unwrap(), right + 1 - side);
        for y in top..top + side {
            for x in left..=right {
                let dot = image.at(x, y);
                assert!(dot == 0 || dot == 255, "{dots} dots: {dot} at {x}, {y}");
            }
        }
    }
    printer.get(&of.path("jars")).await.problem(403, "forbidden");
    printer.get(&of.path("jars/3/label.png")).await.problem(404, "not-found");
    let stranger = of.room.clinic.person("sten.berg", "student").await;
    stranger.get(&of.path("jars/2/label.png")).await.problem(404, "not-found");
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_label_without_room_for_its_code_is_refused_and_so_is_a_jar_that_is_not_there() {
    let of = Custody::of_salve().await;
    let noor = &of.room.noor;
    let labels = of.path("jars/labels.pdf");
    let empty = noor.get(&labels).await.problem(409, "wrong-state");
    assert!(empty.text_at("/detail").contains("Fill its jars first"), "{}", empty.text);
    of.fill(noor, 2, "30 g").await.expect(201);
    let small = noor.get(&format!("{labels}?size=60%20x%2015%20mm")).await.fields(&["?size"]);
    let said = small.text_at("/errors/0/detail");
    assert_eq!(
        said,
        "The label has no room for its code, which takes 13.5 mm either way. Take a label of at least 17 mm either way."
    );
    noor.get(&of.path("jars/1/label.png?size=16%20x%2060%20mm&dpi=300")).await.fields(&["?size"]);
    // Room for the code, and none for the words beside it.
    noor.get(&format!("{labels}?size=30%20x%2017%20mm")).await.fields(&["?size"]);
    noor.get(&of.path("jars/1/label.png?dpi=9")).await.fields(&["?dpi"]);
    let missing = noor.get(&format!("{labels}?jars=2-3")).await.fields(&["?jars"]);
    assert!(missing.text_at("/errors/0/detail").contains("has jars 1 to 2"), "{}", missing.text);
    noor.get(&format!("{labels}?jars=all&paper=a9")).await.fields(&["?jars", "?paper"]);
    noor.get(&format!("{labels}?copies=2")).await.fields(&["?copies"]);
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn without_an_address_of_the_service_labels_have_no_code_to_scan_and_the_answer_says_why() {
    let weighed = [("1.1", "100 g"), ("1.2", "500 g")];
    let then = [
        serde_json::json!({ "kind": "step_done", "step": 1 }),
        serde_json::json!({ "kind": "yield", "quantity": "590 g" }),
    ];
    let settings = [("STILLROOM_PUBLIC_URL", "")];
    let of = Custody::start(crate::stock::salve(), &weighed, &then, &settings).await;
    let filled = of.fill(&of.room.noor, 1, "30 g").await.expect(201);
    assert!(filled.text_at("/no_scan").contains("Set STILLROOM_PUBLIC_URL"), "{}", filled.text);
    let code = of.codes().await.remove(0);
    let asked = format!("{}?size=70%20x%2040%20mm&paper=roll", of.path("jars/labels.pdf"));
    let printed = of.room.noor.get(&asked).await.expect(200);
    assert!(paper::page(&printed.bytes, 1, 300).codes().is_empty());
    let said = words(&printed.bytes, 1);
    assert!(said.contains("Jar1") && said.contains(&code), "{said}");
    of.room.stop().await;
}

/// What has no room as it was reckoned goes to the leaflet, so that a larger label is never refused where a smaller one is not.
#[tokio::test(flavor = "multi_thread")]
async fn a_larger_label_is_never_refused() {
    let of = Custody::of_salve().await;
    of.fill(&of.room.noor, 1, "30 g").await.expect(201);
    let mut printed = Vec::new();
    for wide in (32..=76).step_by(4) {
        let path = of.path(&format!("jars/1/label.png?size={wide}%20x%2040%20mm"));
        printed.push((wide, of.room.noor.get(&path).await.status == 200));
    }
    assert!(printed.is_sorted_by_key(|(_, whole)| *whole), "{printed:?}");
    assert!(printed.iter().any(|(wide, whole)| *wide < 60 && *whole), "a usual label has room: {printed:?}");
    of.room.stop().await;
}
