//! Rows that the journal vouches for: which columns of which table are digested, and how their values become text.
//!
//! The canonical form of a row is one JSON object: its column names, and the values as text (`null` where there is
//! none), so that neither a type of ours nor the range of a JSON number has any part in it. Instants are written in UTC
//! with six decimals, binary values in hexadecimal, everything else as Postgres writes it. Rows that belong to a row
//! (the comments of a review, the cautions of a set) stand in it as arrays under the name of their table. A row that is
//! not there any more is `null`.

/// How a column's value becomes text.
#[derive(Clone, Copy, Debug)]
pub enum Column {
    /// As Postgres writes it.
    Text(&'static str),
    /// An instant.
    Time(&'static str),
    /// Binary.
    Bytes(&'static str),
}

impl Column {
    /// The column's name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Text(name) | Self::Time(name) | Self::Bytes(name) => name,
        }
    }

    fn sql(self, of: &str) -> String {
        match self {
            Self::Text(name) => format!("{of}.{name}::text"),
            Self::Time(name) => {
                format!("to_char({of}.{name} AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')")
            }
            Self::Bytes(name) => format!("encode({of}.{name}, 'hex')"),
        }
    }
}

/// A column of a key, with its type in Postgres.
#[derive(Clone, Copy, Debug)]
pub struct Key(pub &'static str, pub &'static str);

/// Rows of another table that belong to a row.
#[derive(Debug)]
pub struct Belonging {
    /// Their table.
    pub table: &'static str,
    /// Pairs of a column of theirs and the column of the row that it equals.
    pub on: &'static [(&'static str, &'static str)],
    /// In which order they stand.
    pub order: &'static [&'static str],
    /// What is digested of each.
    pub columns: &'static [Column],
}

/// A table whose rows the journal vouches for.
#[derive(Debug)]
pub struct Kept {
    /// The table.
    pub table: &'static str,
    /// What tells its rows apart.
    pub key: &'static [Key],
    /// What is digested of each.
    pub columns: &'static [Column],
    /// Rows of other tables that are digested with it.
    pub belonging: &'static [Belonging],
    /// Which rows have to be vouched for, as a condition on `t`; the rest may still change without an event.
    pub only: &'static str,
}

/// One row of such a table.
#[derive(Debug)]
pub(crate) struct KeptRow {
    pub(crate) kept: &'static Kept,
    pub(crate) key: Vec<String>,
}

impl KeptRow {
    /// The key as one text. Parts are ids and numbers; a key that is a text has one part.
    pub(crate) fn key_text(&self) -> String {
        self.key.join("/")
    }
}

impl Kept {
    /// The row `t` as JSON.
    pub(crate) fn json(&self) -> String {
        let mut parts: Vec<String> =
            self.columns.iter().map(|column| format!("'{}', {}", column.name(), column.sql("t"))).collect();
        parts.extend(self.belonging.iter().map(|of| {
            let columns: Vec<String> = of
                .columns
                .iter()
                .map(|column| format!("'{}', {}", column.name(), column.sql("b")))
                .collect();
            let on: Vec<String> = of.on.iter().map(|(theirs, ours)| format!("b.{theirs} = t.{ours}")).collect();
            let order: Vec<String> = of.order.iter().map(|column| format!("b.{column}")).collect();
            format!(
                "'{}', (SELECT coalesce(jsonb_agg(jsonb_build_object({}) ORDER BY {}), '[]') FROM {} b WHERE {})",
                of.table,
                columns.join(", "),
                order.join(", "),
                of.table,
                on.join(" AND ")
            )
        }));
        format!("jsonb_build_object({})", parts.join(", "))
    }

    /// The key of the row `t` as one text, as in [`KeptRow::key_text`].
    pub(crate) fn key_sql(&self) -> String {
        let parts: Vec<String> = self.key.iter().map(|Key(name, _)| format!("t.{name}::text")).collect();
        parts.join(" || '/' || ")
    }

    /// A statement that reads rows by their keys: one array of text for each column of the key. Answers `key` and
    /// `row`, which is null where there is no such row.
    pub(crate) fn by_keys(&self) -> String {
        let arrays: Vec<String> = (1..=self.key.len()).map(|i| format!("${i}::text[]")).collect();
        let names: Vec<String> = (1..=self.key.len()).map(|i| format!("k{i}")).collect();
        let on: Vec<String> = self
            .key
            .iter()
            .zip(&names)
            .map(|(Key(name, sql_type), key)| format!("t.{name} = k.{key}::{sql_type}"))
            .collect();
        let first = self.key.first().map_or("ctid", |Key(name, _)| name);
        format!(
            "SELECT {} AS key, CASE WHEN t.{first} IS NULL THEN NULL ELSE {}::text END AS row
             FROM unnest({}) AS k({}) LEFT JOIN {} t ON {}",
            names.iter().map(|name| format!("k.{name}")).collect::<Vec<_>>().join(" || '/' || "),
            self.json(),
            arrays.join(", "),
            names.join(", "),
            self.table,
            on.join(" AND ")
        )
    }
}
