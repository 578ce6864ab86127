//! Small-area rates with the spread between areas plugged in: counts of all areas into a fitted
//! Beta prior and each area's posterior.
//!
//! The program publishes the rates of `integrated`; these two fits are its yardstick and its
//! fall-back rules. A reader would question the boundary: where areas differ no more than chance
//! would have it, every area gets the pooled rate and no interval.

use thiserror::Error;

use super::solve::{NotSettled, Surface, maximise};
use super::special::{beta_above, beta_quantile, ln_beta, ln_rising};

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoFit {
    /// Lists of different length, or more exceeding wells than wells.
    #[error("exceeding wells and wells do not belong together")]
    NotCounts,
    /// No area has a well.
    #[error("no area has a well")]
    NoWells,
    /// The search for the highest likelihood, or for a quantile, did not settle.
    #[error(transparent)]
    Search(#[from] NotSettled),
}

/// What the fit says of the areas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Prior {
    /// Rates vary as Beta(alpha, beta).
    Beta {
        /// First parameter, the mean times the concentration.
        alpha: f64,
        /// Second parameter.
        beta: f64,
    },
    /// No spread beyond chance, or none that can be told: every area has the pooled rate.
    Pooled,
    /// Areas are all or none: each keeps its own rate.
    Own,
}

/// A fitted prior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Exceeding wells over wells, all areas together.
    pub pooled_rate: f64,
    /// Correlation between two wells of an area, 1 / (alpha + beta + 1); `None` where it cannot be
    /// estimated.
    pub rho: Option<f64>,
    /// The prior.
    pub prior: Prior,
    /// Log-likelihood with the binomial coefficients, of the likelihood fit only.
    pub ln_likelihood: Option<f64>,
}

/// An area's rate under a fitted prior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Smoothed rate.
    pub smoothed: f64,
    /// Interval and chance above the rate of concern; `None` without a Beta prior.
    pub spread: Option<Spread>,
}

/// What a Beta posterior says besides its mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Low end of the equal-tailed interval.
    pub low: f64,
    /// High end.
    pub high: f64,
    /// Chance that the rate is above the rate of concern.
    pub chance_above: f64,
}

struct Areas {
    used: Vec<(f64, f64)>,
    pooled: f64,
}

impl Areas {
    fn of(exceeding: &[u64], wells: &[u64]) -> Result<Self, NoFit> {
        if exceeding.len() != wells.len() || exceeding.iter().zip(wells).any(|(x, n)| x > n) {
            return Err(NoFit::NotCounts);
        }
        let used: Vec<(f64, f64)> =
            exceeding.iter().zip(wells).filter(|(_, n)| **n > 0).map(|(x, n)| (*x as f64, *n as f64)).collect();
        if used.is_empty() {
            return Err(NoFit::NoWells);
        }
        let pooled = used.iter().map(|(x, _)| x).sum::<f64>() / used.iter().map(|(_, n)| n).sum::<f64>();
        Ok(Areas { used, pooled })
    }

    /// Whether a spread between areas can be told at all.
    fn one_sided(&self) -> bool {
        self.used.len() < 2 || self.pooled <= 0.0 || self.pooled >= 1.0
    }
}

/// # Computes
/// The moment estimate of the correlation within areas, weights n, one pass: with p the pooled rate
/// and S = sum n (x/n - p)^2, rho = (S - p(1-p)(k-1)) / (p(1-p)(N - sum n^2/N - (k-1))), alpha = p
/// (1/rho - 1).
/// # Takes
/// Exceeding wells and wells of each area; areas without wells are not used.
/// # Gives
/// `Pooled` for rho at or below 0 or not estimable (one area, none or all exceeding, one well
/// each), `Own` for rho of 1 or more.
/// # Errors
/// Counts that do not belong together, no wells.
/// # Source
/// Kleinman 1973 (from memory).
/// # Checked against
/// `tests/reference/statistics/11-small-areas.json`, `21-minnesota-radon.json`.
pub fn by_moments(exceeding: &[u64], wells: &[u64]) -> Result<Fit, NoFit> {
    let areas = Areas::of(exceeding, wells)?;
    let (p, k) = (areas.pooled, areas.used.len() as f64);
    let total: f64 = areas.used.iter().map(|(_, n)| n).sum();
    let squares: f64 = areas.used.iter().map(|(_, n)| n * n).sum();
    let spread: f64 = areas.used.iter().map(|(x, n)| n * (x / n - p) * (x / n - p)).sum();
    let within = p * (1.0 - p);
    let scale = within * (total - squares / total - (k - 1.0));
    // Rounding must not stand in for wells that come one an area.
    let rho = (!areas.one_sided() && scale.abs() >= 1e-12).then(|| (spread - within * (k - 1.0)) / scale);
    let prior = match rho {
        Some(rho) if rho >= 1.0 => Prior::Own,
        Some(rho) if rho > 0.0 => Prior::Beta { alpha: p * (1.0 / rho - 1.0), beta: (1.0 - p) * (1.0 / rho - 1.0) },
        _ => Prior::Pooled,
    };
    Ok(Fit { pooled_rate: p, rho, prior, ln_likelihood: None })
}

