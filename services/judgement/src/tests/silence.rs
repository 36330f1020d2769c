//! When a caution is silent, and that nothing else silences it.

use wire::safety::{CautionGroup, CautionLevel, CautionStage, NotRaised};

use super::{Made, Put, REFERENCE, place, raised_by};
use crate::cautions::Raised;
use crate::clinic_cautions::ClinicCautions;

const SKIN: &str = "intact-skin-leave-on";

fn judged(made: &Made) -> Raised {
    raised_by(made, &ClinicCautions::default())
}

/// An oil of so many milligrams of a material in a hundred grams.
fn in_oil(material: &str, milligrams: u32, route: &str) -> Made {
    let mut made = Made::new("balm", route, "cosmetic", &[]);
    made.lines.push(Put::Material(place("jojoba-oil"), 100_000 - milligrams));
    made.lines.push(Put::Material(place(material), milligrams));
    made
}

fn is_raised(raised: &Raised, key: &str) -> bool {
    raised.cautions.iter().any(|counted| counted.rule == key)
}

fn left_out<'r>(raised: &'r Raised, key: &str) -> Option<&'r NotRaised> {
    raised.not_raised.iter().find(|one| one.key == key)
}

/// IFRA standards as the reference data cite them: 2 % of expressed lemon oil in what stays on the skin, 0.4 % of bergamot.
#[test]
fn a_known_share_up_to_a_sourced_threshold_silences_and_the_next_thousandth_raises() {
    for (oil, most) in [("lemon-oil", 2000), ("bergamot-oil", 400)] {
        let at = judged(&in_oil(oil, most, SKIN));
        assert!(!is_raised(&at, "furocoumarin-sun"), "{oil}");
        let told = left_out(&at, "furocoumarin-sun").unwrap();
        assert!(told.because.contains("not above") && told.source.is_some(), "{told:?}");
        let above = judged(&in_oil(oil, most + 1, SKIN));
        assert!(is_raised(&above, "furocoumarin-sun"), "{oil}");
        assert!(left_out(&above, "furocoumarin-sun").is_none());
    }
}

#[test]
fn shares_of_several_oils_are_added_up_as_fractions_of_their_thresholds() {
    let mut both = in_oil("lemon-oil", 1000, SKIN);
    both.lines.push(Put::Material(place("bergamot-oil"), 200));
    // A little over one part in two of each, since the mass grew.
    assert!(!is_raised(&judged(&both), "furocoumarin-sun"));
    both.lines.push(Put::Material(place("bergamot-oil"), 10));
    both.lines.push(Put::Material(place("lemon-oil"), 100));
    assert!(is_raised(&judged(&both), "furocoumarin-sun"));
}

#[test]
fn one_carrier_without_a_threshold_raises_the_caution_for_all() {
    let covered: Vec<&str> = REFERENCE
        .thresholds
        .iter()
        .filter(|it| it.caution == "furocoumarin-sun")
        .filter_map(|it| match &it.subject {
            materia::ThresholdSubject::Material(key) => Some(key.as_str()),
            materia::ThresholdSubject::Substance(_) => None,
        })
        .collect();
    let carries = |material: &materia::Material| {
        material.cautions.iter().any(|it| it.key == "furocoumarin-sun" && it.applies_to_route(SKIN))
    };
    let uncovered = REFERENCE.materials.iter().find(|it| carries(it) && !covered.contains(&it.key.as_str()));
    if let Some(uncovered) = uncovered {
        let mut made = in_oil("lemon-oil", 10, SKIN);
        made.lines.push(Put::Material(place(&uncovered.key), 10));
        assert!(is_raised(&judged(&made), "furocoumarin-sun"), "{}", uncovered.key);
    }
    // By a use that the threshold is not about, nothing is settled.
    let told = REFERENCE.caution_rules.keys().filter(|key| {
        let rows = || REFERENCE.thresholds.iter().filter(|it| it.caution == **key);
        rows().count() > 0 && rows().all(|it| it.exposure == materia::Exposure::LeaveOn)
    });
    assert!(told.count() > 0);
}

#[test]
fn a_daily_threshold_silences_nothing_while_nobody_says_how_much_is_used() {
    let daily: Vec<&materia::Threshold> =
        REFERENCE.thresholds.iter().filter(|it| it.measure != materia::Measure::Share).collect();
    assert!(!daily.is_empty());
    let made =
        Made::new("tincture", "by-mouth", "herbal_medicine", &[("sage-leaf-dried", 1), ("ethanol-96", 99)]);
    for threshold in daily {
        assert!(left_out(&judged(&made), &threshold.caution).is_none_or(|told| told.source.is_none()));
    }
}

#[test]
fn what_concerns_making_or_keeping_a_nested_preparation_stays_with_it() {
    let infusion =
        Made::new("infusion", SKIN, "cosmetic", &[("calendula-flower-dried", 1), ("purified-water", 99)]);
    assert!(is_raised(&judged(&infusion), "watery-fresh"));
    let mut cream = Made::new("cream", SKIN, "cosmetic", &[("jojoba-oil", 50), ("emulsifying-wax", 8)]);
    cream.lines.push(Put::Formula(Box::new(infusion), 42_000));
    let cream = judged(&cream);
    assert!(!is_raised(&cream, "watery-fresh"));
    assert!(left_out(&cream, "watery-fresh").unwrap().because.contains("recipe of"));
    // A bar goes on through every level.
    assert!(is_raised(&cream, "allergy-asteraceae"));
}

