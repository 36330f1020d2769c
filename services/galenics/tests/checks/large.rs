//! Formulas that nest one another on many ways: each line is visited a fixed number of times, whatever the ways are.

use std::sync::Arc;

use galenics::{
    Formula, Graph, MaterialKind, Preparation, ProblemKind, evaluate, evaluate_each, interrupt, maxima,
};
use proptest::prelude::*;

use crate::support::{dec, formula, line, nested};

/// Visits of a line while a formula is evaluated: its ingredient is looked at, and its mass is counted.
const VISITS: u64 = 2;

/// Levels of so many lines; every line of a level nests the level below, the lowest has materials.
fn levels(levels: usize, lines: usize) -> Arc<Formula> {
    let name = |at: usize| format!("oil {at}");
    let materials = (0..lines).map(|at| line(&name(at % 7), MaterialKind::FixedOil, "1 g")).collect();
    let mut whole = Arc::new(formula("level 1", Preparation::Salve, materials));
    for level in 1..levels {
        let lines = (0..lines).map(|_| nested(&whole, "1 g")).collect();
        whole = Arc::new(formula(&format!("level {}", level + 1), Preparation::Salve, lines));
    }
    whole
}

#[test]
fn three_levels_of_200_lines_are_600_lines_and_not_eight_million_ways() {
    for lines in [160, 200] {
        let whole = levels(3, lines);
        let (evaluation, visited) = interrupt::counted(|| evaluate(&whole).unwrap());
        let count = u64::try_from(3 * lines).unwrap();
        assert_eq!(visited, VISITS * count);
        assert_eq!(evaluation.composition.len(), 7);
        assert!(
            (evaluation.composition.iter().filter_map(|leaf| leaf.share.value()).sum::<galenics::Decimal>()
                - dec("1"))
            .abs()
                < dec("0.000000000000001")
        );
    }
}

#[test]
fn a_nested_formula_that_cannot_be_worked_out_is_tried_once() {
    let broken =
        Arc::new(formula("broken", Preparation::Salve, vec![line("wax", MaterialKind::Wax, "60 %")]));
    let mut whole = broken;
    for level in 0..10 {
        let lines = (0..20).map(|_| nested(&whole, "1 g")).collect();
        whole = Arc::new(formula(&format!("level {level}"), Preparation::Salve, lines));
    }
    let (problems, visited) = interrupt::counted(|| evaluate(&whole).unwrap_err());
    assert!(visited <= 201, "{visited}");
    assert_eq!(problems.len(), 20, "one for each line of the outermost formula");
}

#[test]
fn what_explains_itself_by_the_same_figure_on_many_ways_explains_it_once() {
    let mut whole = Arc::new(formula("1", Preparation::Salve, vec![line("sage", MaterialKind::Herb, "1 g")]));
    for level in 2..=12 {
        let lines = (0..20).map(|_| nested(&whole, "1 g")).collect();
        whole = Arc::new(formula(&level.to_string(), Preparation::Salve, lines));
    }
    let evaluation = evaluate(&whole).unwrap();
    // Twenty to the eleventh ways; 220 lines.
    assert!(serde_json::to_string(&evaluation).unwrap().len() < 200_000);
    assert!(format!("{whole:?}").len() < 20_000, "a formula is printed with the titles of what it nests");
}

#[test]
fn a_stopped_evaluation_says_that_it_was_stopped() {
    let stop = interrupt::Stop::default();
    stop.set();
    let (problems, visited) =
        interrupt::counted(|| interrupt::within(&stop, || evaluate(&levels(3, 160)).unwrap_err()));
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].kind, ProblemKind::Interrupted);
    assert_eq!(visited, 1, "it ends at the first line");
}

