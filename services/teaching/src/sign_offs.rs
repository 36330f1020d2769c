//! Signing students off: an instructor's word that a student can do something, once the rule of the competency is met. It ends
//! by itself, is taken back with a reason, and neither is ever changed.

use chrono::{DateTime, Months, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::{competency, declared_relation, sign_off, sign_off_revocation};
use serde_json::json;
use store::known_as::{self, Names};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::ids::{CohortId, CompetencyId, PersonId, SignOffId};
use wire::teaching::{
    NewRevocation, NewSignOff, Revocation, SignOff, SignOffState, StudentCompetencies, StudentCompetency,
};

use crate::competencies::Row;
use crate::kept::{SIGN_OFF, SIGN_OFF_REVOCATION};
use crate::{allowances, progress, seat};

/// A sign-off with how it was taken back.
#[derive(QueryableByName)]
pub(crate) struct Signed {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) competency_id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) person_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    cohort_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    signed_by: Uuid,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    pub(crate) ends_at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Text>)]
    reason: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    revoked_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub(crate) revoked_at: Option<DateTime<Utc>>,
}

const SIGNED: &str =
    "SELECT s.id, s.competency_id, c.name, s.person_id, s.cohort_id, s.signed_by, s.at, s.ends_at, x.reason,
         x.revoked_by, x.at AS revoked_at
     FROM sign_off s JOIN competency c ON c.id = s.competency_id
     LEFT JOIN sign_off_revocation x ON x.sign_off_id = s.id";

/// Whether a sign-off holds at a time. What was taken back stays so when its time is over.
fn state(now: DateTime<Utc>, ends_at: DateTime<Utc>, revoked_at: Option<DateTime<Utc>>) -> SignOffState {
    match revoked_at {
        Some(_) => SignOffState::Revoked,
        None if now >= ends_at => SignOffState::Expired,
        None => SignOffState::Valid,
    }
}

impl Signed {
    /// Whether it holds at a time.
    pub(crate) fn state(&self, now: DateTime<Utc>) -> SignOffState {
        state(now, self.ends_at, self.revoked_at)
    }

    fn people(&self) -> impl Iterator<Item = Uuid> {
        [Some(self.signed_by), self.revoked_by].into_iter().flatten()
    }

    fn shown(self, now: DateTime<Utc>, names: &Names) -> Result<SignOff> {
        let state = self.state(now);
        let revoked = match (self.reason, self.revoked_by, self.revoked_at) {
            (Some(reason), Some(by), Some(at)) => Some(Revocation {
                reason: word(&reason)?,
                revoked_by: PersonId(by),
                revoked_by_name: names.of(by),
                at,
            }),
            _ => None,
        };
        Ok(SignOff {
            id: SignOffId(self.id),
            competency: CompetencyId(self.competency_id),
            name: self.name,
            person: PersonId(self.person_id),
            cohort: CohortId(self.cohort_id),
            signed_by: PersonId(self.signed_by),
            signed_by_name: names.of(self.signed_by),
            at: self.at,
            ends_at: self.ends_at,
            state,
            revoked,
        })
    }
}

/// How far a student is with the rule of a competency.
#[derive(QueryableByName)]
struct Counted {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = BigInt)]
    accepted: i64,
    #[diesel(sql_type = BigInt)]
    criterion: i64,
    #[diesel(sql_type = BigInt)]
    answers: i64,
}

/// What counts of a student's work for each competency, as far as the caller may know it.
async fn counted(tx: &mut Tx<'_>, of: PersonId) -> Result<Vec<Counted>> {
    let me = tx.person()?.id;
    Ok(diesel::sql_query(
        "SELECT c.id,
             (SELECT count(*) FROM assignment_work w JOIN handed_work h ON h.work_id = w.id
              JOIN batch b ON b.id = h.batch_id JOIN revision r ON r.id = b.revision_id
              WHERE w.person_id = $1 AND h.state = 'accepted' AND NOT blind_work(w.id, $2)
                  AND (c.accepted_preparation IS NULL OR r.preparation = c.accepted_preparation)) AS accepted,
             (SELECT count(DISTINCT h.id) FROM assignment_work w JOIN handed_work h ON h.work_id = w.id
              JOIN LATERAL (SELECT m.id FROM work_mark m WHERE m.handed_id = h.id ORDER BY m.number DESC LIMIT 1) k ON true
              JOIN work_mark_criterion d ON d.mark_id = k.id
              JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
              CROSS JOIN LATERAL (SELECT v.rubric -> 'criteria' -> (d.position - 1) AS criterion) r
              WHERE w.person_id = $1 AND NOT blind_work(w.id, $2)
                  AND lower(r.criterion ->> 'title') = lower(c.criterion_title)
                  AND (d.met OR d.level = jsonb_array_length(r.criterion -> 'levels'))) AS criterion,
             (SELECT count(*) FROM assignment_work w JOIN question q ON q.work_id = w.id
              JOIN question_answer f ON f.question_id = q.id AND f.number = 1
              WHERE w.person_id = $1 AND f.is_right AND (c.question_kind IS NULL OR q.kind = c.question_kind)) AS answers
         FROM competency c",
    )
    .bind::<SqlUuid, _>(of.0)
    .bind::<SqlUuid, _>(me.0)
    .load(tx.conn())
    .await?)
}