#[test]
fn a_finding_takes_the_place_of_no_data_for_its_own_material_only() {
    let alone = judged(&Made::new(
        "infused-oil",
        SKIN,
        "herbal_medicine",
        &[("calendula-flower-dried", 10), ("olive-oil", 90)],
    ));
    assert!(is_raised(&alone, "calendula-pregnant") && !is_raised(&alone, "pregnancy-no-data"));
    let other = REFERENCE
        .materials
        .iter()
        .find(|it| {
            let keys: Vec<&str> = it
                .cautions
                .iter()
                .filter(|one| one.applies_to_route(SKIN))
                .map(|one| one.key.as_str())
                .collect();
            it.kind == materia::MaterialKind::Herb
                && keys.contains(&"pregnancy-no-data")
                && !keys.contains(&"calendula-pregnant")
        })
        .unwrap();
    let mut both = Made::new(
        "infused-oil",
        SKIN,
        "herbal_medicine",
        &[("calendula-flower-dried", 10), ("olive-oil", 90)],
    );
    both.lines.push(Put::Material(place(&other.key), 1000));
    let both = judged(&both);
    // Said together with the same about breast-feeding, of which calendula has no finding.
    let said_together = |it: &&NotRaised| it.because.contains("safety not established");
    let no_data = both.not_raised.iter().filter(|it| it.key == "pregnancy-no-data").find(said_together);
    let known_harm = is_raised(&both, "pregnancy-known-harm");
    let origins = no_data.map(|it| it.origins.join("; ")).unwrap_or_default();
    assert!(known_harm || origins.contains(&other.name), "{}: {origins}", other.name);
    assert!(!origins.contains("calendula"), "{origins}");
}

#[test]
fn a_caution_that_the_clinic_lowered_replaces_nothing() {
    let made = Made::new(
        "infused-oil",
        SKIN,
        "herbal_medicine",
        &[("calendula-flower-dried", 10), ("olive-oil", 90)],
    );
    let mut own = ClinicCautions::default();
    own.change(
        "calendula-pregnant".into(),
        Some(CautionLevel::Note),
        true,
        "a reason".into(),
        uuid::Uuid::nil(),
    );
    let raised = raised_by(&made, &own);
    assert!(
        is_raised(&raised, "pregnancy-breast-feeding-no-data"),
        "the general word stands where the particular was lowered"
    );
}

#[test]
fn what_is_said_in_pregnancy_and_while_breast_feeding_is_one_caution() {
    let herb = |regime| {
        Made::new("infusion", "by-mouth", regime, &[("lemon-balm-leaf-dried", 10), ("purified-water", 90)])
    };
    let raised = raised_by(&herb("herbal_medicine"), &ClinicCautions::default());
    assert!(is_raised(&raised, "pregnancy-breast-feeding-no-data"));
    for part in ["pregnancy-no-data", "breast-feeding-no-data"] {
        assert!(!is_raised(&raised, part), "{part} stands twice");
        let told = raised.not_raised.iter().find(|it| it.key == part).unwrap();
        assert!(told.because.contains("safety not established"), "{}", told.because);
    }
    // What the clinic changed stands by itself.
    let mut own = ClinicCautions::default();
    own.change(
        "pregnancy-no-data".into(),
        Some(CautionLevel::Contraindication),
        false,
        "a reason".into(),
        uuid::Uuid::nil(),
    );
    let raised = raised_by(&herb("herbal_medicine"), &own);
    assert!(is_raised(&raised, "pregnancy-no-data") && is_raised(&raised, "breast-feeding-no-data"));
    assert!(!is_raised(&raised, "pregnancy-breast-feeding-no-data"));
    // A joint caution that the clinic lowered takes nobody's place.
    let mut own = ClinicCautions::default();
    let lowered = Some(CautionLevel::Note);
    own.change(
        "pregnancy-breast-feeding-no-data".into(),
        lowered,
        true,
        "a reason".into(),
        uuid::Uuid::nil(),
    );
    let raised = raised_by(&herb("herbal_medicine"), &own);
    assert!(is_raised(&raised, "pregnancy-no-data") && is_raised(&raised, "breast-feeding-no-data"));
}

#[test]
fn every_caution_says_where_it_is_read_and_what_it_is_about() {
    let made = Made::new("cream", SKIN, "cosmetic", &[("purified-water", 60), ("olive-oil", 40)]);
    for counted in judged(&made).cautions {
        let caution = counted.caution;
        let fits = match caution.group {
            CautionGroup::ForTheMaker => caution.stage == CautionStage::Making,
            CautionGroup::HowToKeep => caution.stage == CautionStage::Keeping,
            CautionGroup::MustNot => caution.stage != CautionStage::Keeping,
            CautionGroup::AskFirst | CautionGroup::HowToUse => caution.stage == CautionStage::Use,
        };
        assert!(fits, "{caution:?}");
    }
}
