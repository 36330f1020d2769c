//! Writing a transaction's events at its end, each at the end of its subject's chain.
//!
//! Cost: three statements in two round trips, however many events there are. Locks are taken in one order: the heads
//! that exist, by subject; new heads, by subject; digests of rows, by table and key. Two transactions about the same
//! subjects or rows therefore follow each other and cannot deadlock; one that read what another has since written fails
//! with [`Error::Contended`](crate::Error::Contended) and is tried again.

use canonical::Form;
use diesel_async::AsyncPgConnection;

use super::heads::Head;
use super::put::{Common, put};
use super::row::EventRow;
use super::{digests, heads};
use crate::actor::Actor;
use crate::error::Result;
use crate::idempotency;
use crate::pipeline::in_order;
use crate::tx::Tx;

/// Writes what the transaction leaves: what a creating request made, and the events.
///
/// # Errors
/// When the database refuses it or another transaction was first; the transaction then rolls back.
pub(crate) async fn write(tx: &mut Tx<'_>) -> Result<()> {
    let events = std::mem::take(&mut tx.events);
    let made = tx.made.take();
    if events.is_empty() {
        return idempotency::keep(tx.conn(), made).await;
    }
    // Sent at once and run one after the other, so that the rows are read after the heads are locked.
    let conn: &AsyncPgConnection = tx.conn();
    let heads = in_order(idempotency::keep(conn, made), heads::lock(conn, &events));
    let (((), mut heads), mut digests) = in_order(heads, digests::read(conn, &events)).await?;
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
    let common = Common { at: tx.now(), actor: actor_id, on_authority_of, form: Form::NEW };
    put(tx, &heads, &links, &common, digests.vouching()).await
}