#[test]
fn every_maximum_is_kept_and_the_refusal_names_it_and_the_cure() {
    let wax = |at: usize| line(&format!("wax {at}"), MaterialKind::Wax, "1 g");
    let refused =
        |lines| evaluate(&formula("whole", Preparation::Salve, lines)).map(drop).unwrap_err()[0].clone();
    let of = |id: &str, lines| Arc::new(formula(id, Preparation::Salve, lines));

    let lines = refused((0..=maxima::LINES).map(wax).collect());
    assert_eq!(lines.kind, ProblemKind::TooManyLines(maxima::LINES));
    let deep = refused(vec![nested(&levels(maxima::LEVELS, 1), "1 g")]);
    assert_eq!(deep.kind, ProblemKind::TooDeep(maxima::LEVELS));
    // Each of a hundred formulas nests two more, so that no formula has many lines.
    let leaf = |at: usize| of(&format!("leaf {at}"), vec![wax(0)]);
    let pair = |at: usize| {
        of(&format!("pair {at}"), vec![nested(&leaf(2 * at), "1 g"), nested(&leaf(2 * at + 1), "1 g")])
    };
    let many = refused((0..100).map(|at| nested(&pair(at), "1 g")).collect());
    assert_eq!(many.kind, ProblemKind::TooManyNested(maxima::NESTED));
    let full = |at: usize, new: usize| {
        let lines = (0..maxima::LINES).map(|line| wax(if new == 0 { line } else { at * new + line }));
        of(&format!("full {at}"), lines.collect())
    };
    let materials = refused((0..3).map(|at| nested(&full(at, maxima::LINES), "1 g")).collect());
    assert_eq!(materials.kind, ProblemKind::TooManyMaterials(maxima::MATERIALS));
    let in_all = refused((0..26).map(|at| nested(&full(at, 0), "1 g")).collect());
    assert_eq!(in_all.kind, ProblemKind::TooManyLinesInAll(maxima::LINES_OF_ALL_LEVELS));
    for (problem, maximum) in [
        (lines, maxima::LINES),
        (deep, maxima::LEVELS),
        (many, maxima::NESTED),
        (materials, maxima::MATERIALS),
        (in_all, maxima::LINES_OF_ALL_LEVELS),
    ] {
        assert_eq!(problem.at.pointer(), "/phases");
        let says = problem.to_string();
        assert!(says.contains(&format!("at most {maximum} ")) && says.contains(". "), "{says}");
    }
    // At the maxima it is worked out.
    assert!(evaluate(&levels(maxima::LEVELS, maxima::LINES)).is_ok());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// A graph at random: each formula has a material and nests some of those before it.
    #[test]
    fn the_visits_are_as_many_as_the_lines(below in prop::collection::vec(prop::collection::vec(any::<prop::sample::Index>(), 0..12), 1..11)) {
        let mut made: Vec<Arc<Formula>> = Vec::new();
        for (at, below) in below.iter().enumerate() {
            let mut lines = vec![line(&format!("oil {at}"), MaterialKind::FixedOil, "2 g")];
            if !made.is_empty() {
                lines.extend(below.iter().map(|index| nested(index.get(&made), "1 g")));
            }
            made.push(Arc::new(formula(&format!("formula {at}"), Preparation::Salve, lines)));
        }
        let whole = made.last().unwrap();
        let (each, visited) = interrupt::counted(|| evaluate_each(whole).unwrap());
        let ids: Vec<String> = each.nested.iter().map(|(_, evaluation)| evaluation.id.to_string()).collect();
        let reached: Vec<&Arc<Formula>> = made.iter().filter(|it| it.id == whole.id || ids.contains(&it.id.to_string())).collect();
        let lines: usize = reached.iter().map(|formula| formula.lines().count()).sum();
        prop_assert_eq!(ids.len() + 1, reached.len());
        prop_assert_eq!(visited, VISITS * u64::try_from(lines).unwrap());
        prop_assert_eq!(Graph::of(whole).materials().len(), reached.len());
        // What is nested stands before what nests it, so that it was there when it was needed.
        for (at, (_, evaluation)) in each.nested.iter().enumerate() {
            for contained in &evaluation.contains {
                if let Some(title) = contained.through.first() {
                    prop_assert!(ids[..at].contains(&title.to_string()));
                }
            }
        }
    }
}
