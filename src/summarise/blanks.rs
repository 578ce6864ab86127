//! Blanks: clean water that travelled along. What is found in it came from bottle, road or laboratory.
//!
//! A detect in a blank is a warning, and so is a result of the same laboratory and day that is within five times its blank
//! (common practice, no source). A reader would question that such results still count: the trade flags and keeps them,
//! and only the laboratory can say more.

use super::quality::{Fact, Scale, Scales, row};
use super::rows::QualityRow;
use crate::fate::Reason;
use crate::ids::{AnalyteId, Day, Interval};
use crate::plan::{Method, SampleKind};
use rustc_hash::FxHashMap;
use std::collections::BTreeMap;

/// A result up to this many times its blank may be the blank's (common practice, no source).
const TIMES: f64 = 5.0;

const CLEAN: &str = "blanks are clean";
const CLEAR: &str = "results clear of their blank";
const CLEAN_NOTE: &str = "warning: found in clean water that travelled along";
const CLEAR_NOTE: &str = "detects with a blank of their laboratory and day; failed: within five times what the blank held \
                          (common practice, no source); they are kept";

/// Tested and failed, by analyte.
pub(super) type Counts = BTreeMap<AnalyteId, (u64, u64)>;

/// Adds counts of another block.
pub(super) fn add(into: &mut Counts, other: &Counts) {
    for (analyte, (tested, failed)) in other {
        let own = into.entry(*analyte).or_default();
        own.0 += tested;
        own.1 += failed;
    }
}

/// Whether a row is a blank that was analysed for something clean water has none of. Many blanks name no well.
pub(super) fn is_blank(fact: &Fact, scales: &Scales) -> bool {
    fact.kind == SampleKind::Blank
        && matches!(fact.reason, Some(Reason::Blank | Reason::NoWell))
        && scales.get(fact.analyte) != Scale::Reading
}

/// What a blank held: 0 for nothing, infinity where no number says how much.
fn held(interval: Interval) -> f64 {
    match interval {
        Interval::Detect(x) => x.max(0.0),
        Interval::Above(_) | Interval::Present => f64::INFINITY,
        Interval::Below(_) | Interval::Absent => 0.0,
    }
}

/// The most that blanks of a laboratory, day and analyte held.
#[derive(Debug, Default)]
pub(super) struct Tainted(FxHashMap<(usize, Day, AnalyteId), f64>);

impl Tainted {
    pub(super) fn of(blanks: &[Fact]) -> Tainted {
        let mut most: FxHashMap<_, f64> = FxHashMap::default();
        for (day, fact) in blanks.iter().filter_map(|fact| Some((fact.day?, fact))) {
            let own = most.entry((fact.part, day, fact.analyte)).or_default();
            *own = own.max(held(fact.interval));
        }
        Tainted(most)
    }

    /// Counts a detect that has a blank.
    pub(super) fn judge(&self, fact: &Fact, scales: &Scales, counts: &mut Counts) {
        if self.0.is_empty() || !is_result(fact) || held(fact.interval) == 0.0 {
            return;
        }
        let Some(most) = fact.day.and_then(|day| self.0.get(&(fact.part, day, fact.analyte))) else { return };
        // Bacteria in a blank say nothing of how many are the sample's own.
        let reach =
            if scales.get(fact.analyte) == Scale::Bacteria && *most > 0.0 { f64::INFINITY } else { TIMES * most };
        let flagged = match fact.interval {
            Interval::Detect(x) | Interval::Above(x) => x <= reach,
            Interval::Present => *most > 0.0,
            Interval::Below(_) | Interval::Absent => false,
        };
        let own = counts.entry(fact.analyte).or_default();
        own.0 += 1;
        own.1 += u64::from(flagged);
    }
}

/// Whether a row is a laboratory's good result for water, and not a blank.
fn is_result(fact: &Fact) -> bool {
    let sound = matches!(
        fact.reason,
        None | Some(Reason::Repeat | Reason::UnknownWell | Reason::NoLocation | Reason::OutsideAreas)
    );
    sound && fact.kind != SampleKind::Blank && fact.method == Method::Laboratory
}

