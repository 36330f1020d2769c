//! No number, however large, small or negative, makes a calculator panic.

use galenics::{
    Balance, Decimal, Density, Fraction, Mass, Quantity, Source, Sourced, Status, Temperature, Volume,
    alcohol::{dilute_with, from_density, read_hydrometer, strength_by_mass, strength_by_volume},
    cost::{Draw, Extra, Price, cost},
    emulsion::{
        Alkali, EmulsifierHlb, OilHlb, blend, emulsifier_hlb, hlb_by_groups, hlb_by_mass,
        hlb_by_saponification, required_hlb, soap_formed,
    },
    extraction::{
        Poured, decoction, dried_for_fresh, fresh_for_dried, macerate, menstruum_for_fresh, press_yield,
        pressed_ratio,
    },
    limits::as_acid,
    number,
    strength::{Portion, add_powder, alligate, mean_strength, proportion, specific_gravity},
    use_by::undissociated_share,
    weighing::{Spread, aliquot, least_weighable},
};
use proptest::prelude::*;

/// Any decimal that there is.
fn any_decimal() -> impl Strategy<Value = Decimal> {
    prop_oneof![
        (any::<u32>(), any::<u32>(), any::<u32>(), any::<bool>(), 0_u32..=28)
            .prop_map(|(lo, mid, hi, negative, scale)| Decimal::from_parts(lo, mid, hi, negative, scale)),
        (any::<i32>(), 0_u32..=28).prop_map(|(units, scale)| Decimal::new(i64::from(units), scale)),
        Just(Decimal::ZERO),
        Just(Decimal::MAX),
        Just(Decimal::MIN),
        Just(Decimal::from_parts(1, 0, 0, false, 28)),
    ]
}

/// Any mass that there is, the extremes as often as the rest.
fn any_mass() -> impl Strategy<Value = Mass> {
    any_decimal().prop_map(|value| Mass::grams(value.abs().min(Decimal::from(1_000_000_000))).unwrap())
}

fn any_volume() -> impl Strategy<Value = Volume> {
    any_mass().prop_map(|mass| Volume::millilitres(mass.g()).unwrap())
}

fn any_fraction() -> impl Strategy<Value = Fraction> {
    any_decimal().prop_map(|value| Fraction::new(value.abs().min(Decimal::ONE)).unwrap())
}

fn any_temperature() -> impl Strategy<Value = Temperature> {
    (-100_i32..=400).prop_map(|celsius| Temperature::celsius(Decimal::from(celsius)).unwrap())
}

fn sourced<T>(value: T) -> Sourced<T> {
    Sourced::new(value, Source::fixed("made up for the property", Status::Entered))
}

proptest! {
    #[test]
    fn constructors_and_readers_answer_or_refuse(a in any_decimal(), b in any_decimal(), at in any_temperature()) {
        let _ = (Mass::grams(a), Volume::millilitres(a), Fraction::new(a), Fraction::percent(a));
        let _ = (Temperature::celsius(a), Temperature::fahrenheit(a), Density::new(a, at));
        let _ = number::significant(a, 6);
        for text in [format!("{a} g"), format!("{a} mL at {b} per mL"), format!("{a} drops at {b} per mL"), format!("{a}/{b} oz")] {
            let _ = Quantity::parse(&text);
        }
    }

    #[test]
    fn alcohol_answers_or_refuses(one in any_fraction(), two in any_fraction(), three in any_fraction(), at in any_temperature(), mass in any_mass(), d in any_decimal()) {
        let _ = strength_by_mass(one, at);
        let _ = strength_by_volume(one, at);
        let _ = read_hydrometer(one, at);
        if let Ok(density) = Density::new(d, at) {
            let _ = from_density(density);
        }
        if let Ok(dilution) = dilute_with(&Quantity::of_mass(mass), one, two, three) {
            for figure in [&dilution.stock_mass, &dilution.diluent_mass, &dilution.volume] {
                prop_assert!(figure.value().is_none_or(|value| value >= Decimal::ZERO), "{}", figure.sentence());
            }
        }
    }

    #[test]
    fn strength_and_weighing_answer_or_refuse(a in any_decimal(), b in any_decimal(), c in any_decimal(), mass in any_mass(), other in any_mass(), volume in any_volume(), share in any_fraction(), two in any_fraction(), three in any_fraction()) {
        let _ = proportion(a, b, c);
        let _ = add_powder(&Quantity::of_mass(mass), a, b);
        let _ = mean_strength(&[Portion { amount: a, strength: share }, Portion { amount: b, strength: two }]);
        let _ = alligate(share, two, three);
        if let Ok(density) = Density::new(a, Temperature::TWENTY) {
            let _ = specific_gravity(mass, volume, &sourced(density));
        }
        let _ = least_weighable(mass, share);
        let _ = aliquot(mass, other, Spread::ByWeight { aliquot: mass });
        let _ = aliquot(mass, other, Spread::ByVolume { aliquot: volume });
        if let Ok(balance) = Balance::new(mass, Some(other), share) {
            let _ = balance.round(a);
            let _ = balance.least();
        }
    }

    #[test]
    fn emulsions_answer_or_refuse(a in any_decimal(), b in any_decimal(), c in any_decimal(), carbons: u32, mass in any_mass(), other in any_mass()) {
        let _ = (blend(a, b, c), hlb_by_mass(a, b), hlb_by_saponification(a, b), hlb_by_groups(a, carbons));
        let oil = |amount, value| OilHlb { name: "oil".into(), amount, required: Some(sourced(value)) };
        let _ = required_hlb(&[oil(a, b), oil(c, b)]);
        let emulsifier = |amount, value| EmulsifierHlb { name: "it".into(), amount, hlb: Some(Ok(sourced(value))) };
        let _ = emulsifier_hlb(&[emulsifier(a, b), emulsifier(c, b)]);
        for alkali in Alkali::ALL {
            let _ = soap_formed(mass, &sourced(a), *alkali, other);
        }
        let _ = as_acid(a, b, 255);
        let _ = undissociated_share(a, &sourced(b));
    }

    #[test]
    fn extraction_and_cost_answer_or_refuse(a in any_decimal(), b in any_decimal(), mass in any_mass(), other in any_mass(), volume in any_volume(), target in any_volume(), share in any_fraction(), two in any_fraction(), count: u32) {
        let _ = macerate(mass, a, &[other, mass]);
        let _ = (press_yield(mass, other), pressed_ratio(mass, other, mass));
        let _ = (dried_for_fresh(mass, share, two), fresh_for_dried(mass, share, two));
        let _ = menstruum_for_fresh(mass, share, Poured::Weighed(other), two, share);
        let _ = decoction(mass, volume, target, a, target);
        if mass.g() > Decimal::ZERO {
            let price = Price { amount: a, currency: "EUR".into(), per: Quantity::of_mass(mass) };
            let draw = Draw { name: "lot".into(), quantity: Quantity::of_mass(other), price: Some(price), density: None };
            let extra = Extra { name: "jars".into(), amount: b };
            let _ = cost(&[draw], &[extra], &"EUR".into(), 2, Some(count));
        }
    }
}
