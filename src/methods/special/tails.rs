//! A test's size into its p: normal and chi-squared tails with all their digits, however small.
//!
//! Degrees of freedom are whole here, so the chi-squared tail is a short closed sum and needs no incomplete gamma function.

use super::normal::normal_quantile;

/// Two-sided p of a normal z: the chance of at least this size on either side.
pub fn two_sided_normal_p(z: f64) -> f64 {
    libm::erfc(z.abs() * std::f64::consts::FRAC_1_SQRT_2)
}

/// The normal quantile that leaves the rest of the confidence in two tails; `None` for a confidence not between 0 and 1.
pub fn two_sided_z(confidence: f64) -> Option<f64> {
    (confidence > 0.0 && confidence < 1.0).then(|| normal_quantile(0.5 + confidence / 2.0))
}

/// # Computes
/// The chance that a chi-squared variable with `df` degrees of freedom is above `x`.
/// # Takes
/// Any `x`; below 0 counts as 0.
/// # Gives
/// 0 to 1; with no degree of freedom 0, except at 0 where it is 1.
/// # Source
/// Abramowitz and Stegun 26.4.4 and 26.4.5 (from memory).
/// # Checked against
/// `tests/reference/statistics/07-censored-groups.json`; printed 5 % points below.
pub fn chi_squared_above(x: f64, df: usize) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    let y = x / 2.0;
    let odd = df % 2 == 1;
    let first = if odd { libm::erfc(y.sqrt()) } else { 0.0 };
    // Each term is the one before times y over the next half or whole number; the first is made whole here.
    let mut term = if odd { libm::exp(-y) * y.sqrt() * std::f64::consts::FRAC_2_SQRT_PI } else { libm::exp(-y) };
    let mut sum = first;
    for j in 0..df / 2 {
        sum += term;
        term *= y / (j as f64 + if odd { 1.5 } else { 1.0 });
    }
    sum.clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Upper 5 % points as every table of the distribution prints them.
    #[test]
    fn five_percent_points() {
        for (df, x) in [(1, 3.841), (2, 5.991), (3, 7.815), (4, 9.488), (5, 11.070), (10, 18.307), (11, 19.675)] {
            assert!((chi_squared_above(x, df) - 0.05).abs() < 3e-5, "{df}");
        }
        assert!((two_sided_normal_p(1.959_963_984_540_054) - 0.05).abs() < 1e-15);
    }

    #[test]
    fn one_degree_is_the_square_of_a_normal() {
        for z in [0.0, 0.3, 2.0, 8.0, 30.0] {
            assert!((chi_squared_above(z * z, 1) - two_sided_normal_p(z)).abs() <= 1e-14 * two_sided_normal_p(z));
        }
    }
}
