//! The rank test in its original form: a score for each result, and the variance of the scores over all ways to deal them out.
//!
//! On complete data it is the Kruskal-Wallis test to the last digit, which the weighted sums are only nearly.

use super::{ChiSquared, NoTest, Ranked, chi_squared_above};

/// Peto and Peto's scores with permutation variance.
///
/// # Computes
/// A detect scores S(x-) + S(x) - 1, a non-detect S(x) - 1, S being the Kaplan-Meier share below, read from the highest value down;
/// the statistic is (n - 1) times the between-group share of the sum of squares of the scores.
/// # Takes
/// As [`super::rank_test`].
/// # Gives
/// The statistic and its p on groups less one.
/// # Errors
/// [`NoTest`]; nothing to compare where all scores are zero.
/// # Conventions
/// Without censoring exactly Kruskal-Wallis with its correction for ties.
/// # Source
/// Peto and Peto 1972, J. Royal Statistical Society A 135, 185-207 (from memory).
/// # Checked against
/// `07-censored-groups.json` (`peto_scores_permutation`).
pub fn permutation_of_scores(values: &[f64], nondetect: &[bool], group: &[usize]) -> Result<ChiSquared, NoTest> {
    let sorted = Ranked::of(values, nondetect, group)?;
    let k = sorted.groups.len();
    if k < 2 {
        return Err(NoTest::OneGroup);
    }
    let n = sorted.items.len() as f64;
    let (mut left, mut below) = (n, 1.0);
    let (mut by_group, mut sum, mut squares) = (vec![0.0; k], 0.0, 0.0);
    for tied in sorted.items.chunk_by(|a, b| a.value == b.value) {
        let d = tied.iter().filter(|item| !item.limit).count() as f64;
        let after = below * (1.0 - d / left);
        for item in tied {
            let score = if item.limit { after - 1.0 } else { after + below - 1.0 };
            by_group[item.place as usize] += score;
            sum += score;
            squares += score * score;
        }
        (left, below) = (left - tied.len() as f64, after);
    }
    // The scores add up to nothing but for rounding, which is taken out all the same.
    let mean = sum / n;
    let spread = squares - n * mean * mean;
    let between: f64 = by_group.iter().zip(&sorted.sizes).map(|(s, n)| (s - n * mean) * (s - n * mean) / n).sum();
    if squares <= 1e-15 || spread <= 1e-13 * squares {
        return Err(NoTest::NothingToCompare);
    }
    let statistic = (n - 1.0) * between / spread;
    Ok(ChiSquared { statistic, p: chi_squared_above(statistic, k - 1) })
}

/// Peto and Peto's score of each result, in the order given.
///
/// # Computes
/// A detect scores S(x-) + S(x) - 1, a non-detect S(x) - 1 (see [`permutation_of_scores`]).
/// # Takes
/// Values and whether each is a limit.
/// # Gives
/// One score a result, from -1 to 1; they add up to 0.
/// # Errors
/// [`NoTest`] for unequal lengths and values that are no number.
/// # Source
/// Peto and Peto 1972, J. Royal Statistical Society A 135, 185-207 (from memory).
/// # Checked against
/// `tests/comparisons/ranks.json`, made by an independent program.
pub fn peto_scores(values: &[f64], nondetect: &[bool]) -> Result<Vec<f64>, NoTest> {
    Ok(Ranked::of(values, nondetect, &vec![0; values.len()])?.scores())
}

impl Ranked {
    /// [`peto_scores`] of these results, in the order in which they were given.
    pub fn scores(&self) -> Vec<f64> {
        let (mut left, mut below) = (self.items.len() as f64, 1.0);
        let mut scores = vec![0.0; self.items.len()];
        for tied in self.items.chunk_by(|a, b| a.value == b.value) {
            let detects = tied.iter().filter(|item| !item.limit).count() as f64;
            let after = below * (1.0 - detects / left);
            for item in tied {
                scores[item.given as usize] = if item.limit { after - 1.0 } else { after + below - 1.0 };
            }
            (left, below) = (left - tied.len() as f64, after);
        }
        scores
    }
}
