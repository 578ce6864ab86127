//! Rows of exceedance.csv for limits on sums: nitrate with nitrite, mixtures by a hazard index, totals of a group.
//!
//! Computes, for each well tested for the parts, the sum of value / divisor as an interval: a detect adds a point, a non-detect
//! anything from 0 to its limit (nothing, where the law counts it as zero), a `>x` anything from x on. Units: the sum's own (a
//! plain ratio, or the unit of the parts). Exceeding where the low end is above the limit, meeting where the high end is not, otherwise
//! undetermined. A reader would question wells tested for some parts only: one that exceeds already by these is told in the note and
//! left out of the rate, since to count only those that exceed would make the rate too high. A sum that a laboratory reports itself is an
//! analyte like any other, and nothing is computed beside it. Sources of the rules: data-dictionary/sum-rules.csv.

#![allow(
    clippy::indexing_slicing,
    reason = "a well lies in one of the areas, and there is a place for each and one for all"
)]

use super::exceedance::{counts_row, smooth};
use super::rows::{ExceedanceRow, Scope};
use crate::dictionary::{Benchmark, BenchmarkKind, Dictionary, SumRule};
use crate::ids::{AreaId, Interval};
use crate::methods::exceedance::{Counts, Verdict};
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::Plan;

/// Relative slack with which a sum at its limit meets it, as for single values.
const SLACK: f64 = 1e-9;

/// The sum of one well so far.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Sum {
    low: f64,
    high: f64,
    parts: usize,
}

impl Sum {
    /// Adds a part; a verdict without a number adds nothing and does not count as tested.
    fn add(&mut self, interval: Interval, divisor: f64, nondetects_are_zero: bool) {
        let (Some(low), Some(high)) = (interval.low(), interval.high()) else { return };
        let zero = nondetects_are_zero && !interval.detected();
        // Radionuclide counts may be negative: they are kept, as everywhere.
        self.low += low / divisor;
        self.high += if zero { 0.0 } else { high / divisor };
        self.parts += 1;
    }

    fn verdict(self, limit: f64) -> Verdict {
        let edge = limit + SLACK * limit.abs();
        if self.low > edge {
            Verdict::Exceeding
        } else if self.high <= edge {
            Verdict::Meeting
        } else {
            Verdict::Undetermined
        }
    }
}

/// Rows of every sum with a limit in force whose parts were tested, the region first.
pub(super) fn rows(
    plan: &Plan,
    dictionary: &Dictionary,
    benchmarks: &[Benchmark],
    wells: &Wells,
    survey: &Survey,
) -> Vec<ExceedanceRow> {
    let reported = |rule: &&SumRule| !survey.by_analyte().any(|(analyte, _)| analyte == rule.analyte);
    let limits = |rule: &SumRule| {
        let analyte = rule.analyte;
        benchmarks.iter().filter(move |benchmark| benchmark.analyte == analyte)
    };
    let rules = dictionary.sum_rules().iter().filter(reported).filter(|rule| limits(rule).next().is_some());
    rules
        .flat_map(|rule| {
            let sums = sums(rule, survey, wells.len());
            limits(rule).flat_map(|limit| one_limit(plan, wells, rule, limit, &sums)).collect::<Vec<_>>()
        })
        .collect()
}

fn sums(rule: &SumRule, survey: &Survey, wells: usize) -> Vec<Sum> {
    let mut sums = vec![Sum::default(); wells];
    for (analyte, values) in survey.by_analyte() {
        let Some(part) = rule.parts.iter().find(|part| part.analyte == analyte) else { continue };
        for value in values {
            if let Some(sum) = sums.get_mut(value.well.index()) {
                sum.add(value.interval, part.divisor, rule.nondetects_are_zero);
            }
        }
    }
    sums
}

