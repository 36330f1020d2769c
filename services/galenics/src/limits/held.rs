//! What a preparation holds, arranged once so that each limit and allergen is a single look-up.

use std::collections::HashMap;

use rust_decimal::Decimal;

use super::{
    limit::Verdict,
    profile::{Constituent, Profile},
};
use crate::{Leaf, Unknown};

/// One material that holds something.
pub(super) struct Holding<'a> {
    pub(super) leaf: &'a Leaf,
    /// The constituent; none where it was never tested.
    pub(super) constituent: Option<&'a Constituent>,
}

impl Holding<'_> {
    /// What it brings to what is made of the substance with this name.
    pub(super) fn part(&self, substance: &str) -> Result<Decimal, Unknown> {
        let name = &self.leaf.material.name;
        let Some(constituent) = self.constituent else {
            return Err(Unknown::of(format!("{substance} in {name} (not tested)")));
        };
        let share = self.leaf.share.known()?;
        share.checked_mul(constituent.most.get()).ok_or_else(|| Unknown::of(format!("share of {name}")))
    }
}

/// What is made, by substance and by material.
pub(super) struct Held<'a> {
    substances: HashMap<&'a str, Vec<Holding<'a>>>,
    composition: &'a [Leaf],
}

impl<'a> Held<'a> {
    pub(super) fn of(composition: &'a [Leaf], profiles: &'a [Profile]) -> Self {
        let mut substances: HashMap<&str, Vec<Holding<'_>>> = HashMap::new();
        for profile in profiles {
            let Some(leaf) = composition.iter().find(|leaf| leaf.material.id == profile.material) else {
                continue;
            };
            for constituent in &profile.constituents {
                let holding = Holding { leaf, constituent: Some(constituent) };
                substances.entry(constituent.substance.as_str()).or_default().push(holding);
            }
            for substance in &profile.untested {
                let holding = Holding { leaf, constituent: None };
                substances.entry(substance.as_str()).or_default().push(holding);
            }
        }
        Self { substances, composition }
    }

    /// Everything that holds a substance.
    pub(super) fn substance(&self, id: &str) -> &[Holding<'a>] {
        self.substances.get(id).map(Vec::as_slice).unwrap_or_default()
    }

    /// A material as such.
    pub(super) fn material(&self, id: &str) -> Option<&'a Leaf> {
        self.composition.iter().find(|leaf| leaf.material.id.as_str() == id)
    }
}

/// A sum of parts of which some may not be known: as a whole, and what is known of it.
pub(super) struct Sum {
    whole: Result<Decimal, Unknown>,
    known: Decimal,
}

impl Sum {
    pub(super) const fn new() -> Self {
        Self { whole: Ok(Decimal::ZERO), known: Decimal::ZERO }
    }

    pub(super) fn add(&mut self, part: Result<Decimal, Unknown>) {
        let overflow = || Unknown::of("sum of the shares");
        if let Ok(part) = part {
            self.known = self.known.saturating_add(part);
        }
        self.whole = match (std::mem::replace(&mut self.whole, Ok(Decimal::ZERO)), part) {
            (Ok(sum), Ok(part)) => sum.checked_add(part).ok_or_else(overflow),
            (Err(a), Err(b)) => Err(a.and(&b)),
            (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
        };
    }

    /// Against the most that is allowed. What is known may be too much by itself: then what is not known changes nothing.
    pub(super) fn against(&self, most: Decimal) -> Verdict {
        match &self.whole {
            _ if self.known > most => Verdict::Exceeded,
            Ok(_) => Verdict::Within,
            Err(_) => Verdict::Unknown,
        }
    }

    /// What can be said of it against the most that is allowed: the whole, or what is known where that is too much.
    pub(super) fn counted(&self, most: Decimal) -> Result<Decimal, Unknown> {
        if self.known > most { Ok(self.known) } else { self.whole.clone() }
    }

    /// Whether it is more than what is known of it.
    pub(super) const fn is_at_least(&self) -> bool {
        self.whole.is_err()
    }
}
