//! What must not stand in the sources.

use super::files;
use super::schema::GATED;

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

#[test]
fn only_the_safety_store_names_the_gated_tables() {
    const MAY: [&str; 2] = ["services/clinic/src/safety/store.rs", "services/clinic/src/safety/gated.rs"];
    // Attempts that must not compile name them too, in the clinic's tests.
    let sources: Vec<(String, String)> =
        rust().into_iter().filter(|(file, _)| file.contains("/src/")).collect();
    let mut found = Vec::new();
    for (file, text) in &sources {
        for table in GATED {
            for (number, line) in lines_with(text, table) {
                if !MAY.contains(&file.as_str()) {
                    found.push(format!("{file}:{number}: {}", line.trim()));
                }
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
    let store = &sources.iter().find(|(file, _)| file == MAY[0]).unwrap().1;
    assert!(
        GATED.iter().all(|table| lines_with(store, table).next().is_some()),
        "the scan finds what is there"
    );
    assert!(store.contains("\nmod gated;"), "private to the store");
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
                let of_the_machine = before.ends_with("utc::") && file == "services/clinic/src/clock.rs";
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
    const MAY_WAIT: &str = "services/client/src/exchange.rs";
    // This file names what it looks for.
    const THIS: &str = "tests/end_to_end/house/sources.rs";
    let mut found = Vec::new();
    for (file, text) in rust().into_iter().chain(files("tests", "rs")).filter(|(file, _)| file != THIS) {
        for word in ["sleep", "todo!", "unimplemented!", "dbg!", "FIXME", "TODO", "XXX", "ignore"] {
            for (number, line) in lines_with(&text, word) {
                // A comment may say what never happens.
                let said =
                    word == "sleep" && line.split("//").next().is_some_and(|code| !code.contains(word));
                let waits = said || word == "sleep" && file == MAY_WAIT;
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
        .filter(|(_, lines)| *lines > 600)
        .map(|(file, lines)| format!("{file}: {lines}"))
        .collect();
    assert!(long.is_empty(), "over 600 lines: {long:?}");
}
