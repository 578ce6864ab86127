//! Robust regression on order statistics: left-censored values into a completed sample, its figures
//! and the line it rests on.
//!
//! Detects stay as they are; only the non-detects are read off a line through the logarithms of the
//! detects. A reader would question non-detects above the highest detect: they are left out, since
//! the line knows nothing of them. Nothing is ever replaced by a share of its limit.

use thiserror::Error;

use super::censored::{Censored, Tie};
use super::quantiles::{linear, position};
use super::special::normal_quantile;

/// Why there is no completed sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoLine {
    /// A line needs two points.
    #[error("fewer than two different detected values: no line can be drawn")]
    OneDetectedValue,
    /// A logarithm is needed of each detect.
    #[error("a value at or below zero has no logarithm")]
    ZeroOrBelow,
}

/// One limit and what stands around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// The limit; `None` for the stretch below the lowest limit.
    pub limit: Option<f64>,
    /// Detects from this limit to below the next.
    pub detects: u64,
    /// Detects below this limit, and non-detects with a limit up to it.
    pub all_below: u64,
    /// Non-detects at this limit.
    pub nondetects: u64,
    /// Estimated chance to be at or above this limit.
    pub exceedance: f64,
    /// The same of the next limit up, 0 past the last.
    pub next_exceedance: f64,
}

/// The line ln(value) = intercept + slope * normal quantile of the plotting position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Mean of the logarithms, by the line.
    pub intercept: f64,
    /// Standard deviation of the logarithms, by the line.
    pub slope: f64,
}

/// A completed sample.
#[derive(Clone, Debug, PartialEq)]
pub struct Ros {
    /// Limits, lowest first.
    pub thresholds: Vec<Threshold>,
    /// `None` where nothing had to be completed.
    pub line: Option<Line>,
    /// Plotting positions of the detects, lowest first; empty without a line.
    pub detect_positions: Vec<f64>,
    /// Plotting positions of the non-detects in use, lowest first; empty without a line.
    pub nondetect_positions: Vec<f64>,
    /// Values read off the line for the non-detects, lowest first.
    pub imputed: Vec<f64>,
    /// Non-detects above the highest detect, which are left out.
    pub left_out: usize,
    sample: Vec<Completed>,
}

/// A value of the completed sample.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Completed {
    value: f64,
    origin: Origin,
}

/// A quantile of a completed sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Read {
    /// The quantile.
    pub value: f64,
    /// Where it comes from.
    pub origin: Origin,
}

/// Whether a figure rests on results alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// On detects only.
    Measured,
    /// At least in part on values read off a line.
    Modelled,
}

impl Ros {
    /// # Computes
    /// Hirsch and Stedinger's plotting positions with the thresholds of Helsel and Cohn; least
    /// squares of ln(value) on the normal quantile of the position, detects only; non-detects read
    /// off the line at their own positions.
    /// # Takes
    /// Left-censored values above zero.
    /// # Gives
    /// The completed sample. Ties take successive positions. Without non-detects there is nothing
    /// to complete, and no line.
    /// # Errors
    /// Fewer than two different detects; a detect at or below zero.
    /// # Conventions
    /// With limits T_j: A = detects in [T_j, T_j+1), B = detects below T_j and non-detects with
    /// limit up to T_j, PE_j = PE_j+1 + (1 - PE_j+1) A / (A + B); detect i of A at (1 - PE_j) +
    /// (PE_j - PE_j+1) i / (A + 1), non-detect i of the C at T_j at (1 - PE_j) i / (C + 1).
    /// # Source
    /// Hirsch and Stedinger 1987; Helsel and Cohn 1988, Appendix B (through published test data of
    /// the same example).
    /// # Checked against
    /// `tests/reference/statistics/02-ros.json`, `20-bangladesh-arsenic.json`.
    pub fn of(group: &Censored) -> Result<Self, NoLine> {
        let (Some(lowest), Some(highest)) = (group.lowest_detect(), group.highest_detect()) else {
            return Err(NoLine::OneDetectedValue);
        };
        if lowest >= highest {
            return Err(NoLine::OneDetectedValue);
        }
        if lowest <= 0.0 {
            return Err(NoLine::ZeroOrBelow);
        }
        let thresholds = thresholds(group.ties());
        let used: Vec<&Threshold> =
            thresholds.iter().filter(|t| t.limit.is_none_or(|limit| limit <= highest)).collect();
        let left_out = group.limits().filter(|(limit, _)| *limit > highest).map(|(_, count)| count as usize).sum();
        let mut ros = Ros {
            line: None,
            detect_positions: Vec::new(),
            nondetect_positions: Vec::new(),
            imputed: Vec::new(),
            left_out,
            sample: Vec::new(),
            thresholds: Vec::new(),
        };
        if used.iter().any(|t| t.nondetects > 0) {
            ros.draw(&used, group);
        }
        ros.thresholds = thresholds;
        ros.complete(group);
        Ok(ros)
    }

