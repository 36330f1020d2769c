//! Questions that go together, and the statement that answers them.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::marker::PhantomData;
use std::sync::LazyLock;

use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{Array, BigInt, Binary, Nullable, Text, Timestamptz, Untyped, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;
use wire::ids::{ApiClientId, PersonId};

use crate::actor::{Actor, Credentials, PersonActor};
use crate::error::{Error, Result};
use crate::proof::USE_NOTED_EVERY;
use crate::words::word;

/// A question that is asked for many callers in one statement.
pub trait Gather: Clone + Sized + 'static {
    /// What is found.
    type Found: 'static;

    /// Answers the questions of every caller who is known, each at its place, by one statement made with
    /// [`statement`].
    #[expect(async_fn_in_trait, reason = "the answers stay on the thread of their worker")]
    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>>;
}

/// A question with who asks it.
#[derive(Clone)]
pub struct Ask<Q> {
    /// Who asks.
    pub credentials: Credentials,
    /// What.
    pub question: Q,
}

/// What was found for a caller who is known.
pub struct Known<F> {
    /// The caller, as of the statement.
    pub actor: Actor,
    /// Whether the use of an API client's key was noted lately.
    pub(super) use_noted: bool,
    /// What was found.
    pub found: F,
}

impl<F> Known<F> {
    /// The same caller with what is made of what was found.
    pub fn map<G>(self, make: impl FnOnce(F) -> G) -> Known<G> {
        Known { actor: self.actor, use_noted: self.use_noted, found: make(self.found) }
    }
}

/// The callers of a gathered statement, as its first parameters: the time, then sessions, persons and keys.
#[derive(Default)]
pub struct Callers {
    now: DateTime<Utc>,
    sessions: Vec<Option<Uuid>>,
    persons: Vec<Option<Uuid>>,
    keys: Vec<Option<Vec<u8>>>,
}

impl Callers {
    /// Those who ask.
    pub fn of<Q>(asked: &[Ask<Q>], now: DateTime<Utc>) -> Self {
        let mut callers = Self { now, ..Self::default() };
        for ask in asked {
            let (session, person, key) = match &ask.credentials {
                Credentials::Session { session, person } => (Some(session.0), Some(person.0), None),
                Credentials::Key(hash) => (None, None, Some(hash.to_vec())),
            };
            callers.sessions.push(session);
            callers.persons.push(person);
            callers.keys.push(key);
        }
        callers
    }

    /// Binds the first four parameters.
    ///
    /// # Errors
    /// When Diesel cannot.
    pub fn bind<'b>(&'b self, out: &mut AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_bind_param_value_only::<Timestamptz, _>(&self.now)?;
        out.push_bind_param_value_only::<Array<Nullable<SqlUuid>>, _>(&self.sessions)?;
        out.push_bind_param_value_only::<Array<Nullable<SqlUuid>>, _>(&self.persons)?;
        out.push_bind_param_value_only::<Array<Nullable<Binary>>, _>(&self.keys)
    }
}

/// The text of a gathered statement, which never changes, so that it is prepared once a connection. The lists stand in
/// selects of their own, where the planner does not see how long they are: a plan for each length would look no cheaper than
/// one for all, so that Postgres keeps the one, without any setting of the connection. `columns` are those of the question, whose arrays are the parameters from the fifth
/// on. `rest` selects [`COLUMNS`] and what the question asks for from `ask`, which holds the questions of the callers
/// who are known: each row found by its key.
#[must_use]
pub fn statement(columns: &[&str], rest: &str) -> String {
    let parameters: Vec<String> = (0..columns.len()).map(|i| format!("(SELECT ${})", i + 5)).collect();
    format!(
        "WITH ask AS (
             SELECT a.place, $1::timestamptz AS now, {named}, coalesce(person.id, client.id) AS holder_id,
                    person.id AS person_id, person.role, client.id AS client_id, client.responsible_id,
                    client.scopes, client.last_used_at
             FROM unnest((SELECT $2), (SELECT $3), (SELECT $4), {parameters})
                 WITH ORDINALITY AS a (session_id, asked_person_id, key_hash, {columns}, place)
             LEFT JOIN LATERAL (
                 SELECT session.person_id AS id, session.role FROM session
                 WHERE session.id = a.session_id AND session.person_id = a.asked_person_id
                   AND session.ended_at IS NULL AND session.idle_expires_at > $1 AND session.valid_until > $1
                 LIMIT 1) AS person ON true
             LEFT JOIN LATERAL (
                 SELECT id, responsible_id, scopes, last_used_at FROM api_client
                 WHERE api_client.key_hash = a.key_hash AND api_client.state = 'active'
                   AND api_client.valid_until > $1
                 LIMIT 1) AS client ON true
             WHERE person.id IS NOT NULL OR client.id IS NOT NULL)
         {rest}",
        named = columns.iter().map(|column| format!("a.{column}")).collect::<Vec<_>>().join(", "),
        parameters = parameters.join(", "),
        columns = columns.join(", "),
    )
}

