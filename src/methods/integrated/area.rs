//! Weighted Beta components and one area's counts into the figures of that area's rate.
//!
//! The posterior density is the area's likelihood times a weighted sum of Beta densities that is
//! the same for all areas but for the weights. So the densities are worked out once on a grid in
//! logit(rate) and shared: an area costs one weighted sum for each of some fifty points. A reader
//! would question the accuracy: the density has to add up to one, and is refused where it does not.

use std::collections::BTreeMap;

use super::hyper::Components;
use super::{AreaRate, NoPosterior, Question};
use crate::methods::solve::root;
use crate::methods::special::{beta_cdf, ln_rising};

/// The grid ends here, at a rate of about one in a million and one minus that; what lies beyond is
/// summed in closed form.
const LOGIT_MOST: f64 = 14.0;
/// Grid positions are whole multiples of 2^-20.
const UNITS: f64 = 1_048_576.0;
/// A density this small beside the highest has faded.
const FADED: f64 = 1e-12;
/// Furthest that the chances of an area may be from adding up to one.
const WHOLE_EPS: f64 = 1e-5;

/// Densities of all components at grid positions, and ln of rising products at the counts that
/// occur.
pub(super) struct Columns<'a> {
    components: &'a Components,
    hits: Table,
    misses: Table,
    wells: Table,
    densities: BTreeMap<i64, Vec<f64>>,
}

impl<'a> Columns<'a> {
    pub(super) fn new(components: &'a Components, exceeding: &[u64], wells: &[u64]) -> Self {
        let whole: Vec<f64> = components.a.iter().zip(&components.b).map(|(a, b)| a + b).collect();
        Columns {
            components,
            hits: Table::of(&components.a, exceeding.iter().copied()),
            misses: Table::of(&components.b, exceeding.iter().zip(wells).map(|(x, n)| n - x)),
            wells: Table::of(&whole, wells.iter().copied()),
            densities: BTreeMap::new(),
        }
    }

    /// Figures of an area whose counts are among those the table was made for.
    pub(super) fn rate(&mut self, x: u64, n: u64, question: &Question) -> Result<AreaRate, NoPosterior> {
        let area = Area::of(self, x, n);
        for level in 0..7 {
            let curve = area.curve(self, level);
            if let Some(curve) = curve.filter(Curve::is_smooth) {
                return Ok(curve.figures(area.mean, question));
            }
        }
        Err(NoPosterior::Quadrature)
    }

    fn density(&mut self, position: i64) -> &[f64] {
        let c = self.components;
        self.densities.entry(position).or_insert_with(|| {
            let (ln_p, ln_q) = ln_shares(position as f64 / UNITS);
            c.a.iter()
                .zip(&c.b)
                .zip(&c.ln_beta)
                .map(|((a, b), ln_beta)| libm::exp(a * ln_p + b * ln_q - ln_beta))
                .collect()
        })
    }
}

/// ln of the rate and of one minus it, from its logit.
fn ln_shares(logit: f64) -> (f64, f64) {
    (-libm::log1p(libm::exp(-logit)), -libm::log1p(libm::exp(logit)))
}

/// ln of `start (start + 1) ... (start + count - 1)` of each component, by count.
struct Table(BTreeMap<u64, Vec<f64>>);

impl Table {
    fn of(start: &[f64], counts: impl Iterator<Item = u64>) -> Self {
        let mut table: BTreeMap<u64, Vec<f64>> = counts.map(|count| (count, Vec::new())).collect();
        let mut sums = vec![0.0; start.len()];
        let mut from = 0;
        for (count, row) in &mut table {
            let (before, length) = (from as f64, (count - from) as f64);
            for (sum, a) in sums.iter_mut().zip(start) {
                *sum += ln_rising(a + before, length);
            }
            from = *count;
            row.clone_from(&sums);
        }
        Table(table)
    }

    fn at(&self, count: u64) -> &[f64] {
        self.0.get(&count).map_or(&[], Vec::as_slice)
    }
}

struct Area {
    x: f64,
    misses: f64,
    /// Posterior mean and standard deviation of the rate.
    mean: f64,
    sd: f64,
    /// Weights that the other areas give to the components, their highest set to one, and ln of
    /// what that took.
    weights: Vec<f64>,
    ln_scale: f64,
}

impl Area {
    fn of(columns: &Columns, x: u64, n: u64) -> Self {
        let c = columns.components;
        let (hits, misses) = (x as f64, (n - x) as f64);
        let evidence = columns
            .hits
            .at(x)
            .iter()
            .zip(columns.misses.at(n - x))
            .zip(columns.wells.at(n))
            .map(|((h, m), w)| h + m - w);
        let ln_others: Vec<f64> = c.ln_weight.iter().zip(evidence).map(|(w, e)| w - e).collect();
        let ln_scale = ln_others.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (mut mean, mut square) = (0.0, 0.0);
        for ((a, b), w) in c.a.iter().zip(&c.b).zip(&c.weight) {
            let whole = a + b + hits + misses;
            let m = (a + hits) / whole;
            mean += w * m;
            square += w * m * (m + (1.0 - m) / (whole + 1.0));
        }
        let sd = (square - mean * mean).max(0.0).sqrt();
        Area {
            x: hits,
            misses,
            mean,
            sd,
            weights: ln_others.iter().map(|w| libm::exp(w - ln_scale)).collect(),
            ln_scale,
        }
    }

