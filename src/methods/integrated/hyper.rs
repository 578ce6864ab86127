//! Counts of all areas into weighted (mu, k): the posterior of the overall mean and of the
//! concentration, on a grid that goes where the weight is.
//!
//! Rows of equal ln(k), each with its own points in logit(mu). A reader would question the steps:
//! sums over evenly spaced points of a smooth function that fades at both ends are exact to far
//! more digits than their step suggests, and rows are halved until every other row gives the same
//! sum. Where k is large a component is narrow in mu, and the points are as close as it is narrow.
//! Beyond the ends k no longer matters: all the mass there is a row at the end.

use super::SpreadPrior;
use crate::methods::special::{beta_cdf, ln_beta, ln_rising};

/// Logit of the mean on which the prior is cut off; the mass beyond is one part in 10 million.
const LOGIT_MOST: f64 = 16.0;
/// ln(k / n0) below which areas are all or none, whatever k.
const LN_ALL_OR_NONE: f64 = -12.0;
/// k over the number of all wells above which areas are alike, whatever k: what is not known of the mean is then thirty times
/// as wide as what areas differ by.
const ALIKE: f64 = 1000.0;
/// Points and rows whose weight is below exp of this beside the best are left out.
const FADED: f64 = -21.0;
/// Mass of the prior beyond an end that is not worth a row.
const NOTHING: f64 = 1e-5;
/// First step between rows, about.
const FIRST_STEP: f64 = 0.65;
/// Rows are close enough where every other row gives this share of difference: the error left is
/// far below it.
const ROWS_AGREE: f64 = 0.005;

/// Beta(a, b) components of the prior's posterior.
#[derive(Clone, Debug, Default)]
pub(super) struct Components {
    pub(super) a: Vec<f64>,
    pub(super) b: Vec<f64>,
    pub(super) ln_beta: Vec<f64>,
    pub(super) ln_weight: Vec<f64>,
    /// Weights, adding up to one.
    pub(super) weight: Vec<f64>,
}

impl Components {
    pub(super) fn of(prior: SpreadPrior, exceeding: &[u64], wells: &[u64]) -> Self {
        let likelihood = Likelihood::of(exceeding, wells);
        let rows = rows(&likelihood, &Concentration::of(prior, wells));
        let mut components = Components::default();
        for row in &rows {
            row.points(&likelihood, &mut components);
        }
        components.settle();
        components
    }

    pub(super) fn len(&self) -> usize {
        self.a.len()
    }

    /// The component at a share of the total weight.
    pub(super) fn draw(&self, share: f64) -> (f64, f64) {
        let mut left = share;
        let place = self.weight.iter().position(|w| {
            left -= w;
            left < 0.0
        });
        let place = place.unwrap_or(self.len().saturating_sub(1));
        (self.a[place], self.b[place])
    }

    /// Drops what has faded and makes the weights add up to one.
    fn settle(&mut self) {
        let best = self.ln_weight.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let keep: Vec<bool> = self.ln_weight.iter().map(|w| *w > best + FADED).collect();
        for list in [&mut self.a, &mut self.b, &mut self.ln_weight] {
            let mut kept = keep.iter();
            list.retain(|_| kept.next() == Some(&true));
        }
        let total: f64 = self.ln_weight.iter().map(|w| libm::exp(w - best)).sum();
        let shift = best + libm::log(total);
        self.ln_weight.iter_mut().for_each(|w| *w -= shift);
        self.weight = self.ln_weight.iter().map(|w| libm::exp(*w)).collect();
        self.ln_beta = self.a.iter().zip(&self.b).map(|(a, b)| ln_beta(*a, *b)).collect();
    }
}

/// Areas that share a stretch of the rising products: counts of areas whose count reaches beyond
/// `from`.
struct Stretch {
    from: f64,
    length: f64,
    areas: f64,
}

/// The sum of ln of `a (a + 1) ... (a + count - 1)` over areas, whatever their number: each factor
/// once, times how often it occurs.
struct Rising(Vec<Stretch>);

impl Rising {
    fn of(counts: impl Iterator<Item = u64>) -> Self {
        let mut sorted: Vec<u64> = counts.collect();
        sorted.sort_unstable();
        let mut stretches = Vec::new();
        let mut from = 0;
        for (i, count) in sorted.iter().enumerate() {
            if *count > from {
                stretches.push(Stretch {
                    from: from as f64,
                    length: (count - from) as f64,
                    areas: (sorted.len() - i) as f64,
                });
                from = *count;
            }
        }
        Rising(stretches)
    }

