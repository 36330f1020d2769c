//! What fills the benchmark's database, and what its bare service asks, still fits today's tables. The benchmark itself is
//! no part of the tests, so that nothing else would notice a renamed column.

use diesel_async::SimpleAsyncConnection;
use stillroom_tests::clinic::TestClinic;
use stillroom_tests::database;

use super::{root, texts};

fn load(file: &str) -> String {
    std::fs::read_to_string(root().join("tests/load").join(file)).unwrap()
}

/// A script for psql as one for the server, with a few rows where the benchmark has a hundred thousand.
fn small(file: &str) -> String {
    let script = load(file);
    let many = if file == "many_submissions.sql" { 1_000_000 } else { 100_000 };
    let many = format!("generate_series(1, {many})");
    assert!(script.contains(&many), "{file} makes many rows");
    let kept: Vec<&str> =
        script.lines().filter(|line| !line.starts_with('\\') && !line.starts_with("VACUUM")).collect();
    kept.join("\n")
        .replace(&many, "generate_series(1, 20)")
        .replace("generate_series(1, 1000)", "generate_series(1, 10)")
        .replace(":at", "'2026-01-05 08:00:00+00'")
}

#[tokio::test(flavor = "multi_thread")]
async fn the_scripts_of_the_benchmark_fit_todays_tables() {
    let clinic = TestClinic::start().await;
    let author = clinic.person("ilse.brandt", "instructor").await;
    clinic.person("tomas.reuter", "instructor").await;
    let mut owner = database::owner(&clinic.database).await;
    for file in ["large_library.sql", "many_materials.sql", "many_submissions.sql", "sequential_search.sql"] {
        let script = if file == "sequential_search.sql" { load(file) } else { small(file) };
        owner.batch_execute(&script).await.unwrap_or_else(|error| panic!("{file}: {error}"));
    }
    let libraries = texts(&mut owner, "SELECT id::text AS value FROM library").await;
    let [library] = libraries.as_slice() else { panic!("one library: {libraries:?}") };
    let listed = author.get(&format!("/v1/formulas?library={library}&limit=50")).await.expect(200).json;
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(20), "{listed}");

    let waiting = author.get("/v1/submissions?limit=100").await.expect(200).json;
    let late = |item: &serde_json::Value| item["late"] == true;
    let items = waiting["items"].as_array().unwrap();
    assert_eq!((items.len(), items.iter().filter(|item| late(item)).count()), (30, 3), "{waiting}");

    let service = load("bare_service.py");
    let proof = service.split("PROOF = \"\"\"").nth(1).and_then(|rest| rest.split("\"\"\"").next()).unwrap();
    owner.batch_execute(&format!("PREPARE proof AS {proof}")).await.unwrap();
    drop(owner);
    clinic.stop().await;
}
