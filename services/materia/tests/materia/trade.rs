//! Questions that a herbalist asks of the materia.

use crate::{embedded, material};
use materia::{
    Audience, Condition, Emulsifies, Exposure, Finding, Level, Materia, Material, MaterialKind, Nature,
    Origin, Situation, Status,
};

const SKIN: &str = "intact-skin-leave-on";
const MOUTH: &str = "by-mouth";

fn cautioned<'m>(of: &'m Material, route: &str, audience: &Audience) -> Vec<(&'m str, Level)> {
    of.cautions
        .iter()
        .filter(|caution| caution.applies_to_route(route) && caution.audiences.contains(audience))
        .map(|caution| (caution.key.as_str(), caution.level))
        .collect()
}

#[test]
fn comfrey_root_is_not_for_a_breast_feeding_parent() {
    let materia = embedded();
    let found = cautioned(material(&materia, "comfrey-root-dried"), SKIN, &Audience::BreastFeeding);
    assert!(found.contains(&("breast-feeding-known-harm", Level::Contraindication)), "{found:?}");
}

#[test]
fn calendula_carries_the_allergy_of_its_family_and_says_why() {
    let materia = embedded();
    let calendula = material(&materia, "calendula-flower-dried");
    let caution = calendula.cautions.iter().find(|caution| caution.key == "allergy-asteraceae").unwrap();
    assert_eq!(caution.audiences, [Audience::Allergy("asteraceae".to_owned())]);
    assert_eq!(caution.level, Level::Contraindication);
    assert_eq!(caution.origin.to_string(), "allergy group daisy family (Asteraceae)");
    let membership = &calendula.allergy_groups[0];
    assert_eq!(membership.origin, Origin::Family("Asteraceae".to_owned()));
    assert_eq!(membership.origin.to_string(), "family Asteraceae");
}

#[test]
fn a_family_speaks_for_herbs_and_essential_oils_but_not_for_a_pressed_oil() {
    let materia = embedded();
    assert!(material(&materia, "chamomile-oil-roman").is_in_allergy_group("asteraceae"));
    assert!(material(&materia, "chamomile-water").is_in_allergy_group("asteraceae"));
    assert!(!material(&materia, "sunflower-oil").is_in_allergy_group("asteraceae"));
}

#[test]
fn herbs_with_deadly_relatives_ask_for_proof_of_identity() {
    let materia = embedded();
    for (key, expected) in
        [("fennel-fruit-dried", true), ("gotu-kola-herb-dried", true), ("sage-leaf-dried", false)]
    {
        let caution =
            material(&materia, key).cautions.iter().find(|caution| caution.key == "apiaceae-identity");
        assert_eq!(caution.is_some(), expected, "{key}");
        if let Some(caution) = caution {
            assert_eq!(caution.origin, Origin::Family("Apiaceae".to_owned()));
        }
    }
    let poisonous = &materia.species.iter().find(|one| one.name == "Foeniculum vulgare").unwrap().look_alikes;
    assert!(poisonous.iter().any(|one| one.poisonous && one.name.starts_with("Conium maculatum")));
}

#[test]
fn what_comes_from_hive_sheep_nut_and_hen_carries_its_allergy() {
    let materia = embedded();
    for (key, group) in [
        ("beeswax-yellow", "bee-products"),
        ("beeswax-white", "bee-products"),
        ("honey", "bee-products"),
        ("propolis", "bee-products"),
        ("propolis", "peru-balsam"),
        ("lanolin", "wool-fat"),
        ("almond-oil-sweet", "tree-nuts"),
        ("peanut-oil", "peanut"),
        ("sesame-oil", "sesame"),
        ("lecithin", "soya"),
        ("milk", "milk"),
        ("egg-yolk", "egg"),
        ("celery-fruit-dried", "celery"),
        ("celery-fruit-dried", "apiaceae"),
        ("black-mustard-seed-dried", "mustard"),
        ("wheat-germ-oil", "gluten"),
        ("wintergreen-oil", "salicylates"),
        ("white-willow-bark-dried", "salicylates"),
        ("clove-oil", "peru-balsam"),
        ("avocado-oil", "latex"),
    ] {
        let found = cautioned(material(&materia, key), SKIN, &Audience::Allergy(group.to_owned()));
        assert!(!found.is_empty(), "{key} does not carry {group}");
    }
}