/// The columns of a [`Caller`], to be selected from `ask`.
pub const COLUMNS: &str =
    "ask.place, ask.person_id, ask.role, ask.client_id, ask.responsible_id, ask.scopes, ask.last_used_at";

/// A caller as a gathered statement finds it.
#[derive(QueryableByName)]
pub struct Caller {
    /// Which question this answers, counted from one.
    #[diesel(sql_type = BigInt)]
    place: i64,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    person_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    role: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    client_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    responsible_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    scopes: Option<String>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    last_used_at: Option<DateTime<Utc>>,
}

impl Caller {
    fn known<Q, F>(self, asked: &[Ask<Q>], now: DateTime<Utc>, found: F) -> Result<(usize, Known<F>)> {
        let no_question = || Error::internal("an answer to no question");
        let place = usize::try_from(self.place - 1).map_err(|_| no_question())?;
        let credentials = asked.get(place).ok_or_else(no_question)?.credentials;
        let noted = |at: Option<DateTime<Utc>>| at.is_some_and(|at| now - at <= USE_NOTED_EVERY);
        let (actor, use_noted) = match (self.person_id, self.role, self.client_id, self.responsible_id) {
            (Some(id), Some(role), ..) => {
                let Credentials::Session { session, .. } = credentials else { return Err(no_question()) };
                (Actor::Person(PersonActor { id: PersonId(id), role: word(&role)?, session }), true)
            }
            (_, _, Some(id), Some(responsible)) => {
                let scopes = self.scopes.as_deref().unwrap_or_default();
                let scopes = scopes.split_whitespace().map(word).collect::<Result<_>>()?;
                let actor = Actor::Client { id: ApiClientId(id), responsible: PersonId(responsible), scopes };
                (actor, noted(self.last_used_at))
            }
            _ => return Err(no_question()),
        };
        Ok((place, Known { actor, use_noted, found }))
    }
}

/// Puts what a gathered statement found at the places of the questions. Of several rows for one question, `add` takes in
/// all but the first.
///
/// # Errors
/// When a row answers no question.
pub fn answers<Q, F, R>(
    asked: &[Ask<Q>],
    now: DateTime<Utc>,
    rows: impl IntoIterator<Item = (Caller, R)>,
    mut first: impl FnMut(R) -> Result<F>,
    mut add: impl FnMut(&mut F, R) -> Result<()>,
) -> Result<Vec<Option<Known<F>>>> {
    let mut answers: Vec<Option<Known<F>>> = asked.iter().map(|_| None).collect();
    for (caller, row) in rows {
        let at = usize::try_from(caller.place - 1).unwrap_or(usize::MAX);
        match answers.get_mut(at) {
            Some(Some(known)) => add(&mut known.found, row)?,
            _ => {
                let (place, known) = caller.known(asked, now, first(row)?)?;
                if let Some(answer) = answers.get_mut(place) {
                    *answer = Some(known);
                }
            }
        }
    }
    Ok(answers)
}

