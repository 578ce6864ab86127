//! The exponential of many numbers side by side.
//!
//! A reader would question a second exponential beside the library's. That one takes numbers one at a time; this one is plain
//! arithmetic without a branch or a look-up, so that a processor works out several at once, and gives the same digits everywhere.

/// log2(e).
const LOG2_E: f64 = std::f64::consts::LOG2_E;
/// ln 2 in two parts; the first ends in so many zeros that its product with a whole number is exact.
const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// Added to a number of under 2^51, this leaves its nearest whole number in the lowest bits.
const SHIFT: f64 = 1.5 * (1u64 << 52) as f64;
/// Below this the result is as small as makes no difference, and its exponent would not fit.
const LEAST: f64 = -700.0;
/// 1 / k! from 13 on downwards to 2: the rest of the series is under 5e-18 for arguments of at most ln 2 / 2.
const SERIES: [f64; 12] = [
    1.0 / 6_227_020_800.0,
    1.0 / 479_001_600.0,
    1.0 / 39_916_800.0,
    1.0 / 3_628_800.0,
    1.0 / 362_880.0,
    1.0 / 40_320.0,
    1.0 / 5_040.0,
    1.0 / 720.0,
    1.0 / 120.0,
    1.0 / 24.0,
    1.0 / 6.0,
    0.5,
];

/// exp(x) for x of at most 0; exp(-700) for everything below -700.
///
/// # Computes
/// 2^k times the series of what is left of x after k times ln 2.
/// # Takes
/// A number of at most 0; nothing is promised of others.
/// # Gives
/// The exponential within one unit of its last digit.
/// # Source
/// Taylor's series; the split of ln 2 of Cody and Waite 1980 (from memory).
/// # Checked against
/// `libm`, below.
#[inline]
pub fn exp_below_zero(x: f64) -> f64 {
    let x = if x < LEAST { LEAST } else { x };
    let shifted = x * LOG2_E + SHIFT;
    let whole = shifted - SHIFT;
    let left = (x - whole * LN2_HIGH) - whole * LN2_LOW;
    let [first, rest @ ..] = SERIES;
    let sum = rest.iter().fold(first, |sum, term| sum * left + term);
    let series = 1.0 + (left + left * left * sum);
    // The whole number goes into the exponent; what lies above it in the shifted number falls out.
    f64::from_bits(series.to_bits().wrapping_add(shifted.to_bits() << 52))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn within_a_digit(x: f64) -> bool {
        let (got, wanted) = (exp_below_zero(x), libm::exp(x));
        (got.to_bits() as i64 - wanted.to_bits() as i64).abs() <= 1
    }

    #[test]
    fn the_ends() {
        assert_eq!(exp_below_zero(0.0).to_bits(), 1.0f64.to_bits());
        assert_eq!(exp_below_zero(-0.0).to_bits(), 1.0f64.to_bits());
        assert_eq!(exp_below_zero(f64::NEG_INFINITY).to_bits(), exp_below_zero(-700.0).to_bits());
        assert!([-1e-300, -1e-17, -0.5, -1.0, -37.5, -699.9, -700.0].into_iter().all(within_a_digit));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]

        #[test]
        fn the_library_agrees(x in prop_oneof![-1.0..0.0, -40.0..0.0, -700.0..0.0]) {
            prop_assert!(within_a_digit(x), "{} {}", exp_below_zero(x), libm::exp(x));
        }
    }
}
