//! How well a fitted distribution agrees with left-censored values: a share below each value into
//! the largest gap from Kaplan-Meier.
//!
//! A reader would question a p from this gap: parameters were fitted to the same values, so the
//! usual tables do not hold, and none is given. The gap ranks distributions of one group against
//! each other, no more.

use super::censored::Censored;
use super::kaplan_meier::KaplanMeier;

/// # Computes
/// The largest distance between the fitted share and the Kaplan-Meier share, just below and at each
/// detect.
/// # Takes
/// The group, and the fitted share at or below a value.
/// # Gives
/// 0 to 1; `None` when nothing was detected.
/// # Source
/// Kolmogorov's distance with the Kaplan-Meier estimate in place of the empirical one; common
/// practice, no source.
/// # Checked against
/// A sample of which the distance is known by hand, below.
pub fn largest_gap(group: &Censored, share_below: impl Fn(f64) -> f64) -> Option<f64> {
    let km = KaplanMeier::of(group)?;
    let gap = |step: &super::kaplan_meier::Step| {
        let fitted = share_below(step.x);
        (fitted - step.p_below).abs().max((fitted - step.p_at_or_below).abs())
    };
    km.steps().iter().map(gap).reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use super::super::censored::tests::words;
    use super::*;

    /// Uniform on 0 to 10: at 2 of 2, 5, 9 the share rises from 0 to 1/3, at 9 from 2/3 to 1;
    /// largest gap 0.9 - 2/3.
    #[test]
    fn three_values_against_a_uniform() {
        let gap = largest_gap(&words("2 5 9"), |x| x / 10.0).unwrap();
        assert!((gap - (0.9 - 2.0 / 3.0)).abs() < 1e-12);
        assert_eq!(largest_gap(&words("<1"), |x| x), None);
    }
}
