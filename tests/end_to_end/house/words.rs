//! How the service speaks to people: rules of calculation, refusals and other texts in the sources.

use std::collections::BTreeSet;

use super::{files, root};

/// Turns of phrase that leave the reader to guess who or what is meant. A text names the person, object or value.
const LOST: [&str; 25] = [
    "what is made",
    "what is in it",
    "what stays",
    "what follows",
    "what went in",
    "what came out",
    "what is known of",
    "whoever",
    "whatever",
    "nobody",
    "somebody",
    "those who",
    "worked out",
    "not any more",
    "no more questions",
    "there is no such",
    "there is nothing",
    "is good until",
    "be had in the end",
    "so much to so much",
    "in the hundred",
    "write it like",
    "say why",
    "if need be",
    "nothing but",
];

/// Texts that are not for people who use the service, or whose words others rely on, each with its reason.
const LEFT: [(&str, &str); 1] =
    [("cannot be worked out", "a digest is taken of these words, and an origin of a caution says them")];

/// The text literals of a source before its unit tests, each with its line and what stands before it.
fn texts(source: &str) -> Vec<(usize, String, &str)> {
    let end = source.find("#[cfg(test)]\nmod tests").unwrap_or(source.len());
    let source = &source[..end];
    let (mut found, mut at) = (Vec::new(), 0);
    while let Some(rest) = source.get(at..) {
        let Some(next) = rest.find(['"', '/', '\'']) else { break };
        let here = at + next;
        let tail = &source[here..];
        if tail.starts_with("//") {
            at = here + tail.find('\n').unwrap_or(tail.len());
        } else if tail.starts_with('\'') {
            // A character, or the name of a lifetime.
            let character =
                ["'\\''", "'\"'", "'\\\"'", "'/'"].iter().find(|quoted| tail.starts_with(**quoted));
            at = here + character.map_or(1, |quoted| quoted.len());
        } else if tail.starts_with('/') {
            at = here + 1;
        } else {
            let hashes = source[..here].chars().rev().take_while(|sign| *sign == '#').count();
            let raw = source[..here - hashes].ends_with('r');
            let close = if raw {
                tail[1..].find(&format!("\"{}", "#".repeat(hashes))).map(|close| close + 1)
            } else {
                closing(tail)
            };
            let Some(close) = close else { break };
            let line = source[..here].matches('\n').count() + 1;
            found.push((line, joined(&tail[1..close]), source[..here].trim_end()));
            at = here + close + 1;
        }
    }
    found
}

/// Where a text that begins with its quote ends.
fn closing(tail: &str) -> Option<usize> {
    let mut escaped = false;
    tail.char_indices().skip(1).find_map(|(at, sign)| {
        let closes = sign == '"' && !escaped;
        escaped = sign == '\\' && !escaped;
        closes.then_some(at)
    })
}

/// A text that goes over several lines, as it is read.
fn joined(text: &str) -> String {
    let mut lines = text.split("\\\n");
    let first = lines.next().unwrap_or_default().to_owned();
    lines.fold(first, |whole, line| whole + line.trim_start())
}

fn sources() -> Vec<(String, String)> {
    files("services", "rs").into_iter().filter(|(file, _)| file.contains("/src/")).collect()
}

/// Words of a text, a place for a figure counted as one.
fn words(text: &str) -> usize {
    text.split_whitespace()
        .filter(|word| word.chars().any(char::is_alphanumeric) || word.contains('{'))
        .count()
}

/// What is wrong with a text, whatever it is for.
fn faults(text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    let mut faults: Vec<String> =
        LOST.iter().filter(|lost| lower.contains(**lost)).map(|lost| format!("says {lost:?}")).collect();
    if text.ends_with("..") || text.contains(". .") {
        faults.push("ends twice".to_owned());
    }
    if text.contains("  ") {
        faults.push("has two spaces".to_owned());
    }
    faults
}

