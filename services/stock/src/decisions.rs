//! Decisions about a lot: its identity, quarantine, discarding.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::Decimal;
use locks::{Locks, lock};
use materia::MaterialKind;
use schema::{lot, lot_decision};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned};
use uuid::Uuid;
use wire::ids::LotId;
use wire::problem::FieldError;
use wire::stock::{Lot, LotDecisionKind, LotReason, LotState, NewIdentityCheck};

use crate::amounts::{self, Of};
use crate::kept::{DECISION, LOT};
use crate::ledger::{self, Moves};
use crate::lots::{Stored, seen, stored};
use crate::made_by;
use crate::reservations;
use crate::states;

/// Records a check of identity by an instructor. Where it confirms the material, or what the clinic made, the lot becomes
/// usable.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless an instructor is calling, and for who made it while the policy demands a second
/// person. Returns [`Error::NotFound`] if there is no such lot, [`Error::State`] unless it is in quarantine, and
/// [`Error::Invalid`] for refused fields.
pub async fn identity_check(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &NewIdentityCheck,
) -> Result<Versioned<Lot>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                lock(tx, Locks::new().lots([id.0])).await?;
                let Stored { row, .. } = stored(tx, id).await?;
                let decision = match request.confirmed {
                    true => LotDecisionKind::Confirmed,
                    false => LotDecisionKind::NotConfirmed,
                };
                let state = states::after(row.state()?, decision)?;
                let of = amounts::what(tx, row.material_id).await?;
                let own = request.confirmed && made_by::own(tx, row.batch_id).await?;
                acceptable(request, &of, own)?;
                let number = row.last_decision + 1;
                let given = |text: &Option<String>| text.as_deref().map(|text| text.trim().to_owned());
                let decided = tx.new_id();
                diesel::insert_into(lot_decision::table)
                    .values((
                        lot_decision::id.eq(decided),
                        lot_decision::lot_id.eq(id.0),
                        lot_decision::number.eq(number),
                        lot_decision::decision.eq(decision.as_str()),
                        lot_decision::species.eq(given(&request.species)),
                        lot_decision::part.eq(given(&request.part)),
                        lot_decision::condition.eq(given(&request.condition)),
                        lot_decision::organoleptic.eq(request.organoleptic.trim()),
                        lot_decision::look_alikes.eq(given(&request.look_alikes)),
                        lot_decision::foreign_matter.eq(given(&request.foreign_matter)),
                        lot_decision::loss_on_drying.eq(given(&request.loss_on_drying)),
                        lot_decision::reason.eq(given(&request.reason)),
                        lot_decision::own_decision.eq(own.then_some(true)),
                        lot_decision::by_id.eq(tx.person()?.id.0),
                        lot_decision::at.eq(tx.now()),
                    ))
                    .execute(tx.conn())
                    .await?;
                advance(tx, id, number, state.as_str()).await?;
                let action = if request.confirmed { "identity_confirmed" } else { "identity_not_confirmed" };
                tx.record(NewEvent::new("lot", id.0, action).keeps(&LOT, [id.0]).keeps(&DECISION, [decided]));
                Ok(decided)
            },
            async |tx, _| seen(tx, id).await,
        )
        .await
}

/// Puts a usable lot in quarantine.
///
/// # Errors
/// Returns [`Error::Forbidden`] for students and API clients, [`Error::NotFound`] if there is no such lot,
/// [`Error::State`] unless it is usable, and [`Error::Invalid`] for a refused reason.
pub async fn quarantine(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &LotReason,
) -> Result<Versioned<Lot>> {
    decide(store, credentials, once, id, request, LotDecisionKind::Quarantined).await
}

/// Discards a lot with all that is left of it.
///
/// # Errors
/// As [`quarantine`]; returns [`Error::State`] if it was discarded before.
pub async fn discard(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &LotReason,
) -> Result<Versioned<Lot>> {
    decide(store, credentials, once, id, request, LotDecisionKind::Discarded).await
}

async fn decide(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: LotId,
    request: &LotReason,
    decision: LotDecisionKind,
) -> Result<Versioned<Lot>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.staff()?;
                lock(tx, Locks::new().lots([id.0])).await?;
                let Stored { row, on_hand, last_movement } = stored(tx, id).await?;
                let state = states::after(row.state()?, decision)?;
                let reason = reason(&request.reason)?;
                let decided = written(tx, id, row.last_decision + 1, (decision, state), reason).await?;
                let event = NewEvent::new("lot", id.0, decision.as_str()).keeps(&DECISION, [decided]);
                if decision == LotDecisionKind::Discarded && !on_hand.is_zero() {
                    reservations::fit(tx, id, Decimal::ZERO).await?;
                    ledger::write(tx, id, last_movement + 1, Moves::Discarded(-on_hand, reason), event)
                        .await?;
                } else {
                    tx.record(event.keeps(&LOT, [id.0]));
                }
                Ok(decided)
            },
            async |tx, _| seen(tx, id).await,
        )
        .await
}

