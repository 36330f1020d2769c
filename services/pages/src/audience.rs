//! For whom something is asked: the choices of a form, and the word that the clinic knows.

use crate::texts::t;

/// One choice of a form.
pub(crate) struct Choice {
    pub(crate) value: &'static str,
    pub(crate) words: String,
    pub(crate) chosen: bool,
}

/// The choices, with the one that was asked for.
pub(crate) fn choices(asked: &str) -> Vec<Choice> {
    let all = [
        ("", t("for-anyone")),
        ("pregnant", t("for-pregnant")),
        ("breast-feeding", t("for-breast-feeding")),
        ("age", t("for-age")),
        ("allergy", t("for-allergy")),
        ("condition", t("for-condition")),
    ];
    all.into_iter().map(|(value, words)| Choice { value, words, chosen: value == asked }).collect()
}

/// The word for an audience that was asked for, with an age, a group of allergens or a condition where one belongs to it.
pub(crate) fn asked(kind: &str, age: &str, which: &str) -> Option<String> {
    let which = which.trim().to_lowercase().replace(' ', "-");
    match kind {
        "pregnant" | "breast-feeding" => Some(kind.to_owned()),
        "age" => Some(format!("age:{}", age.trim())).filter(|word| word.len() > 4),
        "allergy" | "condition" => Some(format!("{kind}:{which}")).filter(|_| !which.is_empty()),
        _ => None,
    }
}
