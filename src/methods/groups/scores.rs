//! The rank test in its original form: a score for each result, and the variance of the scores over all ways to deal them out.
//!
//! On complete data it is the Kruskal-Wallis test to the last digit, which the weighted sums are only nearly.

use super::{ChiSquared, NoTest, Order, Ranked, all, chi_squared_above, detects};

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
    let ranked = Ranked::of(values, nondetect, group)?;
    let k = ranked.groups.len();
    if k < 2 {
        return Err(NoTest::OneGroup);
    }
    let n: f64 = ranked.sizes.iter().sum();
    let (mut by_group, mut sum, mut squares) = (vec![0.0; k], 0.0, 0.0);
    for (level, scores) in ranked.levels().zip(ranked.scores().of_level) {
        for (own, by_group) in level.iter().zip(&mut by_group) {
            for (count, score) in own.iter().zip(scores) {
                let count = f64::from(*count);
                *by_group += count * score;
                sum += count * score;
                squares += count * score * score;
            }
        }
    }
    // The scores add up to nothing but for rounding, which is taken out all the same.
    let mean = sum / n;
    let spread = squares - n * mean * mean;
    let between: f64 = by_group.iter().zip(&ranked.sizes).map(|(s, n)| (s - n * mean) * (s - n * mean) / n).sum();
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
    let order = Order::of(values)?;
    let scores = Ranked::in_order(&order, nondetect, 1, |_| Some(0))?.scores();
    Ok(nondetect.iter().enumerate().map(|(at, limit)| scores.of(&order, at, *limit)).collect())
}

/// [`peto_scores`] by level of an order.
#[derive(Clone, Debug)]
pub struct Scores {
    /// Of a detect and of a limit at each level, the highest first.
    of_level: Vec<[f64; 2]>,
}

impl Scores {
    /// The score of the value at a place of the order that the results were ranked by, a detect or a limit.
    pub fn of(&self, order: &Order, at: usize, limit: bool) -> f64 {
        let level = order.level.get(at).and_then(|level| self.of_level.get(*level as usize));
        level.map_or(0.0, |scores| scores[usize::from(limit)])
    }
}

impl Ranked {
    /// [`peto_scores`] of these results, whatever their groups.
    pub fn scores(&self) -> Scores {
        let (mut left, mut below) = (self.sizes.iter().sum::<f64>(), 1.0);
        let mut of_level = Vec::with_capacity(self.counts.len() / self.groups.len().max(1));
        for level in self.levels() {
            let detects: f64 = level.iter().copied().map(detects).sum();
            // A level that none of these results has leaves the share as it is.
            let after = if detects > 0.0 { below * (1.0 - detects / left) } else { below };
            of_level.push([after + below - 1.0, after - 1.0]);
            left -= level.iter().copied().map(all).sum::<f64>();
            below = after;
        }
        Scores { of_level }
    }
}
