//! What a crate that answers requests might try on the gate. Such a crate depends on `clinic` and `wire` only, so these
//! cases name nothing else. Each file in `gate` tries one way and must not compile; the compiler's reason is beside it.
//! After a change: `TRYBUILD=overwrite cargo test -p clinic --test gate`, and read the reasons. What the clinic's own
//! crates might try is in the tests of `release`.

use std::path::Path;

/// What is released is for sending.
#[test]
fn what_is_released_can_be_sent_and_nothing_else() {
    fn sent<T: serde::Serialize>() {}
    sent::<clinic::ReleasedRecipe>();

    let cases = trybuild::TestCases::new();
    cases.compile_fail("tests/gate/*.rs");
}

/// The cases are built with everything that this crate depends on; those who answer requests have less.
#[test]
fn the_cases_name_what_a_crate_that_answers_requests_can_name() {
    const HIDDEN: [&str; 14] = [
        "bench",
        "calculators",
        "canonical",
        "diesel",
        "diesel_async",
        "formulary",
        "judgement",
        "materia",
        "materials",
        "people",
        "policy",
        "recipes",
        "release",
        "store",
    ];
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/gate");
    for file in std::fs::read_dir(folder).unwrap() {
        let file = file.unwrap().path();
        if file.extension().is_none_or(|extension| extension != "rs") {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap();
        for path in text.split(|c: char| c.is_whitespace() || "()<>&,;".contains(c)) {
            let root = path.split_once("::").map(|(root, _)| root);
            assert!(root.is_none_or(|root| !HIDDEN.contains(&root)), "{}: {path}", file.display());
        }
    }
}
