//! What is assessed: checking a rubric before it is kept.

use store::names;
use wire::problem::FieldError;
use wire::teaching::{Rubric, RubricCriterion};

/// The most criteria of a rubric, and the most levels of one of them.
const MOST_CRITERIA: usize = 30;
const MOST_LEVELS: usize = 10;

/// The most points of one level.
const MOST_POINTS: u32 = 10_000;

/// Every fault of a rubric at `at`: points that do not add up, levels out of order, must-pass criteria with points.
pub(crate) fn faults(rubric: &Rubric, at: &str) -> Vec<FieldError> {
    let mut errors = Vec::new();
    if rubric.practice {
        return of_practice(rubric, at);
    }
    if rubric.criteria.is_empty() || rubric.criteria.len() > MOST_CRITERIA {
        let cure = format!("Enter 1 to {MOST_CRITERIA} criteria, or set the work as practice without marks.");
        errors.push(FieldError::new(format!("{at}/criteria"), cure));
    }
    for (i, criterion) in rubric.criteria.iter().enumerate() {
        let at = format!("{at}/criteria/{i}");
        let length = criterion.title.trim().chars().count();
        if !(1..=200).contains(&length) {
            errors.push(FieldError::new(format!("{at}/title"), "Enter a title of 1 to 200 characters."));
        }
        errors.extend(names::refusal(format!("{at}/title"), criterion.title.trim()));
        let before = rubric.criteria.iter().take(i);
        if before.clone().any(|other| other.title.trim() == criterion.title.trim()) {
            errors.push(FieldError::new(
                format!("{at}/title"),
                "Another criterion has this title. Choose another one.",
            ));
        }
        levels(criterion, &at, &mut errors);
        if criterion.must_pass_kind.is_some() && !criterion.must_pass {
            let cure =
                "Only a must-pass criterion is about one of these. Omit the field, or set `must_pass`.";
            errors.push(FieldError::new(format!("{at}/must_pass_kind"), cure));
        }
        for (j, kind) in criterion.findings.iter().enumerate() {
            let here = criterion.findings.iter().take(j).any(|other| other == kind);
            if here || rubric.criteria.iter().take(i).any(|other| other.findings.contains(kind)) {
                let cure = format!("{kind} proposes a level already, and counts once. Remove it here.");
                errors.push(FieldError::new(format!("{at}/findings/{j}"), cure));
            }
        }
    }
    let highest =
        rubric.criteria.iter().filter_map(|criterion| criterion.levels.iter().map(|it| it.points).max());
    let sum: u64 = highest.map(u64::from).sum();
    if errors.is_empty() && sum != u64::from(rubric.total_points) {
        errors.push(FieldError::new(
            format!("{at}/total_points"),
            format!(
                "The highest levels come to {sum} points, not {}. Enter {sum}, or change the levels.",
                rubric.total_points
            ),
        ));
    }
    errors
}

/// Practice has neither criteria nor points.
fn of_practice(rubric: &Rubric, at: &str) -> Vec<FieldError> {
    let mut errors = Vec::new();
    if !rubric.criteria.is_empty() {
        let cure = "Practice is not marked. Remove the criteria, or do not set it as practice.";
        errors.push(FieldError::new(format!("{at}/criteria"), cure));
    }
    if rubric.total_points != 0 {
        errors.push(FieldError::new(format!("{at}/total_points"), "Practice has no points. Enter 0."));
    }
    errors
}

