//! Where a class struggles: on which criteria, in which kinds of questions, and with which findings.

use store::{Credentials, Result, Store, word};
use wire::ids::CohortId;
use wire::teaching::{CohortDifficulties, CriterionDifficulty, FindingDifficulty, QuestionDifficulty};

use crate::judged_work::{self, Whose, count};
use crate::shares::{RULE, SHARES_FROM, percent};
use crate::{practice, seat};

/// Where a cohort struggles, for its instructors and markers. What is closed to the caller as a second marker is left out.
/// Six statements, however much was handed in.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is a member, and [`store::Error::Forbidden`] for students.
pub async fn difficulties(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
) -> Result<CohortDifficulties> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            let whose = Whose { student: None, cohort: Some(cohort) };
            let versions = judged_work::versions(tx, whose).await?;
            let mut judged = judged_work::criteria(tx, &versions).await?;
            let mut criteria: Vec<CriterionDifficulty> = Vec::new();
            for one in versions.iter().filter_map(|version| judged.remove(&version.handed)).flatten() {
                let below = u32::from(one.is_below());
                let same =
                    |of: &&mut CriterionDifficulty| of.title == one.title && of.must_pass == one.must_pass;
                match criteria.iter_mut().find(same) {
                    Some(of) => {
                        of.works += 1;
                        of.below += below;
                    }
                    None => criteria.push(CriterionDifficulty {
                        title: one.title,
                        must_pass: one.must_pass,
                        works: 1,
                        below,
                        percent: None,
                    }),
                }
            }
            for one in &mut criteria {
                one.percent = percent(one.below, one.works);
            }
            criteria.sort_by(|a, b| b.below.cmp(&a.below).then_with(|| a.title.cmp(&b.title)));
            let questions = practice::questions(tx, whose).await?.into_iter().map(|row| {
                let (questions, missed) = (count(row.questions), count(row.missed));
                let percent = percent(missed, questions);
                Ok(QuestionDifficulty { kind: word(&row.kind)?, questions, missed, percent })
            });
            let questions = questions.collect::<Result<_>>()?;
            let findings = practice::findings(tx, whose).await?.into_iter().map(|row| {
                let (works, with_finding) = (count(row.works), count(row.with_finding));
                Ok(FindingDifficulty {
                    kind: word(&row.kind)?,
                    works,
                    with_finding,
                    percent: percent(with_finding, works),
                    findings: count(row.findings),
                })
            });
            let findings = findings.collect::<Result<_>>()?;
            Ok(CohortDifficulties {
                cohort,
                shares_from: SHARES_FROM,
                rule: RULE.to_owned(),
                criteria,
                questions,
                findings,
            })
        })
        .await
}
