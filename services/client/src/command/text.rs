//! Formulas, cautions and acknowledgements as text for a person.

use wire::formulary::FormulaSummary;
use wire::safety::{Acknowledgement, Caution, CautionLevel, CautionSet};

use super::table::table;

/// How wide running text is set, indentation included.
const MEASURE: usize = 90;

/// Appends running text, broken between words, each line indented.
pub(crate) fn indented(out: &mut String, indent: usize, text: &str) {
    for paragraph in text.lines() {
        let mut column = 0;
        for word in paragraph.split_whitespace() {
            let wide = word.chars().count();
            if column > 0 && column + 1 + wide > MEASURE {
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

/// The formulas that may be made, one a line.
pub(crate) fn formulas(all: &[FormulaSummary]) -> String {
    if all.is_empty() {
        return "No approved formula is shared with this key.\n".into();
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

/// A caution set: the strongest first, each with its level in words, where it comes from and why it is there.
pub(crate) fn cautions(set: &CautionSet) -> String {
    let mut out = format!("Cautions of revision {}\n", set.revision);
    if set.cautions.is_empty() {
        out.push_str("\n  none of its own; the notice below goes with every recipe\n");
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
        indented(out, 2, &format!("because of: {}", caution.origins.join("; ")));
    }
    indented(out, 2, &format!("key: {}, version {}", caution.key, caution.text_version));
}

/// How strongly a caution binds, in words.
pub(crate) const fn level(level: CautionLevel) -> &'static str {
    match level {
        CautionLevel::Note => "Note",
        CautionLevel::Caution => "CAUTION",
        CautionLevel::Contraindication => "CONTRAINDICATION, acknowledged on its own",
        CautionLevel::Stop => "STOP, not to be made until this is resolved",
    }
}

/// What was acknowledged, and until when it holds.
pub(crate) fn acknowledged(given: &Acknowledgement) -> String {
    let mut out = format!("Acknowledged: revision {}\n", given.revision);
    indented(&mut out, 2, &format!("caution set {}", given.caution_set.digest));
    for key in &given.contraindications {
        indented(&mut out, 2, &format!("contraindication {key}"));
    }
    indented(&mut out, 2, &format!("answered for by person {}", given.given_by));
    indented(
        &mut out,
        2,
        &format!("until {}, unless something ends it before", given.valid_until.format("%Y-%m-%d %H:%M UTC")),
    );
    if !given.open {
        indented(&mut out, 2, "it does not open the gate now: ask for the cautions again");
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
        assert!(lines.iter().all(|line| line.starts_with("    ") && line.chars().count() <= MEASURE));
        assert_eq!(lines.get(2), Some(&"    another"));
    }
}
