//! The data files as text: those built into the crate, or others put in their place to be read the same way.

use std::borrow::Cow;

/// The files that make up a data set, by name.
#[derive(Debug, Clone)]
pub struct Files {
    texts: Vec<(&'static str, Cow<'static, str>)>,
}

macro_rules! embed {
    ($($name:literal),+ $(,)?) => {
        vec![$(($name, Cow::Borrowed(include_str!(concat!("../data/", $name))))),+]
    };
}

impl Files {
    /// The files built into the crate.
    #[must_use]
    pub fn embedded() -> Self {
        Self {
            texts: embed![
                "dataset.toml",
                "sources.csv",
                "regimes.csv",
                "allergy_groups.csv",
                "allergies.csv",
                "substances.csv",
                "species.csv",
                "look_alikes.csv",
                "preparations.csv",
                "routes.csv",
                "materials.csv",
                "properties.csv",
                "constituents.csv",
                "forms.csv",
                "evidence.csv",
                "cautions.csv",
                "thresholds.csv",
                "stops.csv",
                "limits.csv",
                "allergens.csv",
                "dating_sets.csv",
                "dating_rules.csv",
            ],
        }
    }

    /// The same files with one of them replaced. A name that is not among them changes nothing.
    #[must_use]
    pub fn with(mut self, name: &str, text: impl Into<String>) -> Self {
        if let Some((_, held)) = self.texts.iter_mut().find(|(held, _)| *held == name) {
            *held = Cow::Owned(text.into());
        }
        self
    }

    /// The text of one file.
    #[must_use]
    pub fn text(&self, name: &str) -> &str {
        self.texts.iter().find(|(held, _)| *held == name).map_or("", |(_, text)| text.as_ref())
    }

    /// A fingerprint of names and texts (FNV-1a, 64 bits, in hexadecimal). It tells two data sets apart; it
    /// protects against nothing.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let bytes = self.texts.iter().flat_map(|(name, text)| [name.as_bytes(), &[0], text.as_bytes(), &[0]]);
        let hash = bytes.flatten().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
        });
        format!("{hash:016x}")
    }
}
