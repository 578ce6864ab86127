//! A two by two table (exposed and reference wells, exceeding and meeting) into ratios and a difference with their intervals.
//!
//! A reader would question which odds ratio is shown. [`odds_ratio`] decides that in one place: the sample one with Woolf's
//! interval, and with a zero cell the one with half a well added to every cell, ratio and interval both, told by its kind.

use super::fisher::{Family, Go, Way};
use super::proportions::wilson_of_share;
use super::solve;
use super::special::two_sided_z;

/// Counts of wells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TwoByTwo {
    /// Exposed wells above the limit.
    pub exposed_exceeding: u64,
    /// Exposed wells that meet it.
    pub exposed_meeting: u64,
    /// Wells of the reference band above the limit.
    pub reference_exceeding: u64,
    /// Wells of the reference band that meet it.
    pub reference_meeting: u64,
}

/// A figure and its two-sided interval [low, high]; `None` where the formula gives no interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The figure; a ratio may be 0 or infinite.
    pub value: f64,
    /// Both ends; the upper one may be infinite.
    pub interval: Option<[f64; 2]>,
}

/// Which odds ratio an [`Estimate`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OddsKind {
    /// ad / bc with Woolf's interval: no cell is zero.
    Sample,
    /// The same with one half added to each cell: a cell is zero.
    HalfAdded,
}

impl TwoByTwo {
    fn cells(self) -> [f64; 4] {
        [self.exposed_exceeding, self.exposed_meeting, self.reference_exceeding, self.reference_meeting]
            .map(|n| n as f64)
    }

    fn has_zero(self) -> bool {
        self.cells().contains(&0.0)
    }

    /// Wells in the exposed band.
    pub fn exposed(self) -> f64 {
        self.exposed_exceeding as f64 + self.exposed_meeting as f64
    }

    /// Wells in the reference band.
    pub fn reference(self) -> f64 {
        self.reference_exceeding as f64 + self.reference_meeting as f64
    }
}

/// The odds ratio to publish.
///
/// # Computes
/// ad / bc with Woolf's interval; where a cell is zero both come from the table with one half added to every cell.
/// # Takes
/// Counts; the two-sided confidence, between 0 and 1.
/// # Gives
/// The ratio and which one it is; `None` where a band holds no wells. With no well (or every well) exceeding the ratio is close to
/// the ratio of the bands' sizes and its interval wide: it says nothing, and the interval shows it.
/// # Errors
/// None.
/// # Conventions
/// No continuity correction where no cell is zero.
/// # Source
/// Woolf 1955, Annals of Human Genetics 19; one half: Haldane 1956, Anscombe 1956 (from memory).
/// # Checked against
/// `06-two-by-two.json` (`or_sample`, `or_half_added`).
pub fn odds_ratio(table: TwoByTwo, confidence: f64) -> Option<(Estimate, OddsKind)> {
    if table.exposed() == 0.0 || table.reference() == 0.0 {
        None
    } else if table.has_zero() {
        Some((half_added_odds_ratio(table, confidence), OddsKind::HalfAdded))
    } else {
        sample_odds_ratio(table, confidence).map(|estimate| (estimate, OddsKind::Sample))
    }
}

/// The sample odds ratio.
///
/// # Computes
/// ad / bc; interval exp(ln ratio -+ z root(1/a + 1/b + 1/c + 1/d)).
/// # Takes
/// Counts; confidence between 0 and 1.
/// # Gives
/// 0 or infinity where cells are zero, then without an interval; `None` for 0/0.
/// # Errors
/// None.
/// # Conventions
/// Nothing added.
/// # Source
/// Woolf 1955, Annals of Human Genetics 19 (from memory).
/// # Checked against
/// `06-two-by-two.json` (`or_sample`, `or_sample_ci`).
pub fn sample_odds_ratio(table: TwoByTwo, confidence: f64) -> Option<Estimate> {
    let [a, b, c, d] = table.cells();
    let value = ratio(a * d, b * c)?;
    let interval = if table.has_zero() { None } else { woolf([a, b, c, d], confidence) };
    Some(Estimate { value, interval })
}