impl Row {
    fn is_met(&self, counted: &Counted) -> bool {
        let there = |wanted: Option<i16>, there: i64| wanted.is_none_or(|wanted| there >= i64::from(wanted));
        there(self.accepted_works, counted.accepted)
            && there(self.criterion_works, counted.criterion)
            && there(self.right_answers, counted.answers)
    }
}

/// How the caller stands with every competency.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is a student.
pub async fn competencies_own(store: &Store, credentials: &Credentials) -> Result<StudentCompetencies> {
    store
        .read(credentials, async |tx| {
            let me = progress::own(tx)?;
            stands(tx, me).await
        })
        .await
}

/// How a student of a cohort stands with every competency, by work in all cohorts, for its instructors and markers.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member and the person one of the cohort's students, and
/// [`Error::Forbidden`] for students.
pub async fn competencies_of(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    of: PersonId,
) -> Result<StudentCompetencies> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            allowances::student(tx, cohort, of).await?;
            stands(tx, of).await
        })
        .await
}

async fn stands(tx: &mut Tx<'_>, of: PersonId) -> Result<StudentCompetencies> {
    let rows: Vec<Row> = competency::table
        .order(store::sql::lower(competency::name))
        .select(Row::as_select())
        .load(tx.conn())
        .await?;
    let counts = counted(tx, of).await?;
    let signed: Vec<Signed> = diesel::sql_query(format!(
        "SELECT DISTINCT ON (l.competency_id) l.* FROM ({SIGNED}) l WHERE l.person_id = $1
         ORDER BY l.competency_id, l.at DESC, l.id DESC"
    ))
    .bind::<SqlUuid, _>(of.0)
    .load(tx.conn())
    .await?;
    let people: Vec<Uuid> = signed.iter().flat_map(Signed::people).chain([of.0]).collect();
    let names = known_as::people(tx, people).await?;
    let now = tx.now();
    let mut last: std::collections::HashMap<Uuid, SignOff> = signed
        .into_iter()
        .map(|one| Ok((one.competency_id, one.shown(now, &names)?)))
        .collect::<Result<_>>()?;
    let count = |number: i64| u32::try_from(number).unwrap_or(u32::MAX);
    let item = |row: Row| {
        let counted = counts.iter().find(|one| one.id == row.id);
        let counted = counted.ok_or_else(|| Error::internal("a competency that was not counted"))?;
        Ok(StudentCompetency {
            accepted_works: count(counted.accepted),
            criterion_works: count(counted.criterion),
            right_answers: count(counted.answers),
            met: row.is_met(counted),
            sign_off: last.remove(&row.id),
            competency: row.shown()?,
        })
    };
    let items = rows.into_iter().map(item).collect::<Result<_>>()?;
    Ok(StudentCompetencies { person: of, name: names.of(of.0), items })
}

/// Signs a student of a cohort off.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort and the person one of its students,
/// [`Error::Forbidden`] unless the caller is its instructor and not related to the student, [`Error::State`] where the rule is
/// not met or a sign-off holds, and [`Error::Invalid`] for a competency that there is not.
pub async fn sign_off_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    (cohort, of): (CohortId, PersonId),
    request: &NewSignOff,
) -> Result<SignOff> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                // Exclusive, so that two do not sign for the same at once, and nobody leaves meanwhile.
                lock(tx, Locks::new().cohort(cohort, Mode::Exclusive)).await?;
                seat::instructor(tx, cohort).await?;
                allowances::student(tx, cohort, of).await?;
                if is_related(tx, of).await? {
                    return Err(Error::Forbidden(
                        "You declared a relation to this student, so you may not sign. Ask another instructor."
                            .into(),
                    ));
                }
                sign(tx, (cohort, of), request.competency).await
            },
            async |tx, id| shown(tx, SignOffId(id)).await,
        )
        .await
}