/// Logarithm of alpha + beta above which the likelihood counts as highest at no spread.
const LN_MOST: f64 = 13.0;
/// A likelihood that is not this much above that of no spread is not above it.
const ABOVE: f64 = 1e-7;

/// # Computes
/// alpha and beta of highest marginal (beta-binomial) likelihood.
/// # Takes
/// As `by_moments`.
/// # Gives
/// `Pooled` with rho 0 where the likelihood is highest at no spread or cannot tell (one area, none
/// or all exceeding, one well each); `Own` with rho 1 where each area is all or none.
/// # Errors
/// As `by_moments`, and a search that did not settle.
/// # Source
/// Griffiths 1973 (from memory).
/// # Checked against
/// `tests/reference/statistics/11-small-areas.json`, `21-minnesota-radon.json`.
pub fn by_likelihood(exceeding: &[u64], wells: &[u64]) -> Result<Fit, NoFit> {
    let areas = Areas::of(exceeding, wells)?;
    let pooled = Fit { pooled_rate: areas.pooled, rho: Some(0.0), prior: Prior::Pooled, ln_likelihood: None };
    if areas.one_sided() || areas.used.iter().all(|(_, n)| *n < 2.0) {
        return Ok(pooled);
    }
    if areas.used.iter().all(|(x, n)| *x == 0.0 || x == n) {
        return Ok(Fit { rho: Some(1.0), prior: Prior::Own, ..pooled });
    }
    let p = areas.pooled;
    let likelihood = Likelihood::of(&areas);
    let ridge = Ridge(&likelihood);
    let starts = (0..=36).map(|i| f64::from(i) * 0.5 - 6.0).map(|start| (start, ridge.point(start)));
    // Each top is sought and measured once.
    let measured = starts.map(|(start, top)| (start, top, ridge.height_at(top)));
    let (start, first, _) = measured.max_by(|a, b| a.2.total_cmp(&b.2)).unwrap_or((0.0, ridge.point(0.0), 0.0));
    let binomial: f64 = areas.used.iter().map(|(x, n)| x * libm::log(p) + (n - x) * libm::log(1.0 - p)).sum();
    let (point, top) = match maximise(|q| likelihood.at(q), first) {
        Ok(found) => found,
        // A search that runs off towards no spread ends on a slope that never turns.
        Err(_) if start >= 11.5 => return Ok(pooled),
        // A ridge too curved for the search is walked along; from its top the search settles, or the walk's end stands.
        Err(why) => {
            let top = ridge.top_near(start).ok_or(why)?;
            maximise(|q| likelihood.at(q), top).or_else(|_| likelihood.at(top).map(|found| (top, found)).ok_or(why))?
        }
    };
    let [alpha, beta] = point.map(libm::exp);
    if top.value <= binomial + ABOVE || libm::log(alpha + beta) > LN_MOST {
        return Ok(pooled);
    }
    let choose: f64 = areas.used.iter().map(|(x, n)| -libm::log(n + 1.0) - ln_beta(x + 1.0, n - x + 1.0)).sum();
    Ok(Fit {
        rho: Some(1.0 / (alpha + beta + 1.0)),
        prior: Prior::Beta { alpha, beta },
        ln_likelihood: Some(top.value + choose),
        ..pooled
    })
}

/// The highest likelihood of each concentration, over the mean. It is not that of the pooled mean: a small area that is far
/// from the others pulls the mean of areas towards it.
struct Ridge<'l>(&'l Likelihood);

