//! The sums of the lines that do not depend on the whole.

use rust_decimal::Decimal;

use super::{
    contraction::{Contraction, Liquor},
    weigh::{Charge, Weighed, add},
};
use crate::{Unknown, number::dec};

/// The sums of the lines that are known by themselves.
pub(super) struct Sums {
    /// Everything put in.
    pub(super) all: Result<Decimal, Unknown>,
    /// What stays in the preparation.
    pub(super) kept: Result<Decimal, Unknown>,
    /// The volume of what stays, each line by itself.
    pub(super) kept_volume: Result<Decimal, Unknown>,
    /// The ethanol and water of what stays.
    pub(super) contraction: Contraction,
}

impl Sums {
    pub(super) fn of(charges: &[Charge<'_>], weighed: &[Option<Weighed>]) -> Option<Self> {
        let mut sums = Self {
            all: Ok(Decimal::ZERO),
            kept: Ok(Decimal::ZERO),
            kept_volume: Ok(Decimal::ZERO),
            contraction: Contraction::new(),
        };
        for (charge, weighed) in charges.iter().zip(weighed) {
            let Some(weighed) = weighed else { continue };
            // How much brings it to a pH is known when it is done, and little: the rest is reckoned without it.
            if charge.is_to_ph() {
                continue;
            }
            let mass = weighed.mass.known();
            add(&mut sums.all, &mass)?;
            if charge.stays {
                add(&mut sums.kept, &mass)?;
                let volume = match weighed.volume {
                    Some(volume) => Ok(volume),
                    None => Err(charge.filling().err().or_else(|| mass.err())?),
                };
                add(&mut sums.kept_volume, &volume)?;
                if let Ok(mass) = weighed.mass.known() {
                    sums.contraction.add(Liquor::of_charge(charge).map(|of| of.times(mass)));
                }
            }
        }
        let most = dec("1000000000000");
        if [&sums.all, &sums.kept_volume].iter().any(|sum| sum.as_ref().is_ok_and(|sum| *sum > most)) {
            return None;
        }
        Some(sums)
    }
}
