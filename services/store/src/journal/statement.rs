//! A signed statement of the journal's state, to be kept outside the database.
//!
//! A statement kept since last month proves that none of the events it speaks of was changed, removed or put elsewhere:
//! whoever owns the database can make it consistent again, but not with a root that somebody else keeps.
//!
//! # Format 1
//! One JSON object with these fields and no others. Every value but the two numbers is text.
//!
//! | field | value |
//! |---|---|
//! | `format` | the number 1 |
//! | `kind` | `stillroom-journal-statement` |
//! | `events` | how many events have their place in the public order, a number up to 2^53 - 1 |
//! | `root` | the root of the Merkle tree over their hashes, in that order, 64 hexadecimal digits: RFC 6962, section 2.1; a leaf's data are the 32 bytes of the event's hash |
//! | `at` | when it was signed, in UTC: RFC 3339 with six decimals |
//! | `key` | the public Ed25519 key, 64 hexadecimal digits |
//! | `signature` | 128 hexadecimal digits: Ed25519 (RFC 8032) over the RFC 8785 form, in UTF-8, of the object with all fields but this one |
//!
//! To recompute the root from the database, without this program:
//! `SELECT e.hash FROM event_order o JOIN event e ON e.id = o.event_id WHERE o.position <= EVENTS ORDER BY o.position`.
//!
//! A signature proves who signed only to a reader who knows the key from elsewhere: the verdict names the key, and the
//! reader compares. What never happens here: reading a file, or choosing a key.

use canonical::{Form, Sha};
use chrono::SecondsFormat;
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::breaks::Breaks;
use super::merkle::Tree;
use super::order::{self, number_events};
use super::stored::{COLUMNS, Stored};
use super::stream::stream;
use crate::error::{Error, Result};
use crate::store::Store;
use crate::tx::Tx;

/// The format that is written.
const FORMAT: u32 = 1;

/// What tells a statement from everything else that the same key signs.
const KIND: &str = "stillroom-journal-statement";

/// The largest number that RFC 8785 writes digit by digit.
const MOST_EVENTS: u64 = (1 << 53) - 1;

/// A signed statement of the journal's state. The module's documentation says what each field holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    /// The format's number.
    pub format: u32,
    /// `stillroom-journal-statement`.
    pub kind: String,
    /// The number of events.
    pub events: u64,
    /// The root over their hashes, in hexadecimal.
    pub root: String,
    /// When it was signed.
    pub at: String,
    /// The public key, in hexadecimal.
    pub key: String,
    /// The signature, in hexadecimal.
    pub signature: String,
}

/// Why a statement is not believed, whatever the database holds.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StatementFault {
    /// A format of another version.
    #[error("The statement has format {0}. This version reads format {FORMAT}.")]
    Format(u32),
    /// Something else that was signed.
    #[error("The object is of another kind than {KIND}.")]
    Kind,
    /// More events than a number in JSON can tell apart.
    #[error("The number of events exceeds {MOST_EVENTS}.")]
    TooMany,
    /// A value that is not hexadecimal, or not of the right length.
    #[error("The field {0} is not hexadecimal of the right length.")]
    Hex(&'static str),
    /// Bytes that are no public key.
    #[error("The field key holds no public Ed25519 key.")]
    Key,
    /// The signature is not one of this key over these fields.
    #[error("The signature does not match: the statement was changed, or another key signed it.")]
    Signature,
}

/// What verifying a statement found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatementVerdict {
    /// How many events the statement speaks of.
    pub events: u64,
    /// How many events have their place in the public order today.
    pub today: u64,
    /// The public key that signed, in hexadecimal: the reader compares it with the one that is known.
    pub key: String,
    /// Why the statement is not believed. The database was then not read.
    pub fault: Option<StatementFault>,
    /// Where today's database does not agree.
    pub breaks: Breaks,
}

impl StatementVerdict {
    /// Whether the signature is valid and every event that the statement speaks of is as it was.
    #[must_use]
    pub const fn holds(&self) -> bool {
        self.fault.is_none() && self.breaks.is_empty()
    }
}

impl std::fmt::Display for StatementVerdict {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Some(fault) = &self.fault {
            return write!(f, "{fault}");
        }
        for found in self.breaks.listed() {
            writeln!(f, "{found}")?;
        }
        writeln!(f, "signed with the key {}", self.key)?;
        write!(
            f,
            "{} events in the statement, {} in the database today, {} breaks",
            self.events,
            self.today,
            self.breaks.total()
        )
    }
}

