//! Statements that are prepared once a connection.
//!
//! Diesel prepares an UPDATE, an INSERT of a list and SQL in words anew each time, since it cannot know that their text
//! stays the same: Postgres then parses and plans them anew, in a round trip of its own. Whoever writes such a statement
//! knows. Where Postgres would plan a prepared statement anew for each value all the same, because some values promise a
//! cheaper plan, the value stands in a select of its own, `= (SELECT $1)`, which the planner does not look into: for a
//! statement that is always quick, planning costs more than running. What never happens here: a text that depends on what a caller sends, other than which of a few forms it has.

use diesel::QueryResult;
use diesel::pg::Pg;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};

/// A statement that is prepared once a connection.
#[derive(Clone, Copy, Debug)]
pub struct Prepared<Q>(Q);

/// Any statement can be prepared once a connection.
pub trait Prepare: Sized {
    /// The same statement, prepared once a connection. Its text must be one of a few: each stays with the connection.
    fn prepared(self) -> Prepared<Self> {
        Prepared(self)
    }
}

impl<Q> Prepare for Q {}

/// Found again by its text and the types of its parameters.
impl<Q> QueryId for Prepared<Q> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl<Q: Query> Query for Prepared<Q> {
    type SqlType = Q::SqlType;
}

impl<Q: QueryFragment<Pg>> QueryFragment<Pg> for Prepared<Q> {
    fn walk_ast<'b>(&'b self, out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        self.0.walk_ast(out)
    }

    fn is_safe_to_cache_prepared(&self, _: &Pg) -> QueryResult<bool> {
        Ok(true)
    }
}
