//! The README's walk with curl, run as it is pasted.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::demo::Demo;

/// The commands of the walk, in order.
fn walk() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../README.md");
    let text = std::fs::read_to_string(path).unwrap();
    let (_, section) = text.split_once("\n## The job, with nothing but curl").unwrap();
    let section = section.split("\n## ").next().unwrap();
    let blocks: Vec<&str> = section.split("```\n").skip(1).step_by(2).collect();
    assert!(blocks.len() >= 6, "{blocks:?}");
    blocks.concat()
}

/// A folder with a `date` that always says the same.
fn date_that_says(text: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("readme");
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("date");
    std::fs::write(&file, format!("#!/bin/sh\necho {text}\n")).unwrap();
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o755)).unwrap();
    folder
}

#[tokio::test(flavor = "multi_thread")]
async fn the_walk_of_the_readme_can_be_pasted() {
    let demo = Demo::load().await;
    let mut script = walk();
    for (given, own) in [
        ("S=http://127.0.0.1:8080\n", format!("S=http://{}\n", demo.address())),
        ("NOOR='...'\n", format!("NOOR='{}'\n", demo.password("noor.haddad"))),
        ("PETRA='...'\n", format!("PETRA='{}'\n", demo.password("petra.hollweg"))),
    ] {
        assert_eq!(script.matches(given).count(), 1, "{given}");
        script = script.replace(given, &own);
    }
    // A month from the day on which the test's clock stands.
    let date = date_that_says("2026-04-01T08:00:00Z");
    let path = format!("{}:{}", date.display(), std::env::var("PATH").unwrap());
    let run = tokio::task::spawn_blocking(move || {
        Command::new("bash").args(["-euo", "pipefail", "-c", &script]).env("PATH", path).output().unwrap()
    });
    let out = run.await.unwrap();
    let (said, failed) = (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    assert!(out.status.success(), "{said}\n{failed}");
    assert_eq!(failed, "", "{said}");
    // Of 375 g: 10 % sunflower oil.
    for part in [
        "1.3  sunflower oil  37.5 g",
        "\"state\": \"submitted\"",
        "\"holder_name\": \"Noor Haddad\"",
        "\"batch_number\": \"2026-",
        "potassium sorbate",
    ] {
        assert!(said.contains(part), "{part} in {said}");
    }
    assert!(!said.contains("null"), "every value that the walk shows is there: {said}");
    demo.stop().await;
}
