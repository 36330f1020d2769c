//! Suitability of a preparation for a group of people, by the audiences of its cautions.
//!
//! Reads recorded cautions only. Never here: a diagnosis, or the absence of a caution presented as safety.

use materia::{Audience, Condition, Materia};
use wire::safety::{Caution, CautionLevel, Suitability};

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
            Self::Word(asked) => audience == *asked,
        })
    }
}

/// The suitability that follows from the strongest caution for a group, with a sentence for the user.
#[must_use]
pub fn suitability(strongest: Option<CautionLevel>) -> (Suitability, &'static str) {
    match strongest {
        Some(CautionLevel::Contraindication | CautionLevel::Stop) => {
            (Suitability::NotSuitable, "Not suitable, because of the cautions listed here.")
        }
        Some(CautionLevel::Caution) => (
            Suitability::NotRecommended,
            "Not recommended without professional advice. Read the cautions listed here.",
        ),
        Some(CautionLevel::Note) => (Suitability::SeeNotes, "Read the notes listed here."),
        None => (
            Suitability::NothingRecorded,
            "No specific caution is recorded for this group. That does not mean it is safe. Ask a professional.",
        ),
    }
}
