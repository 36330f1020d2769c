//! Characters that a name or title may not hold, because nobody sees them: two names that look the same would be two, and
//! a name could turn the text around it.
//!
//! Refused are control and format characters, separators of lines and paragraphs, everything that Unicode says is ignored
//! where it is shown (Default_Ignorable_Code_Point, among it all that turns the direction of text), and everything else
//! that controls direction. What a script needs to be written stays allowed, in the places where it changes what is seen:
//! joiners beside a virama and the non-joiner between joining letters (RFC 5892, appendices A.1 and A.2), the selectors of
//! Mongolian, and variation selectors after an ideograph. An emoji may say that it is one, but several may not be joined:
//! no script needs that, and how it looks depends on the font. Signs that are seen, such as those before Arabic numbers,
//! are allowed though Unicode counts them among the format characters.

use icu_properties::props::{
    BidiControl, CanonicalCombiningClass, DefaultIgnorableCodePoint, ExtendedPictographic, GeneralCategory,
    Ideographic, JoiningType, PrependedConcatenationMark, Script,
};
use icu_properties::{CodePointMapData, CodePointSetData};

/// The first character of a name that nobody sees and no script needs where it stands, if there is one.
#[must_use]
pub fn hidden(name: &str) -> Option<char> {
    let characters: Vec<char> = name.chars().collect();
    characters
        .iter()
        .enumerate()
        .find(|(at, character)| is_hidden(**character) && !is_needed(&characters, *at))
        .map(|(_, character)| *character)
}

/// The sentence that refuses a hidden character.
#[must_use]
pub fn refusal(hidden: char) -> String {
    format!(
        "The text contains the invisible character U+{:04X}. Remove it, or type the name afresh.",
        u32::from(hidden)
    )
}

fn is_hidden(character: char) -> bool {
    use GeneralCategory as Category;
    let category = CodePointMapData::<Category>::new().get(character);
    let formats = category == Category::Format
        && !CodePointSetData::new::<PrependedConcatenationMark>().contains(character);
    formats
        || matches!(category, Category::Control | Category::LineSeparator | Category::ParagraphSeparator)
        || CodePointSetData::new::<DefaultIgnorableCodePoint>().contains(character)
        || CodePointSetData::new::<BidiControl>().contains(character)
}

/// Whether a script needs the hidden character at this place.
fn is_needed(characters: &[char], at: usize) -> bool {
    let (before, after) = characters.split_at(at);
    let (Some(&last), [character, next @ ..]) = (before.last(), after) else { return false };
    match character {
        '\u{200C}' => beside_virama(last, next) || between_joining(before, next),
        '\u{200D}' => beside_virama(last, next),
        '\u{180B}'..='\u{180F}' => script(last) == Script::Mongolian,
        '\u{FE00}'..='\u{FE02}' | '\u{E0100}'..='\u{E01EF}' => {
            CodePointSetData::new::<Ideographic>().contains(last)
        }
        '\u{FE0E}' | '\u{FE0F}' => CodePointSetData::new::<ExtendedPictographic>().contains(last),
        _ => false,
    }
}

fn beside_virama(last: char, next: &[char]) -> bool {
    let is_virama = |character: char| {
        CodePointMapData::<CanonicalCombiningClass>::new().get(character) == CanonicalCombiningClass::Virama
    };
    is_virama(last) || next.first().is_some_and(|next| is_virama(*next))
}

/// Between letters that would join without it, such as those of Arabic script.
fn between_joining(before: &[char], after: &[char]) -> bool {
    let joining = |character: &char| CodePointMapData::<JoiningType>::new().get(*character);
    let seen = |kind: &JoiningType| *kind != JoiningType::Transparent;
    let last = before.iter().rev().map(joining).find(seen);
    let next = after.iter().map(joining).find(seen);
    matches!(last, Some(JoiningType::LeftJoining | JoiningType::DualJoining))
        && matches!(next, Some(JoiningType::RightJoining | JoiningType::DualJoining))
}

fn script(character: char) -> Script {
    CodePointMapData::<Script>::new().get(character)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_many_scripts_are_allowed() {
        for name in [
            "Calendula cream 2 % (w/w)",
            "Žluťoučký kůň",
            "Nguyễn Thị Ánh",
            "Χαμομήλι",
            "ромашка",
            "قرنفل",
            "می\u{200C}خوشه",
            "நெல்லி",
            "क्\u{200D}ष",
            "ශ්\u{200D}රී",
            "র\u{200D}\u{9CD}যাব",
            "葛\u{E0100}城",
            "ᠮᠣᠩᠭᠣᠯ\u{180B}",
            "가나다",
            "שָׁלוֹם",
            "Balm \u{2764}\u{FE0F}",
            "Ilse\u{A0}Brandt",
            "\u{600}\u{661}",
        ] {
            assert_eq!(hidden(name), None, "{name:?}");
        }
    }

    #[test]
    fn what_nobody_sees_is_refused() {
        for character in [
            '\u{0}',
            '\u{7}',
            '\n',
            '\u{7F}',
            '\u{85}',
            '\u{AD}',
            '\u{34F}',
            '\u{61C}',
            '\u{115F}',
            '\u{1160}',
            '\u{17B4}',
            '\u{180E}',
            '\u{200B}',
            '\u{200C}',
            '\u{200D}',
            '\u{200E}',
            '\u{200F}',
            '\u{2028}',
            '\u{2029}',
            '\u{202A}',
            '\u{202B}',
            '\u{202C}',
            '\u{202D}',
            '\u{202E}',
            '\u{2060}',
            '\u{2064}',
            '\u{2066}',
            '\u{2067}',
            '\u{2068}',
            '\u{2069}',
            '\u{206F}',
            '\u{3164}',
            '\u{FE0F}',
            '\u{FEFF}',
            '\u{FFA0}',
            '\u{FFF9}',
            '\u{1D173}',
            '\u{E0001}',
            '\u{E0041}',
            '\u{E0100}',
        ] {
            assert_eq!(hidden(&format!("a{character}b")), Some(character), "U+{:04X}", u32::from(character));
            assert_eq!(hidden(&character.to_string()), Some(character), "U+{:04X}", u32::from(character));
        }
        // A selector upon a selector, and a joiner between emoji.
        assert_eq!(hidden("葛\u{E0100}\u{E0100}"), Some('\u{E0100}'));
        assert_eq!(hidden("\u{1F469}\u{200D}\u{1F33E}"), Some('\u{200D}'));
        assert!(refusal('\u{202E}').contains("U+202E"));
    }
}
