//! Migrations only add, so that the version before serves on while they run. What takes away is a contract step: it says
//! which release it follows, in which nothing used any more what it takes.

use super::root;

/// The last day of the migrations that are installed with the service stopped: they rename tables and columns. Every later
/// one is held to the rule.
const STOPPED: &str = "2026-11-28";

/// What begins the line by which a migration says that it is a contract step, before the release that it follows.
const CONTRACT: &str = "-- contract step, follows ";

/// The statements of a migration, in capitals on one line each, without comments and the bodies of functions.
fn statements(sql: &str) -> Vec<String> {
    let code: Vec<&str> = sql.lines().map(|line| line.split("--").next().unwrap_or_default()).collect();
    // What stands between dollar signs runs later.
    let outside: String = code.join(" ").split("$$").step_by(2).collect();
    outside
        .to_uppercase()
        .split(';')
        .map(|one| one.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|one| !one.is_empty())
        .collect()
}

/// What a statement takes away from the version before, if anything.
fn takes_away(statement: &str) -> Option<&'static str> {
    let has = |words: &str| format!(" {statement} ").contains(&format!(" {words} "));
    let of_a_new_table = statement.starts_with("CREATE TABLE");
    // A constraint may be replaced by a laxer one, and an index by a better one.
    // And a column may be left empty from now on.
    let laxer = has("DROP CONSTRAINT") || has("DROP NOT NULL");
    let drops = has("DROP") && !laxer && !statement.starts_with("DROP INDEX");
    if has("RENAME") {
        Some("renames something")
    } else if drops {
        Some("drops something")
    } else if has("SET NOT NULL")
        || (has("ADD COLUMN") && has("NOT NULL") && !has("DEFAULT")) && !of_a_new_table
    {
        Some("asks for a value that the version before does not write")
    } else if has("ALTER COLUMN") && (has("TYPE") || has("SET DATA TYPE")) {
        Some("changes a type")
    } else if statement.starts_with("REVOKE") && has("FROM STILLROOM_SERVICE") {
        Some("takes a right from the service")
    } else {
        None
    }
}

/// What is wrong with a migration, if it is to run while the version before serves. `version` is this release's.
fn refused(sql: &str, version: &str) -> Option<String> {
    let taken =
        statements(sql).into_iter().find_map(|one| takes_away(&one).map(|what| format!("{what}: {one}")));
    let follows = sql.lines().find_map(|line| line.strip_prefix(CONTRACT));
    match (taken, follows) {
        (None, _) => None,
        (Some(taken), None) => Some(taken),
        (Some(taken), Some(release)) => {
            let number = |text: &str| text.trim().split('.').map(str::parse).collect::<Result<Vec<u32>, _>>();
            match (number(release), number(version)) {
                (Ok(followed), Ok(this)) if followed < this => None,
                _ => Some(format!("follows {release:?}, which is no release before {version}: {taken}")),
            }
        }
    }
}

#[test]
fn what_a_migration_takes_away_is_found() {
    for taking in [
        "ALTER TABLE batch RENAME COLUMN number TO label;",
        "ALTER TABLE batch\n    DROP COLUMN number;",
        "DROP TABLE batch;",
        "DROP FUNCTION content_stays_frozen();",
        "ALTER TABLE batch ALTER COLUMN number TYPE integer;",
        "ALTER TABLE batch ALTER COLUMN number SET NOT NULL;",
        "ALTER TABLE batch ADD COLUMN more text NOT NULL;",
        "ALTER TABLE batch ADD COLUMN more text NOT NULL DEFAULT ''; ALTER TABLE batch ALTER COLUMN more DROP DEFAULT;",
        "REVOKE UPDATE ON batch FROM stillroom_service;",
    ] {
        assert!(refused(taking, "0.2.0").is_some(), "{taking}");
        assert!(
            refused(&format!("-- contract step, follows 0.1.0\n{taking}"), "0.2.0").is_none(),
            "{taking}"
        );
        assert!(
            refused(&format!("-- contract step, follows 0.2.0\n{taking}"), "0.2.0").is_some(),
            "{taking}"
        );
    }
    for adding in [
        "CREATE TABLE more (id uuid NOT NULL);",
        "ALTER TABLE batch ADD COLUMN more text; -- RENAME",
        "ALTER TABLE batch ADD COLUMN more text NOT NULL DEFAULT '';",
        "ALTER TABLE b DROP CONSTRAINT b_check; ALTER TABLE b ADD CONSTRAINT b_check CHECK (a IN ('x', 'y'));",
        "CREATE FUNCTION f() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN DROP TABLE t; END $$;",
        "ALTER TABLE batch ALTER COLUMN number DROP NOT NULL;",
    ] {
        assert_eq!(refused(adding, "0.2.0"), None, "{adding}");
    }
}

#[test]
fn migrations_only_add_unless_they_say_which_release_they_follow() {
    let mut found = Vec::new();
    let mut seen = 0;
    for folder in std::fs::read_dir(root().join("migrations")).unwrap() {
        let path = folder.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        seen += 1;
        if name.get(..STOPPED.len()).is_some_and(|day| day <= STOPPED) {
            continue;
        }
        let sql = std::fs::read_to_string(path.join("up.sql")).unwrap();
        found.extend(refused(&sql, env!("CARGO_PKG_VERSION")).map(|why| format!("{name} {why}")));
    }
    assert!(seen >= 13);
    assert!(
        found.is_empty(),
        "the version before could not serve; expand first, and take away in a later release (DEVELOPERS.md): {found:#?}"
    );
}
