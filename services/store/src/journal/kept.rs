//! Rows that the journal vouches for: which columns of which table are digested, and how their values become text.
//!
//! The canonical form of a row is one JSON object: its column names, and the values as text, so that neither a type of
//! ours nor the range of a JSON number has any part in it. Columns without a value are left out; a nullable column that
//! a later migration adds therefore changes no digest. Instants are written in UTC with six decimals, binary values in
//! hexadecimal, everything else as Postgres writes it. Rows that belong to a row (the comments of a review, the cautions
//! of a set) stand in it as arrays under the name of their table. A row that is not there any more is `null`.
//!
//! What never happens here: a query, or a name of a table.

use std::collections::BTreeSet;

/// How a column's value becomes text.
#[derive(Clone, Copy, Debug)]
pub enum Column {
    /// As Postgres writes it under the settings of our connections. Not for instants and binary values.
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
            // Years before the first would be written without their era, and infinity not at all.
            Self::Time(name) => format!(
                "CASE WHEN isfinite({of}.{name}) AND {of}.{name} >= timestamptz '0001-01-01 00:00:00Z' \
                 THEN to_char({of}.{name} AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"') \
                 ELSE {of}.{name}::text END"
            ),
            Self::Bytes(name) => format!("encode({of}.{name}, 'hex')"),
        }
    }
}

/// Columns by the way in which their values become text: `columns!(Text(id name) Time(created_at))`.
#[macro_export]
macro_rules! columns {
    ($($kind:ident($($name:ident)*))*) => {
        &[$($($crate::journal::Column::$kind(stringify!($name)),)*)*]
    };
}

/// A column of a key, with its type in Postgres. The type's text must not depend on settings: ids, whole numbers, text.
#[derive(Clone, Copy, Debug)]
pub struct Key(pub &'static str, pub &'static str);

/// Rows of another table that belong to a row.
#[derive(Debug)]
pub struct Belonging {
    /// Their table.
    pub table: &'static str,
    /// Pairs of a column of theirs and the column of the row that it equals.
    pub on: &'static [(&'static str, &'static str)],
    /// In which order they stand: columns that together tell them apart.
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
    /// Which rows must be vouched for, as a condition on `t`; the rest may still change without an event. A row that
    /// an event vouches for must be as that event left it, whatever this condition says.
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

/// A list of kept tables that contradicts itself.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum KeptError {
    /// Two declarations of one table.
    #[error("the table {0} is declared twice among the kept tables")]
    Twice(&'static str),
    /// Two values under one name in the canonical form of a row.
    #[error("the kept table {0} digests two values under the name {1}")]
    Name(&'static str, &'static str),
    /// A table without a key.
    #[error("the kept table {0} has no key")]
    NoKey(&'static str),
}

/// Checks that a list of kept tables can be verified.
///
/// # Errors
/// [`KeptError`] when a table stands in it twice, has no key, or would lose a value under another's name.
pub fn consistent(kept: &[&'static Kept]) -> Result<(), KeptError> {
    let mut tables = BTreeSet::new();
    for of in kept {
        if !tables.insert(of.table) {
            return Err(KeptError::Twice(of.table));
        }
        if of.key.is_empty() {
            return Err(KeptError::NoKey(of.table));
        }
        let mut names = BTreeSet::new();
        let values = of.columns.iter().map(|column| column.name());
        for name in values.chain(of.belonging.iter().map(|of| of.table)) {
            if !names.insert(name) {
                return Err(KeptError::Name(of.table, name));
            }
        }
    }
    Ok(())
}

impl Kept {
    /// A table of which every row is vouched for, each by itself.
    #[must_use]
    pub const fn whole(table: &'static str, key: &'static [Key], columns: &'static [Column]) -> Self {
        Self { table, key, columns, belonging: &[], only: "true" }
    }

    /// The table and those whose rows are digested with its rows.
    pub fn tables(&self) -> impl Iterator<Item = &'static str> + use<> {
        std::iter::once(self.table).chain(self.belonging.iter().map(|of| of.table))
    }

    /// The row `t` as JSON. Columns without a value are left out.
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
        format!("jsonb_strip_nulls(jsonb_build_object({}))", parts.join(", "))
    }

    /// The condition for rows that must be vouched for.
    fn required(&self) -> &'static str {
        if self.only.is_empty() { "true" } else { self.only }
    }

    fn columns_of_key(&self, of: &str) -> Vec<String> {
        self.key.iter().map(|Key(name, _)| format!("{of}.{name}")).collect()
    }

