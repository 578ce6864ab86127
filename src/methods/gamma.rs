//! Maximum likelihood for a gamma distribution: left-censored values into shape and scale.
//!
//! A reader would question the derivatives: the share below a limit has none in closed form over
//! the shape, so slope and bend are taken from differences of the log-likelihood, wide enough that
//! rounding stays below the last figure given.

use thiserror::Error;

use super::censored::Censored;
use super::solve::{NotSettled, Surface, maximise};

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoGamma {
    /// A shape needs two different values.
    #[error("fewer than two different detected values")]
    TooFewDetects,
    /// Gamma values are above zero.
    #[error("a value or limit at or below zero")]
    ZeroOrBelow,
    /// The search did not settle.
    #[error(transparent)]
    Search(#[from] NotSettled),
}

/// A fitted gamma distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gamma {
    /// Shape.
    pub shape: f64,
    /// Scale, in the unit of the values.
    pub scale: f64,
    /// Log-likelihood on the scale of the values.
    pub ln_likelihood: f64,
}

impl Gamma {
    /// # Computes
    /// Shape and scale of highest likelihood: density for a detect, share below the limit for a
    /// non-detect.
    /// # Takes
    /// Left-censored values above zero.
    /// # Errors
    /// Under two different detects; a value or limit at or below zero; a search that did not
    /// settle.
    /// # Conventions
    /// No bias correction.
    /// # Source
    /// Definition; the likelihood equation of complete data is in Thom 1958 (from memory).
    /// # Checked against
    /// The equation of complete data and a fit by a general-purpose library, below.
    pub fn of(group: &Censored) -> Result<Self, NoGamma> {
        if group.lowest_detect() == group.highest_detect() {
            return Err(NoGamma::TooFewDetects);
        }
        if group.ties().first().is_none_or(|tie| tie.value <= 0.0) {
            return Err(NoGamma::ZeroOrBelow);
        }
        let likelihood = Likelihood::of(group);
        let (point, top) = maximise(|q| Some(likelihood.surface(q)), likelihood.start())?;
        let [shape, scale] = point.map(libm::exp);
        Ok(Gamma { shape, scale, ln_likelihood: top.value })
    }

    /// Mean.
    pub fn mean(&self) -> f64 {
        self.shape * self.scale
    }

    /// Standard deviation.
    pub fn sd(&self) -> f64 {
        self.shape.sqrt() * self.scale
    }

    /// Share at or below a value.
    pub fn share_below(&self, value: f64) -> f64 {
        share(self.shape, value / self.scale)
    }
}

/// Regularised lower incomplete gamma function; 0 below zero.
fn share(shape: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    statrs::function::gamma::checked_gamma_lr(shape, x).unwrap_or(f64::NAN).clamp(0.0, 1.0)
}

/// What the likelihood needs of the detects, and the limits with their counts.
struct Likelihood {
    n: f64,
    sum: f64,
    ln_sum: f64,
    limits: Vec<(f64, f64)>,
}

/// Distance of the differences in ln(shape) and ln(scale): the formula of five points leaves 1e-12
/// of truncation.
const STEP: f64 = 1e-3;

impl Likelihood {
    fn of(group: &Censored) -> Self {
        let over = |f: fn(f64) -> f64| group.detects().map(|(x, count)| f(x) * f64::from(count)).sum();
        let limits = group.limits().map(|(limit, count)| (limit, f64::from(count))).collect();
        Likelihood { n: group.detected() as f64, sum: over(|x| x), ln_sum: over(libm::log), limits }
    }

    /// The fit of the detects alone, by the usual approximation from the gap between ln(mean) and
    /// the mean of ln.
    fn start(&self) -> [f64; 2] {
        let mean = self.sum / self.n;
        let gap = (libm::log(mean) - self.ln_sum / self.n).max(1e-8);
        let shape = (3.0 - gap + ((gap - 3.0) * (gap - 3.0) + 24.0 * gap).sqrt()) / (12.0 * gap);
        [libm::log(shape), libm::log(mean / shape)]
    }

