//! The names of people and API clients, to stand beside their ids.

use std::collections::HashMap;

use diesel::dsl::sql;
use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{api_client, person};
use uuid::Uuid;

use crate::actor::Actor;
use crate::error::Result;
use crate::prepared::Prepare;
use crate::tx::Tx;

/// Names by id. An id that has no name, or none that the caller may know, is not in it.
#[derive(Debug, Default)]
pub struct Names(HashMap<Uuid, String>);

impl Names {
    /// The name of somebody.
    #[must_use]
    pub fn of(&self, id: impl Into<Option<Uuid>>) -> Option<String> {
        self.0.get(&id.into()?).cloned()
    }
}

/// The names of people. Who is signed in may know the names behind the ids that they are told; disabled accounts keep
/// theirs. API clients are told ids only: they need no names of people. Cost: one statement, however many there are, and
/// none for an API client.
///
/// # Errors
/// Returns the errors of the database.
pub async fn people(tx: &mut Tx<'_>, ids: impl IntoIterator<Item = Uuid>) -> Result<Names> {
    let ids = distinct(ids);
    if ids.is_empty() || matches!(tx.actor()?, Actor::Client { .. }) {
        return Ok(Names::default());
    }
    let found: Vec<(Uuid, String)> = person::table
        .filter(sql::<Bool>("person.id = ANY ((SELECT ").bind::<Array<SqlUuid>, _>(&ids).sql(")::uuid[])"))
        .select((person::id, person::name))
        .prepared()
        .load(tx.conn())
        .await?;
    Ok(Names(found.into_iter().collect()))
}

/// As [`people`], of people and API clients. Cost: two statements.
///
/// # Errors
/// Returns the errors of the database.
pub async fn holders(tx: &mut Tx<'_>, ids: impl IntoIterator<Item = Uuid>) -> Result<Names> {
    let ids = distinct(ids);
    let Names(mut names) = people(tx, ids.iter().copied()).await?;
    if names.len() < ids.len() && !matches!(tx.actor()?, Actor::Client { .. }) {
        let clients: Vec<(Uuid, String)> = api_client::table
            .filter(api_client::id.eq_any(&ids))
            .select((api_client::id, api_client::name))
            .load(tx.conn())
            .await?;
        names.extend(clients);
    }
    Ok(Names(names))
}

fn distinct(ids: impl IntoIterator<Item = Uuid>) -> Vec<Uuid> {
    let mut ids: Vec<Uuid> = ids.into_iter().collect();
    ids.sort_unstable();
    ids.dedup();
    ids
}
