//! Jars, losses, limiting lots, balances, and what cannot be worked out.

use galenics::{
    Balance, Formula, Fraction, Losses, Mass, MaterialKind, Preparation, Quantity, ScaleProblem, Target,
    scale,
};

use crate::support::{balance, dec, density, evaluated, formula, line, line_of, material};

fn salve() -> Formula {
    formula(
        "salve",
        Preparation::Salve,
        vec![
            line("beeswax", MaterialKind::Wax, "20 g"),
            line("olive oil", MaterialKind::FixedOil, "79.9 g"),
            line("lavender oil", MaterialKind::EssentialOil, "0.1 g"),
        ],
    )
}

fn work(target: Target, losses: Losses) -> Result<galenics::Worked, ScaleProblem> {
    let formula = salve();
    scale(&formula, &evaluated(&formula), &target, &losses, &balance("0.1"))
}

fn jars(count: u32, fill: &str) -> Target {
    Target::Containers { count, fill: Quantity::parse(fill).unwrap() }
}

fn percent(value: &str) -> Fraction {
    Fraction::percent(dec(value)).unwrap()
}

#[test]
fn twelve_jars_of_thirty_grams_at_four_per_cent_loss_take_375_g() {
    let worked = work(jars(12, "30 g"), Losses::transfer(percent("4"))).unwrap();
    assert_eq!(worked.net.value(), Some(dec("360")));
    assert_eq!(worked.gross.value(), Some(dec("375")));
    assert_eq!(worked.factor.value(), Some(dec("3.75")));
    assert_eq!(worked.gross.sentence(), "amount before losses of 4 %, for 360 g: 375 g");
    // 75.0 of wax, 299.6 of oil, and 0.375 of lavender oil, which this balance cannot round.
    assert_eq!(worked.total.value(), Some(dec("374.975")));
    let oil = &worked.phases[0].lines[1];
    assert_eq!((oil.exact.value(), oil.weigh.value()), (Some(dec("299.625")), Some(dec("299.6"))));
    assert_eq!(oil.error.value(), Some(dec("-0.025")));
}

#[test]
fn losses_by_kind_add_up_as_shares_of_what_is_weighed_out() {
    let losses = Losses {
        evaporation: percent("10"),
        transfer: percent("4"),
        marc: Fraction::ZERO,
        samples: percent("6"),
    };
    let worked = work(jars(1, "80 g"), losses).unwrap();
    assert_eq!(worked.gross.value(), Some(dec("100")));
    assert_eq!(worked.loss.inputs().len(), 4);
}

#[test]
fn a_line_below_what_the_balance_can_weigh_is_flagged() {
    let worked = work(jars(1, "100 g"), Losses::default()).unwrap();
    let flags: Vec<bool> = worked.phases[0].lines.iter().map(|line| line.too_small).collect();
    assert_eq!(flags, [false, false, true], "0.1 g on a balance that reads 0.1 g may be half as much again");
    let fine =
        Balance::new(Mass::grams(dec("0.001")).unwrap(), Some(Mass::grams(dec("50")).unwrap()), percent("5"));
    let formula = salve();
    let worked =
        scale(&formula, &evaluated(&formula), &jars(1, "100 g"), &Losses::default(), &fine.unwrap()).unwrap();
    assert!(!worked.phases[0].lines[2].too_small);
    assert!(worked.phases[0].lines[1].over_capacity, "79.9 g on a balance that takes 50 g");
}

#[test]
fn impossible_recipes_are_refused_with_what_would_be_possible() {
    for (target, losses, code, cure) in [
        (jars(0, "30 g"), Losses::default(), "no_containers", "at least 1"),
        (jars(1_000_000, "30 g"), Losses::default(), "too_many_containers", "at most 100000"),
        (jars(100_000, "500 g"), Losses::default(), "too_large", "1000 kg"),
        (Target::ByMass(Quantity::parse("900000 kg").unwrap()), Losses::default(), "too_large", "1000 kg"),
        (jars(1, "30 g"), Losses::transfer(Fraction::ONE), "all_lost", "less than 100 %"),
        (Target::ByMass(Quantity::parse("30 mL").unwrap()), Losses::default(), "wrong_dimension", "500 g"),
        (Target::ByVolume(Quantity::parse("30 g").unwrap()), Losses::default(), "wrong_dimension", "500 mL"),
        (jars(3, "20 drops"), Losses::default(), "wrong_dimension", "30 g"),
        (
            Target::ByVolume(Quantity::parse("30 mL").unwrap()),
            Losses::default(),
            "unknown",
            "density of beeswax",
        ),
        (
            Target::ByLine { phase: 3, line: 0, quantity: Quantity::parse("1 g").unwrap() },
            Losses::default(),
            "no_such_line",
            "phase 3",
        ),
        (
            Target::ByLine { phase: 0, line: 1, quantity: Quantity::parse("1 L").unwrap() },
            Losses::default(),
            "unknown",
            "density of olive oil",
        ),
    ] {
        let problem = work(target.clone(), losses).expect_err("it is refused");
        assert_eq!(problem.code(), code, "{target:?}: {problem}");
        assert!(problem.to_string().contains(cure), "{problem}");
    }
}

#[test]
fn what_is_made_up_to_a_volume_scales_by_volume_although_its_mass_is_unknown() {
    let mut water = material("purified water", MaterialKind::Water);
    water.density = Some(density("0.9982067", "20", "Tanaka et al. 2001, Metrologia 38, 301"));
    let lotion = formula(
        "lotion",
        Preparation::Lotion,
        vec![line("the salt", MaterialKind::Salt, "5 g"), line_of(water, "q.s. to 1000 mL")],
    );
    let evaluation = evaluated(&lotion);
    assert_eq!(evaluation.product.sentence(), "unknown: density of the salt");
    let target = Target::ByVolume(Quantity::parse("50 mL").unwrap());
    let worked = scale(&lotion, &evaluation, &target, &Losses::default(), &balance("0.01")).unwrap();
    assert_eq!(worked.phases[0].lines[0].weigh.value(), Some(dec("0.25")));
    assert_eq!(worked.phases[0].lines[1].make_up.as_ref().unwrap().to_string(), "50 mL");
}

#[test]
fn an_evaluation_of_another_formula_is_not_scaled() {
    let other = formula("other", Preparation::Salve, vec![line("beeswax", MaterialKind::Wax, "1 g")]);
    let problem = scale(&salve(), &evaluated(&other), &jars(1, "1 g"), &Losses::default(), &balance("0.1"));
    assert_eq!(problem.unwrap_err(), ScaleProblem::NotItsEvaluation);
}
