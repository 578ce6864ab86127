//! Values of several groups, non-detects at their limits, into rank tests of whether the groups differ.
//!
//! A reader would question the weights: [`Weight::PetoPeto`] is the one to use, since its weights depend on the values alone and not
//! on where the limits happen to lie. Left-censored values are what right-censored times are when read from the highest down, so
//! nothing is flipped here: the walk goes down the sorted values once.

use super::special::{chi_squared_above, two_sided_normal_p};
use std::collections::BTreeSet;

mod scores;

pub use scores::{permutation_of_scores, peto_scores};

/// How much a detect counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// The Kaplan-Meier share at or below the value: the generalised Wilcoxon test of Peto and Peto (rho = 1). Use this.
    PetoPeto,
    /// The number of results at risk (Gehan, Breslow): moved by the pattern of the limits.
    Gehan,
    /// Product of 1 - d / (n + 1) down to and with the value: what some libraries call Peto-Peto.
    ModifiedShare,
    /// One: the log-rank test, which looks at low concentrations most.
    LogRank,
}

/// A chi-squared statistic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChiSquared {
    /// The statistic.
    pub statistic: f64,
    /// Its upper tail.
    pub p: f64,
}

/// Why there is no test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoTest {
    /// Values, marks and groups (or groups and their scores) are not equally many.
    #[error("values, marks and groups are not equally many")]
    Lengths,
    /// A value or score is no number.
    #[error("a value is not a number")]
    NotANumber,
    /// Fewer than two groups hold values.
    #[error("fewer than two groups hold values")]
    OneGroup,
    /// No detect, or none among values that two groups have in common.
    #[error("no detected value tells the groups apart")]
    NothingToCompare,
}

/// A rank test over groups.
#[derive(Clone, Debug, PartialEq)]
pub struct RankTest {
    /// The groups that hold values, ascending; the lists below follow it.
    pub groups: Vec<usize>,
    /// Observed less expected weighted detects; above 0: higher concentrations than expected.
    pub u: Vec<f64>,
    /// Covariances of `u`, row by row.
    pub variance: Vec<Vec<f64>>,
    /// Groups less one.
    pub df: usize,
    /// The test of all groups against each other, or why there is none.
    pub outcome: Result<ChiSquared, NoTest>,
}

/// The trend of concentrations over ordered groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroupTrend {
    /// Above 0 where concentrations rise with the score.
    pub z: f64,
    /// Two-sided normal p.
    pub p: f64,
}

/// Weighted log-rank test for left-censored values.
///
/// # Computes
/// At each detected value, from the highest down, the weighted difference between a group's detects and its share of all detects
/// among the results at risk there, summed; the chi-squared of these sums on their covariance.
/// # Takes
/// One value a well (a detect or a limit), whether it is a limit (`<x`), and its group; any order. Infinite values are allowed
/// and are the highest or lowest of all.
/// # Gives
/// The sums by group, their covariance and the test. All detects: Peto-Peto equals Gehan's test.
/// # Errors
/// In `outcome`: [`NoTest`]. A group that is never at risk at a detect leaves the covariance without full rank: no test.
/// # Conventions
/// At risk at x: all results with value or limit <= x, so `<5` is at risk at a detected 5. Hypergeometric variance with the factor
/// (n - d) / (n - 1) for ties. Degrees of freedom: groups that hold values, less one.
/// # Source
/// Peto and Peto 1972, J. Royal Statistical Society A 135; Gehan 1965, Biometrika 52; Harrington and Fleming 1982, Biometrika 69
/// (from memory).
/// # Checked against
/// `07-censored-groups.json`.
pub fn rank_test(values: &[f64], nondetect: &[bool], group: &[usize], weight: Weight) -> RankTest {
    match Ranked::of(values, nondetect, group) {
        Ok(ranked) => ranked.test(weight),
        Err(why) => RankTest { groups: Vec::new(), u: Vec::new(), variance: Vec::new(), df: 0, outcome: Err(why) },
    }
}

