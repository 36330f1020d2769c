//! Findings about the method: steps that were done out of order, or faster than they last.

use chrono::{DateTime, Duration, Utc};
use recipes::stored::Recipe;
use release::entries::Entry;
use wire::bench::{EntryKind, Finding, FindingKind};
use wire::ids::EntryId;
use wire::long_work::Pause;

use crate::pauses;

/// A step that was done, by the entry that counts and the one that was written first: an honest correction costs nothing.
struct Done {
    step: u32,
    entry: EntryId,
    number: u32,
    at: DateTime<Utc>,
}

/// Every step that is recorded as done before an earlier one, and every step that took less time than its words ask for.
pub(crate) fn steps(recipe: &Recipe, entries: &[Entry], paused: &[Pause]) -> Vec<Finding> {
    let done = done(entries);
    let mut out = Vec::new();
    for one in &done {
        let index = usize::try_from(one.step).unwrap_or_default().saturating_sub(1);
        let Some(step) = recipe.method.get(index) else { continue };
        if !step.any_order
            && !step.rescue
            && let Some(later) = done.iter().find(|other| other.step < one.step && other.number > one.number)
        {
            out.push(Finding {
                kind: FindingKind::StepOrder,
                sentence: format!(
                    "Step {} (entry {}) is recorded as done before step {} (entry {}).",
                    one.step, one.number, later.step, later.number
                ),
                asked: Some(format!("after step {}", later.step)),
                recorded: Some(format!("entry {}, before entry {}", one.number, later.number)),
                ..of_step(one, "the steps of the method must be done in their order")
            });
        }
        let Some(lasts) = lasts(&step.do_) else { continue };
        let Some(since) = since(one, &done, entries) else { continue };
        let stood = pauses::interrupted(paused, since, one.at);
        let took = one.at - since - stood;
        if took < lasts {
            let but = match stood.is_zero() {
                true => String::new(),
                false => format!(", without the {} for which it was interrupted", words(stood)),
            };
            out.push(Finding {
                kind: FindingKind::TooFast,
                sentence: format!(
                    "Step {} lasts {}, but entry {} was written {} after what came before it{but}.",
                    one.step,
                    words(lasts),
                    one.number,
                    words(took)
                ),
                asked: Some(words(lasts)),
                recorded: Some(words(took)),
                ..of_step(one, "a step must last as long as its words say")
            });
        }
    }
    out
}

fn of_step(done: &Done, rule: &str) -> Finding {
    Finding {
        kind: FindingKind::StepOrder,
        line: None,
        step: Some(done.step),
        entry: Some(done.entry),
        asked: None,
        recorded: None,
        sentence: String::new(),
        rule: rule.to_owned(),
    }
}

/// The last entry of each step that is done, in the order of the method.
fn done(entries: &[Entry]) -> Vec<Done> {
    let mut done: Vec<Done> = Vec::new();
    let live = entries.iter().filter(|entry| entry.shown.corrected_by.is_none());
    for entry in live.filter(|entry| entry.shown.kind == EntryKind::StepDone) {
        let (Some(step), first) = (entry.shown.step, first(entry, entries)) else { continue };
        let one = Done { step, entry: entry.shown.id, number: first.shown.number, at: first.shown.at };
        done.retain(|other| other.step != step);
        done.push(one);
    }
    done.sort_by_key(|one| one.step);
    done
}

/// The entry that was written first of those that correct each other.
fn first<'e>(entry: &'e Entry, entries: &'e [Entry]) -> &'e Entry {
    let mut first = entry;
    // Each correction comes after what it corrects, so this ends.
    while let Some(before) = first.shown.corrects.and_then(|id| entries.iter().find(|one| one.shown.id == id))
    {
        first = before;
    }
    first
}

/// When a step can have begun: after the last step that was done before it, or after the first entry of the record.
fn since(one: &Done, done: &[Done], entries: &[Entry]) -> Option<DateTime<Utc>> {
    let step = done.iter().filter(|other| other.number < one.number).map(|other| other.at).max();
    let before = entries.iter().filter(|entry| entry.shown.number < one.number);
    step.or_else(|| before.map(|entry| entry.shown.at).min())
}

/// How long a step lasts, where its words say so: "for 10 minutes", "for two weeks". Of a range the shorter end.
fn lasts(text: &str) -> Option<Duration> {
    let words: Vec<&str> = text.split([' ', '\u{a0}', ',']).filter(|word| !word.is_empty()).collect();
    words.windows(3).find_map(|three| match three {
        [before, count, unit] if before.eq_ignore_ascii_case("for") => {
            let count = number(count)?;
            let unit = unit.trim_end_matches(['.', ';', ':']);
            match unit {
                "second" | "seconds" => Some(Duration::seconds(count)),
                "minute" | "minutes" => Some(Duration::minutes(count)),
                "hour" | "hours" => Some(Duration::hours(count)),
                "day" | "days" => Some(Duration::days(count)),
                "week" | "weeks" => Some(Duration::weeks(count)),
                _ => None,
            }
        }
        _ => None,
    })
}

/// A whole number in figures or in words; of a range the first.
fn number(word: &str) -> Option<i64> {
    const WORDS: [&str; 13] = [
        "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
        "twelve",
    ];
    let first = word.split(['-', '\u{2013}']).next().unwrap_or(word);
    let in_figures = first.parse::<u32>().ok().map(i64::from);
    let in_words = || WORDS.iter().position(|one| *one == first).and_then(|place| i64::try_from(place).ok());
    let tens = || match first {
        "fifteen" => Some(15),
        "twenty" => Some(20),
        "thirty" => Some(30),
        "forty" => Some(40),
        "forty-five" => Some(45),
        "sixty" => Some(60),
        _ => None,
    };
    in_figures.or_else(in_words).or_else(tens)
}

/// A duration in its largest whole unit.
fn words(duration: Duration) -> String {
    let said = |count: i64, unit: &str| format!("{count} {unit}{}", if count == 1 { "" } else { "s" });
    match duration {
        d if d.num_seconds() < 120 && d.num_seconds() != 60 => said(d.num_seconds(), "second"),
        d if d.num_minutes() < 120 && d.num_minutes() != 60 => said(d.num_minutes(), "minute"),
        d if d.num_hours() < 48 => said(d.num_hours(), "hour"),
        d => said(d.num_days(), "day"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_lasts_as_its_words_say() {
        for (text, minutes) in [
            ("Melt it for 10 minutes, stirring", Some(10)),
            ("Let it simmer for fifteen minutes", Some(15)),
            ("Keep it dark for two weeks and shake it", Some(2 * 7 * 24 * 60)),
            ("Hold it for 10-15 minutes.", Some(10)),
            ("Leave it for 2 hours", Some(120)),
            ("Stir every 10 minutes", None),
            ("Strain after ten minutes", None),
            ("Wait for the foam to settle", None),
        ] {
            assert_eq!(lasts(text), minutes.map(Duration::minutes), "{text}");
        }
    }

    #[test]
    fn a_duration_is_said_in_a_unit_that_tells() {
        assert_eq!(words(Duration::seconds(40)), "40 seconds");
        assert_eq!(words(Duration::minutes(10)), "10 minutes");
        assert_eq!(words(Duration::weeks(2)), "14 days");
        assert_eq!(words(Duration::minutes(60)), "1 hour");
    }
}