impl Statement {
    /// Signs the state of a tree.
    ///
    /// # Errors
    /// [`StatementFault::TooMany`] when the tree has more leaves than a statement can say.
    pub fn sign(
        tree: &Tree,
        at: chrono::DateTime<chrono::Utc>,
        key: &SigningKey,
    ) -> Result<Self, StatementFault> {
        if tree.leaves() > MOST_EVENTS {
            return Err(StatementFault::TooMany);
        }
        let mut statement = Self {
            format: FORMAT,
            kind: KIND.to_owned(),
            events: tree.leaves(),
            root: hex::encode(tree.root()),
            at: at.to_rfc3339_opts(SecondsFormat::Micros, true),
            key: hex::encode(key.verifying_key().as_bytes()),
            signature: String::new(),
        };
        statement.signature = hex::encode(key.sign(statement.signed().as_bytes()).to_bytes());
        Ok(statement)
    }

    /// What the signature is over: RFC 8785 of every other field.
    fn signed(&self) -> String {
        Form::Two.text(&json!({
            "format": self.format,
            "kind": self.kind,
            "events": self.events,
            "root": self.root,
            "at": self.at,
            "key": self.key,
        }))
    }

    /// Whether the statement is whole: its format, its fields and its signature by the key that it names. Answers the
    /// root.
    ///
    /// # Errors
    /// [`StatementFault`] says which of these fails.
    pub fn check(&self) -> Result<Sha, StatementFault> {
        if self.format != FORMAT {
            return Err(StatementFault::Format(self.format));
        }
        if self.kind != KIND {
            return Err(StatementFault::Kind);
        }
        if self.events > MOST_EVENTS {
            return Err(StatementFault::TooMany);
        }
        let root = bytes("root", &self.root)?;
        let key = VerifyingKey::from_bytes(&bytes("key", &self.key)?).map_err(|_| StatementFault::Key)?;
        let signature = Signature::from_bytes(&bytes("signature", &self.signature)?);
        key.verify_strict(self.signed().as_bytes(), &signature).map_err(|_| StatementFault::Signature)?;
        Ok(root)
    }
}

fn bytes<const N: usize>(field: &'static str, text: &str) -> Result<[u8; N], StatementFault> {
    let mut bytes = [0; N];
    hex::decode_to_slice(text, &mut bytes).map_err(|_| StatementFault::Hex(field))?;
    Ok(bytes)
}

/// Numbers the events that have no place yet, and signs the state of the journal.
///
/// # Errors
/// [`Error::State`] when the public order does not hold or an event was changed: nothing is signed that is known to be
/// damaged. Further, when the database cannot be read.
pub async fn state(store: &Store, key: &SigningKey) -> Result<Statement> {
    number_events(store).await?;
    store
        .run_long(async |tx| {
            let mut breaks = Breaks::default();
            order::verify(tx, &mut breaks).await?;
            let tree = tree(tx, None, &mut breaks).await?;
            if let Some(first) = breaks.listed().first() {
                return Err(Error::state(
                    "damaged",
                    format!("The statement was not signed because the journal has a break. {first}."),
                ));
            }
            Statement::sign(&tree, tx.now(), key).map_err(|fault| Error::Internal(fault.into()))
        })
        .await
}

/// Verifies a statement against today's database: the signature, the number of events, and the root over the first
/// events of the public order, each recomputed from what it says.
///
/// # Errors
/// When the database cannot be read. What does not hold is no error but stands in the verdict.
pub async fn verify_statement(store: &Store, statement: &Statement) -> Result<StatementVerdict> {
    let begun = || StatementVerdict {
        events: statement.events,
        today: 0,
        key: statement.key.clone(),
        fault: None,
        breaks: Breaks::default(),
    };
    let root = match statement.check() {
        Ok(root) => root,
        Err(fault) => return Ok(StatementVerdict { fault: Some(fault), ..begun() }),
    };
    store
        .run_long(async |tx| {
            let mut verdict = begun();
            verdict.today = order::verify(tx, &mut verdict.breaks).await?;
            let tree = tree(tx, Some(statement.events), &mut verdict.breaks).await?;
            let (stated, at) = (statement.events, &statement.at);
            if tree.leaves() < stated {
                verdict.breaks.push(format!(
                    "the public order has {} events, fewer than the {stated} of the statement of {at}",
                    tree.leaves()
                ));
            } else if tree.root() != root {
                verdict.breaks.push(format!(
                    "the root over the first {stated} events is {}, and {} in the statement of {at}: one of these \
                     events was changed, replaced or moved",
                    hex::encode(tree.root()),
                    statement.root
                ));
            }
            Ok(verdict)
        })
        .await
}

