//! The calculators: what the bench asks without any formula, and the answers.
//!
//! Amounts, shares, temperatures and densities are strings as the trade writes them (`2.5 US cups`, `40 %`,
//! `20 C`, `0.91 g/mL`), plain numbers are decimal strings. A body asks one question; where a subject has several,
//! the question is named by the body's only field. What never happens here: a calculation, or anything kept.

pub mod alcohol;
pub mod cost;
pub mod dose;
pub mod emulsion;
pub mod extraction;
pub mod quantity;
pub mod skin_limits;
pub mod strength;
pub mod use_by;
pub mod weighing;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::figure::Figure;

/// Defines the questions of a subject: an enumeration that travels as an object with one field, named after the
/// question. Read by hand, so that a field that does not belong is refused by its name and not as broken JSON.
macro_rules! questions {
    ($(#[$meta:meta])* $name:ident { $($(#[$about:meta])* $variant:ident($of:ty) = $field:ident),+ $(,)? }) => {
        #[derive(Clone, Debug, serde::Serialize, utoipa::ToSchema)]
        $(#[$meta])*
        #[serde(rename_all = "snake_case")]
        pub enum $name {
            $($(#[$about])* $variant($of)),+
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                #[derive(serde::Deserialize)]
                #[serde(deny_unknown_fields)]
                struct Fields {
                    $($field: Option<$of>),+
                }
                let fields = Fields::deserialize(deserializer)?;
                let mut named = [$(fields.$field.map(Self::$variant)),+].into_iter().flatten();
                match (named.next(), named.next()) {
                    (Some(one), None) => Ok(one),
                    _ => Err(serde::de::Error::custom(concat!(
                        "name exactly one question of:",
                        $(" ", stringify!($field)),+
                    ))),
                }
            }
        }
    };
}
pub(crate) use questions;

/// The result.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Calculated {
    /// The figures, each explaining itself.
    pub figures: Vec<Figure>,
    /// How typed amounts were read, if they have several meanings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(example = json!(["\"1 cup\" is read in US measures: US cup"]))]
    pub notes: Vec<String>,
}

/// A material and how much of it, in a list of what something is made of.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Ingredient {
    /// A material of the materia medica, by name, synonym or id.
    #[schema(example = "olive oil")]
    pub material: String,
    /// How much: `80 g`, `25 mL`, `0.4 %`, `2 parts`, or `q.s. 1000 g` for one of them.
    #[schema(example = "80 g")]
    pub amount: String,
}