    fn value(&self, ln_shape: f64, ln_scale: f64) -> f64 {
        let (shape, scale) = (libm::exp(ln_shape), libm::exp(ln_scale));
        let detects =
            (shape - 1.0) * self.ln_sum - self.sum / scale - self.n * (shape * ln_scale + libm::lgamma(shape));
        detects + self.limits.iter().map(|(limit, count)| count * libm::log(share(shape, limit / scale))).sum::<f64>()
    }

    fn surface(&self, [u, v]: [f64; 2]) -> Surface {
        let h = STEP;
        let value = self.value(u, v);
        let along = |f: &dyn Fn(f64) -> f64| {
            let [a, b, c, d] = [-2.0, -1.0, 1.0, 2.0].map(|i| f(i * h));
            ((a - 8.0 * b + 8.0 * c - d) / (12.0 * h), (-a + 16.0 * b - 30.0 * value + 16.0 * c - d) / (12.0 * h * h))
        };
        let (by_u, bend_u) = along(&|d| self.value(u + d, v));
        let (by_v, bend_v) = along(&|d| self.value(u, v + d));
        let corner = |i: f64, j: f64| self.value(u + i * h, v + j * h);
        let mixed = (corner(1.0, 1.0) - corner(1.0, -1.0) - corner(-1.0, 1.0) + corner(-1.0, -1.0)) / (4.0 * h * h);
        Surface { value, slope: [by_u, by_v], bend: [bend_u, mixed, bend_v] }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::super::goodness::largest_gap;
    use super::*;

    /// Complete data: ln(shape) - digamma(shape) = ln(mean) - mean of ln, scale = mean / shape
    /// (Thom 1958, from memory).
    #[test]
    fn complete_data_solve_their_equation() {
        let values = [0.4, 0.7, 1.1, 1.6, 2.3, 3.1, 4.5, 8.0];
        let fit = Gamma::of(&words(&values.map(|x| x.to_string()).join(" "))).unwrap();
        let mean = values.iter().sum::<f64>() / 8.0;
        let gap = libm::log(mean) - values.iter().map(|x| libm::log(*x)).sum::<f64>() / 8.0;
        let got = libm::log(fit.shape) - statrs::function::gamma::digamma(fit.shape);
        assert!((got - gap).abs() < 1e-8 && (fit.mean() / mean - 1.0).abs() < 1e-8);
    }

    /// Oahu arsenic, 13 of 24 censored: shape 2.059914, scale 0.461871, log-likelihood -15.647432, by a simplex search on
    /// scipy 1.17.1's gamma log-density and log-share (`scipy.stats.gamma.fit` itself stops at 2.0599, 0.4619).
    #[test]
    fn oahu_arsenic() {
        let text = "3.2 2.8 <2 <2 <2 <2 <2 <2 <2 <2 1.7 1.5 <1 <1 <1 <1 <0.9 0.9 0.7 0.7 0.6 0.5 0.5 0.5";
        let fit = Gamma::of(&words(text)).unwrap();
        let pairs = [(fit.shape, 2.059_913_77), (fit.scale, 0.461_870_56), (fit.ln_likelihood, -15.647_432_343)];
        for (figure, known) in pairs {
            assert!((figure / known - 1.0).abs() < 1e-6, "{figure} {known}");
        }
    }

    #[test]
    fn reasons_for_no_fit() {
        assert_eq!(Gamma::of(&words("")), Err(NoGamma::TooFewDetects));
        assert_eq!(Gamma::of(&words("<1 2 2")), Err(NoGamma::TooFewDetects));
        assert_eq!(Gamma::of(&words("0 1 2")), Err(NoGamma::ZeroOrBelow));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn a_fit_is_made_of_numbers(group in groups()) {
            if let Ok(fit) = Gamma::of(&group) {
                prop_assert!(fit.shape > 0.0 && fit.scale > 0.0 && fit.mean().is_finite() && fit.ln_likelihood.is_finite());
                prop_assert!(largest_gap(&group, |x| fit.share_below(x)).is_some_and(|gap| (0.0..=1.0).contains(&gap)));
            }
        }
    }
}
