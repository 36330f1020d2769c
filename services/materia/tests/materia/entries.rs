//! A clinic's own entries, made whole by what the reference data say of family, kind and constituents.

use materia::{Audience, Entry, EntryCaution, EntryConstituent, Finding, Materia, Origin};

fn materia() -> Materia {
    Materia::embedded().unwrap()
}

fn arnica_oil() -> Entry {
    Entry {
        name: "infused arnica of the hill farm".into(),
        kind: "herb".into(),
        botanical_name: Some("Arnica chamissonis".into()),
        botanical_author: Some("Less.".into()),
        family: Some("Asteraceae".into()),
        part: Some("flower".into()),
        state: Some("dried".into()),
        source: "the clinic's own entry".into(),
        status: "from memory".into(),
        ..Entry::default()
    }
}

#[test]
fn every_material_written_as_an_entry_and_read_back_is_the_same() {
    let materia = materia();
    for material in &materia.materials {
        let again = materia.complete(&Entry::of(material), Some(material)).unwrap();
        assert!(again.says_the_same_as(material), "{}", material.key);
    }
}

#[test]
fn a_new_daisy_carries_the_familys_allergy_and_that_nothing_is_known_in_pregnancy() {
    let made = materia().complete(&arnica_oil(), None).unwrap();
    assert_eq!(made.key, "clinic-infused-arnica-of-the-hill-farm");
    assert!(made.is_in_allergy_group("asteraceae"));
    let of_family = made.allergy_groups.iter().find(|it| it.group == "asteraceae").unwrap();
    assert_eq!(of_family.origin, Origin::Family("Asteraceae".into()));
    assert!(made.cautions.iter().any(|it| it.audiences == [Audience::Allergy("asteraceae".into())]));
    for audience in [Audience::Pregnant, Audience::BreastFeeding] {
        let said = made.evidence.iter().find(|it| it.audience == audience).unwrap();
        assert_eq!(said.finding, Finding::NoData);
        assert!(made.cautions.iter().any(|it| it.audiences.contains(&audience)), "{audience}");
    }
}

#[test]
fn what_an_entry_holds_brings_the_cautions_of_its_constituents() {
    let materia = materia();
    let peppermint = materia.materials.iter().find(|it| it.name == "peppermint oil").unwrap();
    let by_menthol = peppermint
        .cautions
        .iter()
        .find(|it| matches!(&it.origin, Origin::Constituent(name) if name.contains("menthol")))
        .unwrap();
    let mint = Entry {
        name: "field mint oil".into(),
        kind: "essential oil".into(),
        botanical_name: Some("Mentha arvensis".into()),
        botanical_author: Some("L.".into()),
        family: Some("Lamiaceae".into()),
        part: Some("herb".into()),
        constituents: vec![EntryConstituent {
            substance: "menthol".into(),
            low_percent: "70".into(),
            high_percent: "85".into(),
        }],
        ..arnica_oil()
    };
    let made = materia.complete(&mint, None).unwrap();
    assert!(made.cautions.iter().any(|it| it.key == by_menthol.key), "{:?}", made.cautions);
}

#[test]
fn every_field_that_was_not_accepted_is_named() {
    let wrong = Entry {
        name: String::new(),
        kind: "potion".into(),
        density_g_per_ml: Some("heavy".into()),
        fresh_water_percent: Some("84".into()),
        dried_water_percent: Some("90".into()),
        allergy_groups: vec!["dragons".into()],
        constituents: vec![EntryConstituent {
            substance: "phlogiston".into(),
            low_percent: "9".into(),
            high_percent: "3".into(),
        }],
        cautions: vec![EntryCaution {
            level: "loud".into(),
            audiences: vec!["allergy:dragons".into()],
            text: " ".into(),
        }],
        pregnancy: Some("maybe".into()),
        family: Some("Rosaceae".into()),
        botanical_name: Some("Calendula officinalis".into()),
        part: None,
        ..arnica_oil()
    };
    let refusals = materia().complete(&wrong, None).unwrap_err();
    let fields: Vec<&str> = refusals.iter().map(|it| it.field.as_str()).collect();
    for field in [
        "/name",
        "/kind",
        "/part",
        "/family",
        "/density_g_per_ml",
        "/dried_water_percent",
        "/constituents/0/substance",
        "/constituents/0/high_percent",
        "/allergy_groups/0",
        "/pregnancy",
        "/cautions/0/text",
        "/cautions/0/level",
        "/cautions/0/audiences/0",
    ] {
        assert!(fields.contains(&field), "{field} is not among {fields:?}");
    }
}
