//! Field duplicates: two bottles of the same water. How far apart are their results?
//!
//! A reader would question pairs with a non-detect: they have no difference that could be computed, and are not tested.
//! Of two routine results of that day the one that would stand is the partner.

use super::quality::{Fact, Scale, Scales, row};
use super::rows::QualityRow;
use crate::ids::{AnalyteId, Day, Interval};
use crate::per_well::{Candidate, better};
use crate::plan::{Choose, SampleKind};
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::BTreeMap;

/// Largest relative percent difference of a good pair (common practice, no source).
const LARGEST_DIFFERENCE: f64 = 20.0;
/// A difference this near the largest one is at it.
const AT_IT: f64 = 1e-9;

const AMOUNTS: &str = "field duplicates within 20 %";
const BACTERIA: &str = "field duplicates agree";
const AMOUNTS_NOTE: &str =
    "pairs with both detected; failed: they differ by more than 20 % of their mean (common practice, no source)";
const BACTERIA_NOTE: &str = "failed: found in one of the pair only";

/// Well, analyte and day of a pair.
pub(super) type Key = (u32, AnalyteId, Day);

fn key(fact: &Fact) -> Option<Key> {
    Some((fact.well, fact.analyte, fact.day?))
}

/// Whether a row is the second of a pair.
pub(super) fn is_duplicate(fact: &Fact, scales: &Scales) -> bool {
    fact.kind == SampleKind::Duplicate && fact.is_sound() && scales.get(fact.analyte) != Scale::Reading
}

/// Where partners are wanted.
pub(super) fn keys(duplicates: &[Fact]) -> FxHashSet<Key> {
    duplicates.iter().filter_map(key).collect()
}

/// Whether a row is the first of a pair.
pub(super) fn is_partner(fact: &Fact, keys: &FxHashSet<Key>) -> bool {
    !keys.is_empty()
        && fact.kind == SampleKind::Routine
        && fact.is_sound()
        && key(fact).is_some_and(|key| keys.contains(&key))
}

/// Pairs tested and failed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Pairs {
    tested: u64,
    failed: u64,
}

/// Rows: all amounts, all bacteria, and every analyte with at least `fewest` pairs.
pub(super) fn rows(
    duplicates: &[Fact],
    partners: &[Fact],
    scales: &Scales,
    fewest: u32,
    name: &dyn Fn(AnalyteId) -> String,
) -> Vec<QualityRow> {
    let pairs = pairs(duplicates, partners, scales);
    let of = |scale: Scale| pairs.iter().filter(move |(analyte, _)| scales.get(**analyte) == scale);
    let mut rows = Vec::new();
    for (scale, check, all, note) in [
        (Scale::Amount, AMOUNTS, "all chemicals", AMOUNTS_NOTE),
        (Scale::Bacteria, BACTERIA, "all bacteria", BACTERIA_NOTE),
    ] {
        let tested = of(scale).map(|(_, pairs)| pairs.tested).sum();
        let failed = of(scale).map(|(_, pairs)| pairs.failed).sum();
        let few = format!("{note}; analytes with fewer than {fewest} pairs stand in this row only");
        rows.push(row(check, all, tested, failed, if tested == 0 { "no pairs to test" } else { &few }));
        let shown = of(scale).filter(|(_, pairs)| pairs.tested >= u64::from(fewest).max(1));
        rows.extend(shown.map(|(analyte, pairs)| row(check, &name(*analyte), pairs.tested, pairs.failed, note)));
    }
    rows
}

fn pairs(duplicates: &[Fact], partners: &[Fact], scales: &Scales) -> BTreeMap<AnalyteId, Pairs> {
    let mut standing: FxHashMap<Key, Candidate> = FxHashMap::default();
    for (key, new) in partners.iter().filter_map(|fact| Some((key(fact)?, fact.candidate()?))) {
        standing.entry(key).and_modify(|old| *old = better(Choose::Latest, *old, new)).or_insert(new);
    }
    let mut pairs: BTreeMap<AnalyteId, Pairs> = BTreeMap::new();
    for fact in duplicates {
        let Some(partner) = key(fact).and_then(|key| standing.get(&key)) else { continue };
        let failed = match scales.get(fact.analyte) {
            Scale::Amount => {
                difference(partner.interval, fact.interval).map(|percent| percent > LARGEST_DIFFERENCE * (1.0 + AT_IT))
            }
            Scale::Bacteria => Some(partner.interval.detected() != fact.interval.detected()),
            Scale::Reading => None,
        };
        if let Some(failed) = failed {
            let own = pairs.entry(fact.analyte).or_default();
            own.tested += 1;
            own.failed += u64::from(failed);
        }
    }
    pairs
}

