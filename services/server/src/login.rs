//! The service's own login: never the owner of the tables, and prepared by whoever migrates.

use diesel::QueryableByName;
use diesel::sql_types::{Bool, Text};
use diesel_async::{AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};

use crate::error::StartError;

/// The login that a connection string names.
pub(crate) fn name(url: &str) -> Result<String, StartError> {
    let config: tokio_postgres::Config =
        url.parse().map_err(|error: tokio_postgres::Error| StartError::Database(error.to_string()))?;
    config.get_user().map(str::to_owned).ok_or(StartError::LoginNotNamed)
}

#[derive(QueryableByName)]
struct Yes {
    #[diesel(sql_type = Bool)]
    yes: bool,
}

#[derive(QueryableByName)]
struct Name {
    #[diesel(sql_type = Text)]
    name: String,
}

fn unanswered(error: diesel::result::Error) -> StartError {
    StartError::Database(error.to_string())
}

/// Refuses to migrate under the service's own login. The connection is the owner's.
pub(crate) async fn not_the_owner(owner: &mut AsyncPgConnection, login: &str) -> Result<(), StartError> {
    let same = diesel::sql_query("SELECT session_user = $1 AS yes")
        .bind::<Text, _>(login)
        .get_result::<Yes>(owner)
        .await
        .map_err(unanswered)?;
    if same.yes { Err(StartError::OneLogin(login.to_owned())) } else { Ok(()) }
}

/// Refuses to serve under a login that may act as the owner of a table. The connection is the service's.
pub(crate) async fn owns_nothing(conn: &mut AsyncPgConnection) -> Result<(), StartError> {
    let owner = diesel::sql_query(
        "SELECT session_user::text AS name
         WHERE EXISTS (SELECT FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
                       AND pg_has_role(session_user, relowner, 'MEMBER'))",
    )
    .load::<Name>(conn)
    .await
    .map_err(unanswered)?;
    owner.into_iter().next().map_or(Ok(()), |Name { name }| Err(StartError::OwnerServes(name)))
}

/// Gives the service's login the role that it acts in and the defaults that it lacks. The connection is the owner's, who
/// may have been spared this by a superuser: what is there already is left alone.
pub(crate) async fn prepare(owner: &mut AsyncPgConnection, login: &str) -> Result<(), StartError> {
    let missing = missing(owner, login).await?;
    let sql = missing.join("; ");
    owner.batch_execute(&sql).await.map_err(|error| StartError::Login {
        login: login.to_owned(),
        error: error.to_string(),
        statements: missing.join(";\n  "),
    })
}

/// The statements that the login still needs.
async fn missing(owner: &mut AsyncPgConnection, login: &str) -> Result<Vec<String>, StartError> {
    let ready = diesel::sql_query(
        "SELECT pg_has_role(rolname, 'stillroom_service', 'MEMBER') AS yes FROM pg_roles WHERE rolname = $1",
    )
    .bind::<Text, _>(login)
    .load::<Yes>(owner)
    .await
    .map_err(unanswered)?;
    let member = ready.into_iter().next().ok_or_else(|| StartError::NoLogin(login.to_owned()))?;
    let set: Vec<Name> = diesel::sql_query(
        "SELECT lower(split_part(setting, '=', 1)) AS name
         FROM pg_db_role_setting, unnest(setconfig) AS setting
         WHERE setrole = (SELECT oid FROM pg_roles WHERE rolname = $1)
           AND setdatabase IN (0, (SELECT oid FROM pg_database WHERE datname = current_database()))",
    )
    .bind::<Text, _>(login)
    .load(owner)
    .await
    .map_err(unanswered)?;
    let grant = format!("GRANT stillroom_service TO \"{}\"", login.replace('"', "\"\""));
    Ok((!member.yes)
        .then_some(grant)
        .into_iter()
        .chain(
            clinic::login_defaults()
                .filter(|default| !set.iter().any(|set| set.name == default.name))
                .map(|default| default.statement(login)),
        )
        .collect())
}
