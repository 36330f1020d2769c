//! Suitability of a preparation for a group of people, by the audiences of its cautions.
//!
//! Reads recorded cautions only. Never here: a diagnosis, or the absence of a caution presented as safety.

use materia::{Audience, Condition, Materia};
use wire::safety::{AudienceSuits, Caution, CautionGroup, CautionLevel, CautionSet, Suitability};

use crate::error::{Error, Result};

/// The group of people that a question is about.
pub enum Asked {
    /// Everybody of this age, in completed months.
    Months(u32),
    /// An audience that cautions name, such as `pregnant`.
    Word(Audience),
}

impl Asked {
    /// Parses `age:4` or `age:4y` (years), `age:18m` (months), or an audience such as `pregnant` or `allergy:GROUP`.
    ///
    /// # Errors
    /// Returns [`Error::Invalid`] at `field` if `text` is neither, or if the reference data have no such allergy group.
    pub fn parse(reference: &Materia, text: &str, field: &str) -> Result<Self> {
        let cure = |detail: String| Error::field(field, detail);
        if let Some(age) = text.strip_prefix("age:") {
            let (number, months) = match age.strip_suffix('m') {
                Some(months) => (months, 1),
                None => (age.strip_suffix('y').unwrap_or(age), 12),
            };
            return match number.parse::<u32>() {
                Ok(number) if number <= 120 => Ok(Self::Months(number * months)),
                _ => {
                    Err(cure(format!("{text:?} is not an age. Enter age:4 for years or age:18m for months.")))
                }
            };
        }
        match text.to_lowercase().parse::<Audience>() {
            Ok(Audience::Allergy(group)) if reference.allergy_group(&group).is_none() => {
                let known: Vec<&str> =
                    reference.allergy_groups.iter().map(|group| group.key.as_str()).collect();
                Err(cure(format!(
                    "{group:?} is not an allergy group. Accepted groups: {}.",
                    known.join(", ")
                )))
            }
            Ok(Audience::Everyone | Audience::UnderMonths(_)) | Err(_) => {
                let words: Vec<&str> = Condition::ALL.iter().map(|condition| condition.word()).collect();
                Err(cure(format!(
                    "Enter pregnant, breast-feeding, age:4, age:18m, allergy:GROUP or condition:WORD. Accepted condition words: {}.",
                    words.join(", ")
                )))
            }
            Ok(audience) => Ok(Self::Word(audience)),
        }
    }

    /// Whether a caution names this group among its audiences.
    #[must_use]
    pub fn is_meant(&self, caution: &Caution) -> bool {
        self.is_among(&caution.audiences)
    }

    /// Whether this group belongs to one of the audiences. Unknown words match nobody.
    #[must_use]
    pub fn is_among(&self, audiences: &[String]) -> bool {
        audiences.iter().filter_map(|audience| audience.parse::<Audience>().ok()).any(|audience| match self {
            Self::Months(months) => audience.includes_age(*months),
            Self::Word(Audience::Condition(asked)) => {
                matches!(audience, Audience::Condition(condition) if condition.concerns(*asked))
            }
            Self::Word(asked) => audience == *asked,
        })
    }
}

/// The answer for a group of people, with what it follows from.
pub struct Answered {
    /// The answer.
    pub answer: AudienceSuits,
    /// What was not judged.
    pub missing: Vec<String>,
}

/// The answer that a caution set gives for a group: the gravest of what is meant for it, and never "nothing known
/// against it" where something was not judged.
#[must_use]
pub fn answer(asked: &Asked, set: &CautionSet) -> Answered {
    let missing = missing(asked, set);
    let everyone = Audience::Everyone.to_string();
    let gravest = set.cautions.iter().filter_map(|caution| {
        let barred = caution.level >= CautionLevel::Contraindication;
        // The lot decides, and a formula has none: that is missing, and bars nobody in particular.
        if caution.key == UNTESTED && caution.level < CautionLevel::Stop {
            return None;
        }
        match caution.group {
            _ if caution.level == CautionLevel::Stop => Some(AudienceSuits::Stop),
            _ if barred && caution.audiences.contains(&everyone) => Some(AudienceSuits::NotSuitable),
            _ if !asked.is_meant(caution) => None,
            _ if barred => Some(AudienceSuits::NotSuitable),
            CautionGroup::MustNot => Some(AudienceSuits::NotSuitable),
            CautionGroup::AskFirst if caution.level >= CautionLevel::Caution => Some(AudienceSuits::AskFirst),
            _ => Some(AudienceSuits::WithCare),
        }
    });
    let unknown = (!missing.is_empty()).then_some(AudienceSuits::NotKnown);
    Answered { answer: self::gravest(gravest.chain(unknown)), missing }
}

