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
            strum::Display, strum::EnumString, strum::IntoStaticStr, strum::VariantArray, utoipa::ToSchema)]
        #[strum(parse_err_fn = Self::unknown, parse_err_ty = $crate::words::UnknownWord)]
        pub enum $name {
            $($(#[$vmeta])* #[serde(rename = $word)] #[strum(serialize = $word)] $variant),+
        }

        impl $name {
            /// Every variant, in the order of definition.
            pub const ALL: &'static [Self] = <Self as strum::VariantArray>::VARIANTS;

            /// The word as it is written in JSON and in the database.
            #[must_use]
            pub fn as_str(self) -> &'static str {
                self.into()
            }

            fn unknown(word: &str) -> $crate::words::UnknownWord {
                $crate::words::UnknownWord { word: word.to_owned(), accepted: [$($word),+].join(", ") }
            }
        }

    };
}
pub(crate) use words;
