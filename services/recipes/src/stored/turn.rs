//! Conversion of stored types to those of `wire` and back, field by field.

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;
use wire::ids::{AmendmentId, EntryId, FormulaId, RevisionId};

/// Conversion to the counterpart on the other side, without loss.
pub trait Turn<T> {
    /// Returns the counterpart.
    fn turn(self) -> T;
}

impl<A: Turn<B>, B> Turn<Option<B>> for Option<A> {
    fn turn(self) -> Option<B> {
        self.map(Turn::turn)
    }
}

impl<A: Turn<B>, B> Turn<Vec<B>> for Vec<A> {
    fn turn(self) -> Vec<B> {
        self.into_iter().map(Turn::turn).collect()
    }
}

impl<A: Turn<B>, B> Turn<Box<B>> for Box<A> {
    fn turn(self) -> Box<B> {
        Box::new((*self).turn())
    }
}

/// Rule and sentence of a figure: stored as text, which is empty where there is none.
impl Turn<Option<String>> for String {
    fn turn(self) -> Option<String> {
        (!self.is_empty()).then_some(self)
    }
}

impl Turn<String> for Option<String> {
    fn turn(self) -> String {
        self.unwrap_or_default()
    }
}

macro_rules! same {
    ($($plain:ty),+) => {$(
        impl Turn<$plain> for $plain {
            fn turn(self) -> $plain {
                self
            }
        }
    )+};
}
same!(String, bool, u32, NaiveDate, DateTime<Utc>);

macro_rules! ids {
    ($($id:ident),+) => {$(
        impl Turn<$id> for Uuid {
            fn turn(self) -> $id {
                $id(self)
            }
        }

        impl Turn<Uuid> for $id {
            fn turn(self) -> Uuid {
                self.0
            }
        }
    )+};
}
ids!(AmendmentId, EntryId, FormulaId, RevisionId);

/// Defines stored structs with the fields of their counterparts in `wire`, and converts each into the other. A new
/// field on one side fails to compile until the other side has it too.
#[macro_export]
macro_rules! stored_structs {
    ($($(#[$meta:meta])* $name:ident as $travels:path {
        $($(#[$field_meta:meta])* $field:ident: $type:ty),+ $(,)?
    })+) => {$(
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
        pub struct $name {
            $($(#[$field_meta])* pub $field: $type),+
        }

        impl $crate::stored::Turn<$name> for $travels {
            fn turn(self) -> $name {
                let $travels { $($field),+ } = self;
                $name { $($field: $crate::stored::Turn::turn($field)),+ }
            }
        }

        impl $crate::stored::Turn<$travels> for $name {
            fn turn(self) -> $travels {
                let $name { $($field),+ } = self;
                $travels { $($field: $crate::stored::Turn::turn($field)),+ }
            }
        }
    )+};
}

/// Implements [`Turn`] for types that have `From` conversions.
#[macro_export]
macro_rules! turned_by_from {
    ($($stored:ty as $travels:ty),+ $(,)?) => {$(
        impl $crate::stored::Turn<$stored> for $travels {
            fn turn(self) -> $stored {
                self.into()
            }
        }

        impl $crate::stored::Turn<$travels> for $stored {
            fn turn(self) -> $travels {
                self.into()
            }
        }
    )+};
}
