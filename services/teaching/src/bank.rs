//! The questions of a cohort's own bank.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::questions::parse_number;
use schema::bank_question;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, page::PageRequest};
use uuid::Uuid;
use wire::ids::{BankQuestionId, CohortId};
use wire::page::{Page, PageQuery};
use wire::problem::FieldError;
use wire::teaching::{BankAnswer, BankChoice, BankNumber, BankQuestion, NewBankQuestion};

use crate::kept::BANK;
use crate::{seat, stored};

type Row = (Uuid, Uuid, String, serde_json::Value, String, DateTime<Utc>);

const COLUMNS: (
    bank_question::id,
    bank_question::cohort_id,
    bank_question::text,
    bank_question::answer,
    bank_question::worked,
    bank_question::created_at,
) = (
    bank_question::id,
    bank_question::cohort_id,
    bank_question::text,
    bank_question::answer,
    bank_question::worked,
    bank_question::created_at,
);

fn shown((id, cohort, text, answer, worked, created_at): Row) -> Result<BankQuestion> {
    let answer = serde_json::from_value::<stored::OfBank>(answer)?.turn();
    Ok(BankQuestion { id: BankQuestionId(id), cohort: CohortId(cohort), text, answer, worked, created_at })
}

/// Adds a question to the bank of a cohort. It never changes: another takes its place.
///
/// # Errors
/// Refuses all but the cohort's instructors; returns [`Error::Invalid`] with every refused field.
pub async fn bank_question_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &NewBankQuestion,
) -> Result<BankQuestion> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                seat::instructor(tx, cohort).await?;
                acceptable(request)?;
                let (id, now, by) = (tx.new_id(), tx.now(), tx.person()?.id);
                let answer = stored::OfBank::of(&request.answer);
                let answer = answer.ok_or_else(|| Error::internal("an accepted question without answer"))?;
                let answer = serde_json::to_value(answer)?;
                diesel::insert_into(bank_question::table)
                    .values((
                        bank_question::id.eq(id),
                        bank_question::cohort_id.eq(cohort.0),
                        bank_question::text.eq(request.text.trim()),
                        bank_question::answer.eq(answer),
                        bank_question::worked.eq(request.worked.trim()),
                        bank_question::created_by.eq(by.0),
                        bank_question::created_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("cohort", cohort.0, "question_added").keeps(&BANK, [id]));
                Ok(id)
            },
            async |tx, id| one(tx, BankQuestionId(id)).await,
        )
        .await
}

/// A question of the bank, without a check of the caller.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn one(tx: &mut Tx<'_>, id: BankQuestionId) -> Result<BankQuestion> {
    shown(bank_question::table.find(id.0).select(COLUMNS).first(tx.conn()).await?)
}

/// The bank of a cohort, the oldest question first, for its instructors and markers.
///
/// # Errors
/// Refuses all but the cohort's instructors and markers; returns [`Error::Invalid`] for a refused cursor.
pub async fn bank_questions(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    query: &PageQuery,
) -> Result<Page<BankQuestion>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            let rows: Vec<Row> = bank_question::table
                .filter(bank_question::cohort_id.eq(cohort.0))
                .filter(bank_question::id.gt(slice.after.unwrap_or_default()))
                .order(bank_question::id)
                .limit(slice.fetch())
                .select(COLUMNS)
                .load(tx.conn())
                .await?;
            let page = slice.page(rows, |row| row.0)?;
            let items = page.items.into_iter().map(shown).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

fn acceptable(request: &NewBankQuestion) -> Result<()> {
    let mut errors = Vec::new();
    let mut length = |field: &str, text: &str, most: usize| {
        if !(1..=most).contains(&text.trim().chars().count()) {
            errors.push(FieldError::new(field, format!("Enter 1 to {most} characters.")));
        }
    };
    length("/text", &request.text, 2000);
    length("/worked", &request.worked, 4000);
    match &request.answer {
        BankAnswer { number: Some(number), choice: None } => number_acceptable(number, &mut errors),
        BankAnswer { number: None, choice: Some(choice) } => choice_acceptable(choice, &mut errors),
        BankAnswer { number: Some(_), choice: Some(_) } | BankAnswer { number: None, choice: None } => {
            errors.push(FieldError::new(
                "/answer",
                "Enter a number with its tolerance, or options to choose from, and not both.",
            ));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

fn number_acceptable(number: &BankNumber, errors: &mut Vec<FieldError>) {
    match parse_number(&number.value) {
        Ok((_, value)) if value.is_zero() => errors.push(FieldError::new(
            "/answer/number/value",
            "A tolerance is a share of the answer, so the answer cannot be zero. Enter another number.",
        )),
        Ok(_) => {}
        Err(error) => errors.push(FieldError::new("/answer/number/value", error.to_string())),
    }
    let tolerance = galenics::number::parse(&number.tolerance_percent);
    let fifty = galenics::Decimal::from(50);
    if !tolerance.is_ok_and(|percent| !percent.is_zero() && percent <= fifty) {
        errors.push(FieldError::new(
            "/answer/number/tolerance_percent",
            "Enter per cent as a number above 0 and at most 50, such as 1.",
        ));
    }
}

fn choice_acceptable(choice: &BankChoice, errors: &mut Vec<FieldError>) {
    const OPTIONS: &str = "/answer/choice/options";
    if !(2..=10).contains(&choice.options.len()) {
        errors.push(FieldError::new(OPTIONS, "Enter 2 to 10 options."));
    }
    for (i, option) in choice.options.iter().enumerate() {
        if !(1..=500).contains(&option.trim().chars().count()) {
            errors.push(FieldError::new(format!("{OPTIONS}/{i}"), "Enter 1 to 500 characters."));
        }
        if choice.options.iter().take(i).any(|before| before.trim() == option.trim()) {
            let cure = "This option is there already. Enter another one.";
            errors.push(FieldError::new(format!("{OPTIONS}/{i}"), cure));
        }
    }
    if !(1..=choice.options.len()).contains(&usize::from(choice.right)) {
        errors.push(FieldError::new(
            "/answer/choice/right",
            "Enter the place of the right option, counted from 1.",
        ));
    }
}