impl Ridge<'_> {
    /// The top at a concentration's logarithm, in logarithms of alpha and beta.
    fn point(&self, ln_k: f64) -> [f64; 2] {
        let point = |logit: f64| [ln_k - libm::log1p(libm::exp(-logit)), ln_k - libm::log1p(libm::exp(logit))];
        point(narrow(|logit| self.height_at(point(logit)), -16.0, 16.0))
    }

    fn height(&self, ln_k: f64) -> f64 {
        self.height_at(self.point(ln_k))
    }

    fn height_at(&self, point: [f64; 2]) -> f64 {
        self.0.at(point).map_or(f64::NEG_INFINITY, |found| found.value)
    }

    /// The highest point of the ridge within 1 of a concentration's logarithm.
    fn top_near(&self, ln_k: f64) -> Option<[f64; 2]> {
        let top = self.point(narrow(|ln_k| self.height(ln_k), ln_k - 1.0, ln_k + 1.0));
        self.0.at(top).is_some_and(|found| found.value.is_finite()).then_some(top)
    }
}

/// The place of the highest value of a function with one summit, by golden sections.
fn narrow(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const PART: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - PART * (high - low), low + PART * (high - low));
    let (mut fa, mut fb) = (f(a), f(b));
    for _ in 0..60 {
        if fa >= fb {
            (high, b, fb) = (b, a, fa);
            a = high - PART * (high - low);
            fa = f(a);
        } else {
            (low, a, fa) = (a, b, fb);
            b = low + PART * (high - low);
            fb = f(b);
        }
    }
    0.5 * (low + high)
}

/// How many areas have a count above 0, above 1, and so on: each factor of a rising product once,
/// with its number of areas.
struct Likelihood {
    hits: Vec<f64>,
    misses: Vec<f64>,
    wells: Vec<f64>,
}

impl Likelihood {
    fn of(areas: &Areas) -> Self {
        let above = |count: fn(&(f64, f64)) -> f64| {
            let most = areas.used.iter().map(count).fold(0.0, f64::max) as usize;
            let mut number = vec![0.0; most];
            for area in &areas.used {
                // Counted at the last factor, then added up from the end.
                if let Some(last) = (count(area) as usize).checked_sub(1) {
                    number[last] += 1.0;
                }
            }
            for i in (1..most).rev() {
                number[i - 1] += number[i];
            }
            number
        };
        Likelihood { hits: above(|(x, _)| *x), misses: above(|(x, n)| n - x), wells: above(|(_, n)| *n) }
    }

    /// Log-likelihood over (ln alpha, ln beta), without the binomial coefficients.
    fn at(&self, [u, v]: [f64; 2]) -> Option<Surface> {
        let (a, b) = (libm::exp(u), libm::exp(v));
        if !(a > 0.0 && b > 0.0 && (a + b).is_finite()) {
            return None;
        }
        let [(h, h1, h2), (m, m1, m2), (w, w1, w2)] =
            [(&self.hits, a), (&self.misses, b), (&self.wells, a + b)].map(|(n, start)| sums(n, start));
        let (slope_a, slope_b) = (h1 - w1, m1 - w1);
        Some(Surface {
            value: h + m - w,
            slope: [a * slope_a, b * slope_b],
            bend: [a * slope_a + a * a * (w2 - h2), a * b * w2, b * slope_b + b * b * (w2 - m2)],
        })
    }
}

/// Weighted sums of ln(start + i), of 1 / (start + i) and of its square.
fn sums(number: &[f64], start: f64) -> (f64, f64, f64) {
    let (mut first, mut second, mut value, mut from) = (0.0, 0.0, 0.0, 0);
    for (i, areas) in number.iter().enumerate() {
        let part = 1.0 / (start + i as f64);
        first += areas * part;
        second += areas * part * part;
        // Factors that occur equally often are one rising product.
        if number.get(i + 1) != Some(areas) {
            value += areas * ln_rising(start + from as f64, (i + 1 - from) as f64);
            from = i + 1;
        }
    }
    (value, first, second)
}

