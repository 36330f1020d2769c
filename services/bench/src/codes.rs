//! The code of a jar: 128 random bits in 26 letters and digits that are told apart by eye.
//!
//! The alphabet is that of base 32 without i, l, o and u, of which a reader takes three for digits. What was typed with
//! capitals, with spaces or dashes, or with such a letter, is the same code.

use store::Rng;

const ALPHABET: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";

/// How many letters and digits a code has: 26 times 5 bits hold the 128.
const LENGTH: usize = 26;

/// A new code.
pub(crate) fn new(rng: &Rng) -> String {
    written(u128::from_be_bytes(rng.bytes()))
}

fn written(mut bits: u128) -> String {
    let mut letters = [b'0'; LENGTH];
    for letter in letters.iter_mut().rev() {
        let five = usize::try_from(bits & 31).unwrap_or_default();
        *letter = ALPHABET.get(five).copied().unwrap_or(b'0');
        bits >>= 5;
    }
    letters.iter().map(|letter| char::from(*letter)).collect()
}

/// A code as it was typed; nothing where it can be none.
pub(crate) fn read(typed: &str) -> Option<String> {
    let letters = typed.chars().filter(|letter| !letter.is_whitespace() && *letter != '-');
    let code: String = letters
        .map(|letter| match letter.to_ascii_lowercase() {
            'o' => '0',
            'i' | 'l' => '1',
            other => other,
        })
        .take(LENGTH + 1)
        .collect();
    let whole = code.len() == LENGTH && code.bytes().all(|letter| ALPHABET.contains(&letter));
    whole.then_some(code)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_holds_all_of_its_bits() {
        assert_eq!(written(0), "0".repeat(26));
        assert_eq!(written(31), format!("{}z", "0".repeat(25)));
        assert_eq!(written(u128::MAX), format!("7{}", "z".repeat(25)));
        let rng = Rng::seeded(7);
        let codes: std::collections::HashSet<String> = (0..1000).map(|_| new(&rng)).collect();
        assert_eq!(codes.len(), 1000);
        assert!(codes.iter().all(|code| read(code).as_ref() == Some(code)));
    }

    #[test]
    fn a_code_is_read_as_people_type_it() {
        let code = "4t6qk0x9w2m8n5c7r3h1vjzb0e";
        assert_eq!(read(code).as_deref(), Some(code));
        assert_eq!(read(" 4T6QK-OX9W2 M8N5C-7R3HL-VJZB0-E ").as_deref(), Some(code));
        for wrong in ["", "4t6qk", "4t6qk0x9w2m8n5c7r3h1vjzb0e0", "4t6qk0x9w2m8n5c7r3h1vjzb0u", "ä"] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }
}
