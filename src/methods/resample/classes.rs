//! Many cells into few: neighbouring detects that differ by a small part of the group's spread become one cell at their mean.
//!
//! A reader would question the loss. A resampled mean of such cells spreads less than that of the values themselves by under one
//! part in 500 (the variance inside a cell is at most a quarter of its width squared, an eighth of the standard deviation), and by
//! one in 1,500 where values lie evenly; 2,000 resamples know their spread to one part in 60. Groups of few values, and all
//! non-detects, are left as they are, and values past a limit never join those before it, so that Kaplan-Meier means keep their
//! estimate.

use super::{Cells, Kind};

/// Groups of this many cells or fewer stay as they are: a resample of them costs next to nothing.
const FEW: usize = 200;
/// Widths of a cell in a standard deviation.
const WIDTHS: f64 = 8.0;

/// In what detects of one cell must be near to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Near {
    /// In their values: for means of values.
    Values,
    /// In their values and in their logarithms: for a line through logarithms. Values above zero only.
    Logarithms,
}

impl Cells {
    /// # Computes
    /// Cells of neighbouring detects, none wider than an eighth of the detects' standard deviation.
    /// # Takes
    /// Any cells; those of a group of few values are given back as they are.
    /// # Gives
    /// The same number of results, and the same mean of the detects between any two limits.
    /// # Source
    /// Our own.
    /// # Checked against
    /// Intervals of the cells as they were, below.
    pub fn joined(self, near: Near) -> Self {
        if self.count.len() <= FEW {
            return self;
        }
        let widths = [Some(width(&self, |x| x)), (near == Near::Logarithms).then(|| width(&self, libm::log))];
        let fits = |from: f64, to: f64| {
            let [values, logs] = widths;
            values.is_none_or(|w| to - from <= w) && logs.is_none_or(|w| libm::log(to / from) <= w)
        };
        let mut joined = Cells::default();
        // Lowest value of the cell that is being filled.
        let mut open: Option<f64> = None;
        for ((value, kind), count) in self.value.iter().zip(&self.kind).zip(&self.count) {
            let detect = *kind == Kind::Detect;
            if detect && open.is_some_and(|from| fits(from, *value)) {
                joined.add_to_last(*value, *count);
            } else {
                joined.value.push(*value);
                joined.kind.push(*kind);
                joined.count.push(*count);
                open = detect.then_some(*value);
            }
        }
        joined
    }

    /// Adds detects to the last cell, whose value stays the mean of its results.
    fn add_to_last(&mut self, value: f64, count: u32) {
        if let (Some(mean), Some(before)) = (self.value.last_mut(), self.count.last_mut()) {
            *before += count;
            *mean += (value - *mean) * f64::from(count) / f64::from(*before);
        }
    }
}

/// The widest a cell may be, on the scale of `of`.
fn width(cells: &Cells, of: impl Fn(f64) -> f64) -> f64 {
    let detects = cells.value.iter().zip(&cells.kind).zip(&cells.count);
    let detects = detects.filter(|((_, kind), _)| **kind == Kind::Detect);
    // Mean and sum of squares in one pass, so that far-off origins cost no digits (Welford 1962, from memory).
    let (mut n, mut mean, mut squares) = (0.0, 0.0, 0.0);
    for ((value, _), count) in detects {
        let (x, weight) = (of(*value), f64::from(*count));
        n += weight;
        let off = x - mean;
        mean += off * weight / n;
        squares += weight * off * (x - mean);
    }
    if n > 0.0 { (squares / n).sqrt() / WIDTHS } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::super::super::bootstrap::{Settings, bca, kaplan_meier_mean_of, mean_of};
    use super::super::super::censored::tests::words;
    use super::super::super::random::Stream;
    use super::super::super::ros_mean::ros_mean_of;
    use super::*;

    /// Log-normal results to four digits, those below their limit, if there is one, censored there.
    fn group(n: usize, limits: &[f64]) -> Cells {
        let mut stream = Stream::new(11, n as u64);
        let word = |i: usize| {
            let x = libm::exp(1.0 + stream.normal());
            let limit = limits.get(i % limits.len().max(1)).copied().unwrap_or(0.0);
            if x < limit { format!("<{limit}") } else { format!("{x:.4}") }
        };
        Cells::of(&words(&(0..n).map(word).collect::<Vec<_>>().join(" ")))
    }

    #[test]
    fn few_cells_keep_all_results_and_the_mean() {
        for limits in [&[][..], &[1.0, 3.0]] {
            for near in [Near::Values, Near::Logarithms] {
                let cells = group(4000, limits);
                let joined = cells.clone().joined(near);
                assert!(joined.count.len() < cells.count.len() / 15, "{}", joined.count.len());
                assert_eq!(joined.total(), cells.total());
                let mean = |cells: &Cells| kaplan_meier_mean_of(cells)(&cells.count).unwrap();
                assert!((mean(&joined) / mean(&cells) - 1.0).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn small_groups_stay() {
        let cells = group(150, &[]);
        assert_eq!(cells.clone().joined(Near::Values), cells);
    }

    /// Same group, 40,000 resamples each: standard errors within their own noise (four times 1 in 280) and the lost spread, ends
    /// within a tenth of a standard error.
    #[test]
    fn intervals_stay_where_they_were() {
        let settings = Settings { level: 0.95, resamples: 40_000, seed: 5, stream: 1 };
        let close = |whole: super::super::super::bootstrap::Interval, few: super::super::super::bootstrap::Interval| {
            let error = whole.standard_error;
            assert!((few.standard_error / error - 1.0).abs() < 0.016, "{} {error}", few.standard_error);
            for (a, b) in [(whole.low, few.low), (whole.high, few.high), (whole.upper, few.upper)] {
                assert!((a - b).abs() < 0.1 * error, "{a} {b} {error}");
            }
            assert!((whole.acceleration - few.acceleration).abs() < 1e-3);
        };
        let cells = group(600, &[]);
        let joined = cells.clone().joined(Near::Values);
        let of = |cells: &Cells| bca(cells, mean_of(cells), &settings).unwrap();
        close(of(&cells), of(&joined));
        let cells = group(600, &[0.5, 2.0]);
        let joined = cells.clone().joined(Near::Values);
        let of = |cells: &Cells| bca(cells, kaplan_meier_mean_of(cells), &settings).unwrap();
        close(of(&cells), of(&joined));
        let cells = group(900, &[2.0, 4.0]);
        let joined = cells.clone().joined(Near::Logarithms);
        assert!(joined.count.len() < 100 && cells.count.len() > 200);
        let of = |cells: &Cells| bca(cells, ros_mean_of(cells), &settings).unwrap();
        close(of(&cells), of(&joined));
    }
}
