//! The clinic's policy: its own rules, in numbered versions.
//!
//! A batch names the version in force when it was made, and that version applies to it for good. Only an administrator
//! may add a version. Never here: a change of a version that exists.

mod drops;
pub mod kept;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Fraction;
use galenics::tolerance::Tolerances;
use materia::{Audience, Materia};
use rust_decimal::Decimal;
use schema::policy;
use serde::{Deserialize, Serialize};
use store::{Credentials, Error, NewEvent, Result, Store, Tx, Versioned, word};
use wire::policy::{DatingSetOff, DropsPerMl, Policy, PolicyContent};
use wire::problem::FieldError;

use crate::kept::POLICY;

/// The journal's subject for the clinic as a whole.
const CLINIC: uuid::Uuid = uuid::Uuid::nil();

#[derive(Queryable, Selectable)]
#[diesel(table_name = policy, check_for_backend(diesel::pg::Pg))]
struct Row {
    version: i32,
    clinic_name: String,
    notice: String,
    time_zone: String,
    currency: String,
    customary: String,
    second_person: bool,
    acknowledgement_days: i32,
    countersign_audiences: serde_json::Value,
    tolerance_percent: Decimal,
    active_tolerance_percent: Decimal,
    created_at: DateTime<Utc>,
    reason: String,
    dating_sets_off: serde_json::Value,
    drops_per_ml: Option<serde_json::Value>,
}

/// A dating rule set that is switched off, as it is stored.
#[derive(Serialize, Deserialize)]
struct SetOff {
    set: String,
    reason: String,
}

impl SetOff {
    fn read(stored: serde_json::Value) -> Result<Vec<DatingSetOff>> {
        let stored: Vec<Self> = serde_json::from_value(stored)?;
        Ok(stored.into_iter().map(|Self { set, reason }| DatingSetOff { set, reason }).collect())
    }

    fn written(off: &[DatingSetOff]) -> Result<serde_json::Value> {
        let stored = off.iter().cloned().map(|DatingSetOff { set, reason }| Self { set, reason });
        Ok(serde_json::to_value(stored.collect::<Vec<_>>())?)
    }
}

impl Row {
    fn into_rules(self) -> Result<Rules> {
        Ok(Rules {
            version: self.version,
            clinic_name: self.clinic_name,
            notice: self.notice,
            currency: self.currency,
            time_zone: self
                .time_zone
                .parse()
                .map_err(|_| Error::internal("the policy's time zone is not known"))?,
            customary: customary(&self.customary)?,
            second_person: self.second_person,
            acknowledgement: chrono::Duration::days(self.acknowledgement_days.into()),
            countersign_audiences: serde_json::from_value(self.countersign_audiences)?,
            tolerance_percent: self.tolerance_percent,
            active_tolerance_percent: self.active_tolerance_percent,
            dating_sets_off: SetOff::read(self.dating_sets_off)?,
            drops_per_ml: drops::read(self.drops_per_ml)?,
        })
    }
}

/// One version of the policy, in the types of the crates that apply it.
#[derive(Clone, Debug)]
pub struct Rules {
    /// Number of the version, counted from 1.
    pub version: i32,
    /// Name of the clinic, as labels and recipes show it.
    pub clinic_name: String,
    /// Safety notice that labels and recipes show.
    pub notice: String,
    /// ISO 4217 code of the currency of prices.
    pub currency: String,
    /// Time zone that decides which day it is in the clinic.
    pub time_zone: chrono_tz::Tz,
    /// System of household measures for cups, spoons and fluid ounces.
    pub customary: galenics::Customary,
    /// Whether a formula must be approved by somebody other than its author.
    pub second_person: bool,
    /// How long an acknowledgement is valid.
    pub acknowledgement: chrono::Duration,
    /// Audiences whose contraindications require a countersignature on a student's acknowledgement, such as `pregnant`.
    pub countersign_audiences: Vec<String>,
    /// Permitted deviation of a weighing from its target, in per cent.
    pub tolerance_percent: Decimal,
    /// The same for lines whose function is active or preservative, in per cent.
    pub active_tolerance_percent: Decimal,
    /// Rule sets for use-by dates that are switched off, each with the recorded reason.
    pub dating_sets_off: Vec<DatingSetOff>,
    /// Drops in a millilitre from the clinic's own dropper.
    pub drops_per_ml: DropsPerMl,
}

impl Rules {
    /// How far a weighing may be from its target. The percentages were accepted above 0 and up to 100.
    #[must_use]
    pub fn tolerances(&self) -> Tolerances {
        let percent = |value| Fraction::percent(value).unwrap_or_default();
        Tolerances { active: percent(self.active_tolerance_percent), other: percent(self.tolerance_percent) }
    }

    /// The date of an instant in the clinic's time zone.
    #[must_use]
    pub fn date(&self, at: DateTime<Utc>) -> NaiveDate {
        at.with_timezone(&self.time_zone).date_naive()
    }
}

