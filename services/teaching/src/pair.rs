//! A mark that was drawn, as it is kept: who may read what of it, who can settle it, and where its two marks differ.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Integer, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::lock;
use serde_json::json;
use store::{Error, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::ids::{CohortId, ModerationId, PersonId, WorkSubmissionId};
use wire::teaching::{CohortRole, CriterionLevel, SettlementOutcome};

use crate::handed::{self, Handed};
use crate::{blind, seat};

/// A mark that was drawn, with all that is open of it.
#[derive(QueryableByName)]
pub(crate) struct Pair {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) handed: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) batch: Uuid,
    #[diesel(sql_type = Integer)]
    pub(crate) submission_number: i32,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) assignment: Uuid,
    #[diesel(sql_type = Integer)]
    pub(crate) version_number: i32,
    #[diesel(sql_type = Text)]
    pub(crate) title: String,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) cohort: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) person: Uuid,
    #[diesel(sql_type = SmallInt)]
    pub(crate) percent: i16,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) drawn_at: DateTime<Utc>,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) mark: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) first: Uuid,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(crate) second: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub(crate) second_at: Option<DateTime<Utc>>,
    #[diesel(sql_type = Nullable<Text>)]
    pub(crate) outcome: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(crate) settled_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(crate) settled_mark: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub(crate) settled_at: Option<DateTime<Utc>>,
    /// Whether it is closed to the caller until they have given their second mark.
    #[diesel(sql_type = Bool)]
    blind: bool,
}

/// `$1` is the caller.
pub(crate) const PAIR: &str = "SELECT m.id, m.handed_id AS handed, h.batch_id AS batch, h.submission_number, m.assignment_id AS assignment,
     h.version_number, v.title, a.cohort_id AS cohort, w.person_id AS person, m.percent, m.drawn_at, m.mark_id AS mark,
     k.marker_id AS first, m.second_id AS second, m.second_at, s.outcome, s.settled_by, s.mark_id AS settled_mark,
     s.at AS settled_at, blind_work(w.id, $1) AS blind
     FROM moderation m JOIN handed_work h ON h.id = m.handed_id JOIN assignment_work w ON w.id = h.work_id
     JOIN assignment a ON a.id = m.assignment_id
     JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
     JOIN work_mark k ON k.id = m.mark_id LEFT JOIN moderation_settlement s ON s.moderation_id = m.id";

impl Pair {
    pub(crate) const fn id(&self) -> ModerationId {
        ModerationId(self.id)
    }

    pub(crate) const fn has_second(&self) -> bool {
        self.second_at.is_some()
    }

    /// Whether the caller has a second mark to give in its assignment.
    pub(crate) const fn is_blind(&self) -> bool {
        self.blind
    }

    pub(crate) const fn is_settled(&self) -> bool {
        self.outcome.is_some()
    }

    pub(crate) fn is_first(&self, who: PersonId) -> bool {
        self.first == who.0
    }

    pub(crate) fn is_second(&self, who: PersonId) -> bool {
        self.second == Some(who.0)
    }

    /// What somebody can settle two marks as that differ: neither marker carries their own through.
    pub(crate) fn outcomes(
        &self,
        who: PersonId,
        role: CohortRole,
        levels_differ: bool,
    ) -> Vec<SettlementOutcome> {
        use SettlementOutcome as O;
        let all: &[O] = if self.is_first(who) {
            &[O::SecondTaken]
        } else if self.is_second(who) {
            &[O::FirstStands]
        } else if role == CohortRole::Instructor {
            &[O::FirstStands, O::SecondTaken, O::Decided]
        } else {
            &[]
        };
        // A difference on a must-pass criterion changes no level: the verdict has decided it.
        all.iter().copied().filter(|one| levels_differ || *one == O::FirstStands).collect()
    }

    pub(crate) fn code(&self) -> String {
        code(self.id)
    }

    /// Refuses all but its second marker, while a member of the cohort: to everybody else there is nothing to mark.
    ///
    /// # Errors
    /// Returns [`Error::NotFound`].
    pub(crate) async fn for_second(&self, tx: &mut Tx<'_>) -> Result<()> {
        let me = tx.person()?.id;
        match seat::assessor(tx, CohortId(self.cohort)).await {
            Ok(()) if self.is_second(me) => Ok(()),
            Ok(()) | Err(Error::NotFound(_) | Error::Forbidden(_)) => Err(Error::NotFound("moderation")),
            Err(other) => Err(other),
        }
    }

