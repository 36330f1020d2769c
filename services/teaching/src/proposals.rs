//! Levels that the findings of a record propose. A proposal decides nothing.

use std::collections::BTreeSet;

use wire::bench::{Finding, FindingKind};
use wire::teaching::{LevelProposal, Rubric, RubricCriterion};

const LEVELS: &str =
    "One level below the highest for each line, step or entry with a finding (common practice, no source).";
const MUST_PASS: &str = "Met where nothing of these kinds was found (common practice, no source).";

/// What the findings propose, for each criterion that names kinds of findings. What was corrected at the bench is no finding
/// and costs nothing.
pub(crate) fn proposals(rubric: &Rubric, findings: &[Finding]) -> Vec<LevelProposal> {
    // A line that was weighed wrongly moves the yield. The yield is not counted again.
    let weighed_wrongly = findings.iter().any(|finding| finding.kind == FindingKind::OutOfTolerance);
    let carried = |finding: &&Finding| {
        weighed_wrongly && matches!(finding.kind, FindingKind::Yield | FindingKind::YieldLow)
    };
    (1..)
        .zip(&rubric.criteria)
        .filter(|(_, criterion)| !criterion.findings.is_empty())
        .map(|(number, criterion)| {
            let of_kinds = findings.iter().filter(|finding| criterion.findings.contains(&finding.kind));
            let (carried, counted): (Vec<&Finding>, Vec<&Finding>) = of_kinds.partition(carried);
            let places = counted.iter().map(|finding| place(finding)).collect::<BTreeSet<_>>().len();
            LevelProposal {
                criterion: number,
                level: level(criterion, places),
                met: criterion.must_pass.then_some(places == 0),
                findings: counted.into_iter().cloned().collect(),
                carried_forward: carried.into_iter().cloned().collect(),
                rule: if criterion.must_pass { MUST_PASS } else { LEVELS }.to_owned(),
            }
        })
        .collect()
}

/// Where a finding is: findings at one place count once.
fn place(finding: &Finding) -> (Option<&str>, Option<u32>, Option<String>) {
    match (&finding.line, finding.step, finding.entry) {
        (Some(line), _, _) => (Some(line.as_str()), None, None),
        (None, Some(step), _) => (None, Some(step), None),
        (None, None, Some(entry)) => (None, None, Some(entry.to_string())),
        (None, None, None) => (None, None, Some(finding.kind.to_string())),
    }
}

/// The level after so many steps down from the highest, counted from 1.
fn level(criterion: &RubricCriterion, down: usize) -> Option<u32> {
    let highest = u32::try_from(criterion.levels.len()).ok().filter(|highest| *highest > 0)?;
    Some(highest.saturating_sub(u32::try_from(down).unwrap_or(u32::MAX)).max(1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use wire::teaching::RubricLevel;

    fn criterion(findings: &[FindingKind], points: &[u32]) -> RubricCriterion {
        RubricCriterion {
            title: "Weighing".into(),
            must_pass: points.is_empty(),
            must_pass_kind: None,
            levels: points.iter().map(|points| RubricLevel { title: "So".into(), points: *points }).collect(),
            findings: findings.to_vec(),
        }
    }

    fn found(kind: FindingKind, line: &str) -> Finding {
        Finding {
            kind,
            line: Some(line.into()).filter(|line: &String| !line.is_empty()),
            step: None,
            entry: None,
            asked: None,
            recorded: None,
            sentence: String::new(),
            rule: String::new(),
        }
    }

    fn proposed(criteria: Vec<RubricCriterion>, findings: &[Finding]) -> Vec<LevelProposal> {
        proposals(&Rubric { total_points: 0, criteria, practice: false }, findings)
    }

    #[test]
    fn a_clean_record_proposes_the_highest_level_and_each_place_one_below() {
        use FindingKind::{Missing, OutOfTolerance};
        let weighing = || vec![criterion(&[OutOfTolerance, Missing], &[0, 3, 6])];
        for (findings, level) in [
            (vec![], 3),
            (vec![found(OutOfTolerance, "1.1")], 2),
            // Two findings at one line are one thing to mend.
            (vec![found(OutOfTolerance, "1.1"), found(Missing, "1.1")], 2),
            (vec![found(OutOfTolerance, "1.1"), found(Missing, "1.2")], 1),
            (vec![found(OutOfTolerance, "1.1"), found(OutOfTolerance, "1.2"), found(Missing, "2.1")], 1),
            (vec![found(FindingKind::Ph, "")], 3),
        ] {
            assert_eq!(proposed(weighing(), &findings)[0].level, Some(level), "{findings:?}");
        }
        assert!(proposed(vec![criterion(&[], &[0, 3])], &[found(Missing, "1.1")]).is_empty());
    }

    #[test]
    fn a_wrong_weighing_is_not_counted_again_in_the_yield() {
        use FindingKind::{OutOfTolerance, YieldLow};
        let both = || vec![criterion(&[OutOfTolerance], &[0, 3]), criterion(&[YieldLow], &[0, 3])];
        let all = proposed(both(), &[found(OutOfTolerance, "1.1"), found(YieldLow, "")]);
        assert_eq!((all[0].level, all[1].level), (Some(1), Some(2)));
        assert_eq!((all[1].findings.len(), all[1].carried_forward.len()), (0, 1));
        let alone = proposed(both(), &[found(YieldLow, "")]);
        assert_eq!((alone[0].level, alone[1].level), (Some(2), Some(1)));
    }

    #[test]
    fn a_must_pass_criterion_looks_met_where_nothing_was_found() {
        let lots = || vec![criterion(&[FindingKind::Missing], &[])];
        assert_eq!(proposed(lots(), &[])[0].met, Some(true));
        let missing = proposed(lots(), &[found(FindingKind::Missing, "1.1")]);
        assert_eq!((missing[0].met, missing[0].level), (Some(false), None));
    }
}