    fn draw(&mut self, used: &[&Threshold], group: &Censored) {
        self.detect_positions = used.iter().flat_map(|t| positions(t)).collect();
        let below = |t: &&Threshold| (1.0 - t.exceedance, t.nondetects);
        let spaced = |(share, count): (f64, u64)| (1..=count).map(move |i| share * i as f64 / (count + 1) as f64);
        self.nondetect_positions = used.iter().map(below).flat_map(spaced).collect();
        self.nondetect_positions.sort_unstable_by(f64::total_cmp);
        let logs = group.detects().flat_map(|(value, count)| std::iter::repeat_n(libm::log(value), count as usize));
        let line = fitted(self.detect_positions.iter().map(|p| normal_quantile(*p)), logs);
        self.imputed = self
            .nondetect_positions
            .iter()
            .map(|p| libm::exp(line.intercept + line.slope * normal_quantile(*p)))
            .collect();
        self.line = Some(line);
    }

    fn complete(&mut self, group: &Censored) {
        let measured = group.detects().flat_map(|(value, count)| std::iter::repeat_n(value, count as usize));
        let modelled = self.imputed.iter().map(|value| Completed { value: *value, origin: Origin::Modelled });
        self.sample = measured.map(|value| Completed { value, origin: Origin::Measured }).chain(modelled).collect();
        self.sample.sort_by(|a, b| a.value.total_cmp(&b.value));
    }

    /// Results in use: all but the non-detects above the highest detect.
    pub fn n_used(&self) -> usize {
        self.sample.len()
    }

    /// Mean of the completed sample.
    pub fn mean(&self) -> f64 {
        self.sample.iter().map(|c| c.value).sum::<f64>() / self.sample.len() as f64
    }

    /// Standard deviation of the completed sample, divisor n - 1.
    pub fn sd(&self) -> f64 {
        let mean = self.mean();
        let squares: f64 = self.sample.iter().map(|c| (c.value - mean) * (c.value - mean)).sum();
        (squares / (self.sample.len() as f64 - 1.0)).sqrt()
    }

    /// Quantile of the completed sample (type 7), and whether the line had a part in it; `None` for
    /// `p` outside 0 to 1.
    pub fn quantile(&self, p: f64) -> Option<Read> {
        let values: Vec<f64> = self.sample.iter().map(|c| c.value).collect();
        let value = linear(&values, p)?;
        let (below, share) = position(values.len(), p)?;
        let modelled = |i: usize| self.sample.get(i).is_some_and(|c| c.origin == Origin::Modelled);
        let has_part = modelled(below) || (share > 0.0 && modelled(below + 1));
        Some(Read { value, origin: if has_part { Origin::Modelled } else { Origin::Measured } })
    }
}

/// Thresholds from the highest limit down, given lowest first.
fn thresholds(ties: &[Tie]) -> Vec<Threshold> {
    let mut rows = Vec::new();
    let mut left: u64 = ties.iter().map(|t| u64::from(t.detects) + u64::from(t.nondetects)).sum();
    let (mut detects, mut next) = (0, 0.0);
    for tie in ties.iter().rev() {
        detects += u64::from(tie.detects);
        left -= u64::from(tie.detects) + u64::from(tie.nondetects);
        let nondetects = u64::from(tie.nondetects);
        if nondetects > 0 {
            let all_below = left + nondetects;
            let exceedance = next + (1.0 - next) * detects as f64 / (detects + all_below) as f64;
            rows.push(Threshold {
                limit: Some(tie.value),
                detects,
                all_below,
                nondetects,
                exceedance,
                next_exceedance: next,
            });
            (next, detects) = (exceedance, 0);
        }
    }
    if detects > 0 && !rows.is_empty() {
        rows.push(Threshold {
            limit: None,
            detects,
            all_below: 0,
            nondetects: 0,
            exceedance: 1.0,
            next_exceedance: next,
        });
    }
    rows.reverse();
    rows
}

