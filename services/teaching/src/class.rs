//! A whole class from a list: everybody on it is enrolled, or nobody.

use std::collections::HashMap;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use people::{ClassFault, class_list, invite_each};
use schema::person;
use store::{Credentials, Error, IdempotencyKey, Result, Store, Tx, sql::lower, word};
use uuid::Uuid;
use wire::ids::{CohortId, PersonId};
use wire::people::{Invite, OneTimeCode, Role};
use wire::problem::FieldError;
use wire::teaching::{CohortRole, EnrolledClass, NewClass};

use crate::members;
use crate::seat::{self, Seat, fits};

/// The most people that one list may hold.
const MOST: usize = 500;

/// Enrols everybody on a class list. An administrator invites those who have no account in the same transaction; for an
/// instructor a person without an account is a fault of the line.
///
/// # Errors
/// Refuses all but the cohort's instructors and administrators; returns [`Error::Invalid`] with every refused line and field, and then nothing was written.
pub async fn class_enrol(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: CohortId,
    request: &NewClass,
) -> Result<EnrolledClass> {
    let (mut class, invited) = store
        .create_with_secret(
            credentials,
            once,
            async |tx| {
                lock(tx, Locks::new().cohort(id, Mode::Exclusive)).await?;
                let seat = seat::keeper(tx, id).await?;
                let lines = read(&request.csv)?;
                let invited = enrol_each(tx, id, seat, &lines).await?;
                Ok((id.0, invited))
            },
            async |tx, _| {
                let lines = read(&request.csv)?;
                let known = known(tx, &lines).await?;
                let people: Vec<Uuid> =
                    lines.iter().filter_map(|line| Some(known.get(&line.key())?.0)).collect();
                Ok(EnrolledClass { members: members::some(tx, id, &people).await?, invited: Vec::new() })
            },
        )
        .await?;
    class.invited = invited.unwrap_or_default();
    Ok(class)
}

/// A line of the list.
struct Line {
    number: usize,
    invite: Invite,
}

impl Line {
    /// What tells its person apart.
    fn key(&self) -> String {
        self.invite.sign_in_name.trim().to_lowercase()
    }

    fn fault(&self, field: &str, detail: &str) -> FieldError {
        fault(self.number, field, detail)
    }

    /// Students are students; whoever else the list names teaches.
    const fn in_cohort(&self) -> CohortRole {
        match self.invite.role {
            Role::Student => CohortRole::Student,
            Role::Instructor | Role::Administrator => CohortRole::Instructor,
        }
    }
}

fn fault(line: usize, field: &str, detail: &str) -> FieldError {
    FieldError::new(format!("/csv/{line}/{field}"), format!("Line {line}: {detail}"))
}

/// Reads the list.
fn read(csv: &str) -> Result<Vec<Line>> {
    let (mut lines, mut errors) = (Vec::new(), Vec::new());
    for (number, line) in class_list(csv) {
        match line {
            Ok(invite) => lines.push(Line { number, invite }),
            Err(ClassFault::TooShort) => errors.push(fault(
                number,
                "sign_in_name",
                "Enter a name and a sign-in name, such as Mira Okafor, mira.okafor.",
            )),
            Err(ClassFault::Role(role)) => errors.push(fault(
                number,
                "role",
                &format!("{role:?} is not accepted. Send student or instructor, or leave the role out."),
            )),
        }
    }
    for line in &lines {
        if line.invite.role == Role::Administrator {
            errors.push(line.fault("role", members::misfit(Role::Administrator)));
        }
    }
    let mut seen = HashMap::new();
    for line in &lines {
        if let Some(first) = seen.insert(line.key(), line.number) {
            let detail = format!("Line {first} has the same sign-in name. Remove one of the two.");
            errors.push(line.fault("sign_in_name", &detail));
        }
    }
    if errors.is_empty() && lines.is_empty() {
        errors
            .push(FieldError::new("/csv", "The list is empty. Enter one person a line: name, sign-in name."));
    }
    if lines.len() > MOST {
        errors.push(FieldError::new("/csv", format!("Send at most {MOST} people at once.")));
    }
    if errors.is_empty() { Ok(lines) } else { Err(Error::Invalid(errors)) }
}

/// Those of the list who have an account: id and role, by sign-in name.
async fn known(tx: &mut Tx<'_>, lines: &[Line]) -> Result<HashMap<String, (Uuid, Role)>> {
    let keys: Vec<String> = lines.iter().map(Line::key).collect();
    let rows: Vec<(String, Uuid, String)> = person::table
        .filter(lower(person::sign_in_name).eq_any(keys))
        .select((lower(person::sign_in_name), person::id, person::role))
        .load(tx.conn())
        .await?;
    rows.into_iter().map(|(name, id, role)| Ok((name, (id, word(&role)?)))).collect()
}

async fn enrol_each(tx: &mut Tx<'_>, id: CohortId, seat: Seat, lines: &[Line]) -> Result<Vec<OneTimeCode>> {
    let known = known(tx, lines).await?;
    let (mut errors, mut new) = (Vec::new(), Vec::new());
    for line in lines {
        match known.get(&line.key()) {
            Some((_, role)) if fits(*role, line.in_cohort()) => {}
            Some((_, role)) => errors.push(line.fault("role", members::misfit(*role))),
            None if seat == Seat::Administrator => new.push(line),
            None => errors.push(line.fault(
                "sign_in_name",
                "No account has this sign-in name. Correct it, or ask an administrator to send this list.",
            )),
        }
    }
    let mut invited = Vec::new();
    if !new.is_empty() {
        let by = tx.administrator()?;
        let requests: Vec<Invite> = new.iter().map(|line| line.invite.clone()).collect();
        match invite_each(tx, by, &requests).await {
            Ok(codes) => invited = codes,
            Err(Error::Invalid(refused)) => errors.extend(refused.iter().map(|error| of_line(&new, error))),
            Err(other) => return Err(other),
        }
    }
    if !errors.is_empty() {
        errors
            .sort_by_key(|error| error.pointer.split('/').nth(2).and_then(|line| line.parse::<usize>().ok()));
        return Err(Error::Invalid(errors));
    }
    let mut of_new = invited.iter().map(|code| code.person.id);
    for line in lines {
        let who = match known.get(&line.key()) {
            Some((who, _)) => PersonId(*who),
            None => of_new.next().ok_or_else(|| Error::internal("an invitation that was not made"))?,
        };
        members::put(tx, id, who, line.in_cohort()).await?;
    }
    Ok(invited)
}

/// A refusal of an invitation, at its line.
fn of_line(new: &[&Line], error: &FieldError) -> FieldError {
    let mut parts = error.pointer.split('/').skip(1);
    let place = parts.next().and_then(|place| place.parse::<usize>().ok());
    let field = parts.next().unwrap_or("sign_in_name");
    match place.and_then(|place| new.get(place)) {
        Some(line) => line.fault(field, &error.detail),
        None => error.clone(),
    }
}
