//! What is wrong with a formula is said with the place and the cure.

use std::sync::Arc;

use galenics::{Amount, AmountKind, Basis, Formula, MaterialKind, Preparation, Yield, evaluate};

use crate::support::{dec, evaluated, formula, line, nested, refused};

fn wax(amount: &str) -> galenics::Line {
    line("beeswax", MaterialKind::Wax, amount)
}

fn oil(amount: &str) -> galenics::Line {
    line("olive oil", MaterialKind::FixedOil, amount)
}

fn salve(lines: Vec<galenics::Line>) -> Formula {
    formula("salve", Preparation::Salve, lines)
}

#[test]
fn a_share_may_be_written_out_and_habits_that_cannot_be_weighed_are_told_their_cure() {
    let sign = Amount::parse("8 %").unwrap();
    for text in ["8 percent", "8 per cent", "8percent"] {
        assert_eq!(Amount::parse(text).unwrap().kind(), sign.kind(), "{text}");
    }
    let based = Amount::parse("8 per cent w/v").unwrap();
    assert_eq!(based.kind(), Amount::parse("8 % w/v").unwrap().kind());
    let refused = |text: &str| Amount::parse(text).unwrap_err().to_string();
    assert!(refused("ad 500 g").ends_with("Write q.s. 500 g."));
    for (text, least) in
        [("8-10 %", "8 %"), ("8 \u{2013} 10 g", "8 g"), ("1.5 to 2 parts", "1.5 parts"), ("8-10", "8")]
    {
        assert!(
            refused(text).ends_with(&format!("Enter one amount, such as {least}.")),
            "{text}: {}",
            refused(text)
        );
    }
    assert!(!refused("-3 g").contains("one amount"), "a minus is no range");
    assert!(Amount::parse("8 percentage").is_err());
}

#[test]
fn every_way_of_writing_an_amount_is_understood_and_kept() {
    for text in [
        "80 g",
        "0.4 %",
        "0.4 % w/w",
        "5 % w/v",
        "2 % v/v",
        "2 parts",
        "1:5",
        "1 : 5 w/v",
        "q.s. 1000 g",
        "q.s. to 1000 g",
        "q.s. ad 1 L",
        "q.s.",
        "qs",
        "Q.S. to 1 L",
        "20 drops",
        "4 oz 179 gr",
    ] {
        let amount = Amount::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        assert_eq!(amount.text(), text);
        let json = serde_json::to_string(&amount).unwrap();
        assert_eq!(serde_json::from_str::<Amount>(&json).unwrap(), amount);
    }
    assert_eq!(
        *Amount::parse("5 % w/v").unwrap().kind(),
        AmountKind::Percent { fraction: dec("0.05"), basis: Basis::MassInVolume }
    );
}

#[test]
fn amounts_that_cannot_be_are_refused_with_the_cure() {
    for (text, code, cure) in [
        ("-3 g", "negative", "without a minus"),
        ("1e400", "not_a_number", "plain digits"),
        ("NaN", "not_a_number", "Write one such as 80"),
        ("3 furlongs", "unknown_unit", "Use one of these: ug, mg, g, kg"),
        ("101 %", "past_hundred_percent", "at most 100 %"),
        ("0 %", "zero", "above zero"),
        ("5 % by eye", "unknown_basis", "% w/w, % w/v or % v/v"),
        ("5:1", "not_a_ratio", "1:5"),
        ("0:5", "not_a_ratio", "1:5"),
        ("q.s. to 20 drops", "make_up_to_drops", "q.s. 1000 g"),
        ("q.s. to -1 g", "negative", "without a minus"),
        ("0 parts", "zero", "above zero"),
        ("", "empty", "80 g"),
    ] {
        let refused = Amount::parse(text).expect_err(text);
        assert_eq!(refused.code(), code, "{text}: {refused}");
        assert!(refused.to_string().contains(cure), "{text}: {refused}");
    }
}

#[test]
fn shares_past_a_hundred_are_named_at_the_line_where_they_pass() {
    let problems = refused(&salve(vec![oil("60 %"), wax("30 %"), oil("20 %"), wax("5 %")]));
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].0, "/phases/0/lines/2/amount");
    assert_eq!(problems[0].1, "past_hundred_percent");
    assert!(problems[0].2.contains("110 %"), "{}", problems[0].2);
}

#[test]
fn shares_that_leave_or_reach_too_little_are_refused() {
    assert_eq!(refused(&salve(vec![oil("60 %"), wax("30 %")]))[0].1, "below_hundred_percent");
    assert_eq!(refused(&salve(vec![oil("100 %"), wax("30 g")]))[0].1, "nothing_left_for_masses");
    // A share beside masses is of the whole: 25 g are the other three quarters of 33.3 g... of 100 %.
    let whole = evaluated(&salve(vec![oil("75 %"), wax("25 g")]));
    assert_eq!(whole.product.value(), Some(dec("100")));
}

#[test]
fn a_second_make_up_line_is_refused_at_its_place() {
    let problems = refused(&salve(vec![oil("q.s. 100 g"), wax("10 g"), wax("q.s.")]));
    assert_eq!(problems[0].0, "/phases/0/lines/2/amount");
    assert_eq!(problems[0].1, "second_make_up");
    assert!(problems[0].2.contains("olive oil"), "{}", problems[0].2);
}