    fn at(&self, a: f64) -> f64 {
        self.0.iter().map(|s| s.areas * ln_rising(a + s.from, s.length)).sum()
    }
}

struct Likelihood {
    hits: Rising,
    misses: Rising,
    wells: Rising,
}

impl Likelihood {
    fn of(exceeding: &[u64], wells: &[u64]) -> Self {
        let used = || exceeding.iter().zip(wells).filter(|(_, n)| **n > 0);
        Likelihood {
            hits: Rising::of(used().map(|(x, _)| *x)),
            misses: Rising::of(used().map(|(x, n)| n - x)),
            wells: Rising::of(used().map(|(_, n)| *n)),
        }
    }

    /// The part that varies along a row, prior of the mean and the change to its logit included.
    fn along(&self, logit: f64, k: f64) -> f64 {
        let (mu, rest) = shares(logit);
        libm::log(mu) + libm::log(rest) + self.hits.at(mu * k) + self.misses.at(rest * k)
    }
}

/// The prior of the concentration k: k / (n0 + k) as Beta(a, b).
struct Concentration {
    a: f64,
    b: f64,
    ln_n0: f64,
    /// ln(k) between which rows stand.
    ends: [f64; 2],
}

impl Concentration {
    fn of(prior: SpreadPrior, wells: &[u64]) -> Self {
        let mut used: Vec<u64> = wells.iter().copied().filter(|n| *n > 0).collect();
        used.sort_unstable();
        let middle = |i: usize| used.get(i).copied().unwrap_or(1) as f64;
        let ln_n0 = libm::log(0.5 * (middle(used.len() / 2) + middle(used.len().saturating_sub(1) / 2)));
        let all: u64 = used.iter().sum();
        let (a, b) = prior.beta();
        Concentration { a, b, ln_n0, ends: [ln_n0 + LN_ALL_OR_NONE, libm::log(ALIKE * all as f64)] }
    }

    /// ln of the density of ln(k).
    fn ln_density(&self, ln_k: f64) -> f64 {
        let (weight, rest) = shares(ln_k - self.ln_n0);
        self.a * libm::log(weight) + self.b * libm::log(rest) - ln_beta(self.a, self.b)
    }

    /// The mass below the low end and above the high end.
    fn beyond(&self) -> [f64; 2] {
        let [low, high] = self.ends.map(|ln_k| shares(ln_k - self.ln_n0));
        [beta_cdf(self.a, self.b, low.0), beta_cdf(self.b, self.a, high.1)]
    }
}

/// The mean and one minus it, both with all their digits.
fn shares(logit: f64) -> (f64, f64) {
    (1.0 / (1.0 + libm::exp(-logit)), 1.0 / (1.0 + libm::exp(logit)))
}

struct Row {
    ln_k: f64,
    /// ln of what the row's points have in common: the prior of k, and the likelihood's part without mu.
    ln_common: f64,
    /// Where along the row the weight is highest, its spread there, and its height.
    top: f64,
    sd: f64,
    height: f64,
    /// Rough ln of the row's whole weight.
    ln_total: f64,
}

impl Row {
    /// Looks for the highest point from `start` by parabolas through three points.
    fn of(likelihood: &Likelihood, ln_k: f64, ln_prior: f64, start: f64) -> Self {
        let k = libm::exp(ln_k);
        let (mut top, mut sd, mut height) = (start, 1.0f64, 0.0);
        for _ in 0..40 {
            let d = (0.1 * sd).clamp(1e-4, 0.1);
            let [left, middle, right] = [top - d, top, top + d].map(|l| likelihood.along(l, k));
            let (slope, bend) = ((right - left) / (2.0 * d), (right - 2.0 * middle + left) / (d * d));
            height = middle;
            let step = if bend < 0.0 { (-slope / bend).clamp(-2.0, 2.0) } else { slope.signum() };
            if bend < 0.0 {
                sd = (1.0 / (-bend).sqrt()).min(2.0);
            }
            let next = (top + step).clamp(-LOGIT_MOST, LOGIT_MOST);
            if (next - top).abs() < 0.1 * sd {
                break;
            }
            top = next;
        }
        let ln_common = ln_prior - likelihood.wells.at(k);
        Row { ln_k, ln_common, top, sd, height, ln_total: height + libm::log(sd) + ln_common }
    }

