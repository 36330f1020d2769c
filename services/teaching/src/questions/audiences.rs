//! Who must not use it: the audiences of the cautions that are read under these words, and of every contraindication.

use wire::safety::{Caution, CautionGroup, CautionLevel, CautionSet};
use wire::teaching::AnswerForm;

use crate::numbers::Draw;
use crate::stored::{Part, Question};

const NOBODY: &str = "none of these groups";

/// Groups beside those that the set names.
const OTHERS: [&str; 5] = ["pregnant", "breast-feeding", "under:6y", "under:3y", "under:12y"];

/// The question.
pub(super) fn must_not_use(draw: &mut Draw, title: &str, set: &CautionSet, allergies: &[String]) -> Question {
    let strong = set.cautions.iter().filter(|caution| bars(caution));
    let mut barred: Vec<(&str, &str)> = Vec::new();
    for caution in strong {
        for audience in caution.audiences.iter().filter(|audience| *audience != "everyone") {
            if !barred.iter().any(|(known, _)| known == audience) {
                barred.push((audience, &caution.text));
            }
        }
    }
    let is_barred = |audience: &str| barred.iter().any(|(known, _)| *known == audience);
    // Where an age is barred, another age would be true in part.
    let ages = barred.iter().any(|(known, _)| known.starts_with("under:"));
    let allergies: Vec<String> = allergies.iter().map(|group| format!("allergy:{group}")).collect();
    let free: Vec<&str> = OTHERS
        .into_iter()
        .chain(allergies.iter().map(String::as_str))
        .filter(|audience| !(is_barred(audience) || ages && audience.starts_with("under:")))
        .collect();
    let mut others: Vec<&str> = Vec::new();
    for audience in draw.shuffled(free) {
        let second_age = audience.starts_with("under:") && others.iter().any(|it| it.starts_with("under:"));
        if !second_age && others.len() < 4 {
            others.push(audience);
        }
    }
    let right: Vec<String> = if barred.is_empty() {
        vec![NOBODY.to_owned()]
    } else {
        barred.iter().map(|(audience, _)| said(audience)).collect()
    };
    let options: Vec<String> = barred.iter().map(|(audience, _)| *audience).chain(others).map(said).collect();
    let mut options = draw.shuffled(options);
    options.push(NOBODY.to_owned());
    let mut steps: Vec<String> =
        barred.iter().map(|(audience, text)| format!("{}: {text}", said(audience))).collect();
    if steps.is_empty() {
        steps.push("No caution of the set says that one of these groups must not use it.".into());
    }
    Question {
        text: format!(
            "Who must not use {title:?}? Read its cautions. Leave out groups that ask a professional first."
        ),
        given: Vec::new(),
        parts: vec![Part {
            part: "groups".into(),
            text: "Name each group that must not use it.".into(),
            form: AnswerForm::Choices,
            options,
            right,
            value: None,
            tolerance_percent: None,
            mistakes: Vec::new(),
        }],
        steps,
    }
}

/// Whether a caution is read as a bar: by its group, or since the clinic made it a contraindication. What the clinic set
/// aside is a note and bars nobody.
fn bars(caution: &Caution) -> bool {
    caution.level >= CautionLevel::Contraindication
        || (caution.level >= CautionLevel::Caution && caution.group == CautionGroup::MustNot)
}

/// An audience in words.
fn said(audience: &str) -> String {
    let age = |age: &str| {
        let (number, unit) = match age.strip_suffix('m') {
            Some(months) => (months, "months"),
            None => (age.strip_suffix('y').unwrap_or(age), "years"),
        };
        format!("children under {number} {unit}")
    };
    match audience.split_once(':') {
        Some(("under", limit)) => age(limit),
        Some(("allergy", group)) => format!("people with an allergy to {}", group.replace('-', " ")),
        Some(("condition", word)) => {
            format!("people with this condition or medicine: {}", word.replace('-', " "))
        }
        _ => format!("people who are {audience}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_audience_is_said_in_words() {
        assert_eq!(said("pregnant"), "people who are pregnant");
        assert_eq!(said("under:6y"), "children under 6 years");
        assert_eq!(said("under:18m"), "children under 18 months");
        assert_eq!(said("allergy:tree-nuts"), "people with an allergy to tree nuts");
        let medicine = "people with this condition or medicine: heart medicines";
        assert_eq!(said("condition:heart-medicines"), medicine);
    }

    #[test]
    fn a_bar_is_what_the_page_reads_as_one() {
        let caution = |level: &str, group: &str| -> Caution {
            serde_json::from_value(serde_json::json!({
                "key": "k", "text_version": 1, "level": level, "group": group, "stage": "use", "language": "en",
                "text": "Avoid it.", "audiences": ["pregnant"], "source": "s", "status": "verified", "origins": [],
            }))
            .unwrap()
        };
        assert!(bars(&caution("caution", "must_not")), "an avoidance is read under who must not use it");
        assert!(bars(&caution("contraindication", "ask_first")), "the clinic made it a contraindication");
        assert!(!bars(&caution("caution", "ask_first")));
        assert!(!bars(&caution("note", "must_not")), "the clinic set it aside");
    }
}
