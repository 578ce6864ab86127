//! Bootstrap intervals: a group's cells and a figure of them into the bias-corrected accelerated
//! interval of that figure.
//!
//! A reader would question ties: resamples equal to the estimate count half in the bias correction,
//! since rounded results make many of them. Resamples that have no figure are dropped and counted.

use thiserror::Error;

use super::random::Stream;
use super::resample::{Cells, Kind, Resampler};
use super::special::{normal_cdf, normal_quantile};

/// How an interval is to be made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Two-sided level, such as 0.95.
    pub level: f64,
    /// Number of resamples.
    pub resamples: usize,
    /// Seed of the survey.
    pub seed: u64,
    /// Number of this group's stream.
    pub stream: u64,
}

/// An interval and what it was made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Interval {
    /// The figure of the group itself.
    pub estimate: f64,
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
    /// Upper limit at the same level, one-sided.
    pub upper: f64,
    /// Ends of the plain percentile interval.
    pub percentile: [f64; 2],
    /// Standard deviation of the figure over the resamples.
    pub standard_error: f64,
    /// Bias correction.
    pub z0: f64,
    /// Acceleration.
    pub acceleration: f64,
    /// Shares of the resamples at which the ends are read.
    pub levels: [f64; 2],
    /// Resamples that had no figure.
    pub dropped: usize,
}

/// Why there is no interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoInterval {
    /// The group itself has no such figure.
    #[error("the figure cannot be had from the group itself")]
    NoEstimate,
    /// Level outside 0 to 1, or no resamples asked for.
    #[error("an interval needs a level between 0 and 1 and at least one resample")]
    Settings,
    /// All results give the same figure.
    #[error("all results are alike, so resamples say nothing about the spread")]
    NoSpread,
    /// The figure is lost when a single result is left out.
    #[error("the figure hangs on a single result")]
    HangsOnOne,
    /// More than half of the resamples had no figure.
    #[error("{0} resamples could not be summarised, more than half")]
    TooManyDropped(usize),
}

/// # Computes
/// The bias-corrected accelerated interval: quantiles of the resampled figure at shares moved by
/// the bias correction z0 and the acceleration a, as Phi(z0 + (z0 + z) / (1 - a (z0 + z))).
/// # Takes
/// Cells, and a figure of any counts of these cells, `None` where the counts have no such figure.
/// Values and marks are drawn together.
/// # Gives
/// Ends that are figures of actual resamples (the lowest with at least the share asked for at or
/// below it).
/// # Errors
/// See `NoInterval`; too few different results is the usual cause.
/// # Conventions
/// z0 counts ties as half and is kept half a resample away from none and all; acceleration by the
/// jackknife; a share that the formula carries past the last resample ends there.
/// # Source
/// Efron 1987; Efron and Tibshirani 1993, section 14.3 (from memory).
/// # Checked against
/// `tests/reference/statistics/18-bootstrap.json`.
pub fn bca(cells: &Cells, figure: impl Fn(&[u32]) -> Option<f64>, settings: &Settings) -> Result<Interval, NoInterval> {
    if !(settings.level > 0.0 && settings.level < 1.0) || settings.resamples == 0 {
        return Err(NoInterval::Settings);
    }
    let estimate = figure(&cells.count).filter(|x| x.is_finite()).ok_or(NoInterval::NoEstimate)?;
    let acceleration = acceleration(cells, &figure)?;
    let mut drawn = draws(cells, &figure, settings);
    let dropped = settings.resamples - drawn.len();
    if 2 * dropped > settings.resamples {
        return Err(NoInterval::TooManyDropped(dropped));
    }
    drawn.sort_unstable_by(f64::total_cmp);
    let z0 = bias_correction(&drawn, estimate);
    let tail = normal_quantile(0.5 + 0.5 * settings.level);
    let levels = [moved(z0, acceleration, -tail), moved(z0, acceleration, tail)];
    let at = |share: f64| at_share(&drawn, share).unwrap_or(estimate);
    let half = 0.5 * (1.0 - settings.level);
    Ok(Interval {
        estimate,
        low: at(levels[0]),
        high: at(levels[1]),
        upper: at(moved(z0, acceleration, normal_quantile(settings.level))),
        percentile: [at(half), at(1.0 - half)],
        standard_error: spread(&drawn),
        z0,
        acceleration,
        levels,
        dropped,
    })
}

