//! Functions around the beta distribution, made of libm calls only, so that every machine gives the
//! same digits.
//!
//! The library of distributions is used elsewhere; here its platform logarithms and its inverse
//! functions of a few digits would not do.

use super::solve;

mod exponential;
mod normal;
mod tails;

pub use exponential::exp_below_zero;
pub use normal::{ln_normal_cdf, normal_cdf, normal_density, normal_quantile};
pub use tails::{chi_squared_above, two_sided_normal_p, two_sided_z};

/// Above this argument Stirling's series with six terms is exact to the last digits.
const STIRLING_FROM: f64 = 12.0;

/// What ln Gamma(x) has beyond (x - 1/2) ln x - x + ln sqrt(2 pi), for x of at least
/// `STIRLING_FROM` (Abramowitz and Stegun 6.1.41).
fn stirling_rest(x: f64) -> f64 {
    let y = 1.0 / (x * x);
    (1.0 / 12.0
        - y * (1.0 / 360.0 - y * (1.0 / 1260.0 - y * (1.0 / 1680.0 - y * (1.0 / 1188.0 - y * 691.0 / 360_360.0)))))
        / x
}

/// ln of `a (a + 1) ... (a + n - 1)`, for positive `a`: the difference of two ln Gamma without the
/// loss of digits.
pub fn ln_rising(a: f64, n: f64) -> f64 {
    let mut product = 1.0;
    let mut sum = 0.0;
    let (mut from, mut left) = (a, n);
    let steps = if n <= 8.0 { n } else { (STIRLING_FROM - a).ceil().clamp(0.0, n) };
    for _ in 0..steps as u32 {
        product *= from;
        if !(1e-200..1e200).contains(&product) {
            sum += libm::log(product);
            product = 1.0;
        }
        from += 1.0;
        left -= 1.0;
    }
    sum += libm::log(product);
    if left > 0.0 {
        let top = from + left;
        sum += (from - 0.5) * libm::log1p(left / from) + left * (libm::log(top) - 1.0);
        sum += stirling_rest(top) - stirling_rest(from);
    }
    sum
}

/// ln of the beta function, for positive arguments.
pub fn ln_beta(a: f64, b: f64) -> f64 {
    let (small, large) = if a < b { (a, b) } else { (b, a) };
    if large < STIRLING_FROM {
        return libm::lgamma(small) + libm::lgamma(large) - libm::lgamma(small + large);
    }
    let whole = small + large;
    if small < STIRLING_FROM {
        let ratio = (large - 0.5) * libm::log1p(small / large) + small * (libm::log(whole) - 1.0);
        return libm::lgamma(small) - ratio - stirling_rest(whole) + stirling_rest(large);
    }
    let half_ln_two_pi = 0.918_938_533_204_672_8;
    half_ln_two_pi - 0.5 * libm::log(large) + (small - 0.5) * libm::log(small / whole)
        - large * libm::log1p(small / large)
        + stirling_rest(small)
        + stirling_rest(large)
        - stirling_rest(whole)
}

/// Terms of the continued fraction; it needs a few times the root of the larger parameter.
const MOST_TERMS: usize = 200_000;

/// # Computes
/// The share of a Beta(a, b) distribution at or below `x`: the regularised incomplete beta
/// function, by its continued fraction on the side where that converges fast.
/// # Takes
/// Positive, finite parameters; `x` outside 0 to 1 counts as the nearer end.
/// # Gives
/// 0 to 1; NaN for parameters that are no distribution.
/// # Source
/// Abramowitz and Stegun 26.5.8 (from memory), evaluated after Lentz.
/// # Checked against
/// `tests/reference/statistics/04-proportions.json`, `11-small-areas.json`.
pub fn beta_cdf(a: f64, b: f64, x: f64) -> f64 {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) || x.is_nan() {
        return f64::NAN;
    }
    if x <= 0.0 || x >= 1.0 {
        return if x <= 0.0 { 0.0 } else { 1.0 };
    }
    let front = libm::exp(a * libm::log(x) + b * libm::log1p(-x) - ln_beta(a, b));
    if x < (a + 1.0) / (a + b + 2.0) {
        (front * fraction(a, b, x) / a).clamp(0.0, 1.0)
    } else {
        (1.0 - front * fraction(b, a, 1.0 - x) / b).clamp(0.0, 1.0)
    }
}

