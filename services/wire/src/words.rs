//! Enumerations whose words are the same in JSON, in the database and in messages.

/// A word outside the accepted list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownWord {
    /// The word as it was sent.
    pub word: String,
    /// The accepted words, separated by commas.
    pub accepted: String,
}

impl std::fmt::Display for UnknownWord {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?} is not accepted. Send one of: {}.", self.word, self.accepted)
    }
}

impl std::error::Error for UnknownWord {}

/// Defines an enumeration with one written form per variant, used by serde, [`std::fmt::Display`] and
/// [`std::str::FromStr`] alike.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:tt),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
            utoipa::ToSchema)]
        pub enum $name {
            $($(#[$vmeta])* #[serde(rename = $word)] $variant),+
        }

        impl $name {
            /// Every variant, in the order of definition.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word as it is written in JSON and in the database.
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
            fn from_str(word: &str) -> Result<Self, Self::Err> {
                match word {
                    $($word => Ok(Self::$variant),)+
                    _ => Err($crate::words::UnknownWord {
                        word: word.to_owned(),
                        accepted: [$($word),+].join(", "),
                    }),
                }
            }
        }
    };
}
pub(crate) use words;
