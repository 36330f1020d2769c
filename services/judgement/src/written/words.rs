//! Stored enumerations. Each has a counterpart in `wire`; a new variant there fails to compile until it is stored here.

/// Defines a stored enumeration: its words in JSON, and the conversions from and to its counterpart in `wire`.
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
            /// The word as it is stored.
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
    /// The regime that a preparation is made under.
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

    /// Where a caution is read.
    Group as wire::safety::CautionGroup {
        /// Who must not use it.
        MustNot = "must_not",
        /// Who asks first.
        AskFirst = "ask_first",
        /// How it is used.
        HowToUse = "how_to_use",
        /// How it is kept.
        HowToKeep = "how_to_keep",
        /// For whoever makes it.
        ForTheMaker = "for_the_maker",
    }

    /// What a caution is about.
    Stage as wire::safety::CautionStage {
        /// While it is made.
        Making = "making",
        /// While it is kept.
        Keeping = "keeping",
        /// When it is used.
        Use = "use",
    }

    /// The level of a caution, the weakest first.
    Level as wire::safety::CautionLevel {
        /// Shown only.
        Note = "note",
        /// Must be acknowledged with the set.
        Caution = "caution",
        /// Must be acknowledged individually.
        Contraindication = "contraindication",
        /// Blocks approval.
        Stop = "stop",
    }

    /// The system of cups, spoons and fluid ounces.
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

impl Stage {
    /// Where a caution of this stage is read, with the stage in the words of the reference data.
    #[must_use]
    pub fn group(self, level: Level, for_everyone: bool) -> (materia::Group, materia::Stage) {
        let barred = level >= Level::Contraindication;
        match self {
            Self::Making if barred => (materia::Group::MustNot, materia::Stage::Making),
            Self::Making => (materia::Group::ForTheMaker, materia::Stage::Making),
            Self::Keeping => (materia::Group::HowToKeep, materia::Stage::Keeping),
            Self::Use if barred => (materia::Group::MustNot, materia::Stage::Use),
            Self::Use if for_everyone => (materia::Group::HowToUse, materia::Stage::Use),
            Self::Use => (materia::Group::AskFirst, materia::Stage::Use),
        }
    }
}
