//! The rules of the house itself: what may depend on what, and that the database, the generated files, the document
//! and the sources are as the design says.

mod arrows;
mod catalogue;
mod circles;
mod document;
mod documentation;
mod expanding;
mod gated;
mod journal;
mod licences;
mod load;
mod met;
mod migrations;
mod names;
mod proof;
mod role;
mod schema;
mod sources;
mod words;

use std::path::{Path, PathBuf};

use diesel::sql_types::Text;
use diesel_async::{AsyncPgConnection, RunQueryDsl};

/// The checkout.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// The checkout's files under a folder with this extension, with their text; what was built is left out.
pub(crate) fn files(folder: &str, extension: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in
            std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        {
            let path = entry.unwrap().path();
            if path.is_dir() {
                if path.file_name().is_some_and(|name| name != "target") {
                    folders.push(path);
                }
            } else if path.extension().is_some_and(|found| found == extension) {
                let name = path.strip_prefix(root()).unwrap().to_str().unwrap().to_owned();
                found.push((name, std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    assert!(!found.is_empty(), "no .{extension} files in {folder}");
    found.sort();
    found
}

#[derive(diesel::QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    value: String,
}

/// The single text column, named `value`, of what a query answers.
pub(crate) async fn texts(conn: &mut AsyncPgConnection, sql: &str) -> Vec<String> {
    let rows: Vec<Row> =
        diesel::sql_query(sql).load(conn).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
    rows.into_iter().map(|row| row.value).collect()
}

/// Compares a checked-in file with what it must be, or writes it when the named variable is 1.
fn holds_or_is_rewritten(file: &str, now: &str, variable: &str) {
    let path = root().join(file);
    if std::env::var(variable).is_ok_and(|value| value == "1") {
        std::fs::write(&path, now).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    if let Some((number, (there, here))) =
        (1..).zip(kept.lines().zip(now.lines())).find(|(_, (there, here))| there != here)
    {
        panic!(
            "{file} differs from line {number}: {there:?} instead of {here:?}; run this with {variable}=1"
        );
    }
    let (there, here) = (kept.lines().count(), now.lines().count());
    assert!(
        kept == now,
        "{file} ends otherwise: {there} lines instead of {here}; run this with {variable}=1"
    );
}
