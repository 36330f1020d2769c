//! Worked examples of compounding courses: alligation, least weighable amounts, aliquots, specific gravity,
//! dilution, proportion.

use galenics::{
    Balance, Density, Formula, Fraction, Mass, MaterialKind, Preparation, Quantity, Reason, Source, Sourced,
    Status, Temperature, Volume, Worked,
    strength::{
        Portion, Strength, add_powder, alligate, diluted_strength, mass_of_volume, mean_strength, proportion,
        specific_gravity, stock_needed, volume_of_mass,
    },
    weighing::{Spread, aliquot, least_weighable, small_lines},
};
use proptest::prelude::*;
use serde::Deserialize;

use crate::support::{balance, dec, evaluated, file, formula, line, near};

#[derive(Deserialize)]
struct Published {
    medial: Vec<Medial>,
    alternate: Vec<Alternate>,
    least_weighable: Vec<Least>,
    aliquot: Vec<AliquotRow>,
    gravity: Vec<Gravity>,
    stock: Vec<Stock>,
    diluted: Vec<Diluted>,
    statement: Vec<Stated>,
    mixture: Vec<Mixed>,
    proportion: Vec<Proportion>,
    wrong: Vec<Wrong>,
}

#[derive(Deserialize)]
struct Medial {
    portions: Vec<[String; 2]>,
    percent: String,
}
#[derive(Deserialize)]
struct Alternate {
    one: String,
    other: String,
    wanted: String,
    /// Of the stronger and of the weaker.
    parts: [String; 2],
    source: String,
}
#[derive(Deserialize)]
struct Least {
    sensitivity_mg: String,
    error: String,
    least_mg: String,
    within: String,
    source: String,
}
#[derive(Deserialize)]
struct AliquotRow {
    wanted_mg: String,
    least_mg: String,
    aliquot_mg: String,
    weigh_mg: String,
    mixture_mg: String,
}
#[derive(Deserialize)]
struct Gravity {
    grams: String,
    millilitres: String,
    water: String,
    gravity: String,
    within: String,
    source: String,
}
#[derive(Deserialize)]
struct Stock {
    wanted: String,
    strength: String,
    stock: String,
    needs: String,
    within: String,
    source: String,
}
#[derive(Deserialize)]
struct Diluted {
    stock: String,
    amount: String,
    whole: String,
    percent: String,
    one_in: String,
}
#[derive(Deserialize)]
struct Stated {
    stated: String,
    percent: String,
}
#[derive(Deserialize)]
struct Mixed {
    drug: String,
    base: String,
    printed: String,
    exact: String,
    source: String,
}
#[derive(Deserialize)]
struct Proportion {
    amount: String,
    part: String,
    whole: String,
    answer: String,
    within: String,
    source: String,
}
#[derive(Deserialize)]
struct Wrong {
    wanted: String,
    strength: String,
    stock: String,
    printed: String,
    why: String,
}

fn published() -> Published {
    file("galenics-worked.toml")
}

fn percent(value: &str) -> Fraction {
    Fraction::percent(dec(value)).unwrap()
}

fn milligrams(value: &str) -> Mass {
    Mass::grams(dec(value) / dec("1000")).unwrap()
}

fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

fn strength(text: &str) -> Strength {
    Strength::parse(text).unwrap()
}

fn water(g_per_ml: &str) -> Sourced<Density> {
    let density = Density::new(dec(g_per_ml), Temperature::TWENTY).unwrap();
    Sourced::new(density, Source::fixed("as the course takes it", Status::Verified))
}

#[test]
fn alligation_meets_its_worked_examples() {
    let published = published();
    for row in published.medial {
        let portions: Vec<_> = row
            .portions
            .iter()
            .map(|[amount, strength]| Portion { amount: dec(amount), strength: percent(strength) })
            .collect();
        assert_eq!(mean_strength(&portions).unwrap().value().unwrap() * dec("100"), dec(&row.percent));
    }
    for row in published.alternate {
        let parts = alligate(percent(&row.one), percent(&row.other), percent(&row.wanted)).unwrap();
        let (stronger, weaker) = (parts.stronger.value().unwrap(), parts.weaker.value().unwrap());
        let apart = stronger * dec(&row.parts[1]) - weaker * dec(&row.parts[0]);
        assert!(apart.abs() < dec("0.0000000000001"), "{}: {stronger} to {weaker}", row.source);
    }
}

