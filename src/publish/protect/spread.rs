//! One test's values over the whole region become the classes of a figure. Only the region, and only where it is shown.
//!
//! A class counts wells inside one shown row, the region's, as its exceeding wells do; no class speaks of an area, so
//! nothing hidden is narrowed by it.

use super::super::words::set_words;
use super::{Protection, Results};
use crate::dictionary::BenchmarkKind;
use crate::ids::{AnalyteId, Interval};
use crate::publish::report::{Distribution, Scale, ValueClass, even_step};
use crate::summarise::Scope;
use std::collections::BTreeMap;

/// Inner steps of a power of ten.
const STEPS: [f64; 3] = [1.0, 2.0, 5.0];
/// More limits of not-found results than this are gathered under round ones.
const MOST_LIMITS: usize = 5;
/// Amounts of which the highest is less than this many times the lowest stand on an even scale.
const CLOSE: f64 = 4.0;

/// The region's values of an analyte; `None` where the region is hidden or there is no amount to show.
pub(super) fn of_region(results: &Results<'_>, protection: &Protection, analyte: AnalyteId) -> Option<Distribution> {
    if protection.hides(Scope::Region, analyte) {
        return None;
    }
    let values = results.survey.by_analyte().find(|(id, _)| *id == analyte)?.1;
    let intervals: Vec<Interval> = values.iter().map(|value| value.interval).collect();
    let mut made = gathered(&intervals)?;
    made.unit = results.job.dictionary.unit_text(analyte);
    made.limits = limits(results, analyte);
    Some(made)
}

fn limits(results: &Results<'_>, analyte: AnalyteId) -> Vec<(f64, String)> {
    let mut limits: Vec<(f64, String)> = Vec::new();
    let number = crate::publish::number::text;
    for benchmark in results.findings.benchmarks.iter().filter(|benchmark| benchmark.analyte == analyte) {
        let ends = match benchmark.kind {
            BenchmarkKind::Max { limit } => vec![limit],
            BenchmarkKind::Range { low, high } => vec![low, high],
            BenchmarkKind::Absent => Vec::new(),
        };
        for end in ends.into_iter().filter(|end| end.is_finite() && *end > 0.0) {
            match limits.iter_mut().find(|(known, _)| *known == end) {
                Some((_, words)) if words.contains(&set_words(&results.job.dictionary, &benchmark.set)) => {}
                Some((_, words)) => {
                    words.push_str(&format!(", {}", set_words(&results.job.dictionary, &benchmark.set)))
                }
                None => limits.push((
                    end,
                    format!("limit {} ({}", number(end), set_words(&results.job.dictionary, &benchmark.set)),
                )),
            }
        }
    }
    limits.iter_mut().for_each(|(_, words)| words.push(')'));
    limits.sort_by(|a, b| a.0.total_cmp(&b.0));
    limits
}

/// Found amounts in classes and not-found ones by limit; `None` where neither has a number.
fn gathered(intervals: &[Interval]) -> Option<Distribution> {
    let mut made = Distribution::default();
    let (mut found, mut below) = (Vec::new(), Vec::new());
    for interval in intervals {
        match *interval {
            Interval::Detect(x) if x > 0.0 => found.push(x),
            Interval::Detect(_) => made.at_zero += 1,
            Interval::Below(limit) if limit > 0.0 => below.push(limit),
            Interval::Above(_) => made.above += 1,
            Interval::Below(_) | Interval::Present | Interval::Absent => return None,
        }
    }
    found.sort_by(f64::total_cmp);
    let ends = found.first().copied().zip(found.last().copied());
    if ends.is_none() && below.is_empty() {
        return None;
    }
    let close = ends.is_some_and(|(low, high)| high < CLOSE * low);
    made.scale = if close && below.is_empty() && made.at_zero == 0 { Scale::Even } else { Scale::Logarithmic };
    made.found = ends.map_or_else(Vec::new, |ends| classes(&found, ends, made.scale));
    made.not_found = by_limit(&below);
    Some(made)
}

