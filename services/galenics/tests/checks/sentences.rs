//! What a figure says of itself is a sentence that says something.

use galenics::alcohol_content::alcohol_content;
use galenics::emulsion::{EmulsifierHlb, NotApplicable, emulsifier_hlb};
use galenics::explain::Unknown;
use galenics::strength::Strength;
use galenics::{MaterialKind, Preparation};

use crate::support::{dec, evaluated, formula, line};

#[test]
fn an_oil_is_said_to_hold_no_water_and_no_alcohol() {
    let oil = line("olive oil", MaterialKind::FixedOil, "100 g");
    let found = alcohol_content(&evaluated(&formula("oil", Preparation::InfusedOil, vec![oil])));
    assert_eq!(found.by_volume.sentence(), "the product contains no ethanol: 0 % v/v");
    assert_eq!(found.of_watery_part.sentence(), "the product has no water or alcohol in it");
}

#[test]
fn a_strength_names_each_unit_once() {
    let said = Strength::parse("1:200").unwrap().stated(None);
    assert_eq!(said.ppm.sentence(), "1:200 in parts per million: 5000 ppm");
    assert_eq!(said.percent.sentence(), "1:200 as a percentage: 0.5 %");
}

#[test]
fn an_emulsifier_without_hlb_is_named_once() {
    let said = |name: &'static str| {
        let hlb = Some(Err(NotApplicable::EmulsifyingWax));
        let wax = EmulsifierHlb { name: name.into(), amount: dec("5"), hlb };
        emulsifier_hlb(&[wax]).unwrap().hlb.sentence()
    };
    assert_eq!(said("emulsifying wax"), "HLB does not apply to emulsifying wax: dosed by use rate");
    assert_eq!(
        said("wax of the house"),
        "HLB does not apply to wax of the house: emulsifying wax dosed by use rate"
    );
}

#[test]
fn what_is_unknown_is_called_so_once() {
    assert_eq!(Unknown::of("unknown: density of honey").to_string(), "unknown: density of honey");
}
