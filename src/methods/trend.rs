//! Results over time, non-detects at their limits, into Kendall's test of trend and the slope that goes with it.
//!
//! A reader would question falling limits: a trend in the limits must not become a trend in the water. Only pairs whose order is
//! certain count, and the variance is that over all ways to pair times and results as they are, limits included.

use super::special::two_sided_normal_p;

mod exact;
mod order;
mod slope;

pub use exact::exact_p;
pub use slope::Slope;

/// Results over time; the three lists belong together, in any order.
#[derive(Clone, Copy, Debug)]
pub struct Series<'a> {
    /// Times, in years or whatever unit the slope is to be per.
    pub times: &'a [f64],
    /// Values, or limits.
    pub values: &'a [f64],
    /// Whether the value is a limit (`<x`).
    pub nondetect: &'a [bool],
}

/// Why there is nothing to test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoTrend {
    /// Times, values and marks are not equally many.
    #[error("times, values and marks are not equally many")]
    Lengths,
    /// A time or value is no finite number.
    #[error("a time or a value is not a number")]
    NotANumber,
}

/// A normal test of S.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NormalTest {
    /// S over its standard deviation.
    pub z: f64,
    /// Two-sided.
    pub p: f64,
}

/// Kendall's test of one series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kendall {
    /// Pairs that rise less pairs that fall.
    pub s: f64,
    /// Pairs at the same time.
    pub tied_in_time: f64,
    /// Pairs of equal or unclear order of values.
    pub tied_in_value: f64,
    /// S over all pairs; `None` with fewer than two results.
    pub tau_a: Option<f64>,
    /// S over the root of the pairs with an order in time times those with one in value; `None` where either is 0.
    pub tau_b: Option<f64>,
    /// Variance of S over all pairings.
    pub variance: f64,
    /// With a continuity correction of one: the one to use. `None` where S cannot vary.
    pub test: Option<NormalTest>,
    /// Without it.
    pub test_uncorrected: Option<NormalTest>,
    /// `None` where S never changes sign.
    pub slope: Option<Slope>,
}

/// Kendall's test over several series, such as areas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Regional {
    /// Sum of S over the series.
    pub s: f64,
    /// Sum of their variances.
    pub variance: f64,
    /// S over all pairs within series; `None` without one.
    pub tau: Option<f64>,
    /// With a continuity correction of one.
    pub test: Option<NormalTest>,
    /// The slope common to all, from pairs within series.
    pub slope: Option<Slope>,
}

/// Kendall's tau for values with non-detects, its test, and the Akritas-Theil-Sen slope.
///
/// # Computes
/// S = rising less falling pairs; tau-b; the variance of S over all pairings of the times with the results; the slope b at which S
/// between time and value - b time is zero.
/// # Takes
/// A [`Series`]. Any number of results; beyond 1000 the slope is found by halving, to ten digits.
/// # Gives
/// [`Kendall`], with `None` for what the series cannot tell.
/// # Errors
/// [`NoTrend`].
/// # Conventions
/// `<5` is below a detected 5 and above nothing; two non-detects have no order. Permutation variance for any two tables of signs,
/// which is the Mann-Kendall formula with ties on complete data. Slope: middle of the stretch where S is zero, limits moving along
/// with the line; on complete data it is Theil and Sen's.
/// # Source
/// Daniels 1944, Biometrika 33 (variance); Akritas, Murphy and LaValley 1995, J. American Statistical Association 90 (slope);
/// Helsel 2012 (use with non-detects); all from memory.
/// # Checked against
/// `13-trend-in-time.json`.
pub fn kendall(series: Series<'_>) -> Result<Kendall, NoTrend> {
    check(series)?;
    let order = order::Order::of(series);
    let s = order::s(series);
    let pairs = order.pairs();
    let comparable = ((pairs - order.tied_in_time()) * (pairs - order.tied_in_value())).sqrt();
    let variance = order.variance();
    Ok(Kendall {
        s,
        tied_in_time: order.tied_in_time(),
        tied_in_value: order.tied_in_value(),
        tau_a: (pairs > 0.0).then(|| s / pairs),
        tau_b: (comparable > 0.0).then(|| s / comparable),
        variance,
        test: test(s - s.signum() * f64::from(u8::from(s != 0.0)), variance),
        test_uncorrected: test(s, variance),
        slope: slope::slope(&[series]),
    })
}

/// Regional Kendall test.
///
/// # Computes
/// The sum of S over series, which are taken as independent, on the sum of their variances.
/// # Takes
/// Any number of [`Series`], each of its own place; pairs are made within a series only.
/// # Gives
/// [`Regional`].
/// # Errors
/// [`NoTrend`] of the first series that has one.
/// # Conventions
/// Continuity correction of one on the sum.
/// # Source
/// Helsel and Frans 2006, Environmental Science and Technology 40, 4066-4073 (from memory).
/// # Checked against
/// One series: equal to [`kendall`], which `13-trend-in-time.json` checks.
pub fn regional(all: &[Series<'_>]) -> Result<Regional, NoTrend> {
    let (mut s, mut variance, mut pairs) = (0.0, 0.0, 0.0);
    for series in all {
        check(*series)?;
        let order = order::Order::of(*series);
        s += order::s(*series);
        variance += order.variance();
        pairs += order.pairs();
    }
    Ok(Regional {
        s,
        variance,
        tau: (pairs > 0.0).then(|| s / pairs),
        test: test(s - s.signum() * f64::from(u8::from(s != 0.0)), variance),
        slope: slope::slope(all),
    })
}

/// A variance below this is that of an S that cannot vary; the smallest one that can is above 0.1.
const NO_VARIANCE: f64 = 1e-9;

fn test(s: f64, variance: f64) -> Option<NormalTest> {
    (variance > NO_VARIANCE).then(|| {
        let z = s / variance.sqrt();
        NormalTest { z, p: two_sided_normal_p(z) }
    })
}

fn check(series: Series<'_>) -> Result<(), NoTrend> {
    let Series { times, values, nondetect } = series;
    if times.len() != values.len() || times.len() != nondetect.len() {
        return Err(NoTrend::Lengths);
    }
    if times.iter().chain(values).any(|x| !x.is_finite()) {
        return Err(NoTrend::NotANumber);
    }
    Ok(())
}

#[cfg(test)]
mod tests;