/// The odds ratio of the table with one half added to each cell.
///
/// # Computes
/// As [`sample_odds_ratio`], of a + 1/2, b + 1/2, c + 1/2, d + 1/2.
/// # Takes
/// Counts; confidence between 0 and 1.
/// # Gives
/// Always a finite ratio above 0. An empty table gives 1.
/// # Errors
/// None.
/// # Conventions
/// Half is added whether or not a cell is zero.
/// # Source
/// Haldane 1956, Annals of Human Genetics 20; Anscombe 1956, Biometrika 43 (from memory).
/// # Checked against
/// `06-two-by-two.json` (`or_half_added`, `or_half_added_ci`).
pub fn half_added_odds_ratio(table: TwoByTwo, confidence: f64) -> Estimate {
    let cells = table.cells().map(|n| n + 0.5);
    let [a, b, c, d] = cells;
    Estimate { value: a * d / (b * c), interval: woolf(cells, confidence) }
}

fn woolf([a, b, c, d]: [f64; 4], confidence: f64) -> Option<[f64; 2]> {
    let error = (1.0 / a + 1.0 / b + 1.0 / c + 1.0 / d).sqrt();
    around_log(a * d / (b * c), error, confidence)
}

fn around_log(value: f64, error: f64, confidence: f64) -> Option<[f64; 2]> {
    let factor = libm::exp(two_sided_z(confidence)? * error);
    Some([value / factor, value * factor])
}

/// The conditional odds ratio, which goes with Fisher's test.
///
/// # Computes
/// The odds ratio that makes the observed k likeliest in the noncentral hypergeometric distribution of k given the margins; interval
/// by the two one-sided tests at half the error each (central).
/// # Takes
/// Counts; confidence between 0 and 1.
/// # Gives
/// 0 or infinity where k is at an end of what the margins allow, with the interval's end there too; `None` where the margins
/// allow one table only (a margin is 0).
/// # Errors
/// None; an end that cannot be bracketed leaves the interval out.
/// # Conventions
/// Solved on the log scale, to the last digits.
/// # Source
/// Cornfield 1956; Fisher 1935 (from memory).
/// # Checked against
/// `06-two-by-two.json` (`or_conditional`, `or_conditional_ci`).
pub fn conditional_odds_ratio(table: TwoByTwo, confidence: f64) -> Option<Estimate> {
    let family = Family::of(table);
    let seen = table.exposed_exceeding;
    if family.first == family.last {
        return None;
    }
    let start = libm::log(half_added_odds_ratio(table, confidence).value);
    let value = match seen {
        k if k == family.first => 0.0,
        k if k == family.last => f64::INFINITY,
        _ => solve_log(start, |psi| family.sums(psi, seen).mean_above)?,
    };
    Some(Estimate { value, interval: exact_interval(&family, seen, start, confidence) })
}

fn exact_interval(family: &Family, seen: u64, start: f64, confidence: f64) -> Option<[f64; 2]> {
    two_sided_z(confidence)?;
    let each = (1.0 - confidence) / 2.0;
    let low = match seen {
        k if k == family.first => 0.0,
        _ => solve_log(start, |psi| family.sums(psi, seen).at_least - each)?,
    };
    let high = match seen {
        k if k == family.last => f64::INFINITY,
        _ => solve_log(start, |psi| each - family.sums(psi, seen).at_most)?,
    };
    Some([low, high])
}

/// exp of the root of a function that rises with the log of its argument, sought in widening brackets around `start`.
fn solve_log(start: f64, rising: impl Fn(f64) -> f64) -> Option<f64> {
    let f = |t: f64| rising(libm::exp(t));
    let widths = [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];
    let low = widths.iter().map(|w| start - w).find(|t| f(*t) <= 0.0)?;
    let high = widths.iter().map(|w| start + w).find(|t| f(*t) >= 0.0)?;
    solve::root(f, low, high).ok().map(libm::exp)
}