fn one_limit(plan: &Plan, wells: &Wells, rule: &SumRule, benchmark: &Benchmark, sums: &[Sum]) -> Vec<ExceedanceRow> {
    let BenchmarkKind::Max { limit } = benchmark.kind else { return Vec::new() };
    let areas = wells.areas().len();
    let mut verdicts: Vec<Vec<Verdict>> = vec![Vec::new(); areas + 1];
    let mut already = vec![0u32; areas + 1];
    for (well, sum) in wells.ids().zip(sums) {
        let Some(area) = wells.area(well).filter(|_| sum.parts > 0) else { continue };
        for at in [0, area.index() + 1] {
            if sum.parts >= rule.needed {
                verdicts[at].push(sum.verdict(limit));
            } else {
                already[at] += u32::from(sum.verdict(limit) == Verdict::Exceeding);
            }
        }
    }
    if verdicts.first().is_none_or(Vec::is_empty) {
        return Vec::new();
    }
    let scopes = std::iter::once(Scope::Region).chain((0..areas as u32).map(|area| Scope::Area(AreaId(area))));
    let mut rows: Vec<ExceedanceRow> = scopes
        .zip(verdicts)
        .zip(already)
        .map(|((scope, verdicts), already)| {
            let mut row = counts_row(plan, benchmark, scope, Counts::of(verdicts));
            row.notes.extend(words(rule, already));
            row
        })
        .collect();
    smooth(plan, &mut rows);
    rows
}

/// Said where wells that were not tested for enough parts exceed by those they were tested for.
pub const EXCEED_ALREADY: &str = "some wells tested for a part of them exceed already; they are not in the rate";

fn words(rule: &SumRule, already: u32) -> Vec<String> {
    let mut words = vec![format!("computed from {} analytes", rule.parts.len())];
    if rule.needed < rule.parts.len() {
        words.push(format!("for wells tested for at least {}", rule.needed));
    }
    if already > 0 {
        words.push(EXCEED_ALREADY.to_owned());
    }
    if !rule.note.is_empty() {
        words.push(rule.note.clone());
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(parts: &[(Interval, f64)]) -> Sum {
        let mut sum = Sum::default();
        parts.iter().for_each(|(interval, divisor)| sum.add(*interval, *divisor, false));
        sum
    }

    /// By hand: 25/50 + 1.5/3 = 1 meets; 26/50 + 1.5/3 = 1.02 exceeds; 40/50 + <1.2/3 is 0.8 to 1.2.
    #[test]
    fn nitrate_and_nitrite_by_hand() {
        use Interval::{Below, Detect};
        let verdict = |nitrate, nitrite| of(&[(nitrate, 50.0), (nitrite, 3.0)]).verdict(1.0);
        assert_eq!(verdict(Detect(25.0), Detect(1.5)), Verdict::Meeting);
        assert_eq!(verdict(Detect(26.0), Detect(1.5)), Verdict::Exceeding);
        assert_eq!(verdict(Detect(40.0), Below(1.2)), Verdict::Undetermined);
        assert_eq!(verdict(Detect(40.0), Below(0.6)), Verdict::Meeting);
    }

    /// By hand, ng/L: HFPO-DA 5, PFBS 200, PFNA <2, PFHxS 4: 0.5 + 0.1 + (0 to 0.2) + 0.4 = 1.0 to 1.2.
    #[test]
    fn hazard_index_by_hand() {
        use Interval::{Above, Below, Detect};
        let parts = [(Detect(5.0), 10.0), (Detect(200.0), 2000.0), (Below(2.0), 10.0), (Detect(4.0), 10.0)];
        let sum = of(&parts);
        assert!((sum.low - 1.0).abs() < 1e-12 && (sum.high - 1.2).abs() < 1e-12);
        assert_eq!(sum.verdict(1.0), Verdict::Undetermined);
        assert_eq!(of(&[(Detect(5.1), 10.0), (Above(5.0), 10.0)]).verdict(1.0), Verdict::Exceeding);
        assert_eq!(of(&[(Above(5.0), 10.0)]).verdict(1.0), Verdict::Undetermined);
    }

    #[test]
    fn where_the_law_says_so_a_non_detect_is_nothing() {
        let mut sum = Sum::default();
        sum.add(Interval::Below(9.0), 1.0, true);
        sum.add(Interval::Detect(0.4), 1.0, true);
        sum.add(Interval::Present, 1.0, true);
        assert_eq!((sum.verdict(0.5), sum.parts), (Verdict::Meeting, 2));
    }
}
