//! Arrows go down only: read from the manifests as cargo understands them.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

use super::root;

/// What cargo knows of the workspace and of everything it is built, tested or measured with on this machine.
pub(super) fn metadata() -> Value {
    // The cargo that runs this test, else the one on the path.
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let run = |arguments: &[&str]| {
        let output = Command::new(&cargo).args(arguments).current_dir(root()).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let version = run(&["-vV"]);
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    // What is for other platforms only was never fetched.
    let arguments = ["metadata", "--format-version", "1", "--locked", "--filter-platform", host];
    serde_json::from_str(&run(&arguments)).unwrap()
}

/// Our crates, from the top down, with what each uses of ours. The tests stand outside: nothing may depend on them.
const ARROWS: [(&str, &[&str]); 28] = [
    ("server", &["api", "clinic", "pages", "routing", "wire"]),
    ("api", &["clinic", "print", "routing", "wire"]),
    ("pages", &["clinic", "print", "routing", "wire"]),
    ("routing", &[]),
    ("print", &["clinic", "wire"]),
    (
        "clinic",
        &[
            "bench",
            "calculators",
            "canonical",
            "formulary",
            "judgement",
            "locks",
            "materia",
            "materials",
            "people",
            "photographs",
            "policy",
            "reactions",
            "reactions",
            "recalls",
            "recipes",
            "release",
            "schema",
            "stock",
            "store",
            "teaching",
            "wire",
        ],
    ),
    (
        "teaching",
        &[
            "bench",
            "canonical",
            "formulary",
            "galenics",
            "locks",
            "people",
            "policy",
            "recipes",
            "release",
            "schema",
            "store",
            "wire",
        ],
    ),
    ("reactions", &["bench", "locks", "policy", "schema", "store", "wire"]),
    ("recalls", &["bench", "locks", "policy", "schema", "stock", "store", "wire"]),
    (
        "bench",
        &[
            "canonical",
            "formulary",
            "galenics",
            "judgement",
            "locks",
            "materia",
            "photographs",
            "policy",
            "recipes",
            "release",
            "schema",
            "stock",
            "store",
            "wire",
        ],
    ),
    (
        "stock",
        &["galenics", "judgement", "locks", "materia", "materials", "policy", "schema", "store", "wire"],
    ),
    (
        "recipes",
        &[
            "canonical",
            "formulary",
            "galenics",
            "judgement",
            "materia",
            "materials",
            "policy",
            "release",
            "store",
            "wire",
        ],
    ),
    (
        "formulary",
        &[
            "canonical",
            "galenics",
            "judgement",
            "locks",
            "materia",
            "materials",
            "policy",
            "release",
            "schema",
            "store",
            "wire",
        ],
    ),
    ("release", &["canonical", "locks", "schema", "store", "wire"]),
    ("locks", &["store", "wire"]),
    ("calculators", &["galenics", "judgement", "materia", "materials", "policy", "store", "wire"]),
    ("materials", &["canonical", "materia", "schema", "store", "wire"]),
    ("policy", &["galenics", "materia", "schema", "store", "wire"]),
    ("people", &["canonical", "schema", "store", "wire"]),
    ("photographs", &["store"]),
    ("store", &["canonical", "judgement", "materia", "schema", "wire"]),
    ("judgement", &["canonical", "galenics", "materia", "wire"]),
    ("client", &["wire"]),
    ("materia", &["canonical"]),
    ("canonical", &[]),
    ("galenics", &[]),
    ("wire", &[]),
    ("schema", &[]),
];

/// The crates that may know the database: those that own rows, and what they stand on. The server runs migrations, and
/// `recipes` keeps a connection open for its readers.
const KNOW_THE_DATABASE: [&str; 16] = [
    "bench",
    "clinic",
    "formulary",
    "locks",
    "materials",
    "people",
    "policy",
    "reactions",
    "recalls",
    "recipes",
    "release",
    "schema",
    "server",
    "stock",
    "store",
    "teaching",
];

/// The crates that work things out and touch nothing else.
const PURE: [&str; 5] = ["canonical", "galenics", "judgement", "materia", "wire"];

/// Names of the packages that a package's manifest asks for, its tests and benchmarks aside.
fn asked_for(package: &Value) -> BTreeSet<&str> {
    package["dependencies"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|dependency| dependency["kind"] != "dev")
        .map(|dependency| dependency["name"].as_str().unwrap())
        .collect()
}

/// Our packages by name, those under `tests` apart.
fn ours(metadata: &Value) -> (BTreeMap<&str, &Value>, BTreeSet<&str>) {
    let tests = root().join("tests");
    let (mut crates, mut apart) = (BTreeMap::new(), BTreeSet::new());
    for package in metadata["packages"].as_array().unwrap() {
        if !package["source"].is_null() {
            continue;
        }
        let name = package["name"].as_str().unwrap();
        if std::path::Path::new(package["manifest_path"].as_str().unwrap()).starts_with(&tests) {
            apart.insert(name);
        } else {
            crates.insert(name, package);
        }
    }
    (crates, apart)
}

#[test]
fn arrows_are_as_drawn_and_go_down_only() {
    let metadata = metadata();
    let (crates, tests) = ours(&metadata);
    let known: BTreeSet<&str> = ARROWS.iter().map(|(name, _)| *name).collect();
    assert_eq!(
        crates.keys().copied().collect::<BTreeSet<_>>(),
        known,
        "every crate of ours has its row in ARROWS"
    );
    for (at, (name, uses)) in ARROWS.iter().enumerate() {
        let used: BTreeSet<&str> = asked_for(crates[name])
            .into_iter()
            .filter(|used| known.contains(used) || tests.contains(used))
            .collect();
        assert_eq!(used, uses.iter().copied().collect(), "what {name} uses of ours is as drawn in ARROWS");
        let below: BTreeSet<&str> = ARROWS[at + 1..].iter().map(|(name, _)| *name).collect();
        assert!(used.is_subset(&below), "{name} uses only what stands below it");
    }
}

#[test]
fn only_those_who_own_rows_know_the_database() {
    let metadata = metadata();
    let (crates, _) = ours(&metadata);
    let knows = |used: &&str| {
        *used == "schema"
            || ["diesel", "deadpool"].iter().any(|part| used.starts_with(part))
            || used.contains("postgres")
    };
    let found: BTreeSet<&str> = crates
        .iter()
        .filter(|(name, package)| **name == "schema" || asked_for(package).iter().any(knows))
        .map(|(name, _)| *name)
        .collect();
    assert_eq!(found, KNOW_THE_DATABASE.into_iter().collect());
    for name in ["api", "client", "recipes", "server"] {
        assert!(!asked_for(crates[name]).contains("schema"), "{name} names no table");
    }
}

#[test]
fn what_is_pure_asks_for_no_network_database_runtime_or_chance() {
    let metadata = metadata();
    let (crates, _) = ours(&metadata);
    for name in PURE {
        let used: Vec<&str> = asked_for(crates[name])
            .into_iter()
            .filter(|used| {
                // Those who speak of records name them by id, and make none.
                let makes_ids = *used == "uuid" && !matches!(name, "judgement" | "wire");
                let banned = [
                    "actix", "async", "deadpool", "diesel", "futures", "hyper", "postgres", "rand",
                    "reqwest", "tokio",
                ];
                makes_ids || banned.iter().any(|banned| used.starts_with(banned))
            })
            .collect();
        assert!(used.is_empty(), "{name} uses {used:?}");
    }
}

#[test]
fn those_who_answer_requests_see_use_cases_only() {
    let metadata = metadata();
    let (crates, _) = ours(&metadata);
    let ours: BTreeSet<&str> = crates.keys().copied().collect();
    let of_ours =
        |name: &str| -> Vec<&str> { asked_for(crates[name]).intersection(&ours).copied().collect() };
    assert_eq!(of_ours("api"), ["clinic", "print", "routing", "wire"]);
    assert_eq!(of_ours("pages"), ["clinic", "print", "routing", "wire"]);
    assert!(of_ours("routing").is_empty());
    assert_eq!(of_ours("print"), ["clinic", "wire"]);
    assert_eq!(of_ours("client"), ["wire"]);
    // The gate stands on what every subject stands on, and on no subject.
    assert_eq!(of_ours("release"), ["canonical", "locks", "schema", "store", "wire"]);
}