    /// Density of the logit of the rate.
    fn density(&self, columns: &mut Columns, position: i64) -> f64 {
        let (ln_p, ln_q) = ln_shares(position as f64 / UNITS);
        let sum = dot(&self.weights, columns.density(position));
        if sum > 0.0 { libm::exp(self.ln_scale + self.x * ln_p + self.misses * ln_q + libm::log(sum)) } else { 0.0 }
    }

    /// The density from where it has faded to where it has faded again, `level` halvings closer
    /// than the spread suggests.
    fn curve(&self, columns: &mut Columns, level: i32) -> Option<Curve> {
        let centre = libm::log(self.mean / (1.0 - self.mean)).clamp(-LOGIT_MOST, LOGIT_MOST);
        let spread = (self.sd / (self.mean * (1.0 - self.mean))).min(1.0);
        let halvings = (-libm::log2(0.3 * spread)).ceil() as i32 + level;
        let step = (UNITS / libm::exp2(f64::from(halvings.clamp(2, 18)))) as i64;
        let most = (LOGIT_MOST * UNITS) as i64;
        let start = (centre * UNITS / step as f64).round() as i64 * step;
        let mut nodes: BTreeMap<i64, f64> = BTreeMap::new();
        let mut highest = 0.0f64;
        for direction in [-1, 1] {
            let mut position = start;
            loop {
                let value = self.density(columns, position);
                highest = highest.max(value);
                nodes.insert(position, value);
                // Three more points past an end carry the polynomials there.
                if position * direction > most + 3 * step
                    || (value < FADED * highest && (position - start).abs() > 4 * step)
                {
                    break;
                }
                position += direction * step;
            }
        }
        let first = *nodes.keys().next()?;
        let density: Vec<f64> = nodes.into_values().collect();
        let mut curve = Curve {
            first: first as f64 / UNITS,
            step: step as f64 / UNITS,
            share: Vec::new(),
            below: 0.0,
            above: 0.0,
            density,
        };
        let n = curve.density.len();
        if n < 8 {
            return None;
        }
        // Shares are counted from the third point to the third last; beyond is nothing, or a closed
        // tail.
        if curve.density[0] >= FADED * highest {
            curve.below = self.tail(columns, first + 2 * step, Side::Low);
        }
        if curve.density[n - 1] >= FADED * highest {
            curve.above = self.tail(columns, first + (n as i64 - 3) * step, Side::High);
        }
        curve.add_up();
        Some(curve)
    }

    /// The share beyond a grid position: a Beta's tail is its density there over its near
    /// parameter, times a series of positive terms (Abramowitz and Stegun 26.5.4, from memory).
    fn tail(&self, columns: &mut Columns, position: i64, side: Side) -> f64 {
        let c = columns.components;
        let (ln_p, ln_q) = ln_shares(position as f64 / UNITS);
        let (near, far, ln_near) = match side {
            Side::Low => (&c.a, &c.b, ln_p),
            Side::High => (&c.b, &c.a, ln_q),
        };
        let (more_near, more_far) = match side {
            Side::Low => (self.x, self.misses),
            Side::High => (self.misses, self.x),
        };
        let scale = libm::exp(ln_near);
        let ln_common = self.ln_scale + self.x * ln_p + self.misses * ln_q;
        let mut direct = 0.0;
        let mut weighted = self.weights.clone();
        for (((weight, a), b), whole) in weighted.iter_mut().zip(near).zip(far).zip(&c.weight) {
            let (a, b) = (a + more_near, b + more_far);
            if (a + b) * scale < SERIES_UP_TO * (a + 1.0) {
                *weight *= tail_series(a, b, scale);
            } else {
                // Most of this component lies beyond the end, where the series is slow.
                *weight = 0.0;
                direct += whole * beta_cdf(a, b, scale);
            }
        }
        let sum = dot(&weighted, columns.density(position));
        direct + if sum > 0.0 { libm::exp(ln_common + libm::log(sum)) } else { 0.0 }
    }
}

/// Ratio of neighbouring terms up to which the tail's series is fast.
const SERIES_UP_TO: f64 = 0.8;

