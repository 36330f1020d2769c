//! The documentation page works without a network: everything it loads is served by the service, under a policy that
//! lets it run.

use stillroom_tests::TestClinic;

/// The values of an attribute in a page.
fn attributes<'a>(html: &'a str, name: &str) -> Vec<&'a str> {
    html.split(&format!(" {name}=\""))
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap_or_default())
        .collect()
}

/// What a text names of other hosts, a few addresses aside that only name a vocabulary and are never fetched.
fn other_hosts(text: &str) -> Vec<&str> {
    ["http://", "https://", "ws://", "wss://"]
        .iter()
        .flat_map(|scheme| text.match_indices(scheme).map(|(at, _)| &text[at..]))
        .map(|rest| rest.split(['"', '\'', ' ', ')', '<', '\n']).next().unwrap_or_default())
        .filter(|address| !address.starts_with("http://www.w3.org/"))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_documentation_needs_no_other_host() {
    let clinic = TestClinic::start().await;
    let nobody = &clinic.nobody;
    let page = nobody.get("/docs/").await.expect(200);
    assert!(page.header("content-type").starts_with("text/html"));
    assert!(page.text.contains("<title>Stillroom</title>"), "{}", page.text);
    assert!(other_hosts(&page.text).is_empty(), "{:?}", other_hosts(&page.text));

    // The policy: only from here, no script and no style in the page, images as data.
    let policy = page.header("content-security-policy");
    for directive in [
        "default-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    ] {
        assert!(policy.split(';').any(|one| one.trim() == directive), "{directive} in {policy}");
    }
    assert!(!policy.contains("script-src") && !policy.contains('*') && !policy.contains("http"), "{policy}");
    for script in page.text.split("<script").skip(1) {
        let (tag, rest) = script.split_once('>').unwrap();
        assert!(
            tag.contains(" src=\""),
            "a script stands in the page, which the policy forbids: <script{tag}>"
        );
        assert!(rest.trim_start().starts_with("</script>"), "{rest}");
    }
    for handler in ["onload", "onclick", "onerror"] {
        assert!(
            attributes(&page.text, handler).is_empty(),
            "{handler} in the page, which the policy forbids"
        );
    }

    let mut assets = attributes(&page.text, "src");
    assets.extend(attributes(&page.text, "href"));
    assert!(assets.len() >= 5, "{assets:?}");
    let mut scripts = Vec::new();
    for asset in assets {
        assert!(!asset.contains("//"), "{asset} is of another host");
        let path = format!("/docs/{}", asset.trim_start_matches("./"));
        let answer = nobody.get(&path).await.expect(200);
        // `nosniff` is set: a wrong kind would not be run or applied.
        let kind = answer.header("content-type");
        if path.ends_with(".js") {
            assert!(kind.contains("javascript"), "{path}: {kind}");
            scripts.push(path.clone());
        } else if path.ends_with(".css") {
            assert!(kind.starts_with("text/css"), "{path}: {kind}");
            // Nothing is imported, and what is drawn is drawn from the sheet itself.
            assert!(!answer.text.contains("@import"), "{path}");
            for address in answer.text.split("url(").skip(1) {
                let address = address.trim_start_matches(['"', '\'']);
                assert!(
                    address.starts_with("data:") || !address.contains("//"),
                    "{path}: {}",
                    &address[..40]
                );
            }
        }
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
    }
    // What starts it names the document here and turns the outside checker off.
    let initializer = scripts.iter().find(|path| path.contains("initializer")).expect("what starts the page");
    let initializer = nobody.get(initializer).await.expect(200);
    assert!(other_hosts(&initializer.text).is_empty(), "{:?}", other_hosts(&initializer.text));
    assert!(initializer.text.contains("/openapi.json"), "{}", initializer.text);
    assert!(initializer.text.contains("\"validatorUrl\": \"none\""), "{}", initializer.text);
    nobody.get("/openapi.json").await.expect(200);
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_kind_of_problem_has_its_page() {
    let clinic = TestClinic::start().await;
    let nobody = &clinic.nobody;
    let list = nobody.get("/problems").await.expect(200);
    let links: Vec<&str> =
        attributes(&list.text, "href").into_iter().filter(|link| link.starts_with("/problems/")).collect();
    assert!(links.len() >= 15, "{links:?}");
    for link in links {
        let page = nobody.get(link).await.expect(200);
        assert!(page.header("content-type").starts_with("text/html"), "{link}");
        assert!(page.text.contains("What to do") && page.text.contains("For tools"), "{link}");
        for asset in attributes(&page.text, "href").into_iter().filter(|link| link.starts_with("/assets")) {
            nobody.get(asset).await.expect(200);
        }
    }
    nobody.get("/problems/no-such-kind").await.expect(404);
    clinic.stop().await;
}