async fn sign(tx: &mut Tx<'_>, (cohort, of): (CohortId, PersonId), id: CompetencyId) -> Result<Uuid> {
    let row: Option<Row> =
        competency::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    let Some(row) = row else {
        let cure = "There is no competency with this ID. Choose one of the clinic's competencies.";
        return Err(Error::field("/competency", cure));
    };
    let counts = counted(tx, of).await?;
    let counted = counts.iter().find(|one| one.id == row.id);
    let counted = counted.ok_or_else(|| Error::internal("a competency that was not counted"))?;
    if !row.is_met(counted) {
        let detail = "What the rule of this competency asks for is not there yet. Sign when it is.";
        return Err(Error::state("rule_not_met", detail));
    }
    let (new, me, now) = (tx.new_id(), tx.person()?.id, tx.now());
    let only_one = |error: diesel::result::Error| match violates(&error, "sign_off_once") {
        true => {
            let detail =
                "This student is signed off already. Sign again when that has ended or was taken back.";
            Error::state(SignOffState::Valid, detail)
        }
        false => error.into(),
    };
    let months = Months::new(u32::from(row.lasts_months.unsigned_abs()));
    let ends = now.checked_add_months(months).ok_or_else(|| Error::internal("a sign-off without an end"))?;
    let small = |number: i64| i32::try_from(number).unwrap_or(i32::MAX);
    diesel::insert_into(sign_off::table)
        .values((
            sign_off::id.eq(new),
            sign_off::competency_id.eq(row.id),
            sign_off::person_id.eq(of.0),
            sign_off::cohort_id.eq(cohort.0),
            sign_off::accepted_works.eq(small(counted.accepted)),
            sign_off::criterion_works.eq(small(counted.criterion)),
            sign_off::right_answers.eq(small(counted.answers)),
            sign_off::signed_by.eq(me.0),
            sign_off::at.eq(now),
            sign_off::ends_at.eq(ends),
        ))
        .execute(tx.conn())
        .await
        .map_err(only_one)?;
    tx.record(
        NewEvent::new("cohort", cohort.0, "signed_off")
            .detail(json!({ "sign_off": new, "competency": row.id, "person": of }))
            .keeps(&SIGN_OFF, [new]),
    );
    Ok(new)
}

async fn is_related(tx: &mut Tx<'_>, student: PersonId) -> Result<bool> {
    let me = tx.person()?.id;
    let declared: i64 = declared_relation::table
        .filter(declared_relation::staff_id.eq(me.0))
        .filter(declared_relation::student_id.eq(student.0))
        .count()
        .get_result(tx.conn())
        .await?;
    Ok(declared > 0)
}

/// A sign-off, without a check of the caller.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub(crate) async fn found(tx: &mut Tx<'_>, id: SignOffId) -> Result<Signed> {
    let found: Option<Signed> = diesel::sql_query(format!("{SIGNED} WHERE s.id = $1"))
        .bind::<SqlUuid, _>(id.0)
        .get_result(tx.conn())
        .await
        .optional()?;
    found.ok_or(Error::NotFound("sign-off"))
}

async fn shown(tx: &mut Tx<'_>, id: SignOffId) -> Result<SignOff> {
    let found = found(tx, id).await?;
    let names = known_as::people(tx, found.people().collect::<Vec<_>>()).await?;
    found.shown(tx.now(), &names)
}

/// Takes a sign-off back.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort in which it was signed, [`Error::Forbidden`] unless
/// its instructor, and [`Error::State`] where it was taken back.
pub async fn sign_off_revoke(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: SignOffId,
    request: &NewRevocation,
) -> Result<SignOff> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.person()?.id;
                let cohort = CohortId(found(tx, id).await?.cohort_id);
                // Whose cohort it is not shall not learn that it is there.
                seat::member(tx, cohort).await.map_err(|_| Error::NotFound("sign-off"))?;
                seat::instructor(tx, cohort).await?;
                lock(tx, Locks::new().cohort(cohort, Mode::Exclusive)).await?;
                if found(tx, id).await?.revoked_at.is_some() {
                    let detail = "This sign-off was taken back already. Read why.";
                    return Err(Error::state(SignOffState::Revoked, detail));
                }
                let now = tx.now();
                diesel::insert_into(sign_off_revocation::table)
                    .values((
                        sign_off_revocation::sign_off_id.eq(id.0),
                        sign_off_revocation::reason.eq(request.reason.as_str()),
                        sign_off_revocation::revoked_by.eq(me.0),
                        sign_off_revocation::at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(
                    NewEvent::new("cohort", cohort.0, "sign_off_revoked")
                        .detail(json!({ "sign_off": id }))
                        .keeps(&SIGN_OFF_REVOCATION, [id.0]),
                );
                Ok(id.0)
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    #[test]
    fn a_sign_off_ends_by_itself_and_what_was_taken_back_stays_so() {
        let ends = at("2028-03-02T08:00:00Z");
        assert_eq!(state(at("2028-03-02T07:59:59Z"), ends, None), SignOffState::Valid);
        assert_eq!(state(ends, ends, None), SignOffState::Expired);
        let revoked = Some(at("2026-05-01T08:00:00Z"));
        assert_eq!(state(at("2030-01-01T00:00:00Z"), ends, revoked), SignOffState::Revoked);
    }
}