/// The policy of a new clinic, until an administrator enters another.
#[must_use]
pub fn beginning() -> PolicyContent {
    PolicyContent {
        clinic_name: "Teaching clinic".into(),
        notice: "Ask a doctor or midwife first in pregnancy, while breast-feeding, for children, or with other \
                 medicines. Patch-test first. Local law and licensed practice decide what may be made and given."
            .into(),
        time_zone: "UTC".into(),
        currency: "EUR".into(),
        customary: wire::policy::Customary::Us,
        second_person: true,
        acknowledgement_days: 180,
        countersign_audiences: vec!["pregnant".into(), "breast-feeding".into(), "under:3y".into()],
        // Common practice, no source.
        tolerance_percent: "2".into(),
        active_tolerance_percent: "1".into(),
        dating_sets_off: Vec::new(),
        drops_per_ml: DropsPerMl::default(),
        reason: "The rules a clinic starts with.".into(),
    }
}

async fn row(tx: &mut Tx<'_>) -> Result<Row> {
    policy::table
        .order(policy::version.desc())
        .select(Row::as_select())
        .first(tx.conn())
        .await
        .optional()?
        .ok_or_else(|| Error::internal("there is no policy: run `stillroom migrate`"))
}

/// The policy in force.
///
/// # Errors
/// Returns [`Error::Internal`] if the database holds no policy or one that cannot be read.
pub async fn rules(tx: &mut Tx<'_>) -> Result<Rules> {
    let row = row(tx).await?;
    row.into_rules()
}

/// The policy of a version, such as the one a batch was made under.
///
/// # Errors
/// Returns [`Error::Internal`] if there is no such version or it cannot be read.
pub async fn rules_of(tx: &mut Tx<'_>, version: i32) -> Result<Rules> {
    let row: Row = policy::table.find(version).select(Row::as_select()).first(tx.conn()).await?;
    row.into_rules()
}

fn customary(text: &str) -> Result<galenics::Customary> {
    Ok(match word(text)? {
        wire::policy::Customary::Us => galenics::Customary::Us,
        wire::policy::Customary::Imperial => galenics::Customary::Imperial,
        wire::policy::Customary::Metric => galenics::Customary::Metric,
    })
}

/// The policy in force, in the types of `wire`.
///
/// # Errors
/// Returns the errors of verifying `claim`.
pub async fn policy(store: &Store, credentials: &Credentials) -> Result<Versioned<Policy>> {
    store.read(credentials, async |tx| show(tx).await).await
}

/// The rules in force, in the types of `wire`, for whoever shows them in a transaction of their own.
///
/// # Errors
/// Returns the errors of the database.
pub async fn content_in_force(tx: &mut Tx<'_>) -> Result<PolicyContent> {
    Ok(show(tx).await?.value.content)
}

async fn show(tx: &mut Tx<'_>) -> Result<Versioned<Policy>> {
    let row = row(tx).await?;
    Ok(Versioned {
        version: row.version.into(),
        value: Policy {
            version: row.version.unsigned_abs(),
            made_at: row.created_at,
            content: PolicyContent {
                clinic_name: row.clinic_name,
                notice: row.notice,
                time_zone: row.time_zone,
                currency: row.currency,
                customary: word(&row.customary)?,
                second_person: row.second_person,
                acknowledgement_days: u16::try_from(row.acknowledgement_days).unwrap_or(u16::MAX),
                countersign_audiences: serde_json::from_value(row.countersign_audiences)?,
                tolerance_percent: row.tolerance_percent.to_string(),
                active_tolerance_percent: row.active_tolerance_percent.to_string(),
                dating_sets_off: SetOff::read(row.dating_sets_off)?,
                drops_per_ml: drops::read(row.drops_per_ml)?,
                reason: row.reason,
            },
        },
    })
}

/// Adds a version of the policy, which is in force from now on. `version` is the one the caller read.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an administrator, [`Error::PreconditionFailed`] if `version` is no longer in
/// force, and [`Error::Invalid`] with every field that is refused.
pub async fn change(tx: &mut Tx<'_>, version: i64, content: &PolicyContent) -> Result<Versioned<Policy>> {
    tx.administrator()?;
    if i64::from(row(tx).await?.version) != version {
        return Err(Error::PreconditionFailed);
    }
    insert(tx, i32::try_from(version + 1).unwrap_or(i32::MAX), content).await?;
    show(tx).await
}

/// Adds the first version of the policy; does nothing if there is one.
///
/// # Errors
/// Returns [`Error::Invalid`] if `content` is refused, and the errors of the database.
pub async fn begin(store: &Store, content: &PolicyContent) -> Result<()> {
    store
        .run_unauthenticated(async |tx| {
            let any: Option<i32> = policy::table.select(policy::version).first(tx.conn()).await.optional()?;
            if any.is_none() { insert(tx, 1, content).await } else { Ok(()) }
        })
        .await
}

