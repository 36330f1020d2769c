//! A row of the content's table, as the gate reads it.

fn content(row: &release::content::Row) -> &str {
    &row.content
}

fn main() {}