    /// The key of the row `t` as one text, as in [`KeptRow::key_text`].
    fn key_text(&self) -> String {
        let parts: Vec<String> = self.key.iter().map(|Key(name, _)| format!("t.{name}::text")).collect();
        parts.join(" || '/' || ")
    }

    /// A statement that reads rows by their keys: one array of text for each column of the key. Answers `key`, `json`,
    /// which is null where there is no such row, and what vouches for it, as [`vouching`](Self::vouching) does.
    pub(crate) fn by_keys(&self) -> String {
        let (key, json, from) = self.found_by_keys(0);
        let digest = self.digest_of(&key);
        let event = only("SELECT * FROM event e WHERE e.id = d.event_id", "e");
        format!("SELECT {key} AS key, {json} AS json, {VOUCHING} FROM {from} {digest} {event}")
    }

    /// As [`by_keys`](Self::by_keys), with no more of what vouches for the row than its event's id, as the `place`th of
    /// several such statements, `before` parameters after the first.
    pub(crate) fn standing(&self, place: usize, before: usize) -> String {
        let (key, json, from) = self.found_by_keys(before);
        format!(
            "SELECT {place}::bigint AS place, {key} AS key, {json} AS json, d.event_id FROM {from} {}",
            self.digest_of(&key)
        )
    }

    /// Key, JSON and source of rows that are found by arrays of text, the parameters after so many. The arrays stand in
    /// selects of their own, so that the plan does not depend on their length and is kept.
    fn found_by_keys(&self, before: usize) -> (String, String, String) {
        let arrays: Vec<String> =
            (1..=self.key.len()).map(|i| format!("(SELECT ${}::text[])", before + i)).collect();
        let names: Vec<String> = (1..=self.key.len()).map(|i| format!("k{i}")).collect();
        let parts = || self.key.iter().zip(&names);
        let on: Vec<String> =
            parts().map(|(Key(name, sql_type), key)| format!("t.{name} = k.{key}::{sql_type}")).collect();
        let key: Vec<String> =
            parts().map(|(Key(_, sql_type), key)| format!("k.{key}::{sql_type}::text")).collect();
        let first = self.key.first().map_or("ctid", |Key(name, _)| name);
        (
            key.join(" || '/' || "),
            format!("CASE WHEN t.{first} IS NULL THEN NULL ELSE {}::text END", self.json()),
            format!(
                "unnest({}) AS k({}) {}",
                arrays.join(", "),
                names.join(", "),
                only(&format!("SELECT * FROM {} t WHERE {}", self.table, on.join(" AND ")), "t")
            ),
        )
    }

    /// A statement that reads every row that must be vouched for or is, in the order of keys.
    pub(crate) fn every_row(&self) -> String {
        let key = self.key_text();
        format!(
            "SELECT {key} AS key, {}::text AS json, {VOUCHING}
             FROM {} t {} WHERE ({}) OR d.digest IS NOT NULL ORDER BY {}",
            self.json(),
            self.table,
            self.vouching(&key),
            self.required(),
            self.columns_of_key("t").join(", ")
        )
    }

    /// A statement that reads what vouches for rows that are gone.
    pub(crate) fn gone_rows(&self) -> String {
        format!(
            "SELECT d.row_key AS key, NULL::text AS json, {VOUCHING}
             FROM row_digest d LEFT JOIN event e ON e.id = d.event_id
             WHERE d.table_name = '{table}' AND NOT EXISTS (SELECT FROM {table} t WHERE {key} = d.row_key)",
            table = self.table,
            key = self.key_text()
        )
    }

    /// A statement that reads the keys of the next `limit` rows that must be vouched for, as arrays of text, with
    /// whether they are. After the first page it takes one text for each column of the last key.
    pub(crate) fn page_of_keys(&self, after: bool, limit: usize) -> String {
        let texts: Vec<String> = self.key.iter().map(|Key(name, _)| format!("t.{name}::text")).collect();
        let columns = self.columns_of_key("t").join(", ");
        let last: Vec<String> = self
            .key
            .iter()
            .enumerate()
            .map(|(i, Key(_, sql_type))| format!("${}::{sql_type}", i + 1))
            .collect();
        let page = if after { format!("({columns}) > ({})", last.join(", ")) } else { "true".into() };
        format!(
            "SELECT ARRAY[{}] AS key, d.digest IS NOT NULL AS vouched
             FROM (SELECT * FROM {table} t WHERE ({}) AND {page} ORDER BY {columns} LIMIT {limit}) t
             LEFT JOIN row_digest d ON d.table_name = '{table}' AND d.row_key = {}
             ORDER BY {columns}",
            texts.join(", "),
            self.required(),
            self.key_text(),
            table = self.table,
        )
    }