#[test]
fn peppermint_oil_is_not_for_a_two_year_old() {
    let materia = embedded();
    let oil = material(&materia, "peppermint-oil");
    let at = |months| {
        oil.cautions
            .iter()
            .filter(|caution| caution.applies_to_route(SKIN) && caution.level == Level::Contraindication)
            .filter(|caution| caution.audiences.iter().any(|audience| audience.includes_age(months)))
            .map(|caution| (caution.key.as_str(), caution.origin.to_string()))
            .collect::<Vec<_>>()
    };
    let menthol = "contains menthol".to_owned();
    assert_eq!(at(23), [("menthol-face-child", menthol.clone()), ("menthol-toddler", menthol.clone())]);
    assert_eq!(at(24), [("menthol-face-child", menthol)]);
    assert_eq!(at(72), []);
}

#[test]
fn st_johns_wort_and_sun() {
    let materia = embedded();
    for key in ["st-johns-wort-flower-fresh", "st-johns-wort-herb-dried"] {
        let sun = Audience::Condition(Condition::Sun);
        assert_eq!(cautioned(material(&materia, key), SKIN, &sun), [("hypericum-sun", Level::Caution)]);
    }
}

#[test]
fn expressed_bergamot_and_sun() {
    let materia = embedded();
    let sun = Audience::Condition(Condition::Sun);
    assert_eq!(
        cautioned(material(&materia, "bergamot-oil"), SKIN, &sun),
        [("furocoumarin-sun", Level::Contraindication)]
    );
    assert_eq!(cautioned(material(&materia, "lavender-oil"), SKIN, &sun), []);
}

#[test]
fn honey_is_forbidden_to_infants_by_mouth_only() {
    let materia = embedded();
    let honey = material(&materia, "honey");
    let infant = Audience::UnderMonths(12);
    assert_eq!(cautioned(honey, MOUTH, &infant), [("honey-infant", Level::Contraindication)]);
    assert_eq!(cautioned(honey, SKIN, &infant), []);
    let situation =
        Situation { preparation: "oxymel", route: MOUTH, material: Some(honey), youngest_months: None };
    assert_eq!(stops(&materia, &situation), Vec::<&str>::new());
    assert_eq!(stops(&materia, &Situation { youngest_months: Some(12), ..situation }), Vec::<&str>::new());
    assert_eq!(
        stops(&materia, &Situation { youngest_months: Some(11), ..situation }),
        ["honey-under-twelve-months"]
    );
    assert_eq!(
        stops(&materia, &Situation { youngest_months: Some(11), route: SKIN, ..situation }),
        Vec::<&str>::new()
    );
}

fn stops<'m>(materia: &'m Materia, at: &Situation<'_>) -> Vec<&'m str> {
    materia.stops.iter().filter(|stop| stop.applies(at)).map(|stop| stop.key.as_str()).collect()
}

#[test]
fn garlic_and_fresh_herb_in_oil_are_stopped_for_swallowing_alone() {
    let materia = embedded();
    let at = |preparation, route, key| {
        let situation =
            Situation { preparation, route, material: Some(material(&materia, key)), youngest_months: None };
        stops(&materia, &situation)
    };
    assert_eq!(
        at("infused-oil", MOUTH, "garlic-bulb-fresh"),
        ["fresh-herb-in-oil-by-mouth", "garlic-in-oil-by-mouth"]
    );
    assert_eq!(at("infused-oil", MOUTH, "st-johns-wort-flower-fresh"), ["fresh-herb-in-oil-by-mouth"]);
    assert_eq!(at("infused-oil", SKIN, "st-johns-wort-flower-fresh"), Vec::<&str>::new());
    assert_eq!(at("infused-oil", MOUTH, "thyme-herb-dried"), Vec::<&str>::new());
    assert_eq!(at("oxymel", MOUTH, "garlic-bulb-fresh"), Vec::<&str>::new());
}

#[test]
fn eye_and_open_wound_are_never_made() {
    let materia = embedded();
    for (route, key) in [("eye", "eye-needs-sterile-work"), ("broken-skin", "open-wound-needs-sterile-work")]
    {
        for preparation in &materia.preparations {
            let situation =
                Situation { preparation: &preparation.key, route, material: None, youngest_months: None };
            assert_eq!(stops(&materia, &situation), [key]);
        }
    }
}

