//! A row held against the digest that vouches for it.
//!
//! For: verifying every row, and proving one before content is shown. What is digested is the row's JSON as the
//! database writes it, never a type of ours serialised again. What never happens here: a repair.

use canonical::{Form, Salt, Sha};
use diesel::sql_types::{Array, BigInt, Binary, Nullable, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use serde_json::Value;
use uuid::Uuid;

use super::kept::{Kept, KeptRow};
use crate::error::{Error, Result};
use crate::prepared::Prepare;
use crate::tx::Tx;

/// Why a row is not what the journal vouches for.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{table} {key}: {reason}")]
pub struct RowFault {
    /// The row's table.
    pub table: String,
    /// The row's key, its parts joined by "/".
    pub key: String,
    /// What differs.
    pub reason: Reason,
}

/// What differs between a row and what the journal says of it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Reason {
    /// The row has no digest.
    #[error("no digest is kept for the row, and no event vouches for it")]
    Unvouched,
    /// The event that the digest names does not exist.
    #[error("event {0}, which should vouch for the row, does not exist")]
    NoEvent(Uuid),
    /// The event says nothing of the row.
    #[error("{0} does not vouch for the row, though its digest names that event")]
    NotNamed(Place),
    /// The event names another digest.
    #[error("{0} vouches for another digest of the row than the one that is kept")]
    OtherDigest(Place),
    /// The digest's form is not known to this version.
    #[error("the digest that {0} vouches for has the form {1}, which this version does not know")]
    UnknownForm(Place, i16),
    /// The salt is not one.
    #[error("the salt of the digest that {0} vouches for was changed")]
    Salt(Place),
    /// The row differs from what was digested.
    #[error("the row was changed after {0} vouched for it")]
    Changed(Place),
    /// The row is gone, and no event says so.
    #[error("the row was removed after {0} vouched for it")]
    Removed(Place),
    /// The row is there, though the last event says that it was removed.
    #[error("the row was put back after {0} said that it was removed")]
    PutBack(Place),
}

/// Which event of which subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The subject.
    pub subject: Uuid,
    /// The event's number in the subject's chain.
    pub number: i64,
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "event {} of {}", self.number, self.subject)
    }
}

/// A row with what vouches for it, as the statements of [`Kept`] answer.
#[derive(diesel::QueryableByName)]
pub(super) struct Vouched {
    #[diesel(sql_type = Text)]
    pub(super) key: String,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) json: Option<String>,
    #[diesel(sql_type = Nullable<SmallInt>)]
    form: Option<i16>,
    #[diesel(sql_type = Nullable<Binary>)]
    salt: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<Binary>)]
    digest: Option<Vec<u8>>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) event_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    subject_id: Option<Uuid>,
    #[diesel(sql_type = Nullable<BigInt>)]
    number: Option<i64>,
    #[diesel(sql_type = Nullable<Text>)]
    named: Option<String>,
}

impl Vouched {
    /// Whether the row is what its event vouches for.
    pub(super) fn fault(&self) -> Option<Reason> {
        let (Some(form), Some(salt), Some(digest), Some(event)) =
            (self.form, &self.salt, &self.digest, self.event_id)
        else {
            return Some(Reason::Unvouched);
        };
        let (Some(subject), Some(number)) = (self.subject_id, self.number) else {
            return Some(Reason::NoEvent(event));
        };
        let place = Place { subject, number };
        match &self.named {
            None => return Some(Reason::NotNamed(place)),
            Some(named) if *named != hex::encode(digest) => return Some(Reason::OtherDigest(place)),
            Some(_) => {}
        }
        let Ok(form) = Form::numbered(form) else {
            return Some(Reason::UnknownForm(place, form));
        };
        let Ok(salt) = Salt::try_from(&salt[..]) else {
            return Some(Reason::Salt(place));
        };
        if digest_of_row(form, self.json.as_deref(), &salt).is_ok_and(|found| found[..] == digest[..]) {
            return None;
        }
        let removed = digest_of_row(form, None, &salt).is_ok_and(|found| found[..] == digest[..]);
        Some(match &self.json {
            None => Reason::Removed(place),
            Some(_) if removed => Reason::PutBack(place),
            Some(_) => Reason::Changed(place),
        })
    }

    pub(super) fn into_fault(self, table: &str, reason: Reason) -> RowFault {
        RowFault { table: table.to_owned(), key: self.key, reason }
    }
}

/// The digest of a row as the database writes it; of one that is not there, of `null`.
pub(super) fn digest_of_row(form: Form, row: Option<&str>, salt: &Salt) -> Result<Sha> {
    let value: Value = serde_json::from_str(row.unwrap_or("null"))?;
    Ok(form.salted(&value, salt))
}

/// Where an event's detail names the digests of rows: the name of a row, and its digest in hexadecimal.
pub(super) const DIGESTS: &str = "rows";

/// Where an event's detail names, for rows that were vouched for before, the event that did so last.
pub(super) const FOLLOWS: &str = "follows";

/// The name of a row in an event's detail.
pub(super) fn row_name(table: &str, key: &str) -> String {
    format!("{table}/{key}")
}

/// Reads rows by their keys, with what vouches for them.
pub(super) async fn read(tx: &mut Tx<'_>, kept: &Kept, keys: &[&[String]]) -> Result<Vec<Vouched>> {
    let mut statement = diesel::sql_query(kept.by_keys()).into_boxed();
    for part in 0..kept.key.len() {
        let column: Vec<String> = keys.iter().map(|key| key.get(part).cloned().unwrap_or_default()).collect();
        statement = statement.bind::<Array<Text>, _>(column);
    }
    Ok(statement.prepared().load(tx.conn()).await?)
}

