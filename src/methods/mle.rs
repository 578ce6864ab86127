//! Maximum likelihood for a normal or lognormal distribution: values known only to lie between two
//! ends into parameters, errors and figures.
//!
//! A reader would question small groups: plain maximum likelihood has no bias correction, and under
//! two different detects there is no estimate at all, since the likelihood then has no highest
//! point worth the name.

use thiserror::Error;

use super::normal_terms::{Observation, surface};
use super::solve::{NotSettled, Surface, maximise};
use super::special::{normal_cdf, normal_quantile};

/// The distribution that is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Distribution {
    /// Values are normal.
    Normal,
    /// Logarithms of values are normal.
    Lognormal,
}

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoFit {
    /// Lists of different length, an end that is not a number, or a low end above its high end.
    #[error("low and high ends do not belong together")]
    NotIntervals,
    /// Fewer than two different detects (or, without any detect, bounded intervals).
    #[error("fewer than two different detected values")]
    TooFewDetects,
    /// A value at or below zero has no logarithm.
    #[error("a value at or below zero has no logarithm")]
    ZeroOrBelow,
    /// The search did not settle.
    #[error(transparent)]
    Search(#[from] NotSettled),
}

/// A fitted distribution; `mu` and `sigma` are on the scale of the logarithms where these are
/// normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mle {
    /// What was fitted.
    pub distribution: Distribution,
    /// Results with equal ends.
    pub detected: usize,
    /// Mean of the normal distribution.
    pub mu: f64,
    /// Standard deviation of the normal distribution.
    pub sigma: f64,
    /// Standard error of `mu`, from the observed information.
    pub mu_se: f64,
    /// Standard error of `sigma`.
    pub sigma_se: f64,
    /// Covariance of the two estimates.
    pub covariance: f64,
    /// Log-likelihood on the scale of the values.
    pub ln_likelihood: f64,
}

/// A figure with its standard error and interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Its standard error by the delta method.
    pub se: f64,
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

impl Mle {
    /// # Computes
    /// The parameters of highest likelihood: density for a detect, probability of (low, high]
    /// otherwise.
    /// # Takes
    /// Ends of each result, equal for a detect; low = 0 (lognormal) or -infinity (normal) for `<x`,
    /// high = infinity for `>x`.
    /// # Errors
    /// Ends that are no intervals, too few different detects, a detect without a logarithm, a
    /// search that did not settle.
    /// # Conventions
    /// No bias correction; standard errors of (mu, sigma) from the observed information.
    /// # Source
    /// Cohen 1959; Helsel 2005, chapter 6 (from memory).
    /// # Checked against
    /// `tests/reference/statistics/03-censored-mle.json`, `20-bangladesh-arsenic.json`.
    pub fn of(distribution: Distribution, low: &[f64], high: &[f64]) -> Result<Self, NoFit> {
        if low.len() != high.len() || low.iter().zip(high).any(|(a, b)| a.is_nan() || b.is_nan() || a > b) {
            return Err(NoFit::NotIntervals);
        }
        let exact = || low.iter().zip(high).filter(|(a, b)| a == b).map(|(a, _)| *a);
        if exact().any(|x| !x.is_finite() || (distribution == Distribution::Lognormal && x <= 0.0)) {
            return Err(NoFit::ZeroOrBelow);
        }
        let scaled = |x: f64| match distribution {
            Distribution::Normal => x,
            Distribution::Lognormal if x <= 0.0 => f64::NEG_INFINITY,
            Distribution::Lognormal => libm::log(x),
        };
        let data: Vec<Observation> =
            low.iter().zip(high).map(|(a, b)| Observation { low: scaled(*a), high: scaled(*b) }).collect();
        if !enough(&data) {
            return Err(NoFit::TooFewDetects);
        }
        let (start_mu, start_sigma) = start(&data);
        let in_logs = |[mu, tau]: [f64; 2]| Some(over_ln_sigma(surface(&data, mu, libm::exp(tau)), libm::exp(tau)));
        let ([mu, tau], _) = maximise(in_logs, [start_mu, libm::log(start_sigma)])?;
        let sigma = libm::exp(tau);
        let top = surface(&data, mu, sigma);
        let [a, c, b] = top.bend.map(|x| -x);
        let det = a * b - c * c;
        if !(det > 0.0 && a > 0.0) {
            return Err(NotSettled::NoMaximum.into());
        }
        let jacobian: f64 = if distribution == Distribution::Lognormal { exact().map(libm::log).sum() } else { 0.0 };
        Ok(Mle {
            distribution,
            detected: exact().count(),
            mu,
            sigma,
            mu_se: (b / det).sqrt(),
            sigma_se: (a / det).sqrt(),
            covariance: -c / det,
            ln_likelihood: top.value - jacobian,
        })
    }

