//! What students can be signed off as able to do: kept as data, added by whoever looks after the clinic, never changed.
//!
//! Some come with the service (`data/competencies.json`): what they are called, what they ask for and how long they last is
//! common practice, no source.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Preparation;
use schema::competency;
use store::error::violates;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, names, word};
use uuid::Uuid;
use wire::ids::{CompetencyId, PersonId};
use wire::problem::FieldError;
use wire::teaching::{
    AcceptedRule, AnswersRule, Competencies, Competency, CompetencyRule, CriterionRule, NewCompetency,
};

use crate::kept::COMPETENCY;

/// Those that come with the service.
const DEFAULTS: &str = include_str!("../data/competencies.json");

/// The most of one part of a rule, and the longest that a sign-off lasts.
const MOST: u32 = 100;
const MOST_MONTHS: u32 = 120;

/// A competency as it is stored.
#[derive(Queryable, Selectable, QueryableByName, Clone)]
#[diesel(table_name = competency, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) name: String,
    pub(crate) says: String,
    pub(crate) accepted_works: Option<i16>,
    pub(crate) accepted_preparation: Option<String>,
    pub(crate) criterion_works: Option<i16>,
    pub(crate) criterion_title: Option<String>,
    pub(crate) right_answers: Option<i16>,
    pub(crate) question_kind: Option<String>,
    pub(crate) lasts_months: i16,
    pub(crate) added_by: Option<Uuid>,
    pub(crate) added_at: DateTime<Utc>,
}

impl Row {
    pub(crate) fn shown(self) -> Result<Competency> {
        let count = |number: i16| u32::from(number.unsigned_abs());
        let kind = self.question_kind.as_deref().map(word).transpose()?;
        let preparation = self.accepted_preparation;
        let rule = CompetencyRule {
            accepted: self.accepted_works.map(|works| AcceptedRule { works: count(works), preparation }),
            criterion: self
                .criterion_works
                .zip(self.criterion_title)
                .map(|(works, title)| CriterionRule { works: count(works), title }),
            answers: self.right_answers.map(|right| AnswersRule { right: count(right), kind }),
        };
        Ok(Competency {
            id: CompetencyId(self.id),
            name: self.name,
            says: self.says,
            rule,
            lasts_months: count(self.lasts_months),
            added_by: self.added_by.map(PersonId),
            added_at: self.added_at,
        })
    }
}

/// Adds a competency.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor or an administrator, and [`Error::Invalid`] with every refused
/// field.
pub async fn competency_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewCompetency,
) -> Result<Competency> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let by = tx.staff()?.id();
                let errors = faults(request);
                if !errors.is_empty() {
                    return Err(Error::Invalid(errors));
                }
                put(tx, request, Some(by)).await
            },
            async |tx, id| {
                let row: Row = competency::table.find(id).select(Row::as_select()).first(tx.conn()).await?;
                row.shown()
            },
        )
        .await
}

/// Every fault of a competency.
fn faults(request: &NewCompetency) -> Vec<FieldError> {
    let mut errors = Vec::new();
    let mut refuse = |at: &str, cure: &str| errors.push(FieldError::new(at, cure));
    if !(1..=100).contains(&request.name.trim().chars().count()) {
        refuse("/name", "Enter a name of 1 to 100 characters.");
    }
    if !(1..=1000).contains(&request.says.trim().chars().count()) {
        refuse("/says", "Enter 1 to 1000 characters that say what the holder can do.");
    }
    if !(1..=MOST_MONTHS).contains(&request.lasts_months) {
        refuse("/lasts_months", &format!("Enter 1 to {MOST_MONTHS} months."));
    }
    let rule = &request.rule;
    if *rule == CompetencyRule::default() {
        refuse("/rule", "Enter at least one part: accepted works, a criterion or right answers.");
    }
    let many = |number: u32| (1..=MOST).contains(&number);
    if let Some(accepted) = &rule.accepted {
        if !many(accepted.works) {
            refuse("/rule/accepted/works", &format!("Enter 1 to {MOST} works."));
        }
        if let Some(error) = accepted.preparation.as_ref().and_then(|kind| kind.parse::<Preparation>().err())
        {
            refuse("/rule/accepted/preparation", &error.to_string());
        }
    }
    if let Some(criterion) = &rule.criterion {
        if !many(criterion.works) {
            refuse("/rule/criterion/works", &format!("Enter 1 to {MOST} works."));
        }
        if !(1..=200).contains(&criterion.title.trim().chars().count()) {
            refuse("/rule/criterion/title", "Enter the title of a criterion, 1 to 200 characters.");
        }
    }
    if rule.answers.as_ref().is_some_and(|answers| !many(answers.right)) {
        refuse("/rule/answers/right", &format!("Enter 1 to {MOST} right answers."));
    }
    errors.extend(names::refusal("/name", request.name.trim()));
    errors
}

