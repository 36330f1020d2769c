//! What whoever holds a jar can tell, and how little is kept of them.

use reqwest::Method;
use stillroom_tests::{Answer, database};

use super::{Jars, send};
use crate::authority::rows::every_row;

/// The key of the form on a page.
fn once(page: &Answer) -> String {
    let (_, after) = page.text.split_once("name=\"once\" value=\"").unwrap();
    after.split('"').next().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stranger_tells_a_reaction_without_saying_who_they_are_and_a_case_opens() {
    let of = Jars::start().await;
    let nobody = &of.room.clinic.nobody;
    let (_, code) = &of.jars[1];
    let path = format!("/jars/{code}/reaction");
    let page = send(nobody, Method::GET, &format!("/jars/{code}"), None).await.expect(200);
    assert!(page.text.contains(&format!("href=\"{path}\"")), "{}", page.text);
    let form = send(nobody, Method::GET, &path, None).await.expect(200);
    for said in
        ["call the emergency services at once", "You are not asked who you are.", "Plain salve", "jar 2."]
    {
        assert!(form.text.contains(said), "{said}: {}", form.text);
    }
    assert!(!form.text.contains("<script") && form.headers.get("set-cookie").is_none(), "{form:?}");
    assert_eq!(form.header("cache-control"), "no-store");

    let key = once(&form);
    let what = "what=The+skin+reddened+after+an+hour.&began_on=2026-03-01&outcome=recovering&serious=hospitalisation";
    let sent = format!("once={key}&{what}");
    let told = send(nobody, Method::POST, &path, Some(sent.clone())).await.expect(303);
    let receipt = told.header("location").to_owned();
    let reference = receipt.strip_prefix(&format!("{path}?told=")).unwrap().to_owned();
    let kept = send(nobody, Method::GET, &receipt, None).await.expect(200);
    assert!(kept.text.contains(&format!("The report is stored as {reference}.")), "{}", kept.text);
    // The same form again is the same report.
    let again = send(nobody, Method::POST, &path, Some(sent)).await.expect(303);
    assert_eq!(again.header("location"), receipt);
    // Nobody else's receipt is told, and no other text is put on the page.
    for other in ["4t6qk0x9", "Call%20this%20number"] {
        send(nobody, Method::GET, &format!("{path}?told={other}"), None).await.expect(404);
    }
    send(nobody, Method::GET, &format!("/jars/{}/reaction?told={reference}", of.jars[0].1), None)
        .await
        .expect(404);
    send(nobody, Method::GET, "/jars/4t6qk0x9w2m8n5c7r3h1vjzb0e/reaction", None).await.expect(404);

    let cases = of.room.ilse.get("/v1/reactions").await.expect(200);
    assert_eq!(cases.json["items"].as_array().unwrap().len(), 1, "{}", cases.text);
    let case = of.case(&cases.text_at("/items/0/id")).await;
    assert_eq!(
        (&case["number"], &case["state"], &case["serious"]),
        (&"R2026-0001".into(), &"open".into(), &true.into())
    );
    let report = &case["received"][0];
    assert_eq!(report["reference"], reference.as_str());
    assert_eq!((&report["told"], &report["jar_number"]), (&"on_the_page".into(), &2.into()));
    assert_eq!(report["what"], "The skin reddened after an hour.");
    assert_eq!(
        (&report["began_on"], &report["serious"][0]),
        (&"2026-03-01".into(), &"hospitalisation".into())
    );
    assert!(report.get("by").is_none() && report.get("by_name").is_none(), "{report}");
    // No row of any table names an address.
    for (table, rows) in every_row(&of.room.clinic.database).await {
        assert!(rows.iter().all(|row| !row.contains("127.0.0.1")), "{table}: {rows:?}");
    }
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_stranger_sends_wrongly_is_said_and_what_was_typed_stays() {
    let of = Jars::start().await;
    let nobody = &of.room.clinic.nobody;
    let path = format!("/jars/{}/reaction", of.jars[0].1);
    let long = "x".repeat(2001);
    for (form, said) in [
        ("once=a&what=+&outcome=unknown".to_owned(), "Enter what happened in 1 to 2000 characters."),
        (format!("once=b&what={long}&outcome=unknown"), "These are 2001."),
        ("once=c&what=It+itched.".to_owned(), "Choose how it is now."),
        ("once=d&what=It+itched.&outcome=unknown&began_on=2026-04-01".to_owned(), "at latest today"),
        ("once=e&what=It+itched.&outcome=unknown&began_on=yesterday".to_owned(), "day"),
    ] {
        let refused = send(nobody, Method::POST, &path, Some(form)).await.expect(422);
        assert!(
            refused.text.contains(said) && refused.text.contains("role=\"alert\""),
            "{said}: {}",
            refused.text
        );
        assert!(
            said.contains("characters")
                || refused.text.contains("It itched.")
                || refused.text.contains(&long)
        );
    }
    send(nobody, Method::POST, &path, Some("what=It+itched.&outcome=unknown".to_owned())).await.expect(400);
    let huge = format!("once=f&outcome=unknown&what={}", "x".repeat(2 * 1024 * 1024));
    send(nobody, Method::POST, &path, Some(huge)).await.expect(413);
    let cross = [
        ("accept", "text/html"),
        ("origin", "https://elsewhere.example"),
        ("content-type", "application/x-www-form-urlencoded"),
    ];
    let form = b"once=g&what=It+itched.&outcome=unknown".to_vec();
    nobody.send(Method::POST, &path, &cross, Some(form)).await.expect(403);
    assert_eq!(of.room.ilse.get("/v1/reactions").await.expect(200).json["items"], serde_json::json!([]));
    of.room.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_flood_from_one_address_is_stopped_and_loses_nothing_that_was_typed() {
    let settings = [("STILLROOM_TRUSTED_PROXIES", "127.0.0.1")];
    let room = stillroom_tests::TeachingClinic::start_with(&settings).await;
    let revision = room.approved(crate::stock::salve()).await;
    let weighed = [("1.1", "100 g"), ("1.2", "500 g")];
    let (_, jars) = super::filled(&room, &revision, &weighed).await;
    let nobody = &room.clinic.nobody;
    let tell = async |jar: usize, from: String, number: usize| {
        let headers = [
            ("accept", "text/html"),
            ("origin", nobody.base.as_str()),
            ("x-forwarded-for", from.as_str()),
            ("content-type", "application/x-www-form-urlencoded"),
        ];
        let form = format!("once=key-{number}&what=Report+{number}.&outcome=unknown").into_bytes();
        nobody.send(Method::POST, &format!("/jars/{}/reaction", jars[jar].1), &headers, Some(form)).await
    };
    for number in 0..5 {
        tell(0, "192.0.2.7".to_owned(), number).await.expect(303);
    }
    let stopped = tell(0, "192.0.2.7".to_owned(), 5).await.expect(429);
    assert!(stopped.header("retry-after").parse::<u64>().unwrap() > 60, "{stopped:?}");
    assert!(
        stopped.text.contains("Report 5.") && stopped.text.contains("or call the clinic"),
        "{}",
        stopped.text
    );
    // Another jar from the same address is stopped too; the same jar from another address goes on, up to ten a day.
    tell(1, "192.0.2.7".to_owned(), 6).await.expect(429);
    for number in 10..15 {
        tell(0, format!("198.51.100.{number}"), number).await.expect(303);
    }
    let full = tell(0, "203.0.113.9".to_owned(), 20).await.expect(422);
    assert!(full.text.contains("Ten reports about this jar came within a day."), "{}", full.text);
    tell(1, "203.0.113.9".to_owned(), 21).await.expect(303);
    // A network of IPv6 counts as one address.
    for number in 30..35 {
        tell(1, format!("2001:db8::{number}"), number).await.expect(303);
    }
    tell(1, "2001:db8::99".to_owned(), 36).await.expect(429);
    room.clinic.service.clinic.clock().advance(chrono::Duration::hours(25));
    tell(0, "203.0.113.10".to_owned(), 40).await.expect(303);
    // Of the clinic's own database: ten within a day, whoever writes.
    drop(database::owner(&room.clinic.database).await);
    room.stop().await;
}