#[test]
fn a_text_is_found_with_what_stands_before_it() {
    let found = texts("let a = f('\"', \"one \\\n     two\"); // \"no\"\nlet b = r#\"say \"x\"\"#;");
    let found: Vec<(usize, &str)> = found.iter().map(|(line, text, _)| (*line, text.as_str())).collect();
    assert_eq!(found, [(1, "one two"), (3, "say \"x\"")]);
    assert!(!faults("a ratio to what is made").is_empty() && !faults("Done..").is_empty());
    assert_eq!(words("{net} after losses of {loss}: {=}"), 6);
}

#[test]
fn the_sentence_of_every_rule_begins_with_a_word_or_figure_and_is_short() {
    let (mut wrong, mut rules) = (Vec::new(), BTreeSet::new());
    for (file, source) in sources() {
        let texts = texts(&source);
        for pair in texts.windows(2) {
            let [(_, key, before), (line, says, between)] = pair else { continue };
            let opens = ["Rule::definition(", "Rule::new(", "remark!("];
            let head = before.rsplit(';').next().unwrap_or_default();
            if !opens.iter().any(|open| head.contains(open)) || !between.ends_with("\",") {
                continue;
            }
            rules.insert(key.clone());
            let mut found = faults(says);
            let first = says.chars().next().unwrap_or(' ');
            if !(first.is_alphanumeric() || "{(".contains(first)) {
                found.push("begins with a sign".to_owned());
            }
            if words(says) > 30 {
                found.push(format!("has {} words", words(says)));
            }
            wrong.extend(found.into_iter().map(|fault| format!("{file}:{line}: {key}: {fault}: {says}")));
        }
    }
    assert!(rules.len() > 180, "the scan finds the rules: {}", rules.len());
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_refusal_is_a_sentence_of_at_most_thirty_five_words() {
    let (mut wrong, mut refusals) = (Vec::new(), 0);
    for (file, source) in sources().into_iter().filter(|(file, _)| file.starts_with("services/galenics/")) {
        let texts = texts(&source);
        for (at, (line, text, before)) in texts.iter().enumerate() {
            let field = at.checked_sub(1).and_then(|at| texts.get(at)).map_or("", |(_, _, before)| *before);
            let refused = ["out_of_range(", "impossible("].iter().any(|open| field.ends_with(open));
            let said = before.ends_with("#[error(") || refused;
            if !said || !text.contains(' ') {
                continue;
            }
            refusals += 1;
            let mut found = faults(text);
            // What was typed stands first, as it was typed.
            let quotes = text.starts_with("\\\"");
            let first = text.chars().next().unwrap_or(' ');
            if !(quotes || first.is_uppercase() || first.is_numeric() || first == '{') {
                found.push("begins without a capital".to_owned());
            }
            if !text.ends_with(['.', '}', '?']) {
                found.push("ends without a full stop".to_owned());
            }
            if words(text) > 35 {
                found.push(format!("has {} words", words(text)));
            }
            wrong.extend(found.into_iter().map(|fault| format!("{file}:{line}: {fault}: {text}")));
        }
    }
    assert!(refusals > 120, "the scan finds the refusals: {refusals}");
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn no_text_for_people_leaves_them_to_guess_who_or_what_is_meant() {
    let mut wrong = Vec::new();
    for (file, source) in sources() {
        for (line, text, _) in texts(&source) {
            if !text.contains(' ') || LEFT.iter().any(|(left, _)| text.contains(left)) {
                continue;
            }
            let lower = text.to_lowercase();
            wrong.extend(
                LOST.iter()
                    .filter(|lost| lower.contains(**lost))
                    .map(|lost| format!("{file}:{line}: says {lost:?}: {text}")),
            );
        }
    }
    let pages = "services/pages/texts/en.ftl";
    for (number, line) in (1..).zip(std::fs::read_to_string(root().join(pages)).unwrap().lines()) {
        let said = line.split_once(" = ").map_or(line, |(_, said)| said).to_lowercase();
        let found = LOST.iter().filter(|lost| !line.starts_with('#') && said.contains(**lost));
        wrong.extend(found.map(|lost| format!("{pages}:{number}: says {lost:?}: {line}")));
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
