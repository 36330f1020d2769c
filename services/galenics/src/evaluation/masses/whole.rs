//! The mass of the whole: what lines come to, or what a volume is made up to, with its contraction.

use rust_decimal::Decimal;

use super::super::{
    contraction::Liquor,
    sums::Sums,
    weigh::{Charge, g_per_ml},
};
use super::plan::{Plan, Whole, base, by_mass, share_of};
use crate::{
    Formula, FormulaProblem, Location, ProblemKind, Unknown,
    number::{HUNDRED, dec, divide},
};

/// How often the contraction is put in again at most; a dozen turns are usual.
const MOST_TURNS: u32 = 100;
/// How close two turns must come, as a share: as many digits as the density formula gives.
const CLOSE: Decimal = dec("0.00000000001");

impl Plan {
    /// The mass of the whole that shares by mass are of.
    pub(super) fn whole_mass(
        &self,
        formula: &Formula,
        charges: &[Charge<'_>],
        sums: &Sums,
    ) -> Result<Result<Decimal, Unknown>, Vec<FormulaProblem>> {
        let problem = |at, kind| Err(vec![FormulaProblem { at, kind }]);
        let out_of_range =
            || vec![FormulaProblem { at: Location::formula("phases"), kind: ProblemKind::OutOfRange }];
        match self.whole {
            Whole::Mass(mass) => Ok(Ok(mass)),
            Whole::Volume(volume) => match self.solve_volume(volume, charges, sums) {
                Ok(Some(mass)) => Ok(Ok(mass)),
                Ok(None) => Err(out_of_range()),
                Err(unknown) => Ok(Err(unknown)),
            },
            Whole::Lines if self.quantities && self.shares.is_zero() => Ok(sums.all.clone()),
            Whole::Lines if self.quantities => {
                if self.shares >= Decimal::ONE {
                    return problem(self.last_share(charges), ProblemKind::NothingLeft);
                }
                let rest = Decimal::ONE - self.shares;
                match &sums.all {
                    Ok(all) => Ok(Ok(divide(*all, rest).ok_or_else(out_of_range)?)),
                    Err(unknown) => Ok(Err(unknown.clone())),
                }
            }
            Whole::Lines => {
                let strained = charges.iter().any(|charge| !charge.stays);
                let stated = match formula.yields.as_ref().map(|yields| base(yields.quantity())) {
                    Some(Whole::Mass(mass)) if !strained => Some(mass),
                    _ => None,
                };
                if self.parts > Decimal::ZERO {
                    if self.shares >= Decimal::ONE {
                        return problem(self.last_share(charges), ProblemKind::NothingLeft);
                    }
                    let one_gram_each = divide(self.parts, Decimal::ONE - self.shares);
                    return Ok(Ok(stated.or(one_gram_each).ok_or_else(out_of_range)?));
                }
                if self.shares < Decimal::ONE {
                    let percent = self.shares.saturating_mul(HUNDRED).normalize();
                    return problem(self.last_share(charges), ProblemKind::BelowHundred(percent));
                }
                Ok(Ok(stated.unwrap_or(HUNDRED)))
            }
        }
    }

    fn last_share(&self, charges: &[Charge<'_>]) -> Location {
        charges
            .iter()
            .rev()
            .find(|charge| share_of(charge.of.amount.kind()).is_some())
            .map_or(Location::formula("phases"), |charge| Location::line(charge.phase, charge.line, "amount"))
    }

    /// The mass of a whole that is made up to a volume V. With A and V_A the mass and volume of the lines known by
    /// themselves, p_i the shares by mass with densities d_i, d the density of the line that makes up, and K what
    /// ethanol and water lose by being put together: `T = (V + K(T) - V_A + A/d) / (sum(p_i/d_i) + (1 - sum p_i)/d)`.
    /// K depends on T. It changes by a small part of the change of T, so that putting it in again comes to the end.
    fn solve_volume(
        &self,
        volume: Decimal,
        charges: &[Charge<'_>],
        sums: &Sums,
    ) -> Result<Option<Decimal>, Unknown> {
        let Some(filler) = self.make_up.and_then(|at| charges.get(at)) else {
            return Ok(None);
        };
        let filling = g_per_ml(filler.of, filler.nested)?;
        let (mass_there, volume_there) = (sums.kept.clone()?, sums.kept_volume.clone()?);
        let (mut shares, mut specific) = (Decimal::ZERO, Decimal::ZERO);
        let mut by_share = vec![];
        for charge in charges.iter().filter(|charge| charge.stays) {
            if let Some((share, _)) = share_of(charge.of.amount.kind()).filter(|(_, basis)| by_mass(*basis)) {
                by_share.push((share, Liquor::of_charge(charge)));
                let density = charge.filling()?;
                shares = shares.saturating_add(share);
                specific = specific.saturating_add(divide(share, density).unwrap_or(Decimal::MAX));
            }
        }
        let solve = |lost: Decimal| {
            let apart = volume.checked_add(lost)?;
            let above = apart.checked_sub(volume_there)?.checked_add(divide(mass_there, filling)?)?;
            let below = specific.checked_add(divide(Decimal::ONE.checked_sub(shares)?, filling)?)?;
            divide(above, below)
        };
        let lost = |whole: Decimal| {
            let mut all = sums.contraction.clone();
            for (share, of) in &by_share {
                all.add(of.clone().map(|of| of.times(whole.saturating_mul(*share))));
            }
            let rest = whole.saturating_mul(Decimal::ONE - shares).saturating_sub(mass_there);
            all.add(Liquor::of_charge(filler).map(|of| of.times(rest.max(Decimal::ZERO))));
            all.lost()
        };
        let Some(mut whole) = solve(Decimal::ZERO) else { return Ok(None) };
        for _ in 0..MOST_TURNS {
            let Some(next) = solve(lost(whole)?) else { return Ok(None) };
            let close = next.saturating_sub(whole).abs() <= next.abs().saturating_mul(CLOSE);
            whole = next;
            if close {
                break;
            }
        }
        Ok(Some(whole))
    }
}