/// The tree over the events in their public order, or the first of them.
async fn tree(tx: &mut Tx<'_>, first: Option<u64>, breaks: &mut Breaks) -> Result<Tree> {
    let mut tree = Tree::default();
    let limit = first.map_or_else(String::new, |first| format!("WHERE o.position <= {first}"));
    let events = format!(
        "SELECT {COLUMNS} FROM event_order o JOIN event e ON e.id = o.event_id {limit} ORDER BY o.position"
    );
    stream(tx, &events, |event: Stored| {
        if !event.holds() {
            breaks.push(format!(
                "{}: event {} was changed after it was written",
                event.subject_id, event.number
            ));
        }
        tree.push(&event.hash);
        Ok(())
    })
    .await?;
    Ok(tree)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn statement() -> Statement {
        let mut tree = Tree::default();
        tree.push(&[1; 32]);
        tree.push(&[2; 32]);
        let at = chrono::DateTime::from_timestamp(1_800_000_000, 5_000).unwrap();
        Statement::sign(&tree, at, &SigningKey::from_bytes(&[9; 32])).unwrap()
    }

    #[test]
    fn a_statement_survives_its_json_whatever_the_order_of_fields() {
        let written = serde_json::to_value(statement()).unwrap();
        let mut fields: Vec<_> = written.as_object().unwrap().iter().collect();
        fields.reverse();
        let fields: Vec<String> =
            fields.into_iter().map(|(name, value)| format!("\"{name}\": {value}")).collect();
        let read: Statement = serde_json::from_str(&format!("{{ {} }}", fields.join(",\n"))).unwrap();
        assert_eq!(read, statement());
        assert_eq!(hex::encode(read.check().unwrap()), read.root);
    }

    /// The bytes are written out here, as another tool would lay them out by RFC 8785.
    #[test]
    fn the_signature_is_over_the_canonical_form_of_the_other_fields() {
        let it = statement();
        let bytes = format!(
            "{{\"at\":\"2027-01-15T08:00:00.000005Z\",\"events\":2,\"format\":1,\"key\":\"{}\",\
             \"kind\":\"stillroom-journal-statement\",\"root\":\"{}\"}}",
            it.key, it.root
        );
        let key = SigningKey::from_bytes(&[9; 32]).verifying_key();
        let signature = Signature::from_slice(&hex::decode(&it.signature).unwrap()).unwrap();
        key.verify_strict(bytes.as_bytes(), &signature).unwrap();
    }

    #[test]
    fn a_changed_statement_is_not_believed() {
        let fault = |change: &dyn Fn(&mut Statement)| {
            let mut changed = statement();
            change(&mut changed);
            changed.check().unwrap_err()
        };
        assert_eq!(fault(&|it| it.format = 2), StatementFault::Format(2));
        assert_eq!(fault(&|it| it.kind.clear()), StatementFault::Kind);
        assert_eq!(fault(&|it| it.events = u64::MAX), StatementFault::TooMany);
        assert_eq!(fault(&|it| it.events = 1), StatementFault::Signature);
        assert_eq!(fault(&|it| it.at = it.at.replace("2027", "2028")), StatementFault::Signature);
        assert_eq!(fault(&|it| it.root = "00".repeat(32)), StatementFault::Signature);
        assert_eq!(fault(&|it| it.root.truncate(10)), StatementFault::Hex("root"));
        assert_eq!(fault(&|it| it.key = "zz".repeat(32)), StatementFault::Hex("key"));
        let other = SigningKey::from_bytes(&[8; 32]).verifying_key();
        assert_eq!(fault(&|it| it.key = hex::encode(other.as_bytes())), StatementFault::Signature);
        assert_eq!(fault(&|it| it.signature = "00".repeat(64)), StatementFault::Signature);
    }

    #[test]
    fn a_statement_with_a_further_field_is_refused() {
        let mut value = serde_json::to_value(statement()).unwrap();
        value["note"] = "x".into();
        assert!(serde_json::from_value::<Statement>(value).is_err());
    }
}
