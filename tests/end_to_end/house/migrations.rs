//! Migrations run up, down and up with identical outcomes, each way down proven by itself.

use std::path::PathBuf;
use std::process::Command;

use diesel_async::SimpleAsyncConnection;
use stillroom_tests::database;

use super::{root, texts};

/// The migrations in their order: name, way up, way down.
fn migrations() -> Vec<(String, String, String)> {
    let mut folders: Vec<PathBuf> = std::fs::read_dir(root().join("migrations"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .collect();
    folders.sort();
    folders
        .iter()
        .map(|folder| {
            let read = |file| std::fs::read_to_string(folder.join(file)).unwrap();
            (folder.file_name().unwrap().to_str().unwrap().to_owned(), read("up.sql"), read("down.sql"))
        })
        .collect()
}

/// The structure of a database with owners and grants, without its data and without the migrations' own bookkeeping.
async fn structure(url: &str) -> String {
    let program =
        std::env::var("TEST_PG_BIN").map_or_else(|_| "pg_dump".into(), |folder| format!("{folder}/pg_dump"));
    let dumped = Command::new(program)
        .args(["--schema-only", "--exclude-table=__diesel_schema_migrations", "--dbname", url])
        .output();
    match dumped {
        Ok(output) => {
            assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
            let text = String::from_utf8(output.stdout).unwrap();
            // Newer clients guard their dumps with a random word in each.
            text.lines()
                .filter(|line| !line.starts_with("\\restrict") && !line.starts_with("\\unrestrict"))
                .collect::<Vec<_>>()
                .join("\n")
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => catalogue(url).await,
        Err(error) => panic!("pg_dump: {error}"),
    }
}

/// The same from the catalogue, where no Postgres client is installed.
async fn catalogue(url: &str) -> String {
    const QUERIES: [&str; 6] = [
        "SELECT format('%s.%s %s %s %s', c.relname, a.attname, format_type(a.atttypid, a.atttypmod), a.attnotnull,
                pg_get_expr(d.adbin, d.adrelid)) AS value
            FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
            LEFT JOIN pg_attrdef d ON d.adrelid = c.oid AND d.adnum = a.attnum
            WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' AND c.relname NOT LIKE '\\_\\_%'
            ORDER BY c.relname, a.attnum",
        "SELECT format('%s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid)) AS value FROM pg_constraint
            WHERE connamespace = 'public'::regnamespace AND conrelid::regclass::text NOT LIKE '\\_\\_%' ORDER BY 1",
        "SELECT indexdef AS value FROM pg_indexes
            WHERE schemaname = 'public' AND tablename NOT LIKE '\\_\\_%' ORDER BY 1",
        "SELECT pg_get_triggerdef(oid) AS value FROM pg_trigger WHERE NOT tgisinternal ORDER BY 1",
        "SELECT pg_get_functiondef(oid) AS value FROM pg_proc WHERE pronamespace = 'public'::regnamespace ORDER BY 1",
        "SELECT format('%s %s %s', relname, pg_get_userbyid(relowner), relacl) AS value FROM pg_class
            WHERE relnamespace = 'public'::regnamespace AND relname NOT LIKE '\\_\\_%'
            UNION ALL SELECT format('%s %s', nspname, nspacl) FROM pg_namespace WHERE nspname = 'public' ORDER BY 1",
    ];
    let mut conn = database::owner(url).await;
    let mut all = Vec::new();
    for sql in QUERIES {
        all.extend(texts(&mut conn, sql).await);
    }
    all.join("\n")
}

#[tokio::test(flavor = "multi_thread")]
async fn every_migration_goes_up_down_and_up_again() {
    let url = database::empty().await;
    let mut conn = database::owner(&url).await;
    let mut run = async |sql: &str, name: &str| {
        conn.batch_execute(&format!("BEGIN; {sql}\n; COMMIT"))
            .await
            .unwrap_or_else(|error| panic!("{name}: {error}"));
    };
    let migrations = migrations();
    // Each alone: its way down leads back to what was there before it.
    let mut before = structure(&url).await;
    for (name, up, down) in &migrations {
        run(up, name).await;
        let after = structure(&url).await;
        assert_ne!(before, after, "{name} does nothing");
        run(down, name).await;
        assert_eq!(structure(&url).await, before, "the way down of {name} does not lead back");
        run(up, name).await;
        assert_eq!(structure(&url).await, after, "{name} does something else the second time");
        before = after;
    }
    // All the way down and up again.
    for (name, _, down) in migrations.iter().rev() {
        run(down, name).await;
    }
    for (name, up, _) in &migrations {
        run(up, name).await;
    }
    assert_eq!(structure(&url).await, before);
    // What is built into the binary is what stands in the folder.
    let built_in = database::copy().await;
    assert_eq!(structure(&built_in).await, before);
    drop(conn);
    database::remove(&built_in).await;
    database::remove(&url).await;
}
