//! Words as they are kept. Each has its partner in `wire`, and a new word there does not compile until it is said here
//! how it is kept.

/// Defines a kept enumeration: its words in stored JSON, and the way to and from the enumeration that travels.
#[macro_export]
macro_rules! stored_words {
    ($($(#[$meta:meta])* $name:ident as $travels:ty {
        $($(#[$variant_meta:meta])* $variant:ident = $word:literal),+ $(,)?
    })+) => {$(
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $($(#[$variant_meta])* #[serde(rename = $word)] $variant),+
        }

        impl $name {
            /// The word as it is kept.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl From<$travels> for $name {
            fn from(word: $travels) -> Self {
                match word { $(<$travels>::$variant => Self::$variant),+ }
            }
        }

        impl From<$name> for $travels {
            fn from(word: $name) -> Self {
                match word { $($name::$variant => <$travels>::$variant),+ }
            }
        }
    )+};
}

stored_words! {
    /// What a preparation is made as.
    Regime as wire::formulary::Regime {
        /// A cosmetic product.
        Cosmetic = "cosmetic",
        /// A herbal medicine.
        HerbalMedicine = "herbal_medicine",
        /// A food.
        Food = "food",
        /// For teaching only.
        TeachingOnly = "teaching_only",
    }

    /// How strongly a caution binds, the weakest first.
    Level as wire::safety::CautionLevel {
        /// Shown.
        Note = "note",
        /// Acknowledged with the set.
        Caution = "caution",
        /// Acknowledged on its own.
        Contraindication = "contraindication",
        /// Blocks approval.
        Stop = "stop",
    }

    /// Which cups, spoons and fluid ounces were meant.
    Customary as wire::policy::Customary {
        /// United States customary measures.
        Us = "us",
        /// Imperial measures.
        Imperial = "imperial",
        /// Metric measures.
        Metric = "metric",
    }
}

impl From<galenics::Customary> for Customary {
    fn from(family: galenics::Customary) -> Self {
        match family {
            galenics::Customary::Us => Self::Us,
            galenics::Customary::Imperial => Self::Imperial,
            galenics::Customary::Metric => Self::Metric,
        }
    }
}

impl From<Customary> for galenics::Customary {
    fn from(family: Customary) -> Self {
        match family {
            Customary::Us => Self::Us,
            Customary::Imperial => Self::Imperial,
            Customary::Metric => Self::Metric,
        }
    }
}
