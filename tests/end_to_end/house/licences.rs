//! Only permissive licences, among everything that is built, tested or measured with.

use super::arrows::metadata;

/// The accepted licences by their SPDX ids: all let us give the service away under our own terms, with notices kept.
const ACCEPTED: [&str; 15] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-1-Clause",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "CDLA-Permissive-2.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Whether an SPDX expression can be met by accepted licences alone: any of what `OR` joins, all of what `AND` joins.
fn is_accepted(expression: &str) -> bool {
    // Before SPDX expressions were the rule, manifests wrote a slash for OR.
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = words.as_slice();
    let accepted = any(&mut rest);
    assert!(rest.is_empty(), "cannot read the licence {expression:?}");
    accepted
}

fn any(rest: &mut &[&str]) -> bool {
    let mut accepted = all(rest);
    while let ["OR", more @ ..] = *rest {
        *rest = more;
        accepted |= all(rest);
    }
    accepted
}

fn all(rest: &mut &[&str]) -> bool {
    let mut accepted = one(rest);
    while let ["AND", more @ ..] = *rest {
        *rest = more;
        accepted &= one(rest);
    }
    accepted
}

fn one(rest: &mut &[&str]) -> bool {
    match *rest {
        ["(", more @ ..] => {
            *rest = more;
            let accepted = any(rest);
            assert_eq!(rest.first(), Some(&")"));
            *rest = &rest[1..];
            accepted
        }
        [id, "WITH", exception, more @ ..] => {
            *rest = more;
            ACCEPTED.contains(&format!("{id} WITH {exception}").as_str())
        }
        [id, more @ ..] => {
            *rest = more;
            ACCEPTED.contains(id)
        }
        [] => panic!("an empty licence"),
    }
}

#[test]
fn every_dependency_is_under_a_permissive_licence() {
    let metadata = metadata();
    let packages = metadata["packages"].as_array().unwrap();
    let refused: Vec<String> = packages
        .iter()
        .filter(|package| !package["license"].as_str().is_some_and(is_accepted))
        .map(|package| format!("{} {}: {}", package["name"], package["version"], package["license"]))
        .collect();
    assert!(packages.len() > 100 && refused.is_empty(), "{refused:#?}");
}

#[test]
fn a_licence_expression_is_read_as_spdx_defines_it() {
    for accepted in ["MIT", "MIT/Apache-2.0", "GPL-3.0-only OR MIT", "(MIT OR GPL-2.0-only) AND Unicode-3.0"]
    {
        assert!(is_accepted(accepted), "{accepted}");
    }
    for refused in
        ["GPL-3.0-only", "MIT AND MPL-2.0", "(MIT OR ISC) AND AGPL-3.0-only", "Apache-2.0 WITH X-exception"]
    {
        assert!(!is_accepted(refused), "{refused}");
    }
}
