//! Texts of the data for what an author entered in other words.

use std::collections::BTreeSet;

use wire::safety::CautionOffer;

use super::found::Counted;
use crate::written::Written;

/// Words that tell nothing of what a text is about.
const PLAIN: [&str; 24] = [
    "a", "an", "and", "any", "are", "as", "at", "be", "by", "do", "for", "if", "in", "is", "it", "not", "of",
    "on", "only", "or", "the", "this", "to", "with",
];

/// For each caution of the author's own, the caution of the set that shares most of its words, if it shares at least half.
#[must_use]
pub fn offers(written: &Written, all: &[Counted]) -> Vec<CautionOffer> {
    let entered = |counted: &&Counted| counted.caution.key.starts_with("entered-");
    let known: Vec<(&Counted, BTreeSet<String>)> = all
        .iter()
        .filter(|counted| !entered(counted))
        .map(|counted| (counted, telling(&counted.caution.text)))
        .collect();
    let of = |text: &str| {
        let words = telling(text);
        let shared = |known: &BTreeSet<String>| words.intersection(known).count();
        let (found, said) = known.iter().max_by_key(|(_, known)| shared(known))?;
        (shared(said) > 0 && 2 * shared(said) >= words.len()).then(|| CautionOffer {
            entered: text.to_owned(),
            key: found.caution.key.clone(),
            text: found.caution.text.clone(),
        })
    };
    written.content.cautions.iter().filter_map(|own| of(own.text.trim())).collect()
}

/// The words that a text is about, without their endings.
fn telling(text: &str) -> BTreeSet<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty() && !PLAIN.contains(word))
        .map(|word| word.trim_end_matches("ly").trim_end_matches('s').to_owned())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::telling;

    #[test]
    fn words_are_compared_without_case_endings_and_what_joins_them() {
        assert_eq!(telling("For external use only."), telling("Use externally."));
        assert_ne!(telling("Keep cool."), telling("Keep dark."));
        assert!(telling("Do not do it.").is_empty());
    }
}
