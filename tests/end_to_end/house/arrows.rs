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

/// Our crates with what each may use of ours. The tests stand outside: nothing may depend on them.
const ARROWS: [(&str, &[&str]); 8] = [
    ("server", &["api", "clinic", "materia", "wire"]),
    ("api", &["clinic", "wire"]),
    ("clinic", &["galenics", "materia", "schema", "wire"]),
    ("client", &["wire"]),
    ("galenics", &[]),
    ("materia", &[]),
    ("wire", &[]),
    ("schema", &[]),
];

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
fn arrows_go_down_only() {
    let metadata = metadata();
    let (crates, tests) = ours(&metadata);
    let known: BTreeSet<&str> = ARROWS.iter().map(|(name, _)| *name).collect();
    assert_eq!(
        crates.keys().copied().collect::<BTreeSet<_>>(),
        known,
        "every crate of ours has its row in ARROWS"
    );
    for (name, may) in ARROWS {
        let used: Vec<&str> = asked_for(crates[name])
            .into_iter()
            .filter(|used| (known.contains(used) || tests.contains(used)) && !may.contains(used))
            .collect();
        assert!(used.is_empty(), "{name} may use {may:?} of ours, and uses {used:?}");
    }
}

#[test]
fn only_the_clinic_the_schema_and_the_server_know_the_database() {
    let metadata = metadata();
    let (crates, _) = ours(&metadata);
    for name in ["api", "client", "wire", "galenics", "materia"] {
        let used: Vec<&str> = asked_for(crates[name])
            .into_iter()
            .filter(|used| *used == "schema" || used.starts_with("diesel") || used.contains("postgres"))
            .collect();
        assert!(used.is_empty(), "{name} uses {used:?}");
    }
}

#[test]
fn the_calculations_and_the_reference_data_ask_for_no_network_database_runtime_or_chance() {
    let metadata = metadata();
    let (crates, _) = ours(&metadata);
    for name in ["galenics", "materia"] {
        let used: Vec<&str> = asked_for(crates[name])
            .into_iter()
            .filter(|used| {
                [
                    "actix", "async", "diesel", "futures", "hyper", "postgres", "rand", "reqwest", "tokio",
                    "uuid",
                ]
                .iter()
                .any(|banned| used.starts_with(banned))
            })
            .collect();
        assert!(used.is_empty(), "{name} uses {used:?}");
    }
}
