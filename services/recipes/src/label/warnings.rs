//! Warnings of a label: the caution set grouped by audience, the strongest first.
//!
//! Texts of cautions are copied unchanged. Never here: a caution shortened or left out for lack of room.

use std::collections::BTreeMap;

use materia::{Audience, Condition, Materia};
use wire::figure::FigureSource;
use wire::label::{LabelFact, LabelOrigin, LabelWarning, LabelWarnings};
use wire::safety::{Caution, CautionGroup, CautionLevel};

/// Key of the caution that demands a patch test.
const PATCH_TEST: &str = "patch-test";
/// Key of the caution that allergens must be declared. The label declares them instead.
const DECLARED: &str = "allergens-to-declare";
/// Keys of the cautions that limit the duration of use for everyone.
const LONGEST_USE: [&str; 22] = [
    "arnica-days",
    "ashwagandha-months",
    "bearberry-days",
    "black-cohosh-liver",
    "blackcurrant-doctor",
    "calendula-week",
    "cayenne-weeks",
    "comfrey-duration",
    "echinacea-days",
    "ginseng-stop",
    "gotu-kola-weeks",
    "ivy-week",
    "juniper-weeks",
    "liquorice-weeks",
    "mugwort-mouth",
    "mustard-minutes",
    "senna-week",
    "tannins-by-mouth",
    "tea-tree-month",
    "turmeric-weeks",
    "weeks-monographs",
    "wormwood-weeks",
];

/// A caution set sorted into the parts of a label. Every text that concerns the user appears exactly once.
pub(super) struct Sorted {
    pub(super) patch_test: Option<LabelFact>,
    pub(super) longest_use: Vec<LabelFact>,
    pub(super) warnings: Vec<LabelWarnings>,
}

/// Sorts a caution set into the parts of a label.
pub(super) fn sorted(reference: &Materia, cautions: &[Caution]) -> Sorted {
    let mut out = Sorted { patch_test: None, longest_use: Vec::new(), warnings: Vec::new() };
    let mut by_audience: BTreeMap<Vec<Audience>, Vec<&Caution>> = BTreeMap::new();
    for caution in cautions.iter().filter(|caution| is_for_the_jar(caution)) {
        match caution.key.as_str() {
            PATCH_TEST => out.patch_test = Some(fact(caution)),
            DECLARED => {}
            key if LONGEST_USE.contains(&key) => out.longest_use.push(fact(caution)),
            _ => by_audience.entry(audiences(caution)).or_default().push(caution),
        }
    }
    out.warnings = by_audience.into_iter().map(|(of, cautions)| group(reference, &of, cautions)).collect();
    let strongest =
        |group: &LabelWarnings| group.warnings.first().map_or(CautionLevel::Note, |first| first.level);
    // The sort is stable: equal levels keep the order of audiences, with everyone first.
    out.warnings.sort_by_key(|group| std::cmp::Reverse(strongest(group)));
    out
}

/// Whether a caution concerns the user of the jar, not only its maker. The clinic can raise a caution for makers to a
/// contraindication, which then concerns everybody.
pub(super) fn is_for_the_jar(caution: &Caution) -> bool {
    caution.level > CautionLevel::Caution || caution.group != CautionGroup::ForTheMaker
}

fn audiences(caution: &Caution) -> Vec<Audience> {
    let mut all: Vec<Audience> = caution.audiences.iter().filter_map(|one| one.parse().ok()).collect();
    all.sort_unstable();
    all.dedup();
    all
}

fn group(reference: &Materia, of: &[Audience], mut cautions: Vec<&Caution>) -> LabelWarnings {
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.level));
    let words: Vec<String> = of.iter().map(|audience| words(reference, audience)).collect();
    LabelWarnings {
        audiences: of.iter().map(ToString::to_string).collect(),
        heading: words.join("; "),
        warnings: cautions
            .into_iter()
            .map(|caution| LabelWarning {
                text: caution.text.clone(),
                short: caution.label.clone(),
                level: caution.level,
                from: origin(caution),
                source: source(caution),
                changed: caution.changed.clone(),
            })
            .collect(),
    }
}

