//! Enumerations whose words are the same in JSON, in the database and in messages.

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
            type Err = $crate::problem::UnknownWord;
            fn from_str(word: &str) -> Result<Self, Self::Err> {
                match word {
                    $($word => Ok(Self::$variant),)+
                    _ => Err($crate::problem::UnknownWord {
                        word: word.to_owned(),
                        accepted: [$($word),+].join(", "),
                    }),
                }
            }
        }
    };
}
pub(crate) use words;