    /// Distance of the points: below the spread along the row, and below the width of a component
    /// where that is narrower, unless the row has so little weight that its steps do not show.
    fn step(&self, weight: f64) -> f64 {
        let (mu, rest) = shares(self.top);
        let narrow = 1.0 / (libm::exp(self.ln_k) * mu * rest).sqrt();
        let unseen = (2e-6 / weight.max(1e-12)).sqrt() * 2.0;
        (0.7 * self.sd).min(0.4).min((1.1 * narrow).max(unseen * self.sd).max(0.02 * self.sd))
    }

    fn points(&self, likelihood: &Likelihood, into: &mut Components) {
        let k = libm::exp(self.ln_k);
        let step = self.step(libm::exp(self.ln_total));
        let ln_step = libm::log(step);
        for direction in [-1.0, 1.0] {
            let first = if direction > 0.0 { 0 } else { 1 };
            for i in first.. {
                let logit = self.top + direction * step * f64::from(i);
                let height = likelihood.along(logit, k);
                if logit.abs() > LOGIT_MOST || height < self.height + FADED {
                    break;
                }
                let (mu, rest) = shares(logit);
                into.a.push(mu * k);
                into.b.push(rest * k);
                into.ln_weight.push(height + self.ln_common + ln_step);
            }
        }
    }
}

/// Rows close enough for the sum, only where the weight is; their `ln_total` is set so that the
/// whole is one.
fn rows(likelihood: &Likelihood, prior: &Concentration) -> Vec<Row> {
    let [mut low, mut high] = prior.ends;
    // An even number of steps: every other row then has both ends.
    let mut step = (high - low) / (2.0 * (0.5 * (high - low) / FIRST_STEP).ceil());
    for halving in 0.. {
        let mut rows = evenly(likelihood, prior, [low, high], step);
        let best = highest(&rows);
        let weights: Vec<f64> = rows.iter().map(|row| libm::exp(row.ln_total - best)).collect();
        let total: f64 = weights.iter().sum();
        let odd: f64 = weights.iter().skip(1).step_by(2).sum();
        if (total - 2.0 * odd).abs() <= ROWS_AGREE * total || halving == 8 {
            add_ends(likelihood, prior, step, &mut rows);
            settle(&mut rows);
            return rows;
        }
        let held: Vec<f64> = rows.iter().filter(|row| row.ln_total > best + FADED).map(|row| row.ln_k).collect();
        (low, high) =
            (held.first().map_or(low, |k| (k - step).max(low)), held.last().map_or(high, |k| (k + step).min(high)));
        step *= 0.5;
    }
    Vec::new()
}

/// Rows from one ln(k) to another; at an end of the prior a row counts half.
fn evenly(likelihood: &Likelihood, prior: &Concentration, [low, high]: [f64; 2], step: f64) -> Vec<Row> {
    let count = ((high - low) / step).round() as u32;
    let mut rows: Vec<Row> = Vec::new();
    for i in 0..=count {
        let ln_k = low + step * f64::from(i);
        let share: f64 = if prior.ends.iter().any(|end| (ln_k - end).abs() < 1e-6) { 0.5 } else { 1.0 };
        let start = rows.last().map_or(0.0, |row| row.top);
        rows.push(Row::of(likelihood, ln_k, libm::log(share) + prior.ln_density(ln_k), start));
    }
    rows
}

/// Adds a row for the mass beyond each end where the rows reach it.
fn add_ends(likelihood: &Likelihood, prior: &Concentration, step: f64, rows: &mut Vec<Row>) {
    for (end, mass) in prior.ends.into_iter().zip(prior.beyond()).filter(|(_, mass)| *mass > NOTHING) {
        let at_end = rows.iter().find(|row| (row.ln_k - end).abs() < 1e-6).map(|row| row.top);
        if let Some(start) = at_end {
            rows.push(Row::of(likelihood, end, libm::log(mass / step), start));
        }
    }
}

fn highest(rows: &[Row]) -> f64 {
    rows.iter().map(|row| row.ln_total).fold(f64::NEG_INFINITY, f64::max)
}

/// Makes the weights of rows add up to one and drops those that have faded.
fn settle(rows: &mut Vec<Row>) {
    let best = highest(rows);
    let total: f64 = rows.iter().map(|row| libm::exp(row.ln_total - best)).sum();
    let shift = best + libm::log(total);
    rows.iter_mut().for_each(|row| row.ln_total -= shift);
    rows.retain(|row| row.ln_total > FADED);
}