/// The share of Beta(a, b) below `x` over its density in the logit there.
fn tail_series(a: f64, b: f64, x: f64) -> f64 {
    let (mut term, mut sum) = (1.0 / a, 1.0 / a);
    for i in 0..200 {
        term *= (a + b + f64::from(i)) / (a + 1.0 + f64::from(i)) * x;
        sum += term;
        if term < 1e-12 * sum {
            break;
        }
    }
    sum
}

#[derive(Clone, Copy)]
enum Side {
    Low,
    High,
}

/// Sum of products, in eight lanes that a processor works out side by side, always in the same
/// order.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let (a_chunks, b_chunks) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f64 = a_chunks.remainder().iter().zip(b_chunks.remainder()).map(|(x, y)| x * y).sum();
    for (x, y) in a_chunks.zip(b_chunks) {
        for i in 0..8 {
            lanes[i] += x[i] * y[i];
        }
    }
    lanes.iter().sum::<f64>() + rest
}

/// A density on evenly spaced points of the logit, and the share below each from the third on.
struct Curve {
    first: f64,
    step: f64,
    density: Vec<f64>,
    share: Vec<f64>,
    below: f64,
    above: f64,
}

impl Curve {
    /// Shares by the integral of the fifth-degree polynomial through six points around each
    /// stretch, scaled to a whole of one.
    fn add_up(&mut self) {
        let mut sum = self.below;
        self.share.push(sum);
        for f in self.density.windows(6) {
            let middle = 802.0 * (f[2] + f[3]) - 93.0 * (f[1] + f[4]) + 11.0 * (f[0] + f[5]);
            sum += self.step * middle / 1440.0;
            self.share.push(sum);
        }
    }

    fn whole(&self) -> f64 {
        self.share.last().copied().unwrap_or(0.0) + self.above
    }

    /// Whether the shares add up to one, also when only every other point is asked.
    fn is_smooth(&self) -> bool {
        let inner = &self.density[2..self.density.len() - 2];
        let even: f64 = inner.iter().step_by(2).sum();
        let odd: f64 = inner.iter().skip(1).step_by(2).sum();
        // A curve that ends on a slope, at the edge of the grid, has no fading sums to compare.
        let faded = self.below == 0.0 && self.above == 0.0;
        (self.whole() - 1.0).abs() < WHOLE_EPS && (!faded || (even - odd).abs() < 1e-3 * (even + odd))
    }

    fn figures(&self, mean: f64, question: &Question) -> AreaRate {
        let tail = 0.5 * (1.0 - question.level);
        let logit = libm::log(question.concern / (1.0 - question.concern));
        let rate = |share: f64| 1.0 / (1.0 + libm::exp(-self.logit_at(share)));
        AreaRate {
            mean,
            low: rate(tail),
            high: rate(1.0 - tail),
            chance_above: (1.0 - self.share_below(logit)).clamp(0.0, 1.0),
        }
    }

    /// Logit below which a share lies; infinite beyond the grid.
    fn logit_at(&self, share: f64) -> f64 {
        let wanted = share * self.whole();
        let cell = self.share.partition_point(|s| *s < wanted);
        if cell == 0 || cell >= self.share.len() {
            return if cell == 0 { f64::NEG_INFINITY } else { f64::INFINITY };
        }
        let part = root(|t| self.inside(cell - 1, t) - wanted, 0.0, 1.0).unwrap_or(0.5);
        self.first + self.step * (cell as f64 + 1.0 + part)
    }

    fn share_below(&self, logit: f64) -> f64 {
        let place = (logit - self.first) / self.step - 2.0;
        if place <= 0.0 {
            return self.below / self.whole();
        }
        let cell = place.floor() as usize;
        let sum = if cell + 1 >= self.share.len() {
            self.whole() - self.above
        } else {
            self.inside(cell, place - cell as f64)
        };
        sum / self.whole()
    }

    /// The share below a point inside a stretch: the fifth-degree polynomial with the shares,
    /// densities and slopes of both ends.
    fn inside(&self, cell: usize, t: f64) -> f64 {
        let slope = |i: usize| {
            (self.density[i - 2] - 8.0 * self.density[i - 1] + 8.0 * self.density[i + 1] - self.density[i + 2]) / 12.0
        };
        let (h, i) = (self.step, cell + 2);
        let (f0, f1) = (self.share[cell], self.share[cell + 1]);
        let (d0, d1) = (h * self.density[i], h * self.density[i + 1]);
        let (b0, b1) = (h * slope(i), h * slope(i + 1));
        let rise = f1 - f0;
        let c3 = 10.0 * rise - 6.0 * d0 - 4.0 * d1 - 1.5 * b0 + 0.5 * b1;
        let c4 = -15.0 * rise + 8.0 * d0 + 7.0 * d1 + 1.5 * b0 - b1;
        let c5 = 6.0 * rise - 3.0 * (d0 + d1) - 0.5 * (b0 - b1);
        f0 + t * (d0 + t * (0.5 * b0 + t * (c3 + t * (c4 + t * c5))))
    }
}