#[test]
fn borax_is_prohibited_in_cosmetics_and_nowhere_else() {
    let materia = embedded();
    let borax = material(&materia, "sodium-borate");
    let [only] = borax.prohibited_in.as_slice() else { panic!("{:?}", borax.prohibited_in) };
    assert_eq!((only.regime.as_str(), only.jurisdiction.as_str()), ("cosmetic", "EU"));
    assert_eq!((only.exposure, only.status), (Exposure::Any, Status::Secondary));
    assert!(only.source.text.ends_with("entry 1396"), "{}", only.source.text);
    assert_eq!(materia.materials_called("Borax"), [borax]);
}

#[test]
fn emulsifiers_say_in_what_way_they_emulsify() {
    let materia = embedded();
    for of in materia.materials.iter().filter(|one| one.kind == MaterialKind::Emulsifier) {
        let way = of.emulsifies.unwrap_or_else(|| panic!("{} does not say", of.key));
        match way {
            Emulsifies::ByHlb => assert!(!of.hlb.own.is_empty(), "{} has no HLB", of.key),
            Emulsifies::ByUseRate => assert!(of.hlb.own.is_empty(), "{} is not judged by HLB", of.key),
            Emulsifies::BySoap | Emulsifies::ByNature => {}
        }
    }
    let wax = material(&materia, "beeswax-yellow");
    assert_eq!(wax.emulsifies, Some(Emulsifies::BySoap));
    assert!(wax.acid_value.is_some(), "its acids are what the alkali makes soap of");
    assert_eq!(material(&materia, "sodium-borate").nature, Some(Nature::Alkali));
    assert_eq!(material(&materia, "egg-yolk").emulsifies, Some(Emulsifies::ByNature));
}

#[test]
fn pregnancy_is_worded_by_evidence_and_never_left_unknown() {
    let materia = embedded();
    for material in &materia.materials {
        for audience in [Audience::Pregnant, Audience::BreastFeeding] {
            let findings: Vec<_> =
                material.evidence.iter().filter(|evidence| evidence.audience == audience).collect();
            for finding in findings {
                let key = match (&audience, finding.finding) {
                    (_, Finding::OrdinaryUse) => continue,
                    (Audience::Pregnant, Finding::KnownHarm) => "pregnancy-known-harm",
                    (Audience::Pregnant, Finding::NoData) => "pregnancy-no-data",
                    (_, Finding::KnownHarm) => "breast-feeding-known-harm",
                    (_, Finding::NoData) => "breast-feeding-no-data",
                    (Audience::Pregnant, Finding::FoodUse) => "pregnancy-food-use",
                    (_, Finding::FoodUse) => "breast-feeding-food-use",
                };
                assert!(material.cautions.iter().any(|caution| caution.key == key), "{} {key}", material.key);
            }
        }
        for caution in &material.cautions {
            assert!(!caution.text.to_lowercase().contains("unknown"), "{}", caution.key);
            if caution.key.ends_with("known-harm") {
                assert!(caution.text.to_lowercase().contains("do not use"), "{}", caution.text);
                assert_eq!(caution.level, Level::Contraindication);
            }
            if caution.key.ends_with("no-data") {
                assert!(caution.text.contains("safety not established; not recommended"));
            }
        }
    }
}

#[test]
fn a_finding_by_mouth_does_not_speak_of_the_skin() {
    let materia = embedded();
    let motherwort = material(&materia, "motherwort-herb-dried");
    let keys = |route| {
        let found = cautioned(motherwort, route, &Audience::Pregnant);
        found.into_iter().map(|(key, _)| key).collect::<Vec<_>>()
    };
    assert_eq!(keys(MOUTH), ["pregnancy-known-harm"]);
    assert_eq!(keys(SKIN), ["pregnancy-no-data"]);
}

#[test]
fn kinds_and_routes_are_found_as_a_formula_names_them() {
    let materia = embedded();
    assert_eq!(materia.preparation("infused oil").unwrap().key, "infused-oil");
    assert_eq!(materia.route("on intact skin, leave-on").unwrap().exposure, Exposure::LeaveOn);
    assert_eq!(materia.route("rinse-off").unwrap().exposure, Exposure::RinseOff);
    assert_eq!(materia.regime("herbal medicine").unwrap().key, "herbal-medicine");
    assert!(materia.preparation("pie").is_none());
}
