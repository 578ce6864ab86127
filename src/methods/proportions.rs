//! One proportion: a count out of a count into an interval, three ways.
//!
//! The program publishes Wilson's; the exact and the Bayesian one stand beside it for comparison. A
//! reader would question the ends at none and at all: Wilson's and Clopper and Pearson's are
//! exactly 0 and 1 there.

use super::solve::NotSettled;
use super::special::{beta_quantile, normal_quantile};
use thiserror::Error;

/// Why there is no interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoProportion {
    /// Nothing was counted.
    #[error("no wells to take a share of")]
    Nothing,
    /// More were counted than there are.
    #[error("more counted than there are")]
    MoreThanAll,
    /// The level is not between 0 and 1.
    #[error("an interval needs a level between 0 and 1")]
    Level,
    /// The search for an end did not settle.
    #[error(transparent)]
    Search(#[from] NotSettled),
}

/// # Computes
/// Wilson's score interval without continuity correction: the shares that a two-sided normal test
/// would not reject.
/// # Takes
/// `x` of `n`, and the two-sided level, such as 0.95.
/// # Gives
/// Low and high end within 0 to 1; the ends are exactly 0 at `x` = 0 and exactly 1 at `x` = `n`.
/// # Errors
/// `n` = 0, `x` above `n`, a level outside 0 to 1.
/// # Source
/// Wilson 1927; Brown, Cai and DasGupta 2001 (from memory).
/// # Checked against
/// `tests/reference/statistics/04-proportions.json`, `05-exceedance.json`.
pub fn wilson(x: u64, n: u64, level: f64) -> Result<[f64; 2], NoProportion> {
    checked(x, n, level)?;
    Ok(wilson_of_share(x as f64 / n as f64, n as f64, level))
}

/// Wilson's interval of a share that rests on an effective, perhaps broken, number of results; both
/// are taken as checked.
pub(crate) fn wilson_of_share(p: f64, n: f64, level: f64) -> [f64; 2] {
    let z = normal_quantile(0.5 + 0.5 * level);
    let whole = 1.0 + z * z / n;
    let middle = (p + z * z / (2.0 * n)) / whole;
    let half = z / whole * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let low = if p <= 0.0 { 0.0 } else { (middle - half).max(0.0) };
    let high = if p >= 1.0 { 1.0 } else { (middle + half).min(1.0) };
    [low, high]
}

/// # Computes
/// Clopper and Pearson's exact interval: the shares under which neither `x` or more nor `x` or
/// fewer is rarer than half the remaining level.
/// # Takes, Gives, Errors
/// As `wilson`.
/// # Source
/// Clopper and Pearson 1934, through the beta distribution (from memory).
/// # Checked against
/// `tests/reference/statistics/04-proportions.json`.
pub fn clopper_pearson(x: u64, n: u64, level: f64) -> Result<[f64; 2], NoProportion> {
    checked(x, n, level)?;
    let (tail, hit, miss) = (0.5 * (1.0 - level), x as f64, (n - x) as f64);
    let low = if x == 0 { 0.0 } else { beta_quantile(hit, miss + 1.0, tail)? };
    let high = if x == n { 1.0 } else { 1.0 - beta_quantile(miss, hit + 1.0, tail)? };
    Ok([low, high])
}

/// # Computes
/// Equal tails of Beta(x + 1/2, n - x + 1/2).
/// # Takes, Gives, Errors
/// As `wilson`, but the ends at `x` = 0 and `n` stay inside 0 to 1.
/// # Source
/// Brown, Cai and DasGupta 2001 (from memory).
/// # Checked against
/// `tests/reference/statistics/04-proportions.json`.
pub fn jeffreys(x: u64, n: u64, level: f64) -> Result<[f64; 2], NoProportion> {
    checked(x, n, level)?;
    let (tail, a, b) = (0.5 * (1.0 - level), x as f64 + 0.5, (n - x) as f64 + 0.5);
    Ok([beta_quantile(a, b, tail)?, 1.0 - beta_quantile(b, a, tail)?])
}

/// `jeffreys` with the low end set to 0 at `x` = 0 and the high end to 1 at `x` = `n`.
pub fn jeffreys_edge_adjusted(x: u64, n: u64, level: f64) -> Result<[f64; 2], NoProportion> {
    let [low, high] = jeffreys(x, n, level)?;
    Ok([if x == 0 { 0.0 } else { low }, if x == n { 1.0 } else { high }])
}

fn checked(x: u64, n: u64, level: f64) -> Result<(), NoProportion> {
    match () {
        () if n == 0 => Err(NoProportion::Nothing),
        () if x > n => Err(NoProportion::MoreThanAll),
        () if !(level > 0.0 && level < 1.0) => Err(NoProportion::Level),
        () => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Newcombe 1998, 81 of 263: 0.2553 to 0.3662 (from memory).
    #[test]
    fn eighty_one_of_263() {
        let [low, high] = wilson(81, 263, 0.95).unwrap();
        assert!((low - 0.2553).abs() < 5e-5 && (high - 0.3662).abs() < 5e-5);
    }

    #[test]
    fn none_and_all_have_exact_ends() {
        assert_eq!((wilson(0, 20, 0.95).unwrap()[0], wilson(20, 20, 0.95).unwrap()[1]), (0.0, 1.0));
        assert_eq!((clopper_pearson(0, 20, 0.95).unwrap()[0], clopper_pearson(20, 20, 0.95).unwrap()[1]), (0.0, 1.0));
    }

    #[test]
    fn what_is_no_share_is_said() {
        assert_eq!(wilson(0, 0, 0.95), Err(NoProportion::Nothing));
        assert_eq!(jeffreys(3, 2, 0.95), Err(NoProportion::MoreThanAll));
        assert_eq!(clopper_pearson(1, 2, 1.0), Err(NoProportion::Level));
    }

    proptest! {
        #[test]
        fn ends_stand_on_both_sides_of_the_share(n in 1u64..3000, part in 0.0..=1.0f64, level in 0.5..0.999f64) {
            let x = (n as f64 * part).round() as u64;
            let rate = x as f64 / n as f64;
            for of in [wilson, clopper_pearson, jeffreys_edge_adjusted] {
                let [low, high] = of(x, n, level).unwrap();
                prop_assert!((0.0..=1.0).contains(&low) && (0.0..=1.0).contains(&high));
                prop_assert!(low <= rate + 1e-12 && rate <= high + 1e-12);
            }
        }
    }
}
