//! Writing a transaction's events at its end, each at the end of its subject's chain.
//!
//! Cost: five statements and one for each table whose rows are vouched for, however many events there are. Locks are
//! taken in one order: the heads that exist, by subject; new heads, by subject; digests of rows, by table and key. Two
//! transactions about the same subjects or rows therefore follow each other and cannot deadlock; one that read what
//! another has since written fails with [`Error::Contended`](crate::Error::Contended) and is tried again.

use canonical::Form;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{event, event_unnumbered};

use super::heads::Head;
use super::row::EventRow;
use super::{ROWS, digests, heads};
use crate::actor::Actor;
use crate::error::Result;
use crate::tx::Tx;

/// Writes what the transaction has gathered.
///
/// # Errors
/// When the database refuses it or another transaction was first; the transaction then rolls back.
pub(crate) async fn write(tx: &mut Tx<'_>) -> Result<()> {
    let events = std::mem::take(&mut tx.events);
    if events.is_empty() {
        return Ok(());
    }
    let mut heads = heads::lock(tx, &events).await?;
    let mut digests = digests::read(tx, &events).await?;
    let (actor_id, on_authority_of) = match tx.actor_if_any() {
        Some(Actor::Person(person)) => (Some(person.id.0), None),
        Some(Actor::Client { id, responsible, .. }) => (Some(id.0), Some(responsible.0)),
        None => (None, None),
    };
    let mut links = Vec::with_capacity(events.len());
    for mut new in events {
        let id = tx.new_id();
        digests.name(tx, &mut new, id)?;
        let head = heads.entry(new.subject).or_insert_with(|| Head::beginning(new.subject_kind));
        head.number += 1;
        let mut row = EventRow {
            id,
            subject_kind: new.subject_kind.to_owned(),
            subject_id: new.subject,
            number: head.number,
            at: tx.now(),
            actor_id,
            on_authority_of,
            action: new.action.to_owned(),
            before_digest: new.before.map(Vec::from),
            after_digest: new.after.map(Vec::from),
            detail: new.detail,
            previous_hash: head.hash.clone(),
            hash: Vec::new(),
            form: Form::NEW.number(),
        };
        row.hash = row.link(Form::NEW).hash().to_vec();
        head.hash.clone_from(&row.hash);
        links.push(row);
    }
    heads::keep(tx, heads).await?;
    insert_events(tx, &links).await?;
    digests.keep(tx).await
}

async fn insert_events(tx: &mut Tx<'_>, links: &[EventRow]) -> Result<()> {
    for some in links.chunks(ROWS) {
        diesel::insert_into(event::table).values(some).execute(tx.conn()).await?;
        let ids: Vec<_> = some.iter().map(|link| event_unnumbered::event_id.eq(link.id())).collect();
        diesel::insert_into(event_unnumbered::table).values(ids).execute(tx.conn()).await?;
    }
    Ok(())
}