/// As [`answers`], where callers share what is found: each caller's row (with its place) names the one that is theirs by a
/// number, and the rows without a caller (with place 0) are what is found. `make` makes an answer of its rows, for the
/// first question that shares it; the others are the same in whatever the answer depends on.
///
/// # Errors
/// When a row answers no question, and what `make` answers.
pub fn shared_answers<Q, F: Clone, R>(
    asked: &[Ask<Q>],
    now: DateTime<Utc>,
    rows: impl IntoIterator<Item = (Caller, i64, R)>,
    make: impl Fn(&Q, Vec<R>) -> Result<F>,
) -> Result<Vec<Option<Known<F>>>> {
    let (mut callers, mut found, mut made) = (Vec::new(), HashMap::<i64, Vec<R>>::new(), HashMap::new());
    for (caller, number, row) in rows {
        if caller.place == 0 {
            found.entry(number).or_default().push(row);
        } else {
            callers.push((caller, number));
        }
    }
    let mut answers: Vec<Option<Known<F>>> = asked.iter().map(|_| None).collect();
    for (caller, number) in callers {
        let (place, known) = caller.known(asked, now, ())?;
        let (Some(ask), Some(answer)) = (asked.get(place), answers.get_mut(place)) else { continue };
        let shared = match made.entry(number) {
            Entry::Occupied(made) => F::clone(made.get()),
            Entry::Vacant(new) => {
                new.insert(make(&ask.question, found.remove(&number).unwrap_or_default())?).clone()
            }
        };
        *answer = Some(known.map(|()| shared));
    }
    Ok(answers)
}

/// Runs a gathered statement whose questions are ids. `sql` has the one column of the question.
///
/// # Errors
/// When the database does not answer.
pub async fn by_id<Q: 'static, R>(
    conn: &mut AsyncPgConnection,
    sql: &'static Sql,
    asked: &[Ask<Q>],
    id: impl Fn(&Q) -> Uuid,
    now: DateTime<Utc>,
) -> Result<Vec<(Caller, R)>>
where
    R: QueryableByName<Pg> + Send + 'static,
{
    let ids = asked.iter().map(|ask| id(&ask.question)).collect();
    let statement = ById::<Q> { sql, callers: Callers::of(asked, now), ids, _kind: PhantomData };
    Ok(statement.load(conn).await?)
}

/// A question by an id that has one answer.
pub trait OneById: Clone + Sized + 'static {
    /// The row that answers it.
    type Row: QueryableByName<Pg> + Send + 'static;
    /// What is found.
    type Found: 'static;

    /// The gathered statement, which has the id as its one column.
    fn sql() -> &'static Sql;

    /// The id.
    fn id(&self) -> Uuid;

    /// What is found by the row.
    ///
    /// # Errors
    /// When the row cannot be read.
    fn found(row: Self::Row) -> Result<Self::Found>;
}

impl<Q: OneById> Gather for Q {
    type Found = Q::Found;

    async fn gather(
        conn: &mut AsyncPgConnection,
        asked: &[Ask<Self>],
        now: DateTime<Utc>,
    ) -> Result<Vec<Option<Known<Self::Found>>>> {
        let rows = by_id(conn, Q::sql(), asked, Q::id, now).await?;
        answers(asked, now, rows, Q::found, |_, _| Err(Error::internal("a second answer to one question")))
    }
}

/// Questions of the kind `Q`; its text never changes, so that it is prepared once a connection.
struct ById<Q> {
    sql: &'static Sql,
    callers: Callers,
    ids: Vec<Uuid>,
    _kind: PhantomData<fn() -> Q>,
}

impl<Q: 'static> QueryId for ById<Q> {
    type QueryId = Self;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl<Q> Query for ById<Q> {
    type SqlType = Untyped;
}

impl<Q> QueryFragment<Pg> for ById<Q> {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(self.sql);
        self.callers.bind(&mut out)?;
        out.push_bind_param_value_only::<Array<SqlUuid>, _>(&self.ids)
    }
}

/// A statement's text, made once.
pub type Sql = LazyLock<String>;
