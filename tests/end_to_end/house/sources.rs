//! What must not stand in the sources.

use std::collections::BTreeSet;

use super::files;
use super::schema::gated;

/// The lines of a text that hold a word, with nothing of a longer word on either side.
fn lines_with<'a>(text: &'a str, word: &'a str) -> impl Iterator<Item = (usize, &'a str)> {
    let part = |character: char| character.is_alphanumeric() || character == '_';
    (1..).zip(text.lines()).filter(move |(_, line)| {
        line.match_indices(word).any(|(at, _)| {
            !line[..at].chars().next_back().is_some_and(part)
                && !line[at + word.len()..].chars().next().is_some_and(part)
        })
    })
}

/// Every Rust source of the service.
fn rust() -> Vec<(String, String)> {
    ["services", "schema"].iter().flat_map(|folder| files(folder, "rs")).collect()
}

/// Where a line names a table: by Diesel's module of it, or in the text of a statement.
fn names_table(line: &str, table: &str) -> bool {
    let code = line.split("//").next().unwrap_or_default();
    let lower = code.to_lowercase();
    let by_diesel = lines_with(code, table).next().is_some_and(|_| {
        code.contains(&format!("{table}::table")) || code.contains(&format!("schema::{table}"))
    });
    let in_sql = ["from", "into", "update", "join", "table"]
        .iter()
        .any(|word| lines_with(&lower, &format!("{word} {table}")).next().is_some());
    by_diesel || in_sql
}