/// Relative percent difference, 200 |a - b| / (a + b); `None` unless both are detected at a number above zero.
fn difference(a: Interval, b: Interval) -> Option<f64> {
    match (a, b) {
        (Interval::Detect(a), Interval::Detect(b)) if a > 0.0 && b > 0.0 => Some(200.0 * (a - b).abs() / (a + b)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::quality::made_up::{duplicate, routine, scales};
    use super::*;

    fn told(duplicates: &[Fact], partners: &[Fact], fewest: u32) -> Vec<(String, u64, u64)> {
        let rows = rows(duplicates, partners, &scales(), fewest, &|analyte| format!("analyte {}", analyte.0));
        rows.into_iter().map(|row| (row.subject, row.tested, row.failed)).collect()
    }

    #[test]
    fn twenty_percent_is_still_good() {
        // 9 and 11 differ by 20 % of their mean, 9 and 11.1 by more.
        assert_eq!(difference(Interval::Detect(9.0), Interval::Detect(11.0)), Some(20.0));
        let pairs = [(9.0, 11.0), (9.0, 11.1), (5.0, 5.0)];
        let (mut twins, mut firsts) = (Vec::new(), Vec::new());
        for (well, (a, b)) in (1u32..).zip(pairs) {
            firsts.push(Fact { well, ..routine(1, Interval::Detect(a)) });
            twins.push(Fact { well, ..duplicate(1, Interval::Detect(b)) });
        }
        let expected = [("all chemicals", 3, 1), ("analyte 1", 3, 1), ("all bacteria", 0, 0)];
        assert_eq!(told(&twins, &firsts, 3), expected.map(|(s, t, f)| (s.to_owned(), t, f)));
        assert_eq!(told(&twins, &firsts, 4).len(), 2);
    }

    #[test]
    fn non_detects_and_strangers_are_no_pairs() {
        let twin = duplicate(1, Interval::Below(1.0));
        assert_eq!(told(&[twin], &[routine(1, Interval::Detect(2.0))], 1)[0].1, 0);
        let other_day = Fact { day: Some(Day(1)), ..routine(1, Interval::Detect(2.0)) };
        assert_eq!(told(&[duplicate(1, Interval::Detect(2.0))], &[other_day], 1)[0].1, 0);
        let keys = keys(&[twin]);
        assert!(is_partner(&routine(1, Interval::Detect(2.0)), &keys) && !is_partner(&other_day, &keys));
        assert!(!is_partner(&Fact { method: crate::plan::Method::Kit, ..routine(1, Interval::Detect(2.0)) }, &keys));
    }

    #[test]
    fn bacteria_agree_or_not() {
        let twins = [duplicate(0, Interval::Present), Fact { well: 2, ..duplicate(0, Interval::Detect(40.0)) }];
        let firsts = [routine(0, Interval::Absent), Fact { well: 2, ..routine(0, Interval::Detect(4.0)) }];
        assert_eq!(told(&twins, &firsts, 2)[1..], [("all bacteria".to_owned(), 2, 1), ("analyte 0".to_owned(), 2, 1)]);
    }

    #[test]
    fn the_partner_is_the_one_that_would_stand() {
        let firsts = [routine(1, Interval::Detect(1.0)), Fact { row: 1, ..routine(1, Interval::Detect(10.0)) }];
        assert_eq!(told(&[duplicate(1, Interval::Detect(10.0))], &firsts, 1)[0], ("all chemicals".to_owned(), 1, 0));
    }

    #[test]
    fn readings_are_not_tested() {
        assert!(!is_duplicate(&duplicate(3, Interval::Detect(7.0)), &scales()));
    }
}