#[test]
fn least_weighable_amounts_and_aliquots_meet_their_worked_examples() {
    let published = published();
    for row in published.least_weighable {
        let least = least_weighable(milligrams(&row.sensitivity_mg), percent(&row.error)).unwrap();
        let least = least.value().unwrap() * dec("1000");
        assert!(near(least, dec(&row.least_mg), &row.within), "{}: {least}", row.source);
    }
    for row in published.aliquot {
        let spread = Spread::ByWeight { aliquot: milligrams(&row.aliquot_mg) };
        let way = aliquot(milligrams(&row.wanted_mg), milligrams(&row.least_mg), spread).unwrap();
        assert_eq!(way.weigh.value().unwrap() * dec("1000"), dec(&row.weigh_mg));
        assert_eq!(way.mixture.value().unwrap() * dec("1000"), dec(&row.mixture_mg));
    }
}

#[test]
fn specific_gravities_meet_their_worked_examples() {
    for row in published().gravity {
        let (mass, volume) =
            (Mass::grams(dec(&row.grams)).unwrap(), Volume::millilitres(dec(&row.millilitres)).unwrap());
        let gravity = specific_gravity(mass, volume, &water(&row.water)).unwrap().value().unwrap();
        assert!(near(gravity, dec(&row.gravity), &row.within), "{}: {gravity}", row.source);
    }
    // Mass and volume through a density are each other's way back.
    let oil = water("0.81");
    let volume = Volume::millilitres(dec("240")).unwrap();
    let mass = mass_of_volume(volume, &oil).unwrap().value().unwrap();
    assert_eq!(mass, dec("194.4"));
    assert_eq!(volume_of_mass(Mass::grams(mass).unwrap(), &oil).unwrap().value(), Some(dec("240")));
}

#[test]
fn dilutions_and_statements_of_strength_meet_their_worked_examples() {
    let published = published();
    for row in published.stock {
        let needs =
            stock_needed(&quantity(&row.wanted), &strength(&row.strength), &strength(&row.stock)).unwrap();
        assert!(near(needs.stock.value().unwrap(), dec(&row.needs), &row.within), "{}", row.source);
    }
    for row in published.diluted {
        let made =
            diluted_strength(&strength(&row.stock), &quantity(&row.amount), &quantity(&row.whole)).unwrap();
        assert_eq!(made.value().unwrap() * dec("100"), dec(&row.percent));
        assert_eq!(dec("1") / made.value().unwrap(), dec(&row.one_in));
    }
    for row in published.statement {
        assert_eq!(strength(&row.stated).stated(None).percent.value(), Some(dec(&row.percent)));
    }
    for row in published.wrong {
        let right =
            stock_needed(&quantity(&row.wanted), &strength(&row.strength), &strength(&row.stock)).unwrap();
        assert!(!near(right.stock.value().unwrap(), dec(&row.printed), "1"), "{}", row.why);
    }
}

#[test]
fn shares_of_what_is_rubbed_together_meet_their_worked_examples() {
    for row in published().mixture {
        let rubbed = formula(
            "rubbed",
            Preparation::Ointment,
            vec![
                line("drug", MaterialKind::Powder, &format!("{} g", row.drug)),
                line("base", MaterialKind::Other, &format!("{} g", row.base)),
            ],
        );
        let share = evaluated(&rubbed).composition[0].share.value().unwrap() * dec("100");
        assert!(near(share, dec(&row.exact), "0.0005"), "{share}: {}", row.source);
        assert!(near(share, dec(&row.printed), "0.5"), "{share}: {}", row.source);
    }
}

#[test]
fn proportions_meet_their_worked_examples() {
    for row in published().proportion {
        let answer = proportion(dec(&row.amount), dec(&row.part), dec(&row.whole)).unwrap().value().unwrap();
        assert!(near(answer, dec(&row.answer), &row.within), "{}: {answer}", row.source);
    }
}

#[test]
fn a_strength_is_stated_in_every_way_and_a_density_leads_to_the_other_basis() {
    let saline = strength("0.9 % w/v").stated(Some(&water("1.005")));
    assert_eq!(saline.mg_per_ml.unwrap().value(), Some(dec("9")));
    assert_eq!(saline.ppm.value(), Some(dec("9000")));
    assert!(near(saline.on_other_basis.unwrap().value().unwrap(), dec("0.0089552"), "0.0000001"));
    assert_eq!(strength("50 ppm").fraction(), dec("0.00005"));
    assert_eq!(strength("5 mg/mL").basis(), galenics::Basis::MassInVolume);
    assert_eq!(strength("10 mg/g").fraction(), dec("0.01"));
    assert!(strength("2 % v/v").stated(Some(&water("1"))).on_other_basis.is_none());
}

