//! For whom something is meant, by what its cautions record: no diagnosis, and unknown stays unknown.

use materia::{Audience, Condition, Materia};
use wire::safety::{Caution, CautionLevel, Suitability};

use crate::error::{Error, Result};

/// Somebody who asks: an age in months, or a word that a caution names.
pub enum Asked {
    Months(u32),
    Word(Audience),
}

impl Asked {
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
                    Err(cure(format!("{text:?} is not an age: write age:4 for years or age:18m for months")))
                }
            };
        }
        match text.to_lowercase().parse::<Audience>() {
            Ok(Audience::Allergy(group)) if reference.allergy_group(&group).is_none() => {
                let known: Vec<&str> =
                    reference.allergy_groups.iter().map(|group| group.key.as_str()).collect();
                Err(cure(format!("{group:?} is not one of the allergy groups: {}", known.join(", "))))
            }
            Ok(Audience::Everyone | Audience::UnderMonths(_)) | Err(_) => {
                let words: Vec<&str> = Condition::ALL.iter().map(|condition| condition.word()).collect();
                Err(cure(format!(
                    "write pregnant, breast-feeding, age:4, age:18m, allergy:GROUP, or condition: and one of {}",
                    words.join(", ")
                )))
            }
            Ok(audience) => Ok(Self::Word(audience)),
        }
    }

    /// Whether a caution is meant for whoever asks.
    pub fn is_meant(&self, caution: &Caution) -> bool {
        self.is_among(&caution.audiences)
    }

    /// Whether whoever asks belongs to one of these audiences.
    pub fn is_among(&self, audiences: &[String]) -> bool {
        audiences.iter().filter_map(|audience| audience.parse::<Audience>().ok()).any(|audience| match self {
            Self::Months(months) => audience.includes_age(*months),
            Self::Word(asked) => audience == *asked,
        })
    }
}

/// What the strongest caution for somebody comes to, in a word and a sentence.
#[must_use]
pub fn suitability(strongest: Option<CautionLevel>) -> (Suitability, &'static str) {
    match strongest {
        Some(CautionLevel::Contraindication | CautionLevel::Stop) => {
            (Suitability::NotSuitable, "Not suitable: the cautions listed here speak against it.")
        }
        Some(CautionLevel::Caution) => (
            Suitability::NotRecommended,
            "Not recommended without asking a professional: see the cautions listed here.",
        ),
        Some(CautionLevel::Note) => (Suitability::SeeNotes, "See the notes listed here."),
        None => (
            Suitability::NothingRecorded,
            "No caution is recorded for this in particular. That is not the same as safe: ask a professional.",
        ),
    }
}