#[test]
fn making_up_to_less_than_is_there_is_refused() {
    let problems = refused(&salve(vec![wax("120 g"), oil("q.s. to 100 g")]));
    assert_eq!(
        (problems[0].0.as_str(), problems[0].1),
        ("/phases/0/lines/1/amount", "make_up_below_contents")
    );
    assert!(problems[0].2.contains("120 g"), "{}", problems[0].2);
}

#[test]
fn a_bare_make_up_line_needs_something_to_make_up_to() {
    assert_eq!(refused(&salve(vec![wax("20 g"), oil("q.s.")]))[0].1, "make_up_to_what");
    let stated = salve(vec![wax("20 g"), oil("q.s.")]).with_yield(Yield::parse("about 100 g").unwrap());
    assert_eq!(evaluated(&stated).phases[0].lines[1].mass.value(), Some(dec("80")));
}

#[test]
fn parts_do_not_stand_with_quantities() {
    let problems = refused(&salve(vec![wax("1 part"), oil("100 g")]));
    assert_eq!(
        (problems[0].0.as_str(), problems[0].1),
        ("/phases/0/lines/0/amount", "parts_mixed_with_quantities")
    );
}

#[test]
fn an_empty_formula_and_one_of_which_nothing_stays_are_refused() {
    assert_eq!(refused(&Formula::new("a", "A", Preparation::Salve))[0].1, "no_lines");
    let only_herb = formula("a", Preparation::Infusion, vec![line("sage", MaterialKind::Herb, "5 g")]);
    assert_eq!(refused(&only_herb)[0].1, "nothing_stays");
}

#[test]
fn a_formula_that_contains_itself_is_refused_at_any_depth_with_the_way_named() {
    // Another revision of A, two levels down.
    let a_again = Arc::new(formula("A", Preparation::Salve, vec![wax("1 g")]));
    let b = Arc::new(formula("B", Preparation::Salve, vec![nested(&a_again, "1 g"), wax("1 g")]));
    let c = Arc::new(formula("C", Preparation::Salve, vec![oil("1 g"), nested(&b, "1 g")]));
    let a = formula("A", Preparation::Salve, vec![oil("1 g"), nested(&c, "1 g")]);
    let problems = refused(&a);
    assert_eq!((problems[0].0.as_str(), problems[0].1), ("/phases/0/lines/1/formula", "contains_itself"));
    assert!(problems[0].2.contains(": A > C > B > A. "), "{}", problems[0].2);
    // The same inner formula on two ways is no cycle.
    let twice =
        formula("D", Preparation::Salve, vec![nested(&b, "1 g"), nested(&c, "1 g"), nested(&b, "2 g")]);
    assert!(evaluate(&twice).is_ok());
    // A way that is only closed by where the formula is used is found, too.
    let b_uses_d = Arc::new(formula("B", Preparation::Salve, vec![nested(&Arc::new(twice), "1 g")]));
    assert_eq!(refused(&b_uses_d)[0].1, "contains_itself");
}

#[test]
fn a_problem_inside_a_nested_formula_is_told_at_the_line_that_nests_it() {
    let inner = Arc::new(formula("Inner", Preparation::Salve, vec![oil("60 %"), wax("60 %")]));
    let problems = refused(&salve(vec![wax("1 g"), nested(&inner, "10 g")]));
    assert_eq!((problems[0].0.as_str(), problems[0].1), ("/phases/0/lines/1/formula", "nested_formula"));
    assert!(problems[0].2.starts_with("In Inner: "), "{}", problems[0].2);
}

#[test]
fn bottomless_nesting_and_endless_lines_are_refused() {
    let mut inner = Arc::new(formula("0", Preparation::Salve, vec![wax("1 g")]));
    for depth in 1..40 {
        inner = Arc::new(formula(&depth.to_string(), Preparation::Salve, vec![nested(&inner, "1 g")]));
    }
    assert_eq!(refused(&inner)[0].1, "too_deep");
    assert_eq!(refused(&salve((0..5001).map(|_| wax("1 g")).collect()))[0].1, "too_many_lines");
}

#[test]
fn a_doubling_graph_is_worked_out_once_for_each_formula() {
    let mut inner = Arc::new(formula("0", Preparation::Salve, vec![wax("1 g")]));
    for depth in 1..11 {
        let lines = (0..20).map(|_| nested(&inner, "1 g")).collect();
        inner = Arc::new(formula(&depth.to_string(), Preparation::Salve, lines));
    }
    // Twenty to the tenth ways, eleven formulas.
    assert_eq!(evaluated(&inner).composition[0].share.value(), Some(dec("1")));
}

#[test]
fn a_volume_without_a_density_is_unknown_and_not_an_error() {
    let evaluation = evaluated(&salve(vec![wax("20 g"), oil("80 mL")]));
    assert_eq!(evaluation.product.sentence(), "unknown: density of olive oil");
    assert_eq!(evaluation.phases[0].lines[0].share.sentence(), "unknown: density of olive oil");
    assert_eq!(evaluation.phases[0].lines[1].volume.as_ref().unwrap().value(), Some(dec("80")));
    let json = serde_json::to_value(&evaluation).unwrap();
    assert!(json["product"]["value"].is_null());
    assert_eq!(json["unknown"][0], "density of olive oil");
    // Made up to a mass, the whole and the shares of the others are known all the same.
    let made_up =
        evaluated(&salve(vec![wax("20 g"), oil("30 mL"), line("lard", MaterialKind::Butter, "q.s. 100 g")]));
    assert_eq!(made_up.product.value(), Some(dec("100")));
    assert_eq!(made_up.composition[0].share.value(), Some(dec("0.2")));
    assert_eq!(made_up.composition[2].share.value(), None);
}