#[test]
fn powder_into_a_base_counts_the_powder_into_the_whole() {
    // 60 g of base to 10 %: 6.667 g of powder, since 6 g would be 9.1 %.
    let added = add_powder(&quantity("60 g"), dec("0"), dec("0.1")).unwrap();
    assert!(near(added.powder.value().unwrap(), dec("6.6667"), "0.0001"));
    let share = added.powder.value().unwrap() / added.whole.value().unwrap();
    assert!(near(share, dec("0.1"), "0.000000000001"));
    assert_eq!(add_powder(&quantity("60 g"), dec("0.2"), dec("0.1")).unwrap_err().reason, Reason::Impossible);
    assert_eq!(add_powder(&quantity("60 g"), dec("0"), dec("1")).unwrap_err().field, "wanted");
    assert_eq!(add_powder(&quantity("60 mL"), dec("0"), dec("0.1")).unwrap_err().field, "base");
}

#[test]
fn impossible_requests_name_the_field_and_what_is_possible() {
    let refused = alligate(percent("95"), percent("30"), percent("96")).unwrap_err();
    assert!(refused.says.contains("make only strengths between them, not 96 %"), "{refused}");
    assert_eq!(alligate(percent("50"), percent("50"), percent("50")).unwrap_err().field, "strengths");
    assert_eq!(mean_strength(&[]).unwrap_err().field, "portions");
    assert_eq!(least_weighable(milligrams("0"), percent("5")).unwrap_err().field, "sensitivity");
    assert_eq!(least_weighable(milligrams("6"), percent("0")).unwrap_err().field, "error");
    let weighable = aliquot(
        milligrams("120"),
        milligrams("120"),
        Spread::ByVolume { aliquot: Volume::millilitres(dec("5")).unwrap() },
    );
    assert!(weighable.unwrap_err().says.contains("can be weighed directly"));
    let thin = aliquot(milligrams("5"), milligrams("120"), Spread::ByWeight { aliquot: milligrams("100") });
    assert!(thin.unwrap_err().says.contains("at least 0.12 g"));
    let up = stock_needed(&quantity("1 L"), &strength("10 %"), &strength("5 %")).unwrap_err();
    assert_eq!((up.field, up.reason), ("strength", Reason::Impossible));
    assert!(stock_needed(&quantity("1 L"), &strength("1 % w/v"), &strength("5 % v/v")).is_err());
    assert!(diluted_strength(&strength("1:20"), &quantity("50 mL"), &quantity("20 mL")).is_err());
    assert!(diluted_strength(&strength("1:20"), &quantity("50 mL"), &quantity("200 g")).is_err());
    assert!(proportion(dec("1"), dec("1"), dec("0")).is_err());
    for text in ["", "5 g", "200 %", "0 ppm", "-1 ppm", "nonsense", "1e5 %"] {
        assert_eq!(Strength::parse(text).unwrap_err().field, "strength", "{text}");
    }
}

fn worked(formula: &Formula, grams: &str, balance: &Balance) -> Worked {
    let target = galenics::Target::ByMass(quantity(grams));
    galenics::scale(formula, &evaluated(formula), &target, &galenics::Losses::default(), balance).unwrap()
}

#[test]
fn the_lines_of_a_recipe_that_are_too_small_come_with_an_aliquot() {
    let balm = formula(
        "balm",
        Preparation::Balm,
        vec![
            line("beeswax", MaterialKind::Wax, "19.95 g"),
            line("olive oil", MaterialKind::FixedOil, "80 g"),
            line("rose oil", MaterialKind::EssentialOil, "0.05 g"),
        ],
    );
    let hundredth = balance("0.01");
    let small = small_lines(&balm, &worked(&balm, "100 g", &hundredth), &hundredth);
    assert_eq!(small.len(), 1);
    assert_eq!((small[0].name.as_str(), small[0].diluent.as_str()), ("rose oil", "olive oil"));
    // Least weighable 0.1 g: weigh 0.1 g, twice what is wanted, and take half of the mixture; the oil in that half is
    // left out of the oil's own line.
    assert_eq!(small[0].aliquot.weigh.value(), Some(dec("0.10")));
    assert_eq!(small[0].aliquot.diluent.value(), Some(dec("0.90")));
    assert_eq!(small[0].aliquot.mixture.value(), Some(dec("1.00")));
    assert_eq!(small[0].aliquot.aliquot.value(), Some(dec("0.50")));
    assert_eq!(small[0].leave_out.value(), Some(dec("0.45")));
    // On a kitchen balance the mixture would take more oil than there is, and wax dissolves in nothing that is poured.
    let kitchen = balance("1");
    let on_it = worked(&balm, "100 g", &kitchen);
    assert!(small_lines(&balm, &on_it, &kitchen).is_empty());
}