/// Shares of the noncentral distribution about the observed k, and its mean less k.
struct Sums {
    at_least: f64,
    at_most: f64,
    mean_above: f64,
}

impl Family {
    fn sums(&self, psi: f64, seen: u64) -> Sums {
        let (mut total, mut at_least, mut at_most, mut above) = (0.0, 0.0, 0.0, 0.0);
        let mut take = |k: u64, w: f64, rest: f64| {
            total += w;
            at_least += if k >= seen { w } else { 0.0 };
            at_most += if k <= seen { w } else { 0.0 };
            above += (k as f64 - seen as f64) * w;
            if rest < 1e-18 * total { Go::Stop } else { Go::On }
        };
        let mode = self.mode(psi);
        take(mode, 1.0, f64::INFINITY);
        self.walk(mode, psi, Way::Up, &mut take);
        self.walk(mode, psi, Way::Down, &mut take);
        Sums { at_least: at_least / total, at_most: at_most / total, mean_above: above / total }
    }
}

/// The risk ratio.
///
/// # Computes
/// Share exceeding of the exposed over that of the reference; interval exp(ln ratio -+ z root(1/a - 1/n1 + 1/c - 1/n2)).
/// # Takes
/// Counts; confidence between 0 and 1.
/// # Gives
/// 0 or infinity where one band has no exceeding well, then without an interval; `None` for 0/0 or an empty band.
/// # Errors
/// None.
/// # Conventions
/// Nothing added.
/// # Source
/// Katz and others 1978, Biometrics 34 (from memory).
/// # Checked against
/// `06-two-by-two.json` (`rr`, `rr_ci`).
pub fn risk_ratio(table: TwoByTwo, confidence: f64) -> Option<Estimate> {
    let [a, _, c, _] = table.cells();
    let (n1, n2) = (table.exposed(), table.reference());
    if n1 == 0.0 || n2 == 0.0 {
        return None;
    }
    let value = ratio(a * n2, c * n1)?;
    let error = (1.0 / a - 1.0 / n1 + 1.0 / c - 1.0 / n2).max(0.0).sqrt();
    let interval = if a > 0.0 && c > 0.0 { around_log(value, error, confidence) } else { None };
    Some(Estimate { value, interval })
}

/// The risk difference.
///
/// # Computes
/// Share exceeding of the exposed less that of the reference; interval from the two Wilson intervals, each end taking the root of
/// the sum of squares of the distances of the shares from their ends (Newcombe's method 10).
/// # Takes
/// Counts; confidence between 0 and 1.
/// # Gives
/// A difference in [-1, 1]; `None` where a band is empty.
/// # Errors
/// None.
/// # Conventions
/// Wilson without continuity correction.
/// # Source
/// Newcombe 1998, Statistics in Medicine 17, 873-890 (from memory).
/// # Checked against
/// `06-two-by-two.json` (`rd`, `rd_ci`).
pub fn risk_difference(table: TwoByTwo, confidence: f64) -> Option<Estimate> {
    let [a, _, c, _] = table.cells();
    let (n1, n2) = (table.exposed(), table.reference());
    if n1 == 0.0 || n2 == 0.0 {
        return None;
    }
    let (p1, p2) = (a / n1, c / n2);
    let interval = two_sided_z(confidence).map(|_| {
        let [low1, high1] = wilson_of_share(p1, n1, confidence);
        let [low2, high2] = wilson_of_share(p2, n2, confidence);
        let low = p1 - p2 - libm::hypot(p1 - low1, high2 - p2);
        [low, p1 - p2 + libm::hypot(high1 - p1, p2 - low2)]
    });
    Some(Estimate { value: p1 - p2, interval })
}

fn ratio(over: f64, under: f64) -> Option<f64> {
    match (over == 0.0, under == 0.0) {
        (true, true) => None,
        (false, true) => Some(f64::INFINITY),
        (_, false) => Some(over / under),
    }
}

#[cfg(test)]
mod tests;