/// The share above `x`, with all digits where that is small.
pub fn beta_above(a: f64, b: f64, x: f64) -> f64 {
    beta_cdf(b, a, 1.0 - x)
}

fn fraction(a: f64, b: f64, x: f64) -> f64 {
    // Lentz: a denominator that vanishes is replaced by something tiny.
    let solid = |v: f64| if v.abs() < 1e-300 { 1e-300 } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / solid(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..MOST_TERMS {
        let m = m as f64;
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / solid(1.0 + even * d);
        c = solid(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / solid(1.0 + odd * d);
        c = solid(1.0 + odd / c);
        h *= d * c;
        if (d * c - 1.0).abs() < 2e-16 {
            break;
        }
    }
    h
}

/// The value below which the share `p` of a Beta(a, b) distribution lies.
///
/// # Errors
/// Parameters that are no distribution, or `p` outside 0 to 1.
pub fn beta_quantile(a: f64, b: f64, p: f64) -> Result<f64, solve::NotSettled> {
    if !(0.0..=1.0).contains(&p) {
        return Err(solve::NotSettled::NoBracket);
    }
    if p > 0.5 {
        // Solved from the other end, where a share near 1 keeps its digits.
        return solve::root(|x| beta_cdf(b, a, x) - (1.0 - p), 0.0, 1.0).map(|x| 1.0 - x);
    }
    solve::root(|x| beta_cdf(a, b, x) - p, 0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beta_shares_with_a_closed_form() {
        for x in [1e-6, 0.1, 0.5, 0.9] {
            assert!((beta_cdf(1.0, 1.0, x) - x).abs() < 1e-15);
            assert!((beta_cdf(3.0, 1.0, x) - x * x * x).abs() < 1e-15);
            assert!((beta_cdf(0.5, 0.5, x) - libm::asin(x.sqrt()) * std::f64::consts::FRAC_2_PI).abs() < 1e-14);
        }
        assert!((beta_cdf(1e6, 1e6, 0.5) - 0.5).abs() < 1e-9);
    }

    #[test]
    fn quantile_and_share_are_inverse() {
        for (a, b) in [(0.5, 20.5), (3.0, 4.0), (1200.0, 8000.0), (0.01, 5.0)] {
            for p in [0.025, 0.3, 0.975] {
                let x = beta_quantile(a, b, p).unwrap();
                assert!((beta_cdf(a, b, x) - p).abs() < 1e-10, "{a} {b} {p}: {x}");
            }
        }
    }

    #[test]
    fn rising_products_agree_with_their_terms() {
        for (a, n) in [(0.3, 5.0), (0.3, 40.0), (1e-9, 3.0), (700.0, 25.0), (1e7, 2000.0)] {
            let plain: f64 = (0..n as u32).map(|i| libm::log(a + f64::from(i))).sum();
            assert!((ln_rising(a, n) - plain).abs() < 1e-12 * plain.abs().max(1.0), "{a} {n}");
        }
    }

    #[test]
    fn beta_function_of_large_and_small_arguments() {
        // B(a, 1) = 1 / a and B(a, 2) = 1 / (a (a + 1)).
        for a in [0.2, 5.0, 13.0, 1e5, 1e9] {
            assert!((ln_beta(a, 1.0) + libm::log(a)).abs() < 1e-12);
            assert!((ln_beta(2.0, a) + libm::log(a) + libm::log(a + 1.0)).abs() < 1e-12);
        }
        let by_rising = |a: f64, n: f64| libm::lgamma(n) - ln_rising(a, n);
        assert!((ln_beta(40.0, 60.0) - by_rising(40.0, 60.0)).abs() < 1e-11);
    }
}