/// The heading for an audience.
fn words(reference: &Materia, audience: &Audience) -> String {
    match audience {
        Audience::Everyone => "For everyone".into(),
        Audience::Pregnant => "In pregnancy".into(),
        Audience::BreastFeeding => "While breast-feeding".into(),
        Audience::UnderMonths(months) if months % 12 == 0 && *months > 12 => {
            format!("Under {} years", months / 12)
        }
        Audience::UnderMonths(months) => format!("Under {months} months"),
        Audience::Allergy(key) => {
            let name = reference.allergy_group(key).map_or(key.as_str(), |group| group.name.as_str());
            format!("Allergy: {name}")
        }
        Audience::Condition(condition) => said(*condition).into(),
    }
}

/// The heading for a condition.
const fn said(condition: Condition) -> &'static str {
    match condition {
        Condition::BrokenSkin => "On broken skin",
        Condition::LargeAreas => "On large areas",
        Condition::Sun => "In the sun",
        Condition::Medicines => "With other medicines",
        Condition::Bleeding => "With a bleeding disorder",
        Condition::Epilepsy => "In epilepsy",
        Condition::Asthma => "In asthma",
        Condition::Liver => "With liver disease",
        Condition::Kidney => "With kidney disease",
        Condition::Heart => "With heart disease",
        Condition::BloodPressure => "With high blood pressure",
        Condition::Diabetes => "In diabetes",
        Condition::Gallstones => "With gallstones",
        Condition::Stomach => "With stomach or bowel disease",
        Condition::Thyroid => "With thyroid disease",
        Condition::Hormones => "With a hormone-dependent growth",
        Condition::AvoidsAlcohol => "For people who avoid alcohol",
        Condition::G6pd => "With G6PD deficiency",
        Condition::Anticoagulants => "With blood thinners",
        Condition::Antidepressants => "With antidepressants",
        Condition::MigraineMedicines => "With migraine medicines",
        Condition::Immunosuppressants => "With medicines that lower immunity",
        Condition::Sedatives => "With sedatives",
        Condition::Contraceptives => "With hormonal contraceptives",
        Condition::HeartMedicines => "With heart medicines",
        Condition::Diuretics => "With water tablets",
        Condition::DiabetesMedicines => "With diabetes medicines",
        Condition::EpilepsyMedicines => "With epilepsy medicines",
        Condition::HivMedicines => "With HIV medicines",
        Condition::CancerMedicines => "With cancer medicines",
        Condition::Autoimmune => "With an autoimmune disease",
        Condition::Surgery => "Before an operation",
        Condition::LowPotassium => "With low potassium",
        Condition::GutBlockage => "With a blocked gut",
    }
}

fn fact(caution: &Caution) -> LabelFact {
    LabelFact { text: caution.text.clone(), from: origin(caution), source: Some(source(caution)) }
}

fn source(caution: &Caution) -> FigureSource {
    FigureSource { text: caution.source.clone(), status: caution.status.clone() }
}

/// Whether only calculations raised the caution.
pub(super) fn is_calculated(caution: &Caution) -> bool {
    !caution.origins.is_empty() && caution.origins.iter().all(|origin| origin.starts_with("calculated: "))
}

fn origin(caution: &Caution) -> LabelOrigin {
    if is_calculated(caution) {
        LabelOrigin::Calculation
    } else if caution.key.starts_with("entered-") {
        LabelOrigin::Formula
    } else if caution.key.starts_with("clinic-") {
        LabelOrigin::Clinic
    } else {
        LabelOrigin::Materia
    }
}

#[cfg(test)]
mod tests {
    use wire::safety::CautionStage;

    use super::*;

    fn every_caution(reference: &Materia) -> impl Iterator<Item = &materia::Caution> {
        (reference.materials.iter().flat_map(|one| &one.cautions))
            .chain(reference.preparations.iter().flat_map(|one| &one.cautions))
            .chain(&reference.raised)
    }

