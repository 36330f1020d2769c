//! A limit as data, the use that it is held against, and what a check comes to.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{Fraction, Source, Text, words::words};

words! {
    /// How a preparation meets the body.
    Exposure, "exposure" {
        LeaveOn = "leave-on",
        RinseOff = "rinse-off",
        SunProduct = "sun-product",
        ByMouth = "by-mouth",
        Inhaled = "inhaled",
        Mucosa = "mucosa",
    }
}

words! {
    /// Whether a share counts as it is or as the acid that it gives.
    LimitBasis, "basis of a limit" {
        AsIs = "as-is",
        AsAcid = "as-acid",
    }
}

words! {
    /// For which purpose a limit holds.
    Purpose, "purpose" {
        Any = "any",
        Preservative = "preservative",
        OtherThanPreservative = "other-than-preservative",
    }
}

words! {
    /// What a check comes to.
    Verdict, "verdict" {
        Within = "within",
        /// Not a pass: there is no limit to hold it against.
        NotCovered = "not covered",
        Exceeded = "exceeded",
        Prohibited = "prohibited",
        /// Not a pass: something that would have to be counted is not known.
        Unknown = "unknown",
    }
}

/// What a limit is on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// A substance, summed over all materials that hold it.
    Substance(Text),
    /// A material as such.
    Material(Text),
}

/// The bound that a limit sets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// None of it.
    Prohibited,
    /// At most so much, by mass of what is made.
    Maximum(Fraction),
}

/// One limit, as data.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Limit {
    /// A stable key.
    pub key: Text,
    /// The regime in which it binds.
    pub regime: Text,
    /// Whose limit it is, such as `EU law`: only a limit of the same authority takes its place.
    pub authority: Text,
    /// What it is on.
    pub subject: Subject,
    /// The name of what it is on, for the sentences.
    pub name: Text,
    /// For which exposure; all where it is not said.
    pub exposure: Option<Exposure>,
    /// For which part of the body; all where it is not said.
    pub site: Option<Text>,
    /// For which purpose.
    pub purpose: Purpose,
    /// Only for people younger than so many months; all where it is not said.
    pub under_months: Option<u32>,
    /// The bound.
    pub bound: Bound,
    /// As it is or as acid.
    pub basis: LimitBasis,
    /// Limits of one group share an effect: their fractions together must not pass one.
    pub group: Option<Text>,
    /// Where it comes from.
    pub source: Source,
    /// A date of the source or of the rule, as text.
    pub date: Text,
}

/// For what a preparation is meant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Use {
    /// The regime it is made in.
    pub regime: Text,
    /// How it meets the body.
    pub exposure: Exposure,
    /// The part of the body, where it is meant for one.
    pub site: Option<Text>,
    /// The age in months of the youngest person it is meant for; adults only where it is not said.
    pub youngest_months: Option<u32>,
    /// The materials that preserve it, by id.
    pub preservatives: Vec<Text>,
}

impl Limit {
    /// Whether the limit binds a use.
    #[must_use]
    pub fn binds(&self, of: &Use) -> bool {
        self.regime == of.regime
            && self.exposure.is_none_or(|exposure| exposure == of.exposure)
            && self.site.as_ref().is_none_or(|site| of.site.as_ref() == Some(site))
            && self
                .under_months
                .is_none_or(|under| of.youngest_months.is_some_and(|youngest| youngest < under))
    }

    /// Whether it is more particular than another limit that binds the same use, and so takes its place: the same
    /// authority, subject, purpose and age, and a part of the body or an exposure named where the other names none.
    /// ```
    /// use galenics::{Fraction, Source, Status, number::dec};
    /// use galenics::limits::{Bound, Exposure, Limit, LimitBasis, Purpose, Subject};
    /// let general = Limit {
    ///     key: "other".into(), regime: "cosmetic".into(), authority: "EU law".into(),
    ///     subject: Subject::Substance("salicylic-acid".into()), name: "salicylic acid".into(),
    ///     exposure: None, site: None, purpose: Purpose::OtherThanPreservative, under_months: None,
    ///     bound: Bound::Maximum(Fraction::percent(dec("2"))?), basis: LimitBasis::AsAcid, group: None,
    ///     source: Source::fixed("Regulation (EC) No 1223/2009, Annex III, entry 98", Status::Verified),
    ///     date: "2024-05-13".into(),
    /// };
    /// let hair = Limit {
    ///     exposure: Some(Exposure::RinseOff), site: Some("hair".into()),
    ///     bound: Bound::Maximum(Fraction::percent(dec("3"))?), ..general.clone()
    /// };
    /// assert!(hair.displaces(&general) && !general.displaces(&hair) && !hair.displaces(&hair));
    /// # Ok::<(), galenics::QuantityError>(())
    /// ```
    #[must_use]
    pub fn displaces(&self, other: &Self) -> bool {
        fn within<T: PartialEq>(one: &Option<T>, other: &Option<T>) -> bool {
            other.is_none() || one == other
        }
        // The subject first: it tells most limits apart.
        self.subject == other.subject
            && self.regime == other.regime
            && self.authority == other.authority
            && self.purpose == other.purpose
            && self.under_months == other.under_months
            && within(&self.exposure, &other.exposure)
            && within(&self.site, &other.site)
            && (self.exposure != other.exposure || self.site != other.site)
    }

    /// The maximum, none for a prohibition.
    #[must_use]
    pub const fn maximum(&self) -> Option<Decimal> {
        match self.bound {
            Bound::Prohibited => None,
            Bound::Maximum(most) => Some(most.get()),
        }
    }
}