/// Rows: all blanks and each analyte found in some; all results with a blank and each analyte with a flagged one.
pub(super) fn rows(blanks: &[Fact], near: &Counts, fewest: u32, name: &dyn Fn(AnalyteId) -> String) -> Vec<QualityRow> {
    let mut found = Counts::new();
    for fact in blanks {
        let own = found.entry(fact.analyte).or_default();
        own.0 += 1;
        own.1 += u64::from(held(fact.interval) > 0.0);
    }
    let mut rows = section(CLEAN, "all blank results", &found, CLEAN_NOTE, "no blanks to test", 1, name);
    rows.extend(section(
        CLEAR,
        "all detects with a blank",
        near,
        CLEAR_NOTE,
        "no detect has a blank of its laboratory and day",
        fewest,
        name,
    ));
    rows
}

fn section(
    check: &'static str,
    all: &str,
    counts: &Counts,
    note: &str,
    nothing: &str,
    fewest: u32,
    name: &dyn Fn(AnalyteId) -> String,
) -> Vec<QualityRow> {
    let tested: u64 = counts.values().map(|(tested, _)| tested).sum();
    let failed: u64 = counts.values().map(|(_, failed)| failed).sum();
    let listed = |(_, (tested, failed)): &(&AnalyteId, &(u64, u64))| *failed > 0 && *tested >= u64::from(fewest);
    let each = counts
        .iter()
        .filter(listed)
        .map(|(analyte, (tested, failed))| row(check, &name(*analyte), *tested, *failed, note));
    std::iter::once(row(check, all, tested, failed, if tested == 0 { nothing } else { note })).chain(each).collect()
}

#[cfg(test)]
mod tests {
    use super::super::quality::made_up::{blank, routine, scales};
    use super::*;

    fn told(blanks: &[Fact], results: &[Fact]) -> Vec<(String, u64, u64)> {
        let (tainted, mut near) = (Tainted::of(blanks), Counts::new());
        results.iter().for_each(|fact| tainted.judge(fact, &scales(), &mut near));
        let rows = rows(blanks, &near, 1, &|analyte| format!("analyte {}", analyte.0));
        rows.into_iter().map(|row| (row.subject, row.tested, row.failed)).collect()
    }

    fn lines<const N: usize>(expected: [(&str, u64, u64); N]) -> Vec<(String, u64, u64)> {
        expected.map(|(subject, tested, failed)| (subject.to_owned(), tested, failed)).to_vec()
    }

    #[test]
    fn results_within_five_times_the_highest_blank_are_flagged() {
        let blanks = [blank(1, Interval::Detect(0.5)), blank(1, Interval::Detect(1.0)), blank(2, Interval::Below(1.0))];
        let results = [4.9, 5.0, 5.1].map(|x| routine(1, Interval::Detect(x)));
        let others = [
            routine(1, Interval::Below(1.0)),
            routine(2, Interval::Detect(1.0)),
            Fact { part: 1, ..routine(1, Interval::Detect(1.0)) },
            Fact { day: Some(Day(1)), ..routine(1, Interval::Detect(1.0)) },
            Fact { reason: Some(Reason::TreatedWater), ..routine(1, Interval::Detect(1.0)) },
        ];
        let all: Vec<Fact> = results.into_iter().chain(others).collect();
        let expected =
            [("all blank results", 3, 2), ("analyte 1", 2, 2), ("all detects with a blank", 4, 2), ("analyte 1", 3, 2)];
        assert_eq!(told(&blanks, &all), lines(expected));
    }

    #[test]
    fn bacteria_in_a_blank_flag_every_find_of_that_day() {
        let finds = [routine(0, Interval::Detect(900.0)), routine(0, Interval::Present), routine(0, Interval::Absent)];
        assert_eq!(
            told(&[blank(0, Interval::Detect(1.0))], &finds)[2..],
            lines([("all detects with a blank", 2, 2), ("analyte 0", 2, 2)])
        );
        assert_eq!(told(&[blank(0, Interval::Absent)], &finds)[1..], lines([("all detects with a blank", 2, 0)]));
    }

    #[test]
    fn a_blank_without_a_well_counts_and_a_reading_does_not() {
        assert!(is_blank(&Fact { reason: Some(Reason::NoWell), ..blank(1, Interval::Below(1.0)) }, &scales()));
        assert!(!is_blank(&Fact { reason: Some(Reason::RepeatedLine), ..blank(1, Interval::Below(1.0)) }, &scales()));
        assert!(!is_blank(&blank(3, Interval::Detect(6.0)), &scales()));
    }

    #[test]
    fn no_blanks_are_told() {
        assert_eq!(
            told(&[], &[routine(1, Interval::Detect(1.0))]),
            lines([("all blank results", 0, 0), ("all detects with a blank", 0, 0)])
        );
    }
}