/// Peto-Peto test of trend over ordered groups.
///
/// # Computes
/// z = sum s u / root of s' V s, of the sums and covariances of [`rank_test`] with Peto-Peto weights.
/// # Takes
/// As [`rank_test`]; `scores[g]` is the score of group g.
/// # Gives
/// z (above 0: concentrations rise with the score) and its two-sided p.
/// # Errors
/// [`NoTest`]; also where a group has no score.
/// # Conventions
/// No continuity correction. With two groups z squared is the statistic of [`rank_test`].
/// # Source
/// Tarone 1975, Biometrika 62, for the log-rank test (from memory).
/// # Checked against
/// With two groups equal to [`rank_test`], which `07-censored-groups.json` checks; no published example with more was found.
pub fn trend_test(values: &[f64], nondetect: &[bool], group: &[usize], scores: &[f64]) -> Result<GroupTrend, NoTest> {
    Ranked::of(values, nondetect, group)?.test(Weight::PetoPeto).trend(scores)
}

impl RankTest {
    /// [`trend_test`] from the sums of a test with Peto-Peto weights.
    ///
    /// # Errors
    /// As [`trend_test`].
    pub fn trend(&self, scores: &[f64]) -> Result<GroupTrend, NoTest> {
        if scores.iter().any(|s| !s.is_finite()) {
            return Err(NoTest::NotANumber);
        }
        if let Err(why @ (NoTest::Lengths | NoTest::NotANumber | NoTest::OneGroup)) = self.outcome {
            return Err(why);
        }
        let own: Option<Vec<f64>> = self.groups.iter().map(|g| scores.get(*g).copied()).collect();
        let own = own.ok_or(NoTest::Lengths)?;
        // The sums add to nothing, so scores may be taken about their first, which keeps the digits.
        let first = own.first().copied().unwrap_or(0.0);
        let own: Vec<f64> = own.iter().map(|s| s - first).collect();
        let sum: f64 = own.iter().zip(&self.u).map(|(s, u)| s * u).sum();
        let row_sum = |row: &[f64]| row.iter().zip(&own).map(|(v, s)| v * s).sum::<f64>();
        let variance: f64 = self.variance.iter().zip(&own).map(|(row, s)| s * row_sum(row)).sum();
        let z = sum / variance.sqrt();
        if variance <= 0.0 || !z.is_finite() {
            return Err(NoTest::NothingToCompare);
        }
        Ok(GroupTrend { z, p: two_sided_normal_p(z) })
    }
}

/// One result: its value, its place in the list of groups, its place among the results given, whether it is a limit.
#[derive(Clone, Copy, Debug)]
struct Item {
    value: f64,
    place: u32,
    given: u32,
    limit: bool,
}

/// Results in their order, from which every rank test is made: sorting costs more than all tests together.
#[derive(Clone, Debug)]
pub struct Ranked {
    /// Highest value first.
    items: Vec<Item>,
    groups: Vec<usize>,
    sizes: Vec<f64>,
}

impl Ranked {
    /// Takes what [`rank_test`] takes.
    ///
    /// # Errors
    /// [`NoTest::Lengths`] (also above 4,294,967,295 results) and [`NoTest::NotANumber`].
    pub fn of(values: &[f64], nondetect: &[bool], group: &[usize]) -> Result<Self, NoTest> {
        sorted(values, nondetect, group)
    }

    /// [`rank_test`] of these results.
    pub fn test(&self, weight: Weight) -> RankTest {
        let k = self.groups.len();
        let (u, variance) = walk_down(self, weight);
        let outcome = if k < 2 { Err(NoTest::OneGroup) } else { chi_squared(&u, &variance) };
        RankTest { groups: self.groups.clone(), u, variance, df: k.saturating_sub(1), outcome }
    }
}

