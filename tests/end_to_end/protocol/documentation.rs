//! The documentation page and the document: made once, with tags, under a policy without inline styles.

use stillroom_tests::TestClinic;

use super::read;

#[tokio::test(flavor = "multi_thread")]
async fn files_of_the_documentation_have_tags_and_codings() {
    let clinic = TestClinic::start().await;
    let nobody = &clinic.nobody;
    for (path, coded) in [
        ("/openapi.json", true),
        ("/docs/", true),
        ("/docs/swagger-ui.css", true),
        ("/docs/swagger-initializer.js", false),
        ("/docs/favicon-32x32.png", false),
    ] {
        let first = read(nobody, path, &[]).await;
        assert_eq!((first.status, first.header("cache-control")), (200, "no-cache"), "{path}");
        let tag = first.header("etag").to_owned();
        assert!(tag.len() > 40, "{path}: {tag}");
        let again = read(nobody, path, &[("if-none-match", &tag)]).await;
        assert_eq!((again.status, again.header("etag"), again.body.len()), (304, tag.as_str(), 0), "{path}");
        assert_eq!(read(nobody, path, &[("if-none-match", "\"other\"")]).await.body, first.body, "{path}");
        if coded {
            let gzip = read(nobody, path, &[("accept-encoding", "gzip")]).await;
            assert_eq!(gzip.header("content-encoding"), "gzip", "{path}");
            let same = read(nobody, path, &[("accept-encoding", "gzip")]).await;
            assert_eq!(same.body, gzip.body, "{path}: made once");
        }
    }
    nobody.get("/docs/oauth2-redirect.html").await.problem(404, "not-found");
    clinic.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_answer_has_the_headers_that_close_the_browser() {
    let clinic = TestClinic::start().await;
    for path in
        ["/", "/docs/", "/openapi.json", "/problems", "/problems/stale", "/v1/me", "/nowhere", "/sign-in"]
    {
        let answer = clinic.nobody.get(path).await;
        assert_eq!(answer.header("cross-origin-opener-policy"), "same-origin", "{path}");
        let policy = answer.header("content-security-policy");
        assert!(policy.contains("base-uri 'none'"), "{path}: {policy}");
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
    }
    clinic.stop().await;
}
