//! SQL functions and operators that Diesel does not provide.

use diesel::expression::SqlLiteral;
use diesel::sql_types::{Text, Uuid};

#[diesel::declare_sql_function]
extern "SQL" {
    /// Postgres's `lower`.
    fn lower(text: Text) -> Text;

    /// Whether work is closed to a reader who must not know whose it is: because it is marked blind and has no verdict, or
    /// because they give a second mark in its assignment and have not given it yet.
    fn blind_work(of_work: Uuid, reader: Uuid) -> Bool;

    /// As [`blind_work()`], of the work that a batch counts for.
    fn blind_batch(of_batch: Uuid, reader: Uuid) -> Bool;

    /// Whether a reader is told of work without a name: the first of the two reasons of [`blind_work()`].
    fn unnamed_work(of_work: Uuid, reader: Uuid) -> Bool;

    /// As [`unnamed_work()`], of the work that a batch counts for.
    fn unnamed_batch(of_batch: Uuid, reader: Uuid) -> Bool;

    /// What stands in place of the name of whose work a batch counts for.
    fn candidate_of_batch(of_batch: Uuid) -> Nullable<Text>;

    /// Whether an assignment is marked blind.
    fn marked_blind(of_assignment: Uuid) -> Bool;

    /// Whether somebody made a batch, or a part of it.
    fn batch_made_by(batch: Uuid, person: Uuid) -> Bool;
}

diesel::infix_operator!(Collated, " COLLATE ", Text, backend: diesel::pg::Pg);

/// Ordered by bytes, as the cursors compare; an index stands in the same order.
pub fn by_bytes<T: diesel::Expression<SqlType = Text>>(text: T) -> Collated<T, SqlLiteral<Text>> {
    Collated::new(text, diesel::dsl::sql("\"C\""))
}