async fn insert(tx: &mut Tx<'_>, version: i32, content: &PolicyContent) -> Result<()> {
    let percents = acceptable(tx.reference, content)?;
    let now = tx.now();
    let by = tx.actor().ok().map(|actor| actor.holder().0);
    diesel::insert_into(policy::table)
        .values((
            policy::version.eq(version),
            policy::clinic_name.eq(content.clinic_name.trim()),
            policy::notice.eq(content.notice.trim()),
            policy::time_zone.eq(&content.time_zone),
            policy::currency.eq(&content.currency),
            policy::customary.eq(content.customary.as_str()),
            policy::second_person.eq(content.second_person),
            policy::acknowledgement_days.eq(i32::from(content.acknowledgement_days)),
            policy::countersign_audiences.eq(serde_json::to_value(&content.countersign_audiences)?),
            policy::tolerance_percent.eq(percents[0]),
            policy::active_tolerance_percent.eq(percents[1]),
            policy::created_by.eq(by),
            policy::created_at.eq(now),
            policy::reason.eq(content.reason.trim()),
            policy::dating_sets_off.eq(SetOff::written(&content.dating_sets_off)?),
            policy::drops_per_ml.eq(drops::written(&content.drops_per_ml)?),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| {
            if store::error::violates(&error, "policy_pkey") {
                Error::PreconditionFailed
            } else {
                error.into()
            }
        })?;
    tx.record(
        NewEvent::new("policy", CLINIC, "changed")
            .keeps(&POLICY, [version])
            .detail(serde_json::json!({ "version": version.to_string() })),
    );
    Ok(())
}

fn acceptable(reference: &Materia, content: &PolicyContent) -> Result<[Decimal; 2]> {
    let mut errors = Vec::new();
    let mut refuse = |field: &str, detail: &str| {
        errors.push(FieldError::new(format!("/{field}"), detail));
    };
    for (field, text, most) in [
        ("clinic_name", &content.clinic_name, 200),
        ("notice", &content.notice, 2000),
        ("reason", &content.reason, 1000),
    ] {
        if !(1..=most).contains(&text.trim().chars().count()) {
            refuse(field, &format!("Enter 1 to {most} characters."));
        }
    }
    if content.time_zone.parse::<chrono_tz::Tz>().is_err() {
        refuse("time_zone", "Enter an IANA time zone, such as Europe/Berlin.");
    }
    if content.currency.len() != 3 || !content.currency.bytes().all(|b| b.is_ascii_uppercase()) {
        refuse("currency", "Enter a currency code of three capital letters (ISO 4217), such as EUR.");
    }
    for (i, text) in content.countersign_audiences.iter().enumerate() {
        let field = format!("countersign_audiences/{i}");
        match text.parse::<Audience>() {
            Ok(Audience::Everyone) => refuse(
                &field,
                "The audience everyone is not accepted. Name a group, such as pregnant or under:3y.",
            ),
            Ok(Audience::Allergy(group)) if reference.allergy_group(&group).is_none() => {
                refuse(
                    &field,
                    &format!("{group:?} is not an allergy group. Enter the key of an allergy group."),
                );
            }
            Ok(_) => {}
            Err(error) => refuse(&field, &error.to_string()),
        }
    }
    if !(1..=3650).contains(&content.acknowledgement_days) {
        refuse("acknowledgement_days", "Enter 1 to 3650 days.");
    }
    let mut percent = |field: &str, text: &str| match text.parse::<Decimal>() {
        Ok(value) if value > Decimal::ZERO && value <= Decimal::ONE_HUNDRED => value,
        _ => {
            refuse(field, "Enter a percentage above 0 and up to 100 as a decimal number, such as \"2\".");
            Decimal::ONE
        }
    };
    let percents = [
        percent("tolerance_percent", &content.tolerance_percent),
        percent("active_tolerance_percent", &content.active_tolerance_percent),
    ];
    errors.extend(sets_off(reference, &content.dating_sets_off));
    errors.extend(drops::refusals(&content.drops_per_ml));
    if errors.is_empty() { Ok(percents) } else { Err(Error::Invalid(errors)) }
}

/// Refusals of switched-off rule sets: each needs a known key, at most once, and a reason.
fn sets_off(reference: &Materia, off: &[DatingSetOff]) -> Vec<FieldError> {
    let known: Vec<&str> = reference.dating.iter().map(|set| set.key.as_str()).collect();
    let mut errors = Vec::new();
    for (i, one) in off.iter().enumerate() {
        let mut refuse = |field: &str, detail: String| {
            errors.push(FieldError::new(format!("/dating_sets_off/{i}/{field}"), detail));
        };
        if !known.contains(&one.set.as_str()) {
            refuse("set", format!("Unknown rule set. Accepted rule sets: {}.", known.join(", ")));
        } else if off.iter().take(i).any(|before| before.set == one.set) {
            refuse("set", "This rule set is listed twice. List each rule set once.".into());
        }
        if !(1..=200).contains(&one.reason.trim().chars().count()) {
            refuse("reason", "State why the rule set is switched off, in 1 to 200 characters.".into());
        }
    }
    errors
}