/// The gravest of several answers.
#[must_use]
pub fn gravest(answers: impl IntoIterator<Item = AudienceSuits>) -> AudienceSuits {
    let gravest = answers.into_iter().min_by_key(|answer| rank(*answer));
    gravest.unwrap_or(AudienceSuits::NothingKnownAgainst)
}

const fn rank(answer: AudienceSuits) -> u8 {
    match answer {
        AudienceSuits::Stop => 0,
        AudienceSuits::NotSuitable => 1,
        AudienceSuits::AskFirst => 2,
        AudienceSuits::NotKnown => 3,
        AudienceSuits::WithCare => 4,
        AudienceSuits::NothingKnownAgainst => 5,
    }
}

/// What keeps the set from an answer for anybody: ingredients without findings, or no record of what was looked at.
#[must_use]
pub fn not_judged(set: &CautionSet) -> Vec<String> {
    let mut missing = Vec::new();
    let Some(looked_at) = &set.looked_at else {
        return vec!["It is not recorded what was looked at for this caution set.".to_owned()];
    };
    if !looked_at.not_judged.is_empty() {
        missing.push(format!(
            "No findings are recorded for: {}. An instructor adds them to the material.",
            looked_at.not_judged.join("; ")
        ));
    }
    missing
}

/// What keeps the set from an answer for the group.
fn missing(asked: &Asked, set: &CautionSet) -> Vec<String> {
    let mut missing = not_judged(set);
    let Some(looked_at) = &set.looked_at else { return missing };
    if set.cautions.iter().any(|caution| caution.key == COMPOSITION_UNKNOWN) {
        missing.push(
            "The amount of a limited substance is not known. See the limits of the evaluation.".to_owned(),
        );
    }
    if set.cautions.iter().any(|caution| caution.key == UNTESTED) {
        missing
            .push("A daily limit applies, and only the test of a lot tells whether it is kept.".to_owned());
    }
    if let Asked::Months(months) = asked {
        match looked_at.youngest_months {
            None if *months < ADULT => missing.push(
                "The limits were judged for adults only. State the youngest age in the formula.".to_owned(),
            ),
            Some(youngest) if *months < youngest => missing.push(format!(
                "The limits were judged from {youngest} months of age. Lower the youngest age in the formula."
            )),
            None | Some(_) => {}
        }
    }
    missing
}

/// The age from which a formula for adults only is meant, in months.
const ADULT: u32 = 18 * 12;
/// The caution that the calculations raise where a lot is not tested against its daily limit.
const UNTESTED: &str = "untested-daily-limit";
/// The caution that the calculations raise where a share is not known.
const COMPOSITION_UNKNOWN: &str = "composition-unknown";

/// The answer in a sentence.
#[must_use]
pub const fn sentence(answer: AudienceSuits) -> &'static str {
    match answer {
        AudienceSuits::Stop => "Do not make or use it: a stop applies. Read the cautions.",
        AudienceSuits::NotSuitable => "Not suitable. Read the cautions listed here.",
        AudienceSuits::AskFirst => "Ask a professional first. Read the cautions listed here.",
        AudienceSuits::NotKnown => {
            "Not known: something was not judged. That does not mean it is safe. Ask a professional."
        }
        AudienceSuits::WithCare => "Suitable with care. Read what to mind.",
        AudienceSuits::NothingKnownAgainst => {
            "Nothing is recorded against it, and every ingredient was looked at. That does not mean it is safe. Ask a professional if in doubt."
        }
    }
}

/// The same by the levels of the cautions alone, as older callers read it.
#[must_use]
pub const fn by_level(strongest: Option<CautionLevel>) -> Suitability {
    match strongest {
        Some(CautionLevel::Contraindication | CautionLevel::Stop) => Suitability::NotSuitable,
        Some(CautionLevel::Caution) => Suitability::NotRecommended,
        Some(CautionLevel::Note) => Suitability::SeeNotes,
        None => Suitability::NothingRecorded,
    }
}
