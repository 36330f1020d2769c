//! What a marker decides, checked against the rubric before anything is kept.

use wire::mark::{CriterionDecision, NewMark};
use wire::problem::FieldError;
use wire::teaching::{CriterionLevel, Rubric, RubricCriterion, SecondDecision};

/// What is decided on one criterion, as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Decided {
    /// Its place in the rubric, counted from 1.
    pub(crate) position: i16,
    /// The level, counted from 1, and its points.
    pub(crate) level: Option<(i16, i32)>,
    /// Of a must-pass criterion.
    pub(crate) met: Option<bool>,
    pub(crate) comment: Option<String>,
}

/// The most characters of a comment: as many as a comment of a review takes.
const MOST: usize = 4000;

/// Every criterion of a rubric with what is decided on it, in the order of the rubric; or every fault of the mark at `at`.
pub(crate) fn decided(rubric: &Rubric, mark: &NewMark, at: &str) -> Result<Vec<Decided>, Vec<FieldError>> {
    each(rubric, &mark.criteria, at, comment)
}

/// As [`decided`], of a second mark, which has levels and no comments.
pub(crate) fn second(rubric: &Rubric, criteria: &[SecondDecision]) -> Result<Vec<Decided>, Vec<FieldError>> {
    let criteria = criteria.iter().map(|one| CriterionDecision {
        criterion: one.criterion,
        level: one.level,
        met: one.met,
        comment: None,
    });
    each(rubric, &criteria.collect::<Vec<_>>(), "", |_, _, _| None)
}

fn each(
    rubric: &Rubric,
    criteria: &[CriterionDecision],
    at: &str,
    comment: impl Fn(&CriterionDecision, &str, &mut Vec<FieldError>) -> Option<String>,
) -> Result<Vec<Decided>, Vec<FieldError>> {
    let mut errors = Vec::new();
    let mut all: Vec<Decided> = Vec::new();
    for (i, decision) in criteria.iter().enumerate() {
        let at = format!("{at}/criteria/{i}");
        let Some((position, criterion)) = criterion(rubric, decision.criterion, &at, &mut errors) else {
            continue;
        };
        if all.iter().any(|other| other.position == position) {
            errors.push(twice(&at));
            continue;
        }
        let found =
            (level_of(criterion, decision, &at, &mut errors), met_of(criterion, decision, &at, &mut errors));
        let comment = comment(decision, &at, &mut errors);
        all.push(Decided { position, level: found.0, met: found.1, comment });
    }
    let missing: Vec<String> = (1_u32..)
        .zip(&rubric.criteria)
        .filter(|(number, _)| !criteria.iter().any(|one| one.criterion == *number))
        .map(|(number, criterion)| format!("{number} ({})", criterion.title))
        .collect();
    if !missing.is_empty() {
        let cure = format!("Decide every criterion. Missing: {}.", missing.join(", "));
        errors.push(FieldError::new(format!("{at}/criteria"), cure));
    }
    all.sort_by_key(|one| one.position);
    if errors.is_empty() { Ok(all) } else { Err(errors) }
}

/// The levels that take the place of those of before, or every fault.
pub(crate) fn changed(
    rubric: &Rubric,
    before: &[Decided],
    levels: &[CriterionLevel],
) -> Result<Vec<Decided>, Vec<FieldError>> {
    let mut errors = Vec::new();
    let mut now = before.to_vec();
    let mut seen = Vec::new();
    for (i, chosen) in levels.iter().enumerate() {
        let at = format!("/criteria/{i}");
        let Some((position, criterion)) = criterion(rubric, chosen.criterion, &at, &mut errors) else {
            continue;
        };
        if seen.contains(&position) {
            errors.push(twice(&at));
            continue;
        }
        seen.push(position);
        if criterion.must_pass {
            let cure = "A must-pass criterion stays as the verdict has it. Omit it.";
            errors.push(FieldError::new(format!("{at}/criterion"), cure));
            continue;
        }
        let level = level(criterion, Some(chosen.level), &at, &mut errors);
        for one in now.iter_mut().filter(|one| one.position == position && level.is_some()) {
            one.level = level;
        }
    }
    if errors.is_empty() && now == before {
        errors.push(FieldError::new("/criteria", "The mark has these levels already. Choose another level."));
    }
    if errors.is_empty() { Ok(now) } else { Err(errors) }
}