/// Touching classes from the lowest to the highest amount.
fn classes(sorted: &[f64], (low, high): (f64, f64), scale: Scale) -> Vec<ValueClass> {
    let edges = match scale {
        Scale::Even => {
            let step = even_step((high - low).max(low * 1e-3)) / 2.0;
            let first = (low / step).floor() as i64;
            let last = (high / step).floor() as i64 + 1;
            (first..=last).map(|at| at as f64 * step).collect()
        }
        Scale::Logarithmic => round_edges(low, high),
    };
    let up_to = |edge: f64| sorted.partition_point(|value| *value < edge);
    let class = |pair: &[f64]| match pair {
        [from, to] => Some(ValueClass {
            from: *from,
            to: *to,
            wells: u32::try_from(up_to(*to) - up_to(*from)).unwrap_or(u32::MAX),
        }),
        _ => None,
    };
    edges.windows(2).filter_map(class).collect()
}

/// 1, 2, 5, 10, ... from at or below the lowest to above the highest.
fn round_edges(low: f64, high: f64) -> Vec<f64> {
    let mut edges = vec![round_down(low)];
    while let Some(last) = edges.last().copied().filter(|last| *last <= high) {
        let next = round_up(last * 1.5);
        if edges.len() > 200 || next <= last {
            break;
        }
        edges.push(next);
    }
    edges
}

fn rounds(near: f64) -> impl Iterator<Item = f64> {
    let power = libm::log10(near).floor() as i32;
    (power - 1..=power + 1).flat_map(|power| STEPS.map(|step| step * ten(power)))
}

/// A power of ten, exact where it can be.
fn ten(power: i32) -> f64 {
    if power >= 0 { libm::pow(10.0, f64::from(power)) } else { 1.0 / libm::pow(10.0, f64::from(-power)) }
}

fn round_down(value: f64) -> f64 {
    rounds(value).filter(|round| *round <= value).max_by(f64::total_cmp).unwrap_or(value)
}

fn round_up(value: f64) -> f64 {
    rounds(value).filter(|round| *round >= value).min_by(f64::total_cmp).unwrap_or(value)
}

/// Counts by limit, rising; under round limits at or above them where there are many.
fn by_limit(below: &[f64]) -> Vec<(f64, u32)> {
    let exact = counted(below.iter().copied());
    if exact.len() <= MOST_LIMITS {
        return exact;
    }
    let round = counted(below.iter().map(|limit| round_up(*limit)));
    if round.len() <= MOST_LIMITS {
        return round;
    }
    let tens = |limit: f64| ten(libm::log10(limit * 0.999_999).ceil() as i32);
    counted(below.iter().map(|limit| tens(*limit)))
}

fn counted(limits: impl Iterator<Item = f64>) -> Vec<(f64, u32)> {
    let mut counts: BTreeMap<u64, (f64, u32)> = BTreeMap::new();
    for limit in limits {
        // Bits of positive numbers rise with the numbers.
        counts.entry(limit.to_bits()).or_insert((limit, 0)).1 += 1;
    }
    counts.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_is_in_one_class_or_bar() {
        let mut intervals: Vec<Interval> = (1..400).map(|n| Interval::Detect(f64::from(n) * 0.13)).collect();
        intervals.extend((1..40).map(|n| Interval::Below(f64::from(n) * 0.5)));
        intervals.push(Interval::Above(99.0));
        let made = gathered(&intervals).unwrap();
        let found: u32 = made.found.iter().map(|class| class.wells).sum();
        let below: u32 = made.not_found.iter().map(|(_, wells)| wells).sum();
        assert_eq!((found, below, made.above), (399, 39, 1));
        assert!(made.not_found.len() <= MOST_LIMITS);
        assert!(made.found.windows(2).all(|pair| pair[0].to == pair[1].from));
    }

    #[test]
    fn close_amounts_stand_on_an_even_scale_and_bacteria_on_none() {
        let ph: Vec<Interval> = (0..30).map(|n| Interval::Detect(6.0 + f64::from(n) * 0.07)).collect();
        assert_eq!(gathered(&ph).unwrap().scale, Scale::Even);
        assert_eq!(gathered(&[Interval::Absent, Interval::Present]), None);
    }

    #[test]
    fn edges_are_round() {
        let edges: Vec<String> = round_edges(0.03, 4.0).iter().map(|edge| format!("{edge:.3}")).collect();
        assert_eq!(edges, ["0.020", "0.050", "0.100", "0.200", "0.500", "1.000", "2.000", "5.000"]);
    }
}