/// # Computes
/// Efron's acceleration: the sum of cubes over 6 times the sum of squares to the power 3/2 of the
/// jackknifed figure's deviations.
/// # Takes
/// As `bca`; results of one cell are alike, so each cell is left out once and weighted.
/// # Errors
/// `HangsOnOne` where leaving one result out leaves no figure; `NoSpread` where it never changes
/// anything.
pub fn acceleration(cells: &Cells, figure: impl Fn(&[u32]) -> Option<f64>) -> Result<f64, NoInterval> {
    let mut counts = cells.count.clone();
    let mut left_out = Vec::with_capacity(counts.len());
    for i in 0..counts.len() {
        counts[i] -= 1;
        left_out.push(figure(&counts).filter(|x| x.is_finite()).ok_or(NoInterval::HangsOnOne)?);
        counts[i] += 1;
    }
    let weighted = || left_out.iter().zip(&cells.count).map(|(x, count)| (*x, f64::from(*count)));
    let n = f64::from(cells.total());
    let mean = weighted().map(|(x, w)| x * w).sum::<f64>() / n;
    let size = left_out.iter().fold(0.0, |most: f64, x| most.max(x.abs()));
    let (mut squares, mut cubes) = (0.0, 0.0);
    for (x, w) in weighted() {
        let d = mean - x;
        squares += w * d * d;
        cubes += w * d * d * d;
    }
    // Deviations that are rounding only are no spread.
    if squares.sqrt() <= 1e-12 * size * n.sqrt() {
        return Err(NoInterval::NoSpread);
    }
    Ok(cubes / (6.0 * squares * squares.sqrt()))
}

fn draws(cells: &Cells, figure: impl Fn(&[u32]) -> Option<f64>, settings: &Settings) -> Vec<f64> {
    let mut resampler = Resampler::new(&cells.count, Stream::new(settings.seed, settings.stream));
    let mut counts = vec![0; cells.count.len()];
    let mut drawn = Vec::with_capacity(settings.resamples);
    for _ in 0..settings.resamples {
        resampler.draw(&mut counts);
        drawn.extend(figure(&counts).filter(|x| x.is_finite()));
    }
    drawn
}

/// Figures this near to the estimate, relatively, are the estimate: sums of the same values in
/// another order.
const TIE_EPS: f64 = 1e-10;

fn bias_correction(sorted: &[f64], estimate: f64) -> f64 {
    let slack = TIE_EPS * sorted.iter().fold(estimate.abs(), |most, x| most.max(x.abs()));
    let less = sorted.partition_point(|x| *x < estimate - slack);
    let up_to = sorted.partition_point(|x| *x <= estimate + slack);
    let n = sorted.len() as f64;
    let share = (less as f64 + 0.5 * (up_to - less) as f64) / n;
    normal_quantile(share.clamp(0.5 / n, 1.0 - 0.5 / n))
}

fn moved(z0: f64, acceleration: f64, z: f64) -> f64 {
    let sum = z0 + z;
    let shrink = 1.0 - acceleration * sum;
    if shrink <= 0.0 {
        return if sum > 0.0 { 1.0 } else { 0.0 };
    }
    normal_cdf(z0 + sum / shrink)
}

/// The lowest figure with at least `share` of all at or below it.
fn at_share(sorted: &[f64], share: f64) -> Option<f64> {
    let rank = ((share - 1e-12) * sorted.len() as f64).ceil().max(1.0) as usize;
    sorted.get(rank.min(sorted.len()).saturating_sub(1)).copied()
}

fn spread(drawn: &[f64]) -> f64 {
    let n = drawn.len() as f64;
    let mean = drawn.iter().sum::<f64>() / n;
    (drawn.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt()
}

/// The plain mean of counted cells, all of them detects.
pub fn mean_of<'a>(cells: &'a Cells) -> impl Fn(&[u32]) -> Option<f64> + 'a {
    move |counts| {
        let n: u32 = counts.iter().sum();
        (n > 0).then(|| weighted(&cells.value, counts) / f64::from(n))
    }
}

/// The Kaplan-Meier mean of counted cells, the mass that has no place at the lowest limit that was
/// drawn. Between two limits each detect takes the same mass, so a stretch of detects is one sum.
pub fn kaplan_meier_mean_of<'a>(cells: &'a Cells) -> impl Fn(&[u32]) -> Option<f64> + 'a {
    let limits: Vec<usize> = (0..cells.kind.len()).rev().filter(|i| cells.kind[*i] == Kind::Below).collect();
    move |counts| {
        let mut at: u32 = counts.iter().sum();
        let (mut share, mut mean, mut detects, mut end) = (1.0, 0.0, 0, counts.len());
        let mut lowest_limit = 0.0;
        for limit in limits.iter().map(|i| Some(*i)).chain([None]) {
            let stretch = limit.map_or(0, |i| i + 1)..end;
            let here: u32 = counts[stretch.clone()].iter().sum();
            if here > 0 {
                let each = share / f64::from(at);
                mean += each * weighted(&cells.value[stretch.clone()], &counts[stretch]);
                at -= here;
                share = each * f64::from(at);
                detects += here;
            }
            if let Some(i) = limit {
                lowest_limit = if counts[i] > 0 { cells.value[i] } else { lowest_limit };
                at -= counts[i];
                end = i;
            }
        }
        (detects > 0).then_some(mean + share * lowest_limit)
    }
}

