//! Names of plants compared by their words: case, hyphens, the hybrid sign, ranks and authors make no difference.

/// The words of a text in small letters, with one space before, between and after them.
pub(crate) fn words_of(text: &str) -> String {
    let plain = text.to_lowercase().replace(['\'', '\u{2019}'], "");
    let words =
        plain.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty() && !is_hybrid(word));
    let mut out = String::from(" ");
    for word in words {
        out.push_str(word);
        out.push(' ');
    }
    out
}

/// A text in small letters and plain words, as [`holds_phrase`] looks for it.
pub(crate) fn phrase_of(text: &str) -> String {
    words_of(text).trim().to_owned()
}

/// Whether a phrase stands in the words of a text, whole.
pub(crate) fn holds_phrase(words: &str, phrase: &str) -> bool {
    let space = |at: Option<usize>| at.and_then(|at| words.as_bytes().get(at)) == Some(&b' ');
    words.match_indices(phrase).any(|(at, _)| space(at.checked_sub(1)) && space(at.checked_add(phrase.len())))
}

fn is_hybrid(word: &str) -> bool {
    matches!(word, "x" | "\u{d7}")
}

fn parts(name: &str) -> impl Iterator<Item = String> {
    name.split_whitespace()
        .map(|word| word.trim_matches(['\u{d7}', ',', '.']).to_lowercase())
        .filter(|word| !word.is_empty() && !is_hybrid(word))
}

/// The genus of a botanical name, in small letters.
pub(crate) fn genus_of(name: &str) -> String {
    parts(name).next().unwrap_or_default()
}

/// Genus and species of a botanical name, in small letters, without hybrid sign, rank or author.
pub(crate) fn binomial_of(name: &str) -> String {
    parts(name).take(2).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::{binomial_of, genus_of, holds_phrase, phrase_of, words_of};

    #[test]
    fn hybrids_ranks_and_authors_make_no_difference() {
        for name in ["Digitalis x mertonensis", "Digitalis \u{d7}mertonensis", "DIGITALIS mertonensis Buxton"]
        {
            assert_eq!(
                (genus_of(name), binomial_of(name)),
                ("digitalis".into(), "digitalis mertonensis".into())
            );
        }
        assert_eq!(binomial_of("Juniperus sabina var. tamariscifolia"), "juniperus sabina");
    }

    #[test]
    fn names_are_compared_by_whole_words() {
        assert_eq!(words_of("Lily-of-the-Valley"), " lily of the valley ");
        assert!(!holds_phrase(&words_of("yewberry jam"), "yew"));
        assert!(holds_phrase(&words_of("tea of Yew"), &phrase_of("Yew")));
        assert_eq!(words_of("angel\u{2019}s trumpet"), words_of("angels' trumpet"));
    }
}