    fn log_scale(&self) -> bool {
        self.distribution == Distribution::Lognormal
    }

    /// Mean; of the lognormal exp(mu + sigma^2 / 2), its interval symmetric on the log scale.
    pub fn mean(&self, level: f64) -> Estimate {
        if !self.log_scale() {
            return self.around(self.mu, self.mu_se, level);
        }
        let variance = self.mu_se * self.mu_se
            + 2.0 * self.sigma * self.covariance
            + self.sigma * self.sigma * self.sigma_se * self.sigma_se;
        self.around(self.mu + 0.5 * self.sigma * self.sigma, variance.max(0.0).sqrt(), level)
    }

    /// Median.
    pub fn median(&self, level: f64) -> Estimate {
        self.around(self.mu, self.mu_se, level)
    }

    fn around(&self, centre: f64, se: f64, level: f64) -> Estimate {
        let half = normal_quantile(0.5 + 0.5 * level) * se;
        let [value, low, high] = [centre, centre - half, centre + half].map(|x| self.back(x));
        Estimate { value, se: if self.log_scale() { value * se } else { se }, low, high }
    }

    fn back(&self, x: f64) -> f64 {
        if self.log_scale() { libm::exp(x) } else { x }
    }

    /// Standard deviation of the values.
    pub fn sd(&self) -> f64 {
        if self.log_scale() { self.mean(0.5).value * libm::expm1(self.sigma * self.sigma).sqrt() } else { self.sigma }
    }

    /// The value below which the share `p` lies; infinite or zero at the ends of 0 to 1.
    pub fn quantile(&self, p: f64) -> f64 {
        self.back(self.mu + self.sigma * normal_quantile(p))
    }

    /// Share above a limit, with an interval by the delta method on the normal scale.
    pub fn above(&self, limit: f64, level: f64) -> Estimate {
        let x = if !self.log_scale() {
            limit
        } else if limit > 0.0 {
            libm::log(limit)
        } else {
            f64::NEG_INFINITY
        };
        let z = (x - self.mu) / self.sigma;
        if z.is_infinite() {
            let all = f64::from(z < 0.0);
            return Estimate { value: all, se: 0.0, low: all, high: all };
        }
        let (by_mu, by_sigma) = (-1.0 / self.sigma, -z / self.sigma);
        let (vm, vs) = (self.mu_se * self.mu_se, self.sigma_se * self.sigma_se);
        let variance = by_mu * by_mu * vm + 2.0 * by_mu * by_sigma * self.covariance + by_sigma * by_sigma * vs;
        let (se, half) = (variance.max(0.0).sqrt(), normal_quantile(0.5 + 0.5 * level));
        let density = super::special::normal_density(z);
        Estimate {
            value: normal_cdf(-z),
            se: density * se,
            low: normal_cdf(-z - half * se),
            high: normal_cdf(-z + half * se),
        }
    }

    /// Share at or below a value, for `goodness`.
    pub fn share_below(&self, value: f64) -> f64 {
        1.0 - self.above(value, 0.5).value
    }
}

/// Two different detects; or, with no detect at all, two different bounded intervals.
fn enough(data: &[Observation]) -> bool {
    let different = |of: &dyn Fn(&&Observation) -> bool| {
        let mut seen = data.iter().filter(of);
        let first = seen.next();
        first.is_some_and(|first| seen.any(|other| other != first))
    };
    let any_detect = data.iter().any(|o| o.low == o.high);
    if any_detect { different(&|o| o.low == o.high) } else { different(&|o| o.low.is_finite() && o.high.is_finite()) }
}