/// Sum of values times counts, in four lanes that a processor works out side by side, always in the
/// same order.
pub(super) fn weighted(values: &[f64], counts: &[u32]) -> f64 {
    let ((values, values_rest), (counts, counts_rest)) = (values.as_chunks::<4>(), counts.as_chunks::<4>());
    let rest: f64 = values_rest.iter().zip(counts_rest).map(|(x, c)| x * f64::from(*c)).sum();
    let mut lanes = [0.0; 4];
    for (x, c) in values.iter().zip(counts) {
        for i in 0..4 {
            lanes[i] += x[i] * f64::from(c[i]);
        }
    }
    lanes.iter().sum::<f64>() + rest
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::censored::tests::{groups, words};
    use super::super::kaplan_meier::KaplanMeier;
    use super::*;

    const SETTINGS: Settings = Settings { level: 0.9, resamples: 2000, seed: 1, stream: 0 };

    /// Spatial test data, Efron and Tibshirani 1993, section 14.2: variance 171.5, acceleration
    /// 0.061, BCa 115.8 to 259.6 at 90 % (from memory).
    #[test]
    fn spatial_test_variance() {
        let text = "48 36 20 29 42 42 20 42 22 41 45 14 6 0 33 28 34 4 32 24 47 41 24 26 30 41";
        let cells = Cells::of(&words(text));
        let variance = |counts: &[u32]| {
            let mean = mean_of(&cells)(counts)?;
            let n: u32 = counts.iter().sum();
            let squares = cells.value.iter().zip(counts).map(|(x, c)| f64::from(*c) * (x - mean) * (x - mean));
            Some(squares.sum::<f64>() / f64::from(n))
        };
        let got = bca(&cells, variance, &SETTINGS).unwrap();
        assert!((got.estimate - 171.5).abs() < 0.05 && (got.acceleration - 0.061).abs() < 5e-4);
        assert!((got.low - 115.8).abs() < 8.0 && (got.high - 259.6).abs() < 8.0, "{got:?}");
    }

    #[test]
    fn reasons_for_no_interval() {
        let of = |text: &str| {
            let cells = Cells::of(&words(text));
            bca(&cells, kaplan_meier_mean_of(&cells), &SETTINGS).map(|i| i.low)
        };
        assert_eq!(of("<1 <2"), Err(NoInterval::NoEstimate));
        assert_eq!(of(""), Err(NoInterval::NoEstimate));
        assert_eq!(of("2 2 2"), Err(NoInterval::NoSpread));
        assert_eq!(of("0.1 0.1 0.1"), Err(NoInterval::NoSpread));
        assert_eq!(of("5 <1 <1 <1"), Err(NoInterval::HangsOnOne));
    }

    #[test]
    fn another_stream_draws_otherwise() {
        let cells = Cells::of(&words("1 2 3 4 5 6 8 11 13 19.5"));
        let of = |stream| bca(&cells, mean_of(&cells), &Settings { stream, ..SETTINGS }).unwrap();
        assert_eq!(of(1), of(1));
        assert_ne!(of(1), of(2));
    }

    proptest! {
        #[test]
        fn one_pass_mean_is_the_mean(group in groups()) {
            let cells = Cells::of(&group);
            let (fast, slow) = (kaplan_meier_mean_of(&cells)(&cells.count), KaplanMeier::of(&group).map(|km| km.mean()));
            prop_assert_eq!(fast.is_some(), slow.is_some());
            if let (Some(fast), Some(slow)) = (fast, slow) {
                prop_assert!((fast - slow).abs() <= 1e-8 * slow.abs(), "{} {}", fast, slow);
            }
        }

        #[test]
        fn intervals_are_numbers_in_order(group in groups()) {
            let cells = Cells::of(&group);
            let settings = Settings { resamples: 200, ..SETTINGS };
            if let Ok(i) = bca(&cells, kaplan_meier_mean_of(&cells), &settings) {
                prop_assert!(i.low <= i.high && i.low.is_finite() && i.high.is_finite() && i.z0.is_finite());
            }
        }
    }
}