fn levels(criterion: &RubricCriterion, at: &str, errors: &mut Vec<FieldError>) {
    let at = format!("{at}/levels");
    if criterion.must_pass {
        if !criterion.levels.is_empty() {
            errors.push(FieldError::new(
                at,
                "A must-pass criterion stands outside the points. Remove its levels.",
            ));
        }
        return;
    }
    if !(2..=MOST_LEVELS).contains(&criterion.levels.len()) {
        errors.push(FieldError::new(
            at,
            format!("Enter 2 to {MOST_LEVELS} levels, or mark the criterion as one that must be passed."),
        ));
        return;
    }
    for (i, level) in criterion.levels.iter().enumerate() {
        if !(1..=500).contains(&level.title.trim().chars().count()) {
            errors.push(FieldError::new(format!("{at}/{i}/title"), "Enter 1 to 500 characters."));
        }
        if level.points > MOST_POINTS {
            errors.push(FieldError::new(
                format!("{at}/{i}/points"),
                format!("A level has at most {MOST_POINTS} points. Enter fewer."),
            ));
        }
        let before = i.checked_sub(1).and_then(|before| criterion.levels.get(before));
        if let Some(before) = before.filter(|before| before.points >= level.points) {
            errors.push(FieldError::new(
                format!("{at}/{i}/points"),
                format!(
                    "Levels go from the fewest points to the most. Enter more than {}, or reorder the levels.",
                    before.points
                ),
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use wire::bench::FindingKind;
    use wire::teaching::RubricLevel;

    fn criterion(title: &str, points: &[u32]) -> RubricCriterion {
        let level = |points: &u32| RubricLevel { title: format!("{points} points"), points: *points };
        let levels = points.iter().map(level).collect();
        let none = (None, Vec::new());
        RubricCriterion {
            title: title.into(),
            must_pass: false,
            must_pass_kind: none.0,
            levels,
            findings: none.1,
        }
    }

    fn pointers(rubric: &Rubric) -> Vec<String> {
        faults(rubric, "/rubric").into_iter().map(|error| error.pointer).collect()
    }

    #[test]
    fn points_add_up_to_the_highest_levels_and_must_pass_stands_outside_them() {
        let must = RubricCriterion { must_pass: true, levels: Vec::new(), ..criterion("Every lot", &[]) };
        let criteria = vec![criterion("Weighing", &[0, 3, 6]), criterion("Emulsion", &[0, 4]), must];
        let rubric = Rubric { total_points: 10, criteria, practice: false };
        assert!(pointers(&rubric).is_empty());
        assert_eq!(pointers(&Rubric { total_points: 11, ..rubric }), ["/rubric/total_points"]);
    }

    #[test]
    fn each_fault_is_named_where_it_is() {
        let of = |criteria| pointers(&Rubric { total_points: 6, criteria, practice: false });
        assert_eq!(of(vec![]), ["/rubric/criteria"]);
        assert_eq!(of(vec![criterion("A", &[6, 0])]), ["/rubric/criteria/0/levels/1/points"]);
        assert_eq!(of(vec![criterion("A", &[6])]), ["/rubric/criteria/0/levels"]);
        assert_eq!(of(vec![criterion("A", &[0, 3]), criterion("A", &[0, 3])]), ["/rubric/criteria/1/title"]);
        let must = RubricCriterion { must_pass: true, ..criterion("A", &[0, 6]) };
        assert_eq!(of(vec![must]), ["/rubric/criteria/0/levels"]);
    }
    #[test]
    fn practice_is_chosen_and_has_no_criteria() {
        let practice = Rubric { total_points: 0, criteria: Vec::new(), practice: true };
        assert!(pointers(&practice).is_empty());
        let marked = Rubric { total_points: 6, criteria: vec![criterion("A", &[0, 6])], practice: true };
        assert_eq!(pointers(&marked), ["/rubric/criteria", "/rubric/total_points"]);
    }

    #[test]
    fn a_kind_of_finding_proposes_one_level() {
        let of = |findings: &[FindingKind]| RubricCriterion {
            findings: findings.to_vec(),
            ..criterion(&format!("{findings:?}"), &[0, 3])
        };
        use FindingKind::{Missing, OutOfTolerance, Yield};
        let criteria = vec![of(&[OutOfTolerance, Missing]), of(&[Yield, Missing])];
        let rubric = Rubric { total_points: 6, criteria, practice: false };
        assert_eq!(pointers(&rubric), ["/rubric/criteria/1/findings/1"]);
        let kind = Some(wire::teaching::MustPassKind::Identity);
        let criteria = vec![RubricCriterion { must_pass_kind: kind, ..criterion("A", &[0, 6]) }];
        let rubric = Rubric { total_points: 6, criteria, practice: false };
        assert_eq!(pointers(&rubric), ["/rubric/criteria/0/must_pass_kind"]);
    }
}
