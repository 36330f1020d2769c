//! The density of ethanol-water mixtures, OIML R 22.
//!
//! `rho(p,t) = A1 + sum(k=2..12) A_k p^(k-1) + sum(k=1..6) B_k (t-20)^k + sum(i=1..5) sum(k=1..m_i) C_ik p^k
//! (t-20)^i`, with p the mass fraction of ethanol, t in °C, rho in kg/m3.

use crate::{Refusal, Source, Status};

/// The source of the density formula.
pub(super) static OIML_R22: Source = Source::fixed(
    "OIML R 22 (1975), International Alcoholometric Tables; Council Directive 76/766/EEC, annex",
    Status::Verified,
);

/// The coldest temperature for which the formula is valid, in °C.
pub const COLDEST: f64 = -20.0;
/// The hottest temperature for which the formula is valid, in °C.
pub const HOTTEST: f64 = 40.0;

pub(super) const A: [f64; 12] = [
    9.982_012_300E+2,
    -1.929_769_495E+2,
    3.891_238_958E+2,
    -1.668_103_923E+3,
    1.352_215_441E+4,
    -8.829_278_388E+4,
    3.062_874_042E+5,
    -6.138_381_234E+5,
    7.470_172_998E+5,
    -5.478_461_354E+5,
    2.234_460_334E+5,
    -3.903_285_426E+4,
];

pub(super) const B: [f64; 6] =
    [-2.061_851_3E-1, -5.268_254_2E-3, 3.613_001_3E-5, -3.895_770_2E-7, 7.169_354_0E-9, -9.973_923_1E-11];

pub(super) const C1: [f64; 11] = [
    1.693_443_461_530_087E-1,
    -1.046_914_743_455_169E+1,
    7.196_353_469_546_523E+1,
    -7.047_478_054_272_792E+2,
    3.924_090_430_035_045E+3,
    -1.210_164_659_068_747E+4,
    2.248_646_550_400_788E+4,
    -2.605_562_982_188_164E+4,
    1.852_373_922_069_467E+4,
    -7.420_201_433_430_137E+3,
    1.285_617_841_998_974E+3,
];

pub(super) const C2: [f64; 10] = [
    -1.193_013_005_057_01E-2,
    2.517_399_633_803_461E-1,
    -2.170_575_700_536_993,
    1.353_034_988_843_029E+1,
    -5.029_988_758_547_014E+1,
    1.096_355_666_577_57E+2,
    -1.422_753_946_421_155E+2,
    1.080_435_942_856_23E+2,
    -4.414_153_236_817_392E+1,
    7.442_971_530_188_783,
];

pub(super) const C3: [f64; 9] = [
    -6.802_995_733_503_803E-4,
    1.876_837_790_289_664E-2,
    -2.002_561_813_734_156E-1,
    1.022_992_966_719_22,
    -2.895_696_483_903_638,
    4.810_060_584_300_675,
    -4.672_147_440_794_683,
    2.458_043_105_903_461,
    -5.411_227_621_436_812E-1,
];

pub(super) const C4: [f64; 4] =
    [4.075_376_675_622_027E-6, -8.763_058_573_471_11E-6, 6.515_031_360_099_368E-6, -1.515_784_836_987_21E-6];

pub(super) const C5: [f64; 2] = [-2.788_074_354_782_409E-8, 1.345_612_883_493_354E-8];

/// A polynomial with the constant first, and its derivative.
fn horner(coefficients: &[f64], x: f64) -> (f64, f64) {
    coefficients
        .iter()
        .rev()
        .fold((0.0, 0.0), |(value, slope), coefficient| (value * x + coefficient, slope * x + value))
}

/// Density in kg/m3 and its derivative by p; the caller has checked the range.
pub(super) fn density_and_slope(p: f64, t: f64) -> (f64, f64) {
    let (mut rho, mut slope) = horner(&A, p);
    let d = t - 20.0;
    if d == 0.0 {
        return (rho, slope);
    }
    // B and C have no constant term: sum(B_k d^k) = d * horner(B).
    rho += d * horner(&B, d).0;
    let mut power = d;
    for row in [&C1[..], &C2, &C3, &C4, &C5] {
        let (value, by_p) = horner(row, p);
        rho += power * p * value;
        slope += power * (value + p * by_p);
        power *= d;
    }
    (rho, slope)
}

/// The density in kg/m3 of a mixture with the mass fraction `p` of ethanol at `t` °C.
///
/// # Errors
/// Refuses a fraction outside 0 to 1 and a temperature outside -20 to 40 °C.
///
/// ```
/// let half = galenics::alcohol::density(0.5, 20.0)?;
/// assert!((half - 913.770_595_0).abs() < 1e-6);
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn density(p: f64, t: f64) -> Result<f64, Refusal> {
    within(p, t)?;
    Ok(density_and_slope(p, t).0)
}

/// Refuses what the formula does not cover.
pub(super) fn within(p: f64, t: f64) -> Result<(), Refusal> {
    if !(0.0..=1.0).contains(&p) {
        return Err(Refusal::out_of_range("strength", "The strength must be 0 to 100 %."));
    }
    if !(COLDEST..=HOTTEST).contains(&t) {
        return Err(Refusal::out_of_range(
            "temperature",
            "The temperature must be -20 to 40 °C, the range of the alcohol density formula.",
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_coefficients_add_up_to_their_published_sums() {
        let near = |sum: f64, published: f64, within: f64| assert!((sum - published).abs() < within, "{sum}");
        near(A.iter().sum(), 789.239_123_299_914_4, 1e-6);
        near(C1.iter().sum(), -0.648_923_08, 1e-8);
        near(C2.iter().sum(), 0.004_901_899, 1e-9);
        near(C3.iter().sum(), -3.813_296_3E-5, 1e-12);
        near(C4.iter().sum(), 3.115_646_3E-7, 1e-14);
        near(C5.iter().sum(), -1.442_461_5E-8, 1e-15);
    }

    #[test]
    fn the_slope_is_the_slope() {
        for p in [0.05, 0.3, 0.62, 0.95] {
            for t in [-10.0, 5.0, 20.0, 33.0] {
                let rise = (density_and_slope(p + 1e-6, t).0 - density_and_slope(p - 1e-6, t).0) / 2e-6;
                assert!((rise - density_and_slope(p, t).1).abs() < 1e-2, "{p} {t}");
            }
        }
    }
}
