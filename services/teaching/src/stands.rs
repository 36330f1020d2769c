//! How an assignment stands for one student: by the dates that hold for that student, and by what was handed in.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Integer, Nullable, Text, Uuid as SqlUuid};
use store::{Result, word};
use uuid::Uuid;
use wire::teaching::{AllowanceKind, SubmissionState, WorkState};

/// How long before the time an assignment counts as due.
const SOON: Duration = Duration::hours(48);

/// When an assignment opens, is due, and stops taking late work.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Times {
    pub(crate) opens: DateTime<Utc>,
    pub(crate) due: DateTime<Utc>,
    pub(crate) late: Option<DateTime<Utc>>,
}

impl Times {
    /// The dates that hold for one student.
    pub(crate) fn with(self, own: &Own) -> Self {
        let extra = Duration::minutes(own.extra_minutes.unwrap_or_default().into());
        Self { due: self.due + extra, late: self.late.map(|late| late + extra), ..self }
    }

    /// The last moment at which work is taken.
    pub(crate) fn closes(&self) -> DateTime<Utc> {
        self.late.unwrap_or(self.due)
    }
}

/// What is one student's own of an assignment: the allowance in force and what was handed in.
#[derive(Clone, Debug, Default, QueryableByName)]
pub(crate) struct Own {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(crate) allowance: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(crate) allowed: Option<String>,
    #[diesel(sql_type = Nullable<Integer>)]
    pub(crate) extra_minutes: Option<i32>,
    /// The state of the last version that was handed in.
    #[diesel(sql_type = Nullable<Text>)]
    pub(crate) handed_in: Option<String>,
    /// How many versions there are.
    #[diesel(sql_type = Nullable<Integer>)]
    pub(crate) submissions: Option<i32>,
    #[diesel(sql_type = Nullable<Bool>)]
    pub(crate) late: Option<bool>,
}

/// The columns of [`Own`]; [`of`] joins what they are of.
pub(crate) const OWN: &str = "own_a.id AS allowance, own_a.kind AS allowed, own_a.extra_minutes, own_s.state AS handed_in, own_s.number AS submissions, own_s.late";

/// The joins for [`OWN`], for an assignment and a person named in SQL. Each reads one row by a unique index.
pub(crate) fn of(assignment: &str, person: &str) -> String {
    format!(
        "LEFT JOIN LATERAL (SELECT oa.id, oa.kind, oa.extra_minutes FROM assignment_allowance oa
             WHERE oa.assignment_id = {assignment} AND oa.person_id = {person}
             ORDER BY oa.number DESC LIMIT 1) own_a ON true
         LEFT JOIN assignment_work own_w ON own_w.assignment_id = {assignment} AND own_w.person_id = {person}
         LEFT JOIN LATERAL (SELECT os.state, os.number, os.late FROM handed_work os
             WHERE os.work_id = own_w.id ORDER BY os.number DESC LIMIT 1) own_s ON true"
    )
}

/// How an assignment stands at a time. `times` are those that hold for the student.
///
/// # Errors
/// Returns [`store::Error::Internal`] for a word that this version does not know.
pub(crate) fn stands(now: DateTime<Utc>, times: &Times, own: &Own) -> Result<WorkState> {
    if let Some(state) = own.handed_in.as_deref().map(word).transpose()? {
        return Ok(match state {
            SubmissionState::Submitted => WorkState::Submitted,
            SubmissionState::Returned => WorkState::Returned,
            SubmissionState::Accepted => WorkState::Done,
            SubmissionState::Rejected => WorkState::Rejected,
        });
    }
    if own.allowed.as_deref() == Some(AllowanceKind::Excused.as_str()) {
        return Ok(WorkState::Excused);
    }
    Ok(if now < times.opens {
        WorkState::Upcoming
    } else if now <= times.due {
        if times.due - now <= SOON { WorkState::Due } else { WorkState::Open }
    } else if times.late.is_some_and(|late| now <= late) {
        WorkState::Late
    } else {
        WorkState::Closed
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn times() -> Times {
        Times {
            opens: at("2026-03-09T08:00:00Z"),
            due: at("2026-03-20T17:00:00Z"),
            late: Some(at("2026-03-27T17:00:00Z")),
        }
    }

    #[test]
    fn an_assignment_stands_by_the_clock_until_it_is_handed_in() {
        for (now, state) in [
            ("2026-03-09T07:59:59Z", WorkState::Upcoming),
            ("2026-03-09T08:00:00Z", WorkState::Open),
            ("2026-03-18T16:59:59Z", WorkState::Open),
            ("2026-03-18T17:00:00Z", WorkState::Due),
            ("2026-03-20T17:00:00Z", WorkState::Due),
            ("2026-03-20T17:00:01Z", WorkState::Late),
            ("2026-03-27T17:00:00Z", WorkState::Late),
            ("2026-03-27T17:00:01Z", WorkState::Closed),
        ] {
            assert_eq!(stands(at(now), &times(), &Own::default()).unwrap(), state, "{now}");
            for handed in SubmissionState::ALL {
                let own = Own { handed_in: Some(handed.to_string()), ..Own::default() };
                let stood = stands(at(now), &times(), &own).unwrap();
                assert_eq!(stood == WorkState::Done, *handed == SubmissionState::Accepted);
            }
        }
        let none_late = Times { late: None, ..times() };
        assert_eq!(
            stands(at("2026-03-20T17:00:01Z"), &none_late, &Own::default()).unwrap(),
            WorkState::Closed
        );
    }

    #[test]
    fn extra_time_moves_every_date_but_the_opening_and_an_excuse_asks_for_nothing() {
        let own = Own { extra_minutes: Some(60), ..Own::default() };
        let later = times().with(&own);
        assert_eq!(later.opens, times().opens);
        assert_eq!(later.closes(), at("2026-03-27T18:00:00Z"));
        assert_eq!(stands(at("2026-03-20T18:00:00Z"), &later, &own).unwrap(), WorkState::Due);
        assert_eq!(stands(at("2026-03-20T18:00:01Z"), &later, &own).unwrap(), WorkState::Late);
        let excused = Own { allowed: Some("excused".into()), ..Own::default() };
        assert_eq!(stands(at("2026-04-20T18:00:00Z"), &times(), &excused).unwrap(), WorkState::Excused);
    }
}
