//! The service's own login: the role, time limits and text formats that it has by default.
//!
//! They are defaults of the login (`ALTER ROLE ... SET`) and never a `SET` of a connection: a pooler in transaction mode
//! hands server connections from one caller to the next, so that a `SET` would be lost for one and last for another.

use diesel::QueryableByName;
use diesel::sql_types::{Array, Text};
use diesel_async::{AsyncPgConnection, RunQueryDsl};

/// The statements that give a login its defaults; `:"login"` stands for its name.
const STATEMENTS: &str = include_str!("login.sql");

/// One default of the service's login.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LoginDefault {
    /// The setting, as Postgres calls it.
    pub name: &'static str,
    /// Its value.
    pub value: &'static str,
}

impl LoginDefault {
    /// The statement that gives it to a login.
    #[must_use]
    pub fn statement(&self, login: &str) -> String {
        format!("ALTER ROLE \"{}\" SET {} = '{}'", login.replace('"', "\"\""), self.name, self.value)
    }
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    name: String,
}

/// All defaults, in the order in which they are given.
pub fn login_defaults() -> impl Iterator<Item = LoginDefault> {
    STATEMENTS.lines().filter_map(|line| {
        let (name, value) = line.strip_prefix("ALTER ROLE :\"login\" SET ")?.split_once(" = ")?;
        Some(LoginDefault { name, value: value.trim_matches(['\'', ';']) })
    })
}

/// What the login of this connection lacks, by the names of the settings: the role and the text formats as they are in
/// [`login_defaults`], and a time limit of any length. The name of the connection is left to whoever configures it.
///
/// # Errors
/// When the database does not answer.
pub async fn missing_defaults(conn: &mut AsyncPgConnection) -> diesel::QueryResult<Vec<String>> {
    let (names, values): (Vec<String>, Vec<String>) = login_defaults()
        .filter(|default| default.name != "application_name")
        .map(|LoginDefault { name, value }| (name.to_owned(), value.to_owned()))
        .unzip();
    let sql = "SELECT name FROM unnest($1, $2) AS wanted (name, value)
               WHERE CASE WHEN name LIKE '%\\_timeout' THEN current_setting(name) = '0'
                          ELSE current_setting(name) <> value END";
    let rows: Vec<Row> = diesel::sql_query(sql)
        .bind::<Array<Text>, _>(names)
        .bind::<Array<Text>, _>(values)
        .load(conn)
        .await?;
    Ok(rows.into_iter().map(|row| row.name).collect())
}

/// Says what a login lacks, and the cure.
pub(crate) fn lacking(missing: &[String]) -> String {
    format!(
        "The login of DATABASE_URL lacks these defaults: {}. Run `stillroom migrate`, which sets them. If \
         there is a pooler before the database, let it reconnect afterwards",
        missing.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_statement_of_the_file_is_a_default() {
        let statements = STATEMENTS.lines().filter(|line| !line.is_empty() && !line.starts_with("--"));
        let found: Vec<LoginDefault> = login_defaults().collect();
        assert_eq!(statements.count(), found.len());
        assert_eq!(found[0], LoginDefault { name: "role", value: "stillroom_service" });
        assert_eq!(found[1].statement("a\"b"), "ALTER ROLE \"a\"\"b\" SET statement_timeout = '10s'");
    }
}