/// A source without comments, line ends, quotes and the name of the schema.
fn as_one_line(text: &str) -> String {
    let code: Vec<&str> = text.lines().map(|line| line.split("//").next().unwrap_or_default()).collect();
    let code = code.join(" ").replace(['"', '\\'], "").replace("public.", "");
    code.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_gated_table_is_found_in_whatever_way_a_statement_names_it() {
    for text in [
        "sql_query(\"SELECT content FROM revision_content\")",
        "\"SELECT content\n  FROM\n    revision_content\"",
        "\"SELECT content FROM \\\"public\\\".\\\"revision_content\\\"\"",
        "\"DELETE FROM public.revision_content\"",
        "schema::revision_content::table",
    ] {
        assert!(names_table(&as_one_line(text), "revision_content"), "{text}");
    }
    assert!(!names_table(&as_one_line("// FROM revision_content\nlet from = revision;"), "revision_content"));
}

#[test]
fn only_the_release_crate_names_the_gated_tables() {
    const GATE: &str = "services/release/src/";
    // Attempts that must not compile name them too, in the tests of the crates.
    let sources: Vec<(String, String)> =
        rust().into_iter().filter(|(file, _)| file.contains("/src/")).collect();
    let (mut found, mut named) = (Vec::new(), BTreeSet::new());
    for (file, text) in &sources {
        for table in gated() {
            for (number, line) in (1..).zip(text.lines()).filter(|(_, line)| names_table(line, table)) {
                if file.starts_with(GATE) {
                    named.insert(table);
                } else {
                    found.push(format!("{file}:{number}: {}", line.trim()));
                }
            }
            // A statement may go over several lines, and quote what it names.
            if !file.starts_with(GATE) && names_table(&as_one_line(text), table) {
                found.push(format!("{file}: {table}, in a statement"));
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
    assert_eq!(named, gated().into_iter().collect(), "the scan finds what is there");
    let (_, root) = sources.iter().find(|(file, _)| *file == format!("{GATE}lib.rs")).unwrap();
    assert!(root.contains("\nmod gated;"), "the tables are private to the crate");
}

/// Where content is read though no reader holds a grant, with how often. A new place is a decision: it goes here, with
/// the reason in the code.
const EXITS: [(&str, usize); 4] = [
    ("services/formulary/src/frozen.rs", 1),
    ("services/formulary/src/renew.rs", 1),
    ("services/formulary/src/results.rs", 2),
    ("services/recipes/src/label/mod.rs", 1),
];

#[test]
fn content_leaves_its_seal_without_a_grant_in_few_places() {
    let found: Vec<(String, usize)> = rust()
        .into_iter()
        .filter(|(file, _)| file.contains("/src/") && !file.starts_with("services/release/"))
        .map(|(file, text)| {
            // By its own name, so that it can be counted.
            for (number, line) in lines_with(&text, "Exit") {
                let renamed = line.trim_start().starts_with("use ") && line.contains("Exit::");
                assert!(!renamed && !line.contains("Exit as"), "{file}:{number}: {line}");
            }
            let uses = text.matches("Exit::").count();
            (file, uses)
        })
        .filter(|(_, uses)| *uses > 0)
        .collect();
    let expected: Vec<(String, usize)> =
        EXITS.iter().map(|(file, uses)| ((*file).to_owned(), *uses)).collect();
    assert_eq!(found, expected, "every exit of the gate has its row in EXITS");
}

/// The crates whose rules work on what was released to the caller for whom they act.
const WORK_ON_RELEASED: [&str; 3] = ["bench", "formulary", "recipes"];

#[test]
fn few_crates_work_on_what_was_released() {
    let found: BTreeSet<String> = rust()
        .into_iter()
        .filter(|(file, text)| {
            file.contains("/src/") && !file.starts_with("services/release/") && text.contains("ForRules")
        })
        .filter_map(|(file, _)| file.split('/').nth(1).map(str::to_owned))
        .collect();
    assert_eq!(found, WORK_ON_RELEASED.iter().map(|name| (*name).to_owned()).collect());
}

/// The most lines that the gate may have: what everybody relies on must be read in one sitting. The tables are not counted: they
/// are printed from the database, a line for each column, and compared with it.
const GATE_LINES: usize = 2500;

#[test]
fn the_gate_stays_small() {
    let written =
        files("services/release/src", "rs").into_iter().filter(|(file, _)| !file.ends_with("/gated.rs"));
    let lines: usize = written.map(|(_, text)| text.lines().count()).sum();
    assert!(lines <= GATE_LINES, "the crate `release` has {lines} lines, of at most {GATE_LINES}");
}

#[test]
fn time_comes_in_through_one_clock() {
    // SQL's own clocks, in queries, migrations and whatever else is SQL.
    const SQL: [&str; 9] = [
        "current_timestamp",
        "current_date",
        "current_time",
        "localtime",
        "localtimestamp",
        "clock_timestamp",
        "statement_timestamp",
        "transaction_timestamp",
        "timeofday",
    ];
    let mut found = Vec::new();
    for (file, text) in rust().into_iter().chain(files("migrations", "sql")).chain(files("schema", "sql")) {
        for (number, line) in (1..).zip(text.lines()) {
            // Only what runs: a comment may name what it warns of.
            let code = line.split("//").next().unwrap_or_default().split("--").next().unwrap_or_default();
            let lower = code.to_lowercase();
            let asks_sql = SQL.iter().any(|word| lines_with(&lower, word).next().is_some());
            let asks_now = lower.match_indices("now()").any(|(at, _)| {
                let before = &lower[..at];
                // A method of a clock is not SQL's; durations may be measured; the clock itself asks the machine.
                let of_the_machine = before.ends_with("utc::") && file == "services/store/src/clock.rs";
                !(before.ends_with('.')
                    || before.ends_with("instant::")
                    || before.ends_with("fn ")
                    || of_the_machine)
            });
            if asks_sql
                || asks_now
                || lines_with(code, "SystemTime").next().is_some()
                || code.contains("dsl::now")
            {
                found.push(format!("{file}:{number}: {}", line.trim()));
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn nothing_sleeps_and_nothing_is_left_to_do() {
    // The client waits as long as the service asked it to before it tries again.
    // The store waits before it tries a transaction again that lost.
    const MAY_WAIT: [&str; 2] = ["services/client/src/exchange.rs", "services/store/src/store.rs"];
    // This file names what it looks for.
    const THIS: &str = "tests/end_to_end/house/sources.rs";
    let mut found = Vec::new();
    for (file, text) in rust().into_iter().chain(files("tests", "rs")).filter(|(file, _)| file != THIS) {
        for word in ["sleep", "todo!", "unimplemented!", "dbg!", "FIXME", "TODO", "XXX", "ignore"] {
            for (number, line) in lines_with(&text, word) {
                // A comment may say what never happens.
                let said =
                    word == "sleep" && line.split("//").next().is_some_and(|code| !code.contains(word));
                let waits = said || word == "sleep" && MAY_WAIT.contains(&file.as_str());
                // `ignore` is a word like any other but for the attribute.
                if !waits && (word != "ignore" || line.contains("#[ignore")) {
                    found.push(format!("{file}:{number}: {}", line.trim()));
                }
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn no_file_is_longer_than_a_reader_can_hold() {
    let long: Vec<String> = rust()
        .into_iter()
        .chain(files("tests", "rs"))
        .chain(files("migrations", "sql"))
        .map(|(file, text)| (file, text.lines().count()))
        // Printed from the database: nobody reads it from top to bottom.
        .filter(|(file, lines)| *lines > 600 && file != "schema/src/schema.rs")
        .map(|(file, lines)| format!("{file}: {lines}"))
        .collect();
    assert!(long.is_empty(), "over 600 lines: {long:?}");
}

/// Where rows are locked apart from the crate `locks`: the caller's own right, held from the proof on; rows of one person,
/// of sessions and keys; what is past its time, one row at a time and passing over what others hold; one migrator at a time;
/// and the journal's heads at the very end of a transaction.
const LOCKS_ELSEWHERE: [&str; 8] = [
    "services/people/src/account.rs",
    "services/people/src/api_clients.rs",
    "services/people/src/sessions.rs",
    "services/server/src/migrate.rs",
    "services/store/src/journal/heads.rs",
    "services/store/src/proof.rs",
    "services/store/src/purge.rs",
    "services/store/src/calling.rs",
];

#[test]
fn rows_are_locked_in_one_place() {
    let mut found = BTreeSet::new();
    for (file, text) in rust().into_iter().filter(|(file, _)| file.contains("/src/")) {
        let code = as_one_line(&text).to_lowercase();
        let by_diesel = ["for_update(", "for_no_key_update(", "for_share(", "for_key_share("];
        let in_sql =
            [" for update", " for no key update", " for share", " for key share", "advisory_xact_lock("];
        if by_diesel.iter().chain(&in_sql).any(|lock| code.contains(lock)) {
            found.insert(file);
        }
    }
    assert!(found.remove("services/locks/src/lib.rs"), "the scan finds what is there");
    // The relay's own lock, which no other transaction takes, and one that is tried and never waited for.
    assert!(found.remove("services/store/src/journal/order.rs"));
    assert!(found.remove("services/store/src/idempotency.rs"));
    let elsewhere: BTreeSet<String> = LOCKS_ELSEWHERE.into_iter().map(str::to_owned).collect();
    assert_eq!(found, elsewhere, "rows are locked by `locks::lock`, in the one order");
}

#[test]
fn only_the_label_of_a_batch_is_read_by_the_proof_that_api_clients_get() {
    let found: Vec<String> = rust()
        .into_iter()
        .filter(|(file, text)| file.contains("/src/") && text.contains("access_for_label"))
        .map(|(file, _)| file)
        .collect();
    let expected = [
        "services/bench/src/batches.rs",
        "services/bench/src/jar_labels.rs",
        "services/bench/src/label.rs",
        "services/release/src/record.rs",
    ];
    assert_eq!(found, expected);
}