/// # Computes
/// An area's posterior Beta(alpha + x, beta + n - x): mean, equal-tailed interval, chance above the
/// rate of concern.
/// # Takes
/// A fit, the area's counts, the two-sided level and the rate of concern.
/// # Gives
/// Under `Pooled` the pooled rate, under `Own` the area's own (the pooled one without wells), both
/// without a spread.
/// # Errors
/// A search for a quantile that did not settle.
pub fn rate(fit: &Fit, exceeding: u64, wells: u64, level: f64, concern: f64) -> Result<Rate, NoFit> {
    let (x, n) = (exceeding as f64, wells as f64);
    let Prior::Beta { alpha, beta } = fit.prior else {
        let own = fit.prior == Prior::Own && wells > 0;
        return Ok(Rate { smoothed: if own { x / n } else { fit.pooled_rate }, spread: None });
    };
    let (a, b, tail) = (alpha + x, beta + (n - x).max(0.0), 0.5 * (1.0 - level));
    let (low, high) = (beta_quantile(a, b, tail)?, 1.0 - beta_quantile(b, a, tail)?);
    Ok(Rate { smoothed: a / (a + b), spread: Some(Spread { low, high, chance_above: beta_above(a, b, concern) }) })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Boys among the first twelve children of 6115 families of Saxony (Geissler 1889): alpha
    /// 34.096, beta 31.572 (Wikipedia, Beta-binomial distribution; the first from memory).
    #[test]
    fn saxony() {
        let families = [3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7];
        let boys: Vec<u64> = (0u64..).zip(families).flat_map(|(k, count)| std::iter::repeat_n(k, count)).collect();
        let fit = by_likelihood(&boys, &vec![12; boys.len()]).unwrap();
        let Prior::Beta { alpha, beta } = fit.prior else { panic!("a spread was found in print") };
        assert!((alpha - 34.096).abs() < 0.01 && (beta - 31.572).abs() < 0.01, "{alpha} {beta}");
    }

    #[test]
    fn boundaries() {
        let of = |x: &[u64], n: &[u64]| (by_moments(x, n).unwrap().prior, by_likelihood(x, n).unwrap().prior);
        assert_eq!(of(&[3], &[10]), (Prior::Pooled, Prior::Pooled));
        assert_eq!(of(&[0, 0], &[10, 5]), (Prior::Pooled, Prior::Pooled));
        assert_eq!(of(&[1, 0, 1], &[1, 1, 1]), (Prior::Pooled, Prior::Pooled));
        assert_eq!(of(&[5, 0, 5], &[5, 5, 5]).1, Prior::Own);
        assert_eq!(of(&[1, 1, 1, 1], &[10, 10, 10, 10]), (Prior::Pooled, Prior::Pooled));
        assert_eq!(by_moments(&[], &[]), Err(NoFit::NoWells));
        assert_eq!(by_likelihood(&[2], &[1]), Err(NoFit::NotCounts));
    }

    /// A curved ridge: 9 of 43, 8 of 51, 4 of 5. At the top no step in any direction is higher; the top is that of scipy's
    /// `minimize` over `betaln`, from four starts.
    #[test]
    fn a_curved_ridge_settles() {
        let fit = by_likelihood(&[9, 8, 4], &[43, 51, 5]).unwrap();
        let Prior::Beta { alpha, beta } = fit.prior else { panic!("{fit:?}") };
        assert!((alpha - 2.237_099).abs() < 1e-4 && (beta - 4.992_047).abs() < 2e-4, "{alpha} {beta}");
        let likelihood = Likelihood::of(&Areas::of(&[9, 8, 4], &[43, 51, 5]).unwrap());
        let height = |a: f64, b: f64| likelihood.at([libm::log(a), libm::log(b)]).unwrap().value;
        for (a, b) in [(1.001, 1.0), (0.999, 1.0), (1.0, 1.001), (1.0, 0.999), (1.001, 1.001), (0.999, 0.999)] {
            assert!(height(alpha * a, beta * b) <= height(alpha, beta), "{alpha} {beta}");
        }
    }

    proptest! {
        #[test]
        fn rates_are_shares_in_order(list in prop::collection::vec((0u64..60, 0.0..1.0f64), 1..20)) {
            let wells: Vec<u64> = list.iter().map(|(n, _)| *n).collect();
            let exceeding: Vec<u64> = list.iter().map(|(n, part)| (*n as f64 * part * part).round() as u64).collect();
            for fit in [by_moments(&exceeding, &wells), by_likelihood(&exceeding, &wells)] {
                let fit = match fit {
                    Ok(fit) => fit,
                    Err(NoFit::NoWells) => continue,
                    Err(why) => return Err(TestCaseError::fail(why.to_string())),
                };
                for (x, n) in exceeding.iter().zip(&wells) {
                    let rate = rate(&fit, *x, *n, 0.95, 0.05).unwrap();
                    prop_assert!((0.0..=1.0).contains(&rate.smoothed));
                    prop_assert!(rate.spread.is_none_or(|s| 0.0 <= s.low && s.low <= s.high && s.high <= 1.0 && (0.0..=1.0).contains(&s.chance_above)));
                }
            }
        }
    }
}