/// Writes a decision that needs nothing but its reason, and the state that it leaves. Answers the decision.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn written(
    tx: &mut Tx<'_>,
    id: LotId,
    number: i32,
    (decision, state): (LotDecisionKind, LotState),
    reason: &str,
) -> Result<Uuid> {
    let decided = tx.new_id();
    diesel::insert_into(lot_decision::table)
        .values((
            lot_decision::id.eq(decided),
            lot_decision::lot_id.eq(id.0),
            lot_decision::number.eq(number),
            lot_decision::decision.eq(decision.as_str()),
            lot_decision::reason.eq(reason),
            lot_decision::by_id.eq(tx.person()?.id.0),
            lot_decision::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    advance(tx, id, number, state.as_str()).await?;
    Ok(decided)
}

async fn advance(tx: &mut Tx<'_>, id: LotId, number: i32, state: &str) -> Result<()> {
    diesel::update(lot::table.find(id.0))
        .set((lot::state.eq(state), lot::last_decision.eq(number), lot::version.eq(lot::version + 1)))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// A reason without the spaces around it.
///
/// # Errors
/// Returns [`Error::Invalid`] if it is empty or too long.
pub(crate) fn reason(text: &str) -> Result<&str> {
    let text = text.trim();
    if (1..=1000).contains(&text.chars().count()) {
        Ok(text)
    } else {
        Err(Error::field("/reason", "Enter the reason in 1 to 1000 characters."))
    }
}

fn acceptable(request: &NewIdentityCheck, of: &Of, own: bool) -> Result<()> {
    let mut errors = Vec::new();
    let mut refuse = |field: &str, detail: String| errors.push(FieldError::new(format!("/{field}"), detail));
    if !(1..=1000).contains(&request.organoleptic.trim().chars().count()) {
        refuse("organoleptic", "Describe appearance, smell and taste in 1 to 1000 characters.".into());
    }
    for (field, text) in [
        ("species", &request.species),
        ("part", &request.part),
        ("condition", &request.condition),
        ("look_alikes", &request.look_alikes),
        ("foreign_matter", &request.foreign_matter),
        ("loss_on_drying", &request.loss_on_drying),
        ("reason", &request.reason),
    ] {
        if text.as_ref().is_some_and(|text| !(1..=1000).contains(&text.trim().chars().count())) {
            refuse(field, "Enter 1 to 1000 characters, or omit the field.".into());
        }
    }
    if !request.confirmed {
        if request.reason.is_none() {
            refuse("reason", "Enter the reason why the identity is not confirmed.".into());
        }
        return if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) };
    }
    let Some(of) = of.material() else {
        for (field, text) in [
            ("species", &request.species),
            ("part", &request.part),
            ("condition", &request.condition),
            ("look_alikes", &request.look_alikes),
            ("foreign_matter", &request.foreign_matter),
            ("loss_on_drying", &request.loss_on_drying),
        ] {
            if text.is_some() {
                let cure = "The record of its batch tells its composition. Omit the field.";
                errors.push(FieldError::new(format!("/{field}"), cure));
            }
        }
        if own && request.reason.is_none() {
            errors.push(FieldError::new(
                "/reason",
                "You made this yourself. Enter the reason why no other instructor lets it in.",
            ));
        }
        return if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) };
    };
    let herb = of.kind == MaterialKind::Herb;
    let mut needs = |field: &str, text: &Option<String>, needed: bool, cure: String| {
        if needed && text.is_none() {
            errors.push(FieldError::new(format!("/{field}"), cure));
        }
    };
    let species = herb || of.kind == MaterialKind::EssentialOil;
    needs("species", &request.species, species, "Enter the botanical species that you found.".into());
    needs("part", &request.part, herb, "Enter the part of the plant that you found, such as flower.".into());
    needs("condition", &request.condition, herb, "Enter its condition, such as dried, cut.".into());
    let botanical = of.botanical.as_ref();
    let known: Vec<&str> =
        botanical.iter().flat_map(|it| &it.species.look_alikes).map(|one| one.name.as_str()).collect();
    let cure = format!("Enter how you ruled these out: {}.", known.join("; "));
    needs("look_alikes", &request.look_alikes, !known.is_empty(), cure);
    if let (Some(typed), Some(botanical)) = (&request.species, botanical)
        && !botanical.species.is_named(typed)
    {
        errors.push(FieldError::new(
            "/species",
            format!(
                "{} is {}. If you found another species, do not confirm the identity.",
                of.name, botanical.species.name
            ),
        ));
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}
