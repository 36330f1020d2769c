//! The trade's words: how they are read, written and refused.

use galenics::{Function, MaterialKind, Preparation};

#[test]
fn every_word_reads_back_as_itself_and_in_snake_case() {
    for word in Function::ALL {
        assert_eq!(word.as_str().parse(), Ok(*word));
        assert_eq!(word.as_str().replace(' ', "_").to_uppercase().parse(), Ok(*word));
    }
    for word in MaterialKind::ALL {
        assert_eq!(serde_json::to_value(word).unwrap(), word.as_str());
        assert_eq!(serde_json::from_value::<MaterialKind>(word.as_str().into()).unwrap(), *word);
    }
}

#[test]
fn a_strange_word_is_answered_with_the_known_ones() {
    let refused = "lotion bar".parse::<Preparation>().unwrap_err().to_string();
    assert!(refused.contains("\"lotion bar\" is not a known preparation"), "{refused}");
    assert!(refused.contains("infused oil"), "{refused}");
}