    /// Refuses all but those who may read both marks. Answers the caller's role.
    ///
    /// # Errors
    /// Returns [`Error::NotFound`] unless the caller is an instructor or marker of the cohort, and [`Error::State`] for whoever
    /// must give their second mark first.
    pub(crate) async fn for_staff(&self, tx: &mut Tx<'_>) -> Result<CohortRole> {
        let role = match seat::member(tx, CohortId(self.cohort)).await {
            Ok(CohortRole::Student) | Err(Error::NotFound(_)) => return Err(Error::NotFound("moderation")),
            other => other?,
        };
        if self.blind {
            return Err(blind::refused());
        }
        Ok(role)
    }
}

/// Refuses a second mark where one was given.
pub(crate) fn second_given() -> Error {
    Error::state(
        "second_given",
        "The second mark was given already. Read both marks, and settle them if they differ.",
    )
}

/// What work is called while nobody is named: the end of the moderation's id, which is random.
pub(crate) fn code(id: Uuid) -> String {
    format!("{:06X}", id.as_u128() & 0xFF_FFFF)
}

/// A mark that was drawn, for whoever was found to be allowed to know of it.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub(crate) async fn pair(tx: &mut Tx<'_>, id: ModerationId) -> Result<Pair> {
    let me = tx.person()?.id;
    let found: Option<Pair> = diesel::sql_query(format!("{PAIR} WHERE m.id = $2"))
        .bind::<SqlUuid, _>(me.0)
        .bind::<SqlUuid, _>(id.0)
        .get_result(tx.conn())
        .await
        .optional()?;
    found.ok_or(Error::NotFound("moderation"))
}

/// A criterion on which two marks differ.
#[derive(Clone, Debug, QueryableByName)]
pub(crate) struct Difference {
    #[diesel(sql_type = SqlUuid)]
    pub(crate) id: Uuid,
    #[diesel(sql_type = SmallInt)]
    position: i16,
    #[diesel(sql_type = Nullable<SmallInt>)]
    first: Option<i16>,
    #[diesel(sql_type = Nullable<SmallInt>)]
    second: Option<i16>,
}

impl Difference {
    pub(crate) fn criterion(&self) -> u32 {
        self.position.unsigned_abs().into()
    }

    /// The two levels. A must-pass criterion has none.
    pub(crate) fn levels(&self) -> Option<(u32, u32)> {
        let (first, second) = self.first.zip(self.second)?;
        Some((first.unsigned_abs().into(), second.unsigned_abs().into()))
    }

    /// The level of the second mark.
    pub(crate) fn second(&self) -> Option<CriterionLevel> {
        self.levels().map(|(_, level)| CriterionLevel { criterion: self.criterion(), level })
    }

    #[cfg(test)]
    pub(crate) const fn of(position: i16, first: i16, second: i16) -> Self {
        Self { id: Uuid::nil(), position, first: Some(first), second: Some(second) }
    }

    #[cfg(test)]
    pub(crate) const fn must_pass(position: i16) -> Self {
        Self { id: Uuid::nil(), position, first: None, second: None }
    }
}

pub(crate) const DIFFERENCES: &str = "SELECT m.id, c.position, c.level AS first, o.level AS second
     FROM moderation m JOIN work_mark_criterion c ON c.mark_id = m.mark_id
     JOIN second_mark_criterion o ON o.moderation_id = m.id AND o.position = c.position
     WHERE m.id = ANY ($1) AND (c.level, c.met) IS DISTINCT FROM (o.level, o.met) ORDER BY m.id, c.position";

/// The criteria on which the two marks of a moderation differ, in the order of the rubric.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn differences(tx: &mut Tx<'_>, id: ModerationId) -> Result<Vec<Difference>> {
    let rows = diesel::sql_query(DIFFERENCES).bind::<diesel::sql_types::Array<SqlUuid>, _>(vec![id.0]);
    Ok(rows.load(tx.conn()).await?)
}

/// An event of a moderation, in the history of its work.
pub(crate) fn event(handed: &Handed, id: Uuid, action: &'static str) -> NewEvent {
    NewEvent::new("assignment_work", handed.work, action)
        .detail(json!({ "handed": handed.id, "moderation": id }))
}

/// A moderation and its work, held, for whoever may read both marks.
///
/// # Errors
/// As [`Pair::for_staff`].
pub(crate) async fn held(tx: &mut Tx<'_>, id: ModerationId) -> Result<(Pair, Handed)> {
    let before = pair(tx, id).await?;
    before.for_staff(tx).await?;
    let handed = handed::found(tx, WorkSubmissionId(before.handed)).await?;
    lock(tx, handed.locks()).await?;
    let now = pair(tx, id).await?;
    now.for_staff(tx).await?;
    Ok((now, handed))
}