fn twice(at: &str) -> FieldError {
    FieldError::new(format!("{at}/criterion"), "This criterion is decided already. Send it once.")
}

fn criterion<'r>(
    rubric: &'r Rubric,
    number: u32,
    at: &str,
    errors: &mut Vec<FieldError>,
) -> Option<(i16, &'r RubricCriterion)> {
    let place = usize::try_from(number).ok().and_then(|number| number.checked_sub(1));
    let found = place.and_then(|place| rubric.criteria.get(place));
    let found = i16::try_from(number).ok().zip(found);
    if found.is_none() {
        let cure = format!("The rubric has the criteria 1 to {}. Choose one of them.", rubric.criteria.len());
        errors.push(FieldError::new(format!("{at}/criterion"), cure));
    }
    found
}

fn level_of(
    criterion: &RubricCriterion,
    decision: &CriterionDecision,
    at: &str,
    errors: &mut Vec<FieldError>,
) -> Option<(i16, i32)> {
    if !criterion.must_pass {
        return level(criterion, decision.level, at, errors);
    }
    if decision.level.is_some() {
        let cure = "A must-pass criterion has no levels. Send `met` instead.";
        errors.push(FieldError::new(format!("{at}/level"), cure));
    }
    None
}

/// The level that is chosen, with its points from the rubric.
fn level(
    criterion: &RubricCriterion,
    chosen: Option<u32>,
    at: &str,
    errors: &mut Vec<FieldError>,
) -> Option<(i16, i32)> {
    let place = chosen.and_then(|level| usize::try_from(level).ok()?.checked_sub(1));
    let of_rubric = place.and_then(|place| criterion.levels.get(place));
    let points = of_rubric.and_then(|level| i32::try_from(level.points).ok());
    let found = chosen.and_then(|level| i16::try_from(level).ok()).zip(points);
    if found.is_none() {
        let most = criterion.levels.iter().map(|level| level.points).max().unwrap_or_default();
        let cure = format!(
            "This criterion has the levels 1 to {}, for at most {most} points. Choose one of them.",
            criterion.levels.len()
        );
        errors.push(FieldError::new(format!("{at}/level"), cure));
    }
    found
}

fn met_of(
    criterion: &RubricCriterion,
    decision: &CriterionDecision,
    at: &str,
    errors: &mut Vec<FieldError>,
) -> Option<bool> {
    match decision.met {
        None if criterion.must_pass => {
            let cure = "Say whether this criterion is met: true or false.";
            errors.push(FieldError::new(format!("{at}/met"), cure));
        }
        Some(_) if !criterion.must_pass => {
            let cure = "Only a must-pass criterion is met or not. Send `level` instead.";
            errors.push(FieldError::new(format!("{at}/met"), cure));
        }
        _ => {}
    }
    decision.met
}

