//! Values of several groups, non-detects at their limits, into rank tests of whether the groups differ.
//!
//! A reader would question the weights: [`Weight::PetoPeto`] is the one to use, since its weights depend on the values alone and not
//! on where the limits happen to lie. Left-censored values are what right-censored times are when read from the highest down, so
//! nothing is flipped here: the walk goes down the sorted values once.

use super::special::{chi_squared_above, two_sided_normal_p};
use std::collections::BTreeSet;

mod scores;

pub use scores::{Scores, permutation_of_scores, peto_scores};

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

/// Values in order, however they are grouped: sorting costs more than all tests together.
#[derive(Clone, Debug)]
pub struct Order {
    /// The level of each value: 0 is the highest, equal values share one.
    level: Vec<u32>,
    levels: usize,
}

impl Order {
    /// Sorts values.
    ///
    /// # Errors
    /// [`NoTest::Lengths`] above 4,294,967,295 values and [`NoTest::NotANumber`].
    pub fn of(values: &[f64]) -> Result<Order, NoTest> {
        if u32::try_from(values.len()).is_err() {
            return Err(NoTest::Lengths);
        }
        if values.iter().any(|v| v.is_nan()) {
            return Err(NoTest::NotANumber);
        }
        let mut sorted: Vec<(f64, u32)> = values.iter().copied().zip(0..).collect();
        sorted.sort_unstable_by(|a, b| b.0.partial_cmp(&a.0).unwrap_or(std::cmp::Ordering::Equal));
        let mut level = vec![0; values.len()];
        let mut levels = 0;
        for (tied, number) in sorted.chunk_by(|a, b| a.0 == b.0).zip(0..) {
            tied.iter().for_each(|(_, at)| level[*at as usize] = number);
            levels = number as usize + 1;
        }
        Ok(Order { level, levels })
    }
}

/// Results counted by level of their values and by group, from which every rank test is made.
#[derive(Clone, Debug)]
pub struct Ranked {
    /// Detects and limits of each level, the highest first, and in it of each group.
    counts: Vec<[u32; 2]>,
    groups: Vec<usize>,
    sizes: Vec<f64>,
}

impl Ranked {
    /// Takes what [`rank_test`] takes.
    ///
    /// # Errors
    /// [`NoTest::Lengths`] (also above 4,294,967,295 results) and [`NoTest::NotANumber`].
    pub fn of(values: &[f64], nondetect: &[bool], group: &[usize]) -> Result<Self, NoTest> {
        if values.len() != group.len() {
            return Err(NoTest::Lengths);
        }
        let groups: Vec<usize> = group.iter().copied().collect::<BTreeSet<_>>().into_iter().collect();
        let place = |at: usize| groups.binary_search(group.get(at)?).ok();
        let ranked = Ranked::in_order(&Order::of(values)?, nondetect, groups.len(), place)?;
        Ok(Ranked { groups, ..ranked })
    }

    /// Takes an order of values, whether each is a limit, and the group of each by its place, below `groups`; `None` takes no part.
    ///
    /// # Errors
    /// [`NoTest::Lengths`].
    pub fn in_order(
        order: &Order,
        nondetect: &[bool],
        groups: usize,
        group: impl Fn(usize) -> Option<usize>,
    ) -> Result<Self, NoTest> {
        if order.level.len() != nondetect.len() {
            return Err(NoTest::Lengths);
        }
        let mut counts = vec![[0; 2]; order.levels * groups];
        for (at, (level, limit)) in order.level.iter().zip(nondetect).enumerate() {
            if let Some(own) = group(at).filter(|own| *own < groups) {
                counts[*level as usize * groups + own][usize::from(*limit)] += 1;
            }
        }
        let mut sizes = vec![0.0; groups];
        for level in levels(&counts, groups) {
            level.iter().zip(&mut sizes).for_each(|(own, size)| *size += all(*own));
        }
        Ok(Ranked { counts, groups: (0..groups).collect(), sizes }.without_empty())
    }

    /// Leaves out groups without a result.
    fn without_empty(mut self) -> Ranked {
        let size = self.groups.len();
        let kept: Vec<usize> = (0..size).filter(|own| self.sizes[*own] > 0.0).collect();
        if kept.len() < size {
            self.counts = levels(&self.counts, size).flat_map(|level| kept.iter().map(|own| level[*own])).collect();
            self.sizes = kept.iter().map(|own| self.sizes[*own]).collect();
            self.groups = kept;
        }
        self
    }

    /// [`rank_test`] of these results.
    pub fn test(&self, weight: Weight) -> RankTest {
        let k = self.groups.len();
        let (u, variance) = walk_down(self, weight);
        let outcome = if k < 2 { Err(NoTest::OneGroup) } else { chi_squared(&u, &variance) };
        RankTest { groups: self.groups.clone(), u, variance, df: k.saturating_sub(1), outcome }
    }

    /// The counts of each level, the highest first.
    fn levels(&self) -> impl Iterator<Item = &[[u32; 2]]> {
        levels(&self.counts, self.groups.len())
    }
}

fn levels(counts: &[[u32; 2]], groups: usize) -> impl Iterator<Item = &[[u32; 2]]> {
    counts.chunks_exact(groups.max(1))
}

/// Detects and limits of a level and group.
fn all(counts: [u32; 2]) -> f64 {
    f64::from(counts[0]) + f64::from(counts[1])
}

fn detects(counts: [u32; 2]) -> f64 {
    f64::from(counts[0])
}

/// The sums u and their covariance.
fn walk_down(ranked: &Ranked, weight: Weight) -> (Vec<f64>, Vec<Vec<f64>>) {
    let k = ranked.groups.len();
    let mut at_risk = ranked.sizes.clone();
    let (mut u, mut variance) = (vec![0.0; k], vec![vec![0.0; k]; k]);
    let mut shares = Shares { before: 1.0, modified: 1.0 };
    for level in ranked.levels() {
        let d: f64 = level.iter().copied().map(detects).sum();
        if d > 0.0 {
            let n: f64 = at_risk.iter().sum();
            let w = shares.weight(weight, n, d);
            let spread = if n > 1.0 { w * w * d * (n - d) / (n - 1.0) } else { 0.0 };
            for i in 0..k {
                let own = at_risk[i] / n;
                u[i] += w * (detects(level[i]) - own * d);
                for j in 0..k {
                    let other = at_risk[j] / n;
                    variance[i][j] += spread * if i == j { own * (1.0 - own) } else { -own * other };
                }
            }
        }
        level.iter().zip(&mut at_risk).for_each(|(own, left)| *left -= all(*own));
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
