//! Formulas, cautions and acknowledgements as text for a person.

use wire::formulary::FormulaSummary;
use wire::jars::{JarSheet, JarsHere};
use wire::safety::{Acknowledgement, Caution, CautionLevel, CautionSet};
use wire::stock::LotSummary;

use super::table::table;

/// Width of running text in characters, indentation included.
const LINE_WIDTH: usize = 90;

/// Appends running text, broken between words, each line indented.
pub(crate) fn indented(out: &mut String, indent: usize, text: &str) {
    for paragraph in text.lines() {
        let mut column = 0;
        for word in paragraph.split_whitespace() {
            let wide = word.chars().count();
            if column > 0 && column + 1 + wide > LINE_WIDTH {
                out.push('\n');
                column = 0;
            }
            if column == 0 {
                out.push_str(&" ".repeat(indent));
                column = indent;
            } else {
                out.push(' ');
                column += 1;
            }
            out.push_str(word);
            column += wide;
        }
        if column > 0 {
            out.push('\n');
        }
    }
}

/// The approved formulas, one on each line.
pub(crate) fn formulas(all: &[FormulaSummary]) -> String {
    if all.is_empty() {
        return "No approved formulas are shared with this key.\n".into();
    }
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|formula| {
            let revision = formula.approved_revision.map(|id| id.to_string());
            vec![revision.unwrap_or_default(), formula.preparation.clone(), formula.title.clone()]
        })
        .collect();
    table(&["revision", "kind", "title"], &rows)
}

/// Lots, one on each line.
pub(crate) fn lots(all: &[LotSummary]) -> String {
    if all.is_empty() {
        return "No such lots are on the shelf.\n".into();
    }
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|lot| {
            let state = match (lot.used_up, lot.expired) {
                (true, _) => "used up",
                (false, true) => "expired",
                (false, false) => lot.state.as_str(),
            };
            vec![
                lot.keeps_until.to_string(),
                lot.number.clone(),
                state.to_owned(),
                lot.material_name.clone(),
                format!("{} {}", lot.supplier, lot.supplier_lot),
            ]
        })
        .collect();
    table(&["until", "lot", "state", "material", "supplier"], &rows)
}

/// Jars on the shelf, those that were filled alike on one line.
pub(crate) fn jars(all: &[JarsHere]) -> String {
    if all.is_empty() {
        return "No such jars are on the shelf.\n".into();
    }
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|one| {
            vec![
                one.use_by.map_or_else(|| "no date".to_owned(), |day| day.to_string()),
                one.batch_number.clone(),
                one.jars.len().to_string(),
                one.fill.clone(),
                one.numbers(),
                one.title.clone(),
                one.barred.clone().unwrap_or_default(),
            ]
        })
        .collect();
    table(&["use by", "batch", "jars", "each", "numbers", "what is in them", "not handed out"], &rows)
}

/// A jar, with what is told when it is handed out, or why it is not.
pub(crate) fn jar(sheet: &JarSheet) -> String {
    let jar = &sheet.jar;
    let mut out =
        format!("{}, {}, jar {} of batch {}\n", sheet.title, jar.fill, jar.number, sheet.batch_number);
    if let Some(day) = jar.use_by {
        indented(&mut out, 2, &format!("Use by {day}."));
    }
    match &sheet.barred {
        Some(why) => indented(&mut out, 2, &format!("DO NOT HAND IT OUT. {why}")),
        None => {
            out.push_str("\nTell the person who gets it\n");
            for told in sheet.cautions.iter().chain([&sheet.after_opening]) {
                indented(&mut out, 2, told);
            }
        }
    }
    out
}

/// A caution set, strongest first; each caution with its level, text, source and origin.
pub(crate) fn cautions(set: &CautionSet) -> String {
    let mut out = format!("Cautions of revision {}\n", set.revision);
    if set.cautions.is_empty() {
        out.push_str(
            "\n  This formula has no cautions of its own. The notice below applies to every recipe.\n",
        );
    }
    for caution in &set.cautions {
        out.push('\n');
        one(&mut out, caution);
    }
    out.push_str("\nNotice\n");
    indented(&mut out, 2, &set.notice);
    out.push_str(&format!("\nDigest of this set: {}\n", set.digest));
    out
}

fn one(out: &mut String, caution: &Caution) {
    indented(out, 0, level(caution.level));
    indented(out, 2, &caution.text);
    indented(out, 2, &format!("source: {} ({})", caution.source, caution.status));
    if !caution.origins.is_empty() {
        indented(out, 2, &format!("origin: {}", caution.origins.join("; ")));
    }
    indented(out, 2, &format!("key: {}, version {}", caution.key, caution.text_version));
}

/// The level of a caution, in words.
pub(crate) const fn level(level: CautionLevel) -> &'static str {
    match level {
        CautionLevel::Note => "Note",
        CautionLevel::Caution => "CAUTION",
        CautionLevel::Contraindication => "CONTRAINDICATION (must be acknowledged individually)",
        CautionLevel::Stop => "STOP (must not be made until resolved)",
    }
}

/// An acknowledgement and its validity.
pub(crate) fn acknowledged(given: &Acknowledgement) -> String {
    let mut out = format!("Acknowledged: revision {}\n", given.revision);
    indented(&mut out, 2, &format!("caution set {}", given.caution_set.digest));
    for key in &given.contraindications {
        indented(&mut out, 2, &format!("contraindication {key}"));
    }
    indented(&mut out, 2, &format!("responsible person {}", given.given_by));
    indented(
        &mut out,
        2,
        &format!("valid until {}, unless it ends earlier", given.valid_until.format("%Y-%m-%d %H:%M UTC")),
    );
    if !given.open {
        indented(&mut out, 2, "This acknowledgement does not release the recipe. Read the current cautions.");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn running_text_is_broken_between_words() {
        let mut out = String::new();
        indented(&mut out, 4, &format!("{} end\n\nanother", "word ".repeat(17)));
        let lines: Vec<&str> = out.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines.iter().all(|line| line.starts_with("    ") && line.chars().count() <= LINE_WIDTH));
        assert_eq!(lines.get(2), Some(&"    another"));
    }
}