fn comment(decision: &CriterionDecision, at: &str, errors: &mut Vec<FieldError>) -> Option<String> {
    let text = decision.comment.as_deref().map(str::trim);
    let length = text.map_or(0, |text| text.chars().count());
    if text.is_some() && !(1..=MOST).contains(&length) {
        errors.push(FieldError::new(format!("{at}/comment"), format!("Enter 1 to {MOST} characters.")));
    } else if text.is_none() && decision.met == Some(false) {
        let cure = "Enter the reason why this criterion is not met. The student reads the comment.";
        errors.push(FieldError::new(format!("{at}/comment"), cure));
    }
    text.map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use wire::teaching::RubricLevel;

    fn rubric() -> Rubric {
        let level = |points: u32| RubricLevel { title: format!("{points} points"), points };
        let of = |title: &str, points: &[u32]| RubricCriterion {
            title: title.into(),
            must_pass: points.is_empty(),
            must_pass_kind: None,
            levels: points.iter().copied().map(level).collect(),
            findings: Vec::new(),
        };
        let criteria = vec![of("Weighing", &[0, 3, 6]), of("Emulsion", &[0, 4]), of("Lots", &[])];
        Rubric { total_points: 10, criteria, practice: false }
    }

    fn of(criterion: u32, level: Option<u32>, met: Option<bool>) -> CriterionDecision {
        CriterionDecision { criterion, level, met, comment: None }
    }

    fn pointers(criteria: Vec<CriterionDecision>) -> Vec<String> {
        let refused = decided(&rubric(), &NewMark { criteria }, "/mark").unwrap_err();
        refused.into_iter().map(|error| error.pointer).collect()
    }

    #[test]
    fn points_come_from_the_rubric_in_its_order() {
        let criteria = vec![of(3, None, Some(true)), of(2, Some(2), None), of(1, Some(2), None)];
        let found = decided(&rubric(), &NewMark { criteria }, "/mark").unwrap();
        let points: Vec<Option<i32>> = found.iter().map(|one| one.level.map(|level| level.1)).collect();
        assert_eq!(points, [Some(3), Some(4), None]);
    }

    #[test]
    fn each_fault_of_a_mark_is_named_where_it_is() {
        let (weighing, emulsion, lots) =
            (of(1, Some(3), None), of(2, Some(1), None), of(3, None, Some(true)));
        let with = |one: CriterionDecision| vec![one, emulsion.clone(), lots.clone()];
        assert_eq!(pointers(vec![weighing.clone(), lots.clone()]), ["/mark/criteria"]);
        assert_eq!(pointers(with(of(1, Some(4), None))), ["/mark/criteria/0/level"]);
        assert_eq!(pointers(with(of(1, Some(0), None))), ["/mark/criteria/0/level"]);
        assert_eq!(pointers(with(of(1, None, None))), ["/mark/criteria/0/level"]);
        assert_eq!(pointers(with(of(1, Some(1), Some(true)))), ["/mark/criteria/0/met"]);
        let past = vec![weighing.clone(), emulsion.clone(), lots.clone(), of(4, Some(1), None)];
        assert_eq!(pointers(past), ["/mark/criteria/3/criterion"]);
        let again = vec![weighing.clone(), emulsion.clone(), lots, weighing.clone()];
        assert_eq!(pointers(again), ["/mark/criteria/3/criterion"]);
        let unmet = vec![weighing.clone(), emulsion.clone(), of(3, None, Some(false))];
        assert_eq!(pointers(unmet), ["/mark/criteria/2/comment"]);
        assert_eq!(
            pointers(vec![weighing, emulsion, of(3, Some(1), None)]),
            ["/mark/criteria/2/level", "/mark/criteria/2/met"]
        );
    }

    #[test]
    fn a_change_names_another_level_and_leaves_the_rest() {
        let criteria = vec![of(1, Some(2), None), of(2, Some(2), None), of(3, None, Some(true))];
        let before = decided(&rubric(), &NewMark { criteria }, "/mark").unwrap();
        let to = |criterion, level| changed(&rubric(), &before, &[CriterionLevel { criterion, level }]);
        let now = to(1, 3).unwrap();
        assert_eq!((now[0].level, &now[1..]), (Some((3, 6)), &before[1..]));
        for (criterion, level, pointer) in
            [(1, 2, "/criteria"), (1, 9, "/criteria/0/level"), (3, 1, "/criteria/0/criterion")]
        {
            assert_eq!(to(criterion, level).unwrap_err()[0].pointer, pointer);
        }
    }
}