    /// Joins what vouches for every row `t`.
    fn vouching(&self, key: &str) -> String {
        format!(
            "LEFT JOIN row_digest d ON d.table_name = '{}' AND d.row_key = {key}
             LEFT JOIN event e ON e.id = d.event_id",
            self.table
        )
    }

    /// Joins the digest of the row with this key.
    fn digest_of(&self, key: &str) -> String {
        let table = self.table;
        only(&format!("SELECT * FROM row_digest d WHERE d.table_name = '{table}' AND d.row_key = {key}"), "d")
    }
}

/// Joins the one row that a statement answers for the row before it, if there is one. The limit keeps Postgres from
/// joining the tables as a whole: it plans a prepared statement while they are small, and would go on reading all of them
/// when they have grown.
fn only(statement: &str, name: &str) -> String {
    format!("LEFT JOIN LATERAL ({statement} LIMIT 1) {name} ON true")
}

/// What vouches for a row: its digest `d` and the event `e` that names it.
const VOUCHING: &str = "d.form, d.salt, d.digest, d.event_id, e.subject_id, e.number, \
     e.detail -> 'rows' ->> (d.table_name || '/' || d.row_key) AS named";

#[cfg(test)]
mod tests {
    use super::*;

    static JAR: Kept = Kept {
        table: "jar",
        key: &[Key("shelf", "text"), Key("place", "integer")],
        columns: &[Column::Text("shelf"), Column::Time("filled_at"), Column::Bytes("mark")],
        belonging: &[Belonging {
            table: "jar_note",
            on: &[("shelf", "shelf"), ("place", "place")],
            order: &["position"],
            columns: &[Column::Text("text")],
        }],
        only: "t.state <> 'empty'",
    };

    #[test]
    fn a_row_becomes_an_object_of_texts_with_what_belongs_to_it() {
        let json = JAR.json();
        assert!(json.starts_with("jsonb_strip_nulls(jsonb_build_object('shelf', t.shelf::text, "), "{json}");
        assert!(json.contains("'mark', encode(t.mark, 'hex')"), "{json}");
        assert!(
            json.contains(
                "'jar_note', (SELECT coalesce(jsonb_agg(jsonb_build_object('text', b.text::text) \
                 ORDER BY b.position), '[]') FROM jar_note b WHERE b.shelf = t.shelf AND b.place = t.place)"
            ),
            "{json}"
        );
    }

    #[test]
    fn a_key_of_several_columns_is_joined_and_compared_by_its_types() {
        let sql = JAR.by_keys();
        assert!(sql.contains("SELECT k.k1::text::text || '/' || k.k2::integer::text AS key"), "{sql}");
        assert!(sql.contains("t.shelf = k.k1::text AND t.place = k.k2::integer"), "{sql}");
        let page = JAR.page_of_keys(true, 7);
        assert!(page.contains("(t.shelf, t.place) > ($1::text, $2::integer)"), "{page}");
        assert!(page.contains("LIMIT 7"), "{page}");
    }

    #[test]
    fn a_row_that_need_not_be_vouched_for_is_read_when_an_event_vouches_for_it() {
        let sql = JAR.every_row();
        assert!(sql.contains("WHERE (t.state <> 'empty') OR d.digest IS NOT NULL"), "{sql}");
    }

    #[test]
    fn a_list_that_contradicts_itself_is_refused() {
        static NOTE: Kept = Kept { table: "jar_note", key: &[], columns: &[], belonging: &[], only: "" };
        static DOUBLE: Kept = Kept {
            table: "box",
            key: &[Key("id", "uuid")],
            columns: &[Column::Text("id"), Column::Bytes("id")],
            belonging: &[],
            only: "",
        };
        assert_eq!(consistent(&[&JAR]), Ok(()));
        assert_eq!(consistent(&[&JAR, &JAR]), Err(KeptError::Twice("jar")));
        assert_eq!(consistent(&[&NOTE]), Err(KeptError::NoKey("jar_note")));
        assert_eq!(consistent(&[&DOUBLE]), Err(KeptError::Name("box", "id")));
        assert_eq!(JAR.tables().collect::<Vec<_>>(), ["jar", "jar_note"]);
    }
}