async fn put(tx: &mut Tx<'_>, request: &NewCompetency, by: Option<PersonId>) -> Result<Uuid> {
    let (id, now) = (tx.new_id(), tx.now());
    let small = |number: u32| i16::try_from(number).map_err(|error| Error::Internal(error.into()));
    let rule = &request.rule;
    let accepted = rule.accepted.as_ref();
    let preparation = accepted
        .and_then(|rule| rule.preparation.as_ref())
        .map(|kind| kind.parse::<Preparation>().map(Preparation::as_str))
        .transpose()
        .map_err(|error| Error::Internal(error.into()))?;
    diesel::insert_into(competency::table)
        .values((
            competency::id.eq(id),
            competency::name.eq(request.name.trim()),
            competency::says.eq(request.says.trim()),
            competency::accepted_works.eq(accepted.map(|rule| small(rule.works)).transpose()?),
            competency::accepted_preparation.eq(preparation),
            competency::criterion_works.eq(rule
                .criterion
                .as_ref()
                .map(|rule| small(rule.works))
                .transpose()?),
            competency::criterion_title.eq(rule.criterion.as_ref().map(|rule| rule.title.trim())),
            competency::right_answers.eq(rule.answers.as_ref().map(|rule| small(rule.right)).transpose()?),
            competency::question_kind.eq(rule
                .answers
                .as_ref()
                .and_then(|rule| rule.kind)
                .map(|kind| kind.as_str())),
            competency::lasts_months.eq(small(request.lasts_months)?),
            competency::added_by.eq(by.map(|by| by.0)),
            competency::added_at.eq(now),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| {
            if violates(&error, "competency_name") {
                return Error::field("/name", "Another competency has this name. Choose another name.");
            }
            error.into()
        })?;
    tx.record(NewEvent::new("competency", id, "added").keeps(&COMPETENCY, [id]));
    Ok(id)
}

/// The clinic's competencies, by name, for every person.
///
/// # Errors
/// Returns [`Error::Forbidden`] for API clients.
pub async fn competencies(store: &Store, credentials: &Credentials) -> Result<Competencies> {
    store
        .read(credentials, async |tx| {
            tx.person()?;
            let rows: Vec<Row> = competency::table
                .order(store::sql::lower(competency::name))
                .select(Row::as_select())
                .load(tx.conn())
                .await?;
            Ok(Competencies { items: rows.into_iter().map(Row::shown).collect::<Result<_>>()? })
        })
        .await
}

/// Adds those that come with the service; does nothing once there are competencies. Answers how many were added.
///
/// # Errors
/// Returns the errors of the database.
pub async fn competencies_begin(store: &Store) -> Result<usize> {
    let defaults: Vec<NewCompetency> = serde_json::from_str(DEFAULTS)?;
    store
        .run_unauthenticated(async |tx| {
            let any: i64 = competency::table.count().get_result(tx.conn()).await?;
            if any > 0 {
                return Ok(0);
            }
            for one in &defaults {
                put(tx, one, None).await?;
            }
            Ok(defaults.len())
        })
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_with_the_service_would_be_accepted_of_anybody() {
        let defaults: Vec<NewCompetency> = serde_json::from_str(DEFAULTS).unwrap();
        assert_eq!(defaults.len(), 5);
        for one in &defaults {
            assert!(faults(one).is_empty(), "{}: {:?}", one.name, faults(one));
        }
    }

    #[test]
    fn each_fault_is_named_where_it_is() {
        let pointers =
            |one: &NewCompetency| faults(one).into_iter().map(|error| error.pointer).collect::<Vec<_>>();
        let good = NewCompetency {
            name: "Creams".into(),
            says: "Makes a cream.".into(),
            rule: CompetencyRule {
                answers: Some(AnswersRule { right: 1, kind: None }),
                ..CompetencyRule::default()
            },
            lasts_months: 12,
        };
        assert!(pointers(&good).is_empty());
        let none = NewCompetency { rule: CompetencyRule::default(), ..good.clone() };
        assert_eq!(pointers(&none), ["/rule"]);
        let rule = CompetencyRule {
            accepted: Some(AcceptedRule { works: 0, preparation: Some("soup".into()) }),
            criterion: Some(CriterionRule { works: 101, title: " ".into() }),
            answers: Some(AnswersRule { right: 0, kind: None }),
        };
        let bad = NewCompetency { name: " ".into(), says: String::new(), rule, lasts_months: 0 };
        assert_eq!(
            pointers(&bad),
            [
                "/name",
                "/says",
                "/lasts_months",
                "/rule/accepted/works",
                "/rule/accepted/preparation",
                "/rule/criterion/works",
                "/rule/criterion/title",
                "/rule/answers/right"
            ]
        );
    }
}
