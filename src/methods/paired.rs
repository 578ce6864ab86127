//! Wells judged twice into an exact test of whether more of them changed one way than the other.
//!
//! A reader would question that wells which stayed on their side do not count: they say nothing of the direction of change.

/// McNemar's exact two-sided p.
///
/// # Computes
/// Under no change each well that switched side was as likely to go up as down: twice the smaller binomial tail, not above 1.
/// # Takes
/// Wells that went above the limit, and wells that went below it.
/// # Gives
/// p in (0, 1]; `None` where no well switched.
/// # Errors
/// None.
/// # Conventions
/// Doubling, as usual for this test; a p below the smallest double is given as that double.
/// # Source
/// McNemar 1947, Psychometrika 12, 153-157; exact form: Fagerland, Lydersen and Laake 2013, BMC Medical Research Methodology 13:91
/// (both from memory).
/// # Checked against
/// `tests/comparisons/paired.json`, made with a general-purpose library's binomial test.
pub fn mcnemar(up: u64, down: u64) -> Option<f64> {
    let (n, fewer) = (up.checked_add(down)? as f64, up.min(down));
    if n == 0.0 {
        return None;
    }
    let k = fewer as f64;
    let log_choose = libm::lgamma(n + 1.0) - libm::lgamma(k + 1.0) - libm::lgamma(n - k + 1.0);
    let (mut term, mut sum, mut at) = (1.0, 1.0, k);
    // Downwards each term is smaller than the last by k / (n - k + 1), which is below 1 in the lower half.
    while at > 0.0 && term > 1e-18 * sum {
        term *= at / (n - at + 1.0);
        sum += term;
        at -= 1.0;
    }
    let tail = libm::exp(log_choose - n * std::f64::consts::LN_2) * sum;
    Some((2.0 * tail).clamp(f64::MIN_POSITIVE, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// By hand: 1 of 6 gives 2 (1 + 6) / 64.
    #[test]
    fn small_counts_by_hand() {
        assert!((mcnemar(1, 5).unwrap() - 14.0 / 64.0).abs() < 1e-12);
        assert_eq!((mcnemar(0, 0), mcnemar(3, 3)), (None, Some(1.0)));
    }

    proptest! {
        #[test]
        fn any_counts_have_a_p(up in 0u64..1_000_000, down in 0u64..1_000_000) {
            if let Some(p) = mcnemar(up, down) {
                prop_assert!(p > 0.0 && p <= 1.0 && mcnemar(down, up) == Some(p));
            }
        }
    }
}
