//! SQL functions and operators that Diesel does not provide.

use diesel::expression::SqlLiteral;
use diesel::sql_types::Text;

#[diesel::declare_sql_function]
extern "SQL" {
    /// Postgres's `lower`.
    fn lower(text: Text) -> Text;
}

diesel::infix_operator!(Collated, " COLLATE ", Text, backend: diesel::pg::Pg);

/// Ordered by bytes, as the cursors compare; an index stands in the same order.
pub fn by_bytes<T: diesel::Expression<SqlType = Text>>(text: T) -> Collated<T, SqlLiteral<Text>> {
    Collated::new(text, diesel::dsl::sql("\"C\""))
}
