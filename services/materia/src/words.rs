//! Enums whose members are words of the trade: one spelling in the data files, in JSON and on the page.

/// Declares an enum together with the one word that each member is written as.
///
/// It may not be used for members that carry data. The word is what the data files, the serialised form and
/// `Display` all show, so that a spelling exists in exactly one place.
macro_rules! words {
    ($(#[$outer:meta])* pub enum $name:ident { $($(#[$inner:meta])* $member:ident = $word:literal),+ $(,)? }) => {
        $(#[$outer])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $($(#[$inner])* $member),+ }

        impl $name {
            /// Every member, in the order of declaration.
            pub const ALL: &'static [Self] = &[$(Self::$member),+];

            /// The word that this member is written as.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$member => $word),+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                out.write_str(self.word())
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::UnknownWord;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Self::ALL.iter().copied().find(|member| member.word() == text).ok_or_else(|| {
                    $crate::UnknownWord {
                        found: text.to_owned(),
                        accepted: Self::ALL.iter().map(|member| member.word()).collect::<Vec<_>>().join(", "),
                    }
                })
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
                out.serialize_str(self.word())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = String::deserialize(from)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}
pub(crate) use words;