    #[test]
    fn separate_parts_of_the_label_hold_no_contraindication() {
        let reference = Materia::embedded().unwrap();
        for key in LONGEST_USE.iter().chain(&[PATCH_TEST, DECLARED]) {
            let found = every_caution(&reference).find(|caution| caution.key == *key);
            let found = found.unwrap_or_else(|| panic!("no caution {key}"));
            // A contraindication stays among the warnings, where it comes first.
            assert!(found.level <= materia::Level::Caution, "{key}");
            assert!(found.audiences.contains(&Audience::Everyone), "{key}");
        }
    }

    /// Every caution that states days, weeks or months of use for everyone must be in `LONGEST_USE`.
    #[test]
    fn every_longest_use_is_listed() {
        let reference = Materia::embedded().unwrap();
        let spans = ["days", "week", "month", "minutes"];
        let of_keeping = ["use-by date", "Throw away", "throw away", "microgram", "sun lamp", "wider use"];
        for caution in every_caution(&reference).filter(|one| one.audiences.contains(&Audience::Everyone)) {
            let of_use = spans.iter().any(|span| caution.text.contains(span))
                && !of_keeping.iter().any(|other| caution.text.contains(other));
            // Months can also be an age.
            if of_use && !caution.text.contains("twelve months") {
                assert!(LONGEST_USE.contains(&caution.key.as_str()), "{}: {}", caution.key, caution.text);
            }
        }
    }

    fn caution(key: &str, level: CautionLevel, audiences: &[&str], origin: &str) -> Caution {
        Caution {
            key: key.into(),
            text_version: 1,
            level,
            group: CautionGroup::HowToUse,
            stage: CautionStage::Use,
            language: "en".into(),
            text: format!("Text of {key}."),
            label: None,
            audiences: audiences.iter().map(ToString::to_string).collect(),
            source: "somewhere".into(),
            status: "from memory".into(),
            origins: vec![origin.into()],
            changed: None,
        }
    }

    #[test]
    fn the_strongest_comes_first_and_a_text_for_several_stands_once() {
        let reference = Materia::embedded().unwrap();
        let all = [
            caution("a-note", CautionLevel::Note, &["everyone"], "olive oil"),
            caution("for-two", CautionLevel::Caution, &["breast-feeding", "pregnant"], "olive oil"),
            caution("entered-1", CautionLevel::Caution, &["everyone"], "this formula"),
            caution("daisy", CautionLevel::Contraindication, &["allergy:asteraceae"], "calendula"),
            caution("composition-unknown", CautionLevel::Caution, &["everyone"], "calculated: a limit"),
            caution(PATCH_TEST, CautionLevel::Note, &["everyone"], "every cream"),
        ];
        let sorted = sorted(&reference, &all);
        let headings: Vec<&str> = sorted.warnings.iter().map(|group| group.heading.as_str()).collect();
        let daisy = "Allergy: daisy family (Asteraceae)";
        assert_eq!(headings, [daisy, "For everyone", "In pregnancy; While breast-feeding"]);
        let everyone: Vec<_> =
            sorted.warnings[1].warnings.iter().map(|one| (one.text.as_str(), one.from)).collect();
        let expected = [
            ("Text of entered-1.", LabelOrigin::Formula),
            ("Text of composition-unknown.", LabelOrigin::Calculation),
            ("Text of a-note.", LabelOrigin::Materia),
        ];
        assert_eq!(everyone, expected);
        assert_eq!(sorted.patch_test.unwrap().text, "Text of patch-test.");
    }

    #[test]
    fn a_caution_for_the_maker_is_omitted_unless_the_clinic_raised_it() {
        let of = |level, group| Caution { group, ..caution("a-key", level, &["everyone"], "its carrier") };
        assert!(!is_for_the_jar(&of(CautionLevel::Note, CautionGroup::ForTheMaker)));
        assert!(is_for_the_jar(&of(CautionLevel::Contraindication, CautionGroup::ForTheMaker)));
        assert!(is_for_the_jar(&of(CautionLevel::Note, CautionGroup::HowToKeep)));
    }
}
