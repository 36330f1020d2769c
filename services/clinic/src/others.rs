//! Events as students and API clients see them: without the ids of other readers.
//!
//! Who acknowledged, read or belongs to a library is for instructors and administrators to know. That somebody did stays
//! in the list, so that a subject's events have no gaps; and who wrote, approved or reviewed is part of the record.

use std::collections::BTreeSet;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::principal;
use serde_json::Value;
use store::{Actor, Result, Tx};
use uuid::Uuid;
use wire::journal::Event;
use wire::people::Role;

/// What readers do. Who did it is left out.
const OF_READERS: [&str; 5] =
    ["acknowledged", "countersigned", "recipe_pulled", "member_added", "member_removed"];

/// Takes the ids of other readers out of events, unless the caller is an instructor or administrator.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn hide(tx: &mut Tx<'_>, mut events: Vec<Event>) -> Result<Vec<Event>> {
    let me = match tx.actor()? {
        Actor::Person(person) if person.role != Role::Student => return Ok(events),
        other => other.holder(),
    };
    let mut named = BTreeSet::new();
    for event in &events {
        ids(&event.detail, &mut named);
    }
    named.remove(&me.0);
    let others: Vec<Uuid> =
        principal::table.filter(principal::id.eq_any(named)).select(principal::id).load(tx.conn()).await?;
    for event in &mut events {
        if OF_READERS.contains(&event.action.as_str()) {
            event.actor = event.actor.filter(|actor| *actor == me);
            event.on_authority_of = event.on_authority_of.filter(|_| event.actor.is_some());
        }
        prune(&mut event.detail, &others);
    }
    Ok(events)
}

/// The ids in a text, wherever they stand in it: rows are named by their table and key.
fn ids_in(text: &str) -> impl Iterator<Item = Uuid> {
    text.split(|part: char| !(part.is_ascii_hexdigit() || part == '-')).filter_map(|part| part.parse().ok())
}

fn ids(value: &Value, found: &mut BTreeSet<Uuid>) {
    match value {
        Value::String(text) => found.extend(ids_in(text)),
        Value::Array(items) => items.iter().for_each(|item| ids(item, found)),
        Value::Object(fields) => {
            for (name, value) in fields {
                found.extend(ids_in(name));
                ids(value, found);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// Removes the fields and items that name one of `others`.
fn prune(value: &mut Value, others: &[Uuid]) {
    let names = |text: &str| ids_in(text).any(|id| others.contains(&id));
    let is_named = |value: &Value| value.as_str().is_some_and(names);
    match value {
        Value::Array(items) => {
            items.retain(|item| !is_named(item));
            items.iter_mut().for_each(|item| prune(item, others));
        }
        Value::Object(fields) => {
            fields.retain(|name, value| !names(name) && !is_named(value));
            fields.values_mut().for_each(|value| prune(value, others));
        }
        Value::String(_) | Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn whatever_names_another_reader_is_left_out() {
        let (me, other, revision) = (Uuid::from_u128(1), Uuid::from_u128(2), Uuid::from_u128(3));
        let mut detail = json!({
            "holder": other, "given_by": me, "purpose": "make",
            "rows": { format!("release_grant/{other}/{revision}"): "00ff", format!("x/{me}/{revision}"): "11" },
            "list": [other, revision],
        });
        let mut found = BTreeSet::new();
        ids(&detail, &mut found);
        assert!(found.is_superset(&BTreeSet::from([me, other, revision])));
        prune(&mut detail, &[other]);
        let kept = json!({
            "given_by": me, "purpose": "make", "rows": { format!("x/{me}/{revision}"): "11" }, "list": [revision],
        });
        assert_eq!(detail, kept);
    }
}