/// A row as it stands, and the event that vouches for it.
#[derive(diesel::QueryableByName)]
pub(super) struct Standing {
    #[diesel(sql_type = BigInt)]
    place: i64,
    #[diesel(sql_type = Text)]
    pub(super) key: String,
    #[diesel(sql_type = Nullable<Text>)]
    pub(super) json: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub(super) event_id: Option<Uuid>,
}

/// Reads rows of several tables by their keys, all in one statement.
pub(super) async fn standing(
    conn: &AsyncPgConnection,
    wanted: &[(&'static Kept, Vec<&[String]>)],
) -> Result<Vec<(&'static Kept, Standing)>> {
    let (mut parts, mut columns) = (Vec::new(), Vec::new());
    for (place, (kept, keys)) in wanted.iter().enumerate() {
        parts.push(kept.standing(place, columns.len()));
        for part in 0..kept.key.len() {
            columns.push(keys.iter().map(|key| key.get(part).map_or("", String::as_str)).collect::<Vec<_>>());
        }
    }
    if parts.is_empty() {
        return Ok(Vec::new());
    }
    let mut statement = diesel::sql_query(parts.join(" UNION ALL ")).into_boxed();
    for column in columns {
        statement = statement.bind::<Array<Text>, _>(column);
    }
    // The text depends on which tables are meant, and each kind of change means its own.
    let rows: Vec<Standing> = statement.prepared().load(&mut &*conn).await?;
    let of = |row: Standing| {
        let found = usize::try_from(row.place).ok().and_then(|place| wanted.get(place));
        found.map(|(kept, _)| (*kept, row)).ok_or_else(|| Error::internal("a row of no table"))
    };
    rows.into_iter().map(of).collect()
}

/// Proves one row before what it holds is relied on: one that must be vouched for, as its table's declaration says. One
/// statement, by key.
///
/// # Errors
/// [`Error::Internal`] with a [`RowFault`] when the row is not what the journal vouches for, so that nothing of it is
/// shown and the log names it; and when the database cannot be read.
pub async fn prove_row<K: ToString>(
    tx: &mut Tx<'_>,
    kept: &'static Kept,
    key: impl IntoIterator<Item = K>,
) -> Result<()> {
    let key: Vec<String> = key.into_iter().map(|part| part.to_string()).collect();
    // A row of this very transaction is vouched for at its end.
    let pending = |row: &KeptRow| row.kept.table == kept.table && row.key == key;
    if tx.events.iter().flat_map(|event| &event.rows).any(pending) {
        return Ok(());
    }
    let rows = read(tx, kept, &[&key]).await?;
    let row = rows.into_iter().next().ok_or_else(|| Error::internal("a row that was not read"))?;
    match row.fault() {
        None => Ok(()),
        Some(reason) => Err(Error::Internal(row.into_fault(kept.table, reason).into())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROW: &str = r#"{"grams": "12.50"}"#;

    fn vouched(row: Option<&str>, digested: Option<&str>) -> Vouched {
        let salt = [3; 16];
        let digest = digest_of_row(Form::NEW, digested, &salt).unwrap();
        Vouched {
            key: "1".into(),
            json: row.map(str::to_owned),
            form: Some(Form::NEW.number()),
            salt: Some(salt.to_vec()),
            digest: Some(digest.to_vec()),
            event_id: Some(Uuid::nil()),
            subject_id: Some(Uuid::nil()),
            number: Some(3),
            named: Some(hex::encode(digest)),
        }
    }

    #[test]
    fn a_row_is_accepted_when_its_event_names_its_digest() {
        assert_eq!(vouched(Some(ROW), Some(ROW)).fault(), None);
        assert_eq!(
            vouched(Some(r#"{ "grams":"12.50" }"#), Some(ROW)).fault(),
            None,
            "white space is not the row"
        );
        assert_eq!(vouched(None, None).fault(), None, "an event said that the row was removed");
    }

    #[test]
    fn a_row_is_refused_with_what_differs() {
        let place = Place { subject: Uuid::nil(), number: 3 };
        let other = Some(r#"{"grams": "12.5"}"#);
        assert_eq!(vouched(other, Some(ROW)).fault(), Some(Reason::Changed(place)));
        assert_eq!(vouched(None, Some(ROW)).fault(), Some(Reason::Removed(place)));
        assert_eq!(vouched(Some(ROW), None).fault(), Some(Reason::PutBack(place)));
        let changed = |change: &dyn Fn(&mut Vouched)| {
            let mut row = vouched(Some(ROW), Some(ROW));
            change(&mut row);
            row.fault()
        };
        assert_eq!(changed(&|row| row.digest = None), Some(Reason::Unvouched));
        assert_eq!(changed(&|row| row.number = None), Some(Reason::NoEvent(Uuid::nil())));
        assert_eq!(changed(&|row| row.named = None), Some(Reason::NotNamed(place)));
        assert_eq!(changed(&|row| row.named = Some("00".into())), Some(Reason::OtherDigest(place)));
        assert_eq!(changed(&|row| row.form = Some(9)), Some(Reason::UnknownForm(place, 9)));
        assert_eq!(changed(&|row| row.form = Some(1)), Some(Reason::Changed(place)));
        assert_eq!(changed(&|row| row.salt = Some(vec![3; 15])), Some(Reason::Salt(place)));
        assert_eq!(changed(&|row| row.salt = Some(vec![4; 16])), Some(Reason::Changed(place)));
    }

    #[test]
    fn a_fault_is_a_sentence_that_names_table_key_and_event() {
        let row = vouched(Some("{}"), Some(ROW));
        let reason = row.fault().unwrap();
        assert_eq!(
            row.into_fault("batch_entry", reason).to_string(),
            "batch_entry 1: the row was changed after event 3 of 00000000-0000-0000-0000-000000000000 vouched for it"
        );
    }
}