fn positions(t: &Threshold) -> impl Iterator<Item = f64> + use<> {
    let (from, width, parts) = (1.0 - t.exceedance, t.exceedance - t.next_exceedance, (t.detects + 1) as f64);
    (1..=t.detects).map(move |i| from + width * i as f64 / parts)
}

/// Least squares of `y` on `x`.
fn fitted(x: impl Iterator<Item = f64>, y: impl Iterator<Item = f64>) -> Line {
    let points: Vec<(f64, f64)> = x.zip(y).collect();
    let n = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let across: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    let along: f64 = points.iter().map(|p| (p.0 - mx) * (p.0 - mx)).sum();
    let slope = across / along;
    Line { intercept: my - slope * mx, slope }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::*;

    /// Helsel and Cohn 1988, Appendix B: exceedance 0.55556 and 0.33333, first imputed values 0.47,
    /// 0.85, 1.11 (cut to two digits; read from published test data of the same example).
    #[test]
    fn helsel_cohn_example() {
        let group = words("<1 <1 <1 <1 <1 <1 <10 <10 <10 3 7 9 12 15 20 27 33 50");
        let ros = Ros::of(&group).unwrap();
        assert!(
            (ros.thresholds[0].exceedance - 0.55556).abs() < 1e-5
                && (ros.thresholds[1].exceedance - 0.33333).abs() < 1e-5
        );
        for (got, printed) in ros.imputed.iter().zip([0.47, 0.85, 1.11]) {
            assert!((got - printed).abs() < 0.01);
        }
    }

    #[test]
    fn reasons_for_no_line() {
        assert_eq!(Ros::of(&words("")), Err(NoLine::OneDetectedValue));
        assert_eq!(Ros::of(&words("<1 2 2")), Err(NoLine::OneDetectedValue));
        assert_eq!(Ros::of(&words("<1 0 2")), Err(NoLine::ZeroOrBelow));
    }

    #[test]
    fn non_detects_above_every_detect_are_left_out() {
        let ros = Ros::of(&words("<1 2 3 <50 <50")).unwrap();
        assert_eq!((ros.left_out, ros.n_used(), ros.imputed.len()), (2, 3, 1));
    }

    #[test]
    fn a_quantile_says_where_it_comes_from() {
        let ros = Ros::of(&words("<1 <1 <1 2 3 4 5")).unwrap();
        assert_eq!(ros.quantile(0.25).unwrap().origin, Origin::Modelled);
        assert_eq!(ros.quantile(0.75).unwrap(), Read { value: 3.5, origin: Origin::Measured });
    }

    proptest! {
        #[test]
        fn completed_samples_are_numbers(group in groups(), p in 0.0..1.0f64) {
            let Ok(ros) = Ros::of(&group) else { return Ok(()) };
            prop_assert!(ros.mean().is_finite() && ros.sd().is_finite() && ros.quantile(p).unwrap().value.is_finite());
            prop_assert_eq!(ros.n_used() + ros.left_out, group.len());
            prop_assert!(ros.imputed.iter().all(|x| *x >= 0.0));
            prop_assert!(ros.detect_positions.iter().chain(&ros.nondetect_positions).all(|p| *p > 0.0 && *p < 1.0));
        }

        #[test]
        fn complete_data_stay_as_they_are(group in groups()) {
            let (0, Ok(ros)) = (group.nondetects(), Ros::of(&group)) else { return Ok(()) };
            let mean = group.detects().map(|(v, c)| v * f64::from(c)).sum::<f64>() / group.len() as f64;
            prop_assert!(ros.line.is_none() && (ros.mean() - mean).abs() <= 1e-12 * mean);
        }
    }
}
