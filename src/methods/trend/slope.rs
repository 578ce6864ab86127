//! Series into the slope at which no trend is left.
//!
//! S between time and value - b time falls in steps as b grows. With few pairs every step is laid out; with many the two ends of the
//! stretch of zero are found by halving, each look costing one sort.

use super::Series;
use super::order::s_in_order;

/// The slope and the stretch it is the middle of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// Middle of the stretch, per unit of time.
    pub middle: f64,
    /// Where S stops being above 0.
    pub from: f64,
    /// Where S becomes negative.
    pub to: f64,
}

impl Slope {
    fn of(from: f64, to: f64) -> Option<Self> {
        let middle = from + 0.5 * (to - from);
        middle.is_finite().then_some(Slope { middle, from, to })
    }
}

/// Pairs up to which every step is laid out: 1000 results, some 15 MB.
const MOST_PAIRS: usize = 500_000;
/// Slopes of two pairs this near (relative) are one step.
const SAME_SLOPE: f64 = 1e-12;
/// Width (relative) at which an end found by halving has settled.
const MANY_EPS: f64 = 1e-10;

pub(super) fn slope(all: &[Series<'_>]) -> Option<Slope> {
    let pairs: usize = all.iter().map(|s| s.times.len() * s.times.len().saturating_sub(1) / 2).sum();
    if pairs <= MOST_PAIRS { by_steps(all) } else { by_halving(all) }
}

/// What happens to S at the slope of a pair.
#[derive(Clone, Copy)]
struct Step {
    at: f64,
    /// By how much S falls on reaching the slope, and on leaving it.
    reached: i64,
    left: i64,
}

pub(super) fn by_steps(all: &[Series<'_>]) -> Option<Slope> {
    let mut steps: Vec<Step> = all.iter().flat_map(steps_of).collect();
    if steps.iter().any(|step| !step.at.is_finite()) {
        return None;
    }
    steps.sort_unstable_by(|a, b| a.at.total_cmp(&b.at));
    // Far below every slope each pair that can rise does: detect to detect, and non-detect to detect.
    let mut s: i64 = steps.iter().map(|step| step.left).sum();
    let end = s - steps.iter().map(|step| step.reached + step.left).sum::<i64>();
    if s <= 0 || end >= 0 {
        return None;
    }
    let near = |a: &Step, b: &Step| (b.at - a.at).abs() <= SAME_SLOPE * a.at.abs().max(b.at.abs());
    let mut from = None;
    for alike in steps.chunk_by(near) {
        s -= alike.iter().map(|step| step.reached + step.left).sum::<i64>();
        let at = alike.first()?.at;
        if s <= 0 && from.is_none() {
            from = Some(at);
        }
        if s < 0 {
            return Slope::of(from?, at);
        }
    }
    None
}

fn steps_of(series: &Series<'_>) -> Vec<Step> {
    let Series { times, values, nondetect } = *series;
    let mut order: Vec<usize> = (0..times.len()).collect();
    order.sort_unstable_by(|a, b| times[*a].total_cmp(&times[*b]));
    let mut steps = Vec::new();
    for (place, i) in order.iter().enumerate() {
        for j in order.iter().skip(place + 1).filter(|j| times[**j] > times[*i]) {
            let at = (values[*j] - values[*i]) / (times[*j] - times[*i]) + 0.0;
            match (nondetect[*i], nondetect[*j]) {
                (false, false) => steps.push(Step { at, reached: 1, left: 1 }),
                (true, false) => steps.push(Step { at, reached: 0, left: 1 }),
                (false, true) => steps.push(Step { at, reached: 1, left: 0 }),
                (true, true) => {}
            }
        }
    }
    steps
}

/// A series with its order in time.
struct Timed<'a> {
    series: Series<'a>,
    order: Vec<usize>,
}

impl Timed<'_> {
    fn s(&self, b: f64) -> f64 {
        let Series { times, values, nondetect } = self.series;
        let first = self.order.first().map_or(0.0, |i| times[*i]);
        let residuals: Vec<f64> = times.iter().zip(values).map(|(t, v)| v - b * (t - first)).collect();
        s_in_order(&self.order, times, &residuals, nondetect)
    }
}

pub(super) fn by_halving(all: &[Series<'_>]) -> Option<Slope> {
    let timed = |series: &Series<'_>| {
        let mut order: Vec<usize> = (0..series.times.len()).collect();
        order.sort_unstable_by(|a, b| (series.times[*a] + 0.0).total_cmp(&(series.times[*b] + 0.0)));
        order
    };
    let all: Vec<Timed<'_>> = all.iter().map(|series| Timed { series: *series, order: timed(series) }).collect();
    let s = |b: f64| all.iter().map(|series| series.s(b)).sum::<f64>();
    let typical = all.iter().map(|one| steepness(one.series)).fold(0.0, f64::max);
    let typical = if typical > 0.0 && typical.is_finite() { typical } else { 1.0 };
    // Widened by fours: fifty of them pass any slope that data of a double's digits can hold.
    let widths = || (0..50).map(|i| typical * libm::pow(4.0, f64::from(i)));
    let low = widths().map(|w| -w).find(|b| s(*b) > 0.0)?;
    let high = widths().find(|b| s(*b) < 0.0)?;
    let (low, high) = approach(low, high, s);
    let enough = |low: f64, high: f64| high - low <= MANY_EPS * low.abs().max(high.abs()).max(1e-3 * typical);
    let (from, _) = halve(low, high, enough, |b| s(b) > 0.0);
    let (_, to) = halve(from, high, enough, |b| s(b) >= 0.0);
    Slope::of(from, to)
}

/// Narrows a bracket by straight lines between its ends; with many pairs S is nearly smooth and a few looks gain many digits.
///
/// An end that stays twice has its height halved (the Illinois rule), without which the other end would never move.
fn approach(mut low: f64, mut high: f64, s: impl Fn(f64) -> f64) -> (f64, f64) {
    let (mut above, mut below) = (s(low), s(high));
    let mut stayed = 0_i32;
    for _ in 0..16 {
        let guess = low + (high - low) * above / (above - below);
        if !(guess > low && guess < high) {
            break;
        }
        let here = s(guess);
        if here > 0.0 {
            (low, above, stayed) = (guess, here, stayed.max(0) + 1);
        } else if here < 0.0 {
            (high, below, stayed) = (guess, here, stayed.min(0) - 1);
        } else {
            break;
        }
        below /= if stayed > 1 { 2.0 } else { 1.0 };
        above /= if stayed < -1 { 2.0 } else { 1.0 };
    }
    (low, high)
}

/// Range of the values over the range of the times.
fn steepness(series: Series<'_>) -> f64 {
    let range = |list: &[f64]| {
        let low = list.iter().copied().fold(f64::INFINITY, f64::min);
        list.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low
    };
    range(series.values) / range(series.times)
}

/// Narrows to the end of the stretch, from `low` on, where the condition holds.
fn halve(mut low: f64, mut high: f64, enough: impl Fn(f64, f64) -> bool, holds: impl Fn(f64) -> bool) -> (f64, f64) {
    while !enough(low, high) {
        let middle = low + 0.5 * (high - low);
        if middle <= low || middle >= high {
            break;
        }
        if holds(middle) { low = middle } else { high = middle }
    }
    (low, high)
}
