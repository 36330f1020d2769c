//! The trade's words as enums: one macro, so that every list of words reads, writes and refuses alike.

use thiserror::Error;

/// A word that is not one of a list of the trade's words.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("\"{given}\" is not a known {what}. Use one of: {accepted}.")]
pub struct UnknownWord {
    /// What kind of word was looked for.
    pub what: &'static str,
    /// The word as given.
    pub given: String,
    /// The words that are accepted.
    pub accepted: String,
}

impl UnknownWord {
    pub(crate) fn new(what: &'static str, given: &str, accepted: &[&'static str]) -> Self {
        let given = given.chars().take(80).collect();
        Self { what, given, accepted: accepted.join(", ") }
    }
}

/// Makes an enum of words with `ALL`, `as_str`, `Display`, `FromStr` and serde as the word itself.
/// Reading forgives case, underscores and hyphens in place of spaces; writing always gives the one word.
macro_rules! words {
    ($(#[$about:meta])* $name:ident, $what:literal { $($(#[$doc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $(#[doc = $word] $(#[$doc])* $variant),+ }

        impl $name {
            /// Every word, in the order of the list.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word itself.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::words::UnknownWord;

            fn from_str(given: &str) -> Result<Self, Self::Err> {
                $crate::words::find(given, Self::ALL.iter().map(|word| (word.as_str(), *word)))
                    .ok_or_else(|| $crate::words::UnknownWord::new($what, given, &[$($word),+]))
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.as_str())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let given = <String as serde::Deserialize>::deserialize(deserializer)?;
                given.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}

pub(crate) use words;

/// The value whose word equals `given`, forgiving case and the sign between words.
pub(crate) fn find<T>(given: &str, mut words: impl Iterator<Item = (&'static str, T)>) -> Option<T> {
    fn plain(text: &str) -> impl Iterator<Item = char> {
        text.trim().chars().map(|c| if matches!(c, '_' | '-') { ' ' } else { c.to_ascii_lowercase() })
    }
    words.find(|(word, _)| plain(word).eq(plain(given))).map(|(_, value)| value)
}