#[test]
fn what_a_balance_cannot_show_is_never_rounded_to_nothing() {
    let lotion = formula(
        "lotion",
        Preparation::Lotion,
        vec![
            line("potassium sorbate", MaterialKind::Preservative, "0.4 %"),
            line("lecithin", MaterialKind::Emulsifier, "4.2 %"),
            line("water", MaterialKind::Water, "q.s. 100 g"),
        ],
    );
    let kitchen = balance("1");
    let recipe = worked(&lotion, "100 g", &kitchen);
    let [sorbate, lecithin, water] = &recipe.phases[0].lines[..] else { panic!("three lines") };
    assert_eq!((sorbate.too_small, sorbate.weigh.value()), (true, Some(dec("0.4"))));
    assert_eq!(sorbate.error.value(), Some(dec("0")));
    assert_eq!(lecithin.weigh.value(), Some(dec("4.2")), "5 % of it are less than half a step");
    assert_eq!((water.too_small, water.weigh.value()), (false, Some(dec("95"))));
}

proptest! {
    #[test]
    fn an_aliquot_of_a_recipe_can_be_weighed_and_carries_what_is_wanted(drops in 1_u32..900, step in 1_u32..200) {
        let lotion = formula(
            "lotion",
            Preparation::Lotion,
            vec![
                line("citric acid", MaterialKind::Salt, &format!("{drops} mg")),
                line("water", MaterialKind::Water, "q.s. 1000 g"),
            ],
        );
        let step = milligrams(&step.to_string());
        let balance = Balance::reading(step).unwrap();
        let recipe = worked(&lotion, "1000 g", &balance);
        for small in small_lines(&lotion, &recipe, &balance) {
            let value = |figure: &galenics::Figure| figure.value().unwrap();
            let way = &small.aliquot;
            let all = [&way.weigh, &way.diluent, &way.mixture, &way.aliquot, &small.leave_out];
            prop_assert!(all.iter().all(|it| (value(it) % step.g()).is_zero()));
            prop_assert!(value(&way.weigh) >= balance.least().unwrap() && value(&way.aliquot) >= balance.least().unwrap());
            let carried = value(&way.weigh) * value(&way.aliquot) / value(&way.mixture);
            let wanted = value(&small.wanted);
            prop_assert!((carried - wanted).abs() <= wanted * dec("0.05"), "{carried} for {wanted}");
            prop_assert!(value(&way.diluent) <= dec("1000"));
        }
    }

    #[test]
    fn an_aliquot_carries_exactly_what_is_wanted(wanted in 1_u32..1000, least in 2_u32..100_000, part in 1_u32..1_000_000) {
        let way = aliquot(
            milligrams(&wanted.to_string()),
            milligrams(&least.to_string()),
            Spread::ByWeight { aliquot: milligrams(&part.to_string()) },
        );
        if let Ok(way) = way {
            let carried = way.weigh.value().unwrap() * way.aliquot.value().unwrap() / way.mixture.value().unwrap();
            prop_assert!(near(carried, milligrams(&wanted.to_string()).g(), "0.000000000000001"));
            prop_assert!(way.weigh.value().unwrap() >= milligrams(&least.to_string()).g());
            prop_assert!(way.diluent.value().unwrap() >= dec("0"));
        }
    }

    #[test]
    fn alligation_makes_the_wanted_strength(one in 0_u32..=100, other in 0_u32..=100, wanted in 0_u32..=100) {
        let share = |value: u32| percent(&value.to_string());
        if let Ok(parts) = alligate(share(one), share(other), share(wanted)) {
            let mixed = parts.stronger.value().unwrap() * share(one.max(other)).get()
                + parts.weaker.value().unwrap() * share(one.min(other)).get();
            prop_assert!(near(mixed, share(wanted).get(), "0.00000000000001"));
        } else {
            prop_assert!(one == other || wanted > one.max(other) || wanted < one.min(other));
        }
    }

    #[test]
    fn no_text_makes_a_strength_panic(text in "[-0-9.:/% a-zA-Z]{0,30}") {
        if let Ok(strength) = Strength::parse(&text) {
            let _ = strength.stated(None);
        }
    }
}