fn sorted(values: &[f64], nondetect: &[bool], group: &[usize]) -> Result<Ranked, NoTest> {
    if u32::try_from(values.len()).is_err() || values.len() != nondetect.len() || values.len() != group.len() {
        return Err(NoTest::Lengths);
    }
    if values.iter().any(|v| v.is_nan()) {
        return Err(NoTest::NotANumber);
    }
    let groups: Vec<usize> = group.iter().copied().collect::<BTreeSet<_>>().into_iter().collect();
    let mut sizes = vec![0.0; groups.len()];
    let mut items = Vec::with_capacity(values.len());
    for (given, ((value, limit), g)) in (0u32..).zip(values.iter().zip(nondetect).zip(group)) {
        let place = groups.binary_search(g).unwrap_or_default();
        sizes[place] += 1.0;
        items.push(Item { value: *value, place: place as u32, given, limit: *limit });
    }
    items.sort_unstable_by(|a, b| b.value.partial_cmp(&a.value).unwrap_or(std::cmp::Ordering::Equal));
    Ok(Ranked { items, groups, sizes })
}

/// The sums u and their covariance.
fn walk_down(sorted: &Ranked, weight: Weight) -> (Vec<f64>, Vec<Vec<f64>>) {
    let k = sorted.groups.len();
    let mut at_risk = sorted.sizes.clone();
    let (mut u, mut variance) = (vec![0.0; k], vec![vec![0.0; k]; k]);
    let mut shares = Shares { before: 1.0, modified: 1.0 };
    let mut detects = vec![0.0; k];
    for tied in sorted.items.chunk_by(|a, b| a.value == b.value) {
        detects.fill(0.0);
        for item in tied.iter().filter(|item| !item.limit) {
            detects[item.place as usize] += 1.0;
        }
        let d: f64 = detects.iter().sum();
        if d > 0.0 {
            let n: f64 = at_risk.iter().sum();
            let w = shares.weight(weight, n, d);
            let spread = if n > 1.0 { w * w * d * (n - d) / (n - 1.0) } else { 0.0 };
            for i in 0..k {
                let own = at_risk[i] / n;
                u[i] += w * (detects[i] - own * d);
                for j in 0..k {
                    let other = at_risk[j] / n;
                    variance[i][j] += spread * if i == j { own * (1.0 - own) } else { -own * other };
                }
            }
        }
        for item in tied {
            at_risk[item.place as usize] -= 1.0;
        }
    }
    (u, variance)
}

/// Kaplan-Meier share just above the value, and its variant with n + 1.
struct Shares {
    before: f64,
    modified: f64,
}

impl Shares {
    fn weight(&mut self, kind: Weight, n: f64, d: f64) -> f64 {
        self.modified *= 1.0 - d / (n + 1.0);
        let before = self.before;
        self.before *= 1.0 - d / n;
        match kind {
            Weight::PetoPeto => before,
            Weight::Gehan => n,
            Weight::ModifiedShare => self.modified,
            Weight::LogRank => 1.0,
        }
    }
}

/// What a pivot must keep of its diagonal for the covariance to count as of full rank.
const RANK_EPS: f64 = 1e-11;

/// u' V^-1 u without the last group, which the others determine: by elimination of the symmetric matrix.
fn chi_squared(u: &[f64], variance: &[Vec<f64>]) -> Result<ChiSquared, NoTest> {
    let df = u.len() - 1;
    let mut lower = vec![vec![0.0; df]; df];
    let mut solved = vec![0.0; df];
    let mut statistic = 0.0;
    for i in 0..df {
        for j in 0..=i {
            let done: f64 = (0..j).map(|m| lower[i][m] * lower[j][m]).sum();
            let left = variance[i][j] - done;
            if i != j {
                lower[i][j] = left / lower[j][j];
            } else if left > RANK_EPS * variance[i][i] {
                lower[i][i] = left.sqrt();
            } else {
                return Err(NoTest::NothingToCompare);
            }
        }
        let done: f64 = (0..i).map(|m| lower[i][m] * solved[m]).sum();
        solved[i] = (u[i] - done) / lower[i][i];
        statistic += solved[i] * solved[i];
    }
    if !statistic.is_finite() {
        return Err(NoTest::NothingToCompare);
    }
    Ok(ChiSquared { statistic, p: chi_squared_above(statistic, df) })
}

#[cfg(test)]
mod tests;
