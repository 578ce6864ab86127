//! An interval for a quantile without any model: counts and a share into the two results that it
//! lies between.
//!
//! The number of results below the true quantile is binomial, so two ranks enclose it with a known
//! chance. A reader would question non-detects: the low end is read with each at zero and the high
//! end with each at its limit, so the interval holds whatever they are.

use super::censored::Censored;
use super::quantiles::at_rank;
use super::special::beta_cdf;

/// Ranks, counted from 1, between which the quantile lies; `None` where the interval has no end on
/// that side.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Ranks {
    /// Rank of the low end.
    pub low: Option<usize>,
    /// Rank of the high end.
    pub high: Option<usize>,
}

/// An end of the interval of a quantile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum End {
    /// At this value.
    At(f64),
    /// Not known: too few results, or a non-detect stands there.
    Open,
}

/// # Computes
/// The highest rank l with chance at most half the rest of the level that fewer than l results lie
/// below the quantile, and the lowest rank u with the same chance that u or more do.
/// # Takes
/// `n` results, the quantile's share `p`, the two-sided level.
/// # Gives
/// Ranks from 1 to `n`; `None` on a side where even the outermost result is not enough, or for
/// arguments out of range.
/// # Conventions
/// Equal tails, so the chance is at least the level and often more.
/// # Source
/// Conover 1999, section 3.2; Hahn and Meeker 1991 (from memory).
/// # Checked against
/// The binomial table for the median of ten results, below.
pub fn ranks(n: usize, p: f64, level: f64) -> Ranks {
    if n == 0 || !(p > 0.0 && p < 1.0) || !(level > 0.0 && level < 1.0) {
        return Ranks::default();
    }
    let tail = 0.5 * (1.0 - level);
    // Chances falling short of a half by rounding only still count.
    let slack = 1e-12;
    let low = last_where(n, |l| at_most(l - 1, n, p) <= tail + slack);
    let high = last_where(n, |turned| at_least(n + 1 - turned, n, p) <= tail + slack).map(|turned| n + 1 - turned);
    Ranks { low, high }
}

/// Chance that at most `k` of `n` lie below.
fn at_most(k: usize, n: usize, p: f64) -> f64 {
    if k >= n { 1.0 } else { beta_cdf((n - k) as f64, k as f64 + 1.0, 1.0 - p) }
}

/// Chance that at least `k` of `n` lie below.
fn at_least(k: usize, n: usize, p: f64) -> f64 {
    if k == 0 { 1.0 } else { beta_cdf(k as f64, (n - k) as f64 + 1.0, p) }
}

/// The last rank from 1 to `n` for which `holds`, which is true up to some rank and false from
/// there on.
fn last_where(n: usize, holds: impl Fn(usize) -> bool) -> Option<usize> {
    let (mut good, mut bad) = (0, n + 1);
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if holds(middle) { good = middle } else { bad = middle }
    }
    (good > 0).then_some(good)
}

/// # Computes
/// The interval of the quantile `p` from the ranks above.
/// # Takes
/// Left-censored values.
/// # Gives
/// Low and high end. The low end is open where a non-detect might stand there.
pub fn quantile_interval(group: &Censored, p: f64, level: f64) -> [End; 2] {
    let ranks = ranks(group.len(), p, level);
    let low: Vec<(f64, u32)> = group.detects().collect();
    let high: Vec<(f64, u32)> = group.ties().iter().map(|tie| (tie.value, tie.detects + tie.nondetects)).collect();
    let below = group.nondetects();
    let low_end = ranks.low.and_then(|rank| rank.checked_sub(below + 1)).and_then(|rank| at_rank(&low, rank));
    let high_end = ranks.high.and_then(|rank| at_rank(&high, rank - 1));
    [low_end, high_end].map(|end| end.map_or(End::Open, End::At))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::*;

    /// Median of ten: ranks 2 and 9 with chance 0.979 (binomial table: P(B <= 1) = 0.0107, P(B <=
    /// 2) = 0.0547).
    #[test]
    fn median_of_ten() {
        assert_eq!(ranks(10, 0.5, 0.95), Ranks { low: Some(2), high: Some(9) });
        assert_eq!(ranks(5, 0.5, 0.95), Ranks { low: None, high: None });
        assert_eq!(ranks(6, 0.5, 0.95), Ranks { low: Some(1), high: Some(6) });
        assert_eq!(ranks(10, 0.95, 0.95).high, None);
    }

    #[test]
    fn non_detects_open_the_low_end() {
        let group = words("<1 <1 2 3 4 5 6 7 8 <9");
        assert_eq!(quantile_interval(&group, 0.5, 0.95), [End::Open, End::At(8.0)]);
        assert_eq!(quantile_interval(&words(""), 0.5, 0.95), [End::Open; 2]);
    }

    proptest! {
        #[test]
        fn ranks_enclose_with_the_chance_asked_for(n in 1usize..400, p in 0.01..0.99f64, level in 0.5..0.99f64) {
            let r = ranks(n, p, level);
            let tail = 0.5 * (1.0 - level) + 1e-9;
            prop_assert!(r.low.is_none_or(|l| at_most(l - 1, n, p) <= tail && at_most(l, n, p) > tail - 2e-9));
            prop_assert!(r.high.is_none_or(|u| at_least(u, n, p) <= tail && at_least(u - 1, n, p) > tail - 2e-9));
        }

        #[test]
        fn ends_are_in_order(group in groups(), p in 0.05..0.95f64) {
            if let [End::At(low), End::At(high)] = quantile_interval(&group, p, 0.9) {
                prop_assert!(low <= high);
            }
        }
    }
}