/// Mean and spread of the middles of the intervals, or of their one known end.
fn start(data: &[Observation]) -> (f64, f64) {
    let middle = |o: &Observation| match (o.low.is_finite(), o.high.is_finite()) {
        (true, true) => Some(0.5 * (o.low + o.high)),
        (true, false) => Some(o.low),
        (false, true) => Some(o.high),
        (false, false) => None,
    };
    let middles: Vec<f64> = data.iter().filter_map(middle).collect();
    let n = middles.len().max(1) as f64;
    let mean = middles.iter().sum::<f64>() / n;
    let variance = middles.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n;
    let least = 1e-3 * mean.abs().max(1e-3);
    (mean, variance.sqrt().max(least))
}

/// The same surface over (mu, ln sigma), where every point is allowed.
fn over_ln_sigma(s: Surface, sigma: f64) -> Surface {
    let [mu, by] = s.slope;
    let [a, c, b] = s.bend;
    Surface { value: s.value, slope: [mu, sigma * by], bend: [a, sigma * c, sigma * sigma * b + sigma * by] }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::groups;
    use super::*;

    fn lognormal(text: &str) -> Result<Mle, NoFit> {
        let number = |w: &str| w.trim_start_matches('<').parse::<f64>().unwrap();
        let high: Vec<f64> = text.split_whitespace().map(number).collect();
        let low: Vec<f64> = text.split_whitespace().map(|w| if w.starts_with('<') { 0.0 } else { number(w) }).collect();
        Mle::of(Distribution::Lognormal, &low, &high)
    }

    /// Oahu arsenic (Helsel 2005, chapter 6: mean 0.945, sd 0.656, median 0.777; from memory).
    #[test]
    fn oahu_arsenic() {
        let fit =
            lognormal("3.2 2.8 <2 <2 <2 <2 <2 <2 <2 <2 1.7 1.5 <1 <1 <1 <1 <0.9 0.9 0.7 0.7 0.6 0.5 0.5 0.5").unwrap();
        assert!((fit.mean(0.95).value - 0.945).abs() < 6e-4 && (fit.sd() - 0.656).abs() < 6e-4);
        assert!((fit.median(0.95).value - 0.777).abs() < 6e-4);
    }

    /// Four intervals: mu 0.591999, sigma 0.2868042, standard error of mu 0.1444432 (printed for a
    /// general-purpose fitting routine).
    #[test]
    fn four_intervals() {
        let fit = Mle::of(Distribution::Normal, &[0.1, 0.5, 0.75, 0.8], &[0.2, 0.55, 0.9, 0.95]);
        let fit = fit.unwrap();
        assert!((fit.mu - 0.591_999).abs() < 5e-6 && (fit.sigma - 0.286_804_2).abs() < 5e-6);
        assert!((fit.mu_se - 0.144_443_2).abs() < 2e-5);
    }

    #[test]
    fn reasons_for_no_fit() {
        assert_eq!(lognormal("<1 2"), Err(NoFit::TooFewDetects));
        assert_eq!(lognormal("<1 <2"), Err(NoFit::TooFewDetects));
        assert_eq!(lognormal(""), Err(NoFit::TooFewDetects));
        assert_eq!(lognormal("0 2 3"), Err(NoFit::ZeroOrBelow));
        assert_eq!(Mle::of(Distribution::Normal, &[1.0], &[0.0]), Err(NoFit::NotIntervals));
        assert_eq!(Mle::of(Distribution::Normal, &[f64::NAN], &[0.0]), Err(NoFit::NotIntervals));
    }

    proptest! {
        #[test]
        fn a_fit_is_made_of_numbers(group in groups()) {
            let of = |tie: &super::super::censored::Tie| {
                let below = std::iter::repeat_n((0.0, tie.value), tie.nondetects as usize);
                below.chain(std::iter::repeat_n((tie.value, tie.value), tie.detects as usize)).collect::<Vec<_>>()
            };
            let (low, high): (Vec<f64>, Vec<f64>) = group.ties().iter().flat_map(of).unzip();
            if let Ok(fit) = Mle::of(Distribution::Lognormal, &low, &high) {
                let mean = fit.mean(0.95);
                prop_assert!(fit.sigma > 0.0 && fit.mu_se.is_finite() && fit.sigma_se.is_finite() && mean.low <= mean.high);
                prop_assert!((0.0..=1.0).contains(&fit.share_below(1.0)));
            }
        }
    }
}
