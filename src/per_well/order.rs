//! Which of a well's results stands for it. This file alone decides.
//!
//! Design, section 4: latest is the newest day; on one day a laboratory result goes before a kit one, a routine sample
//! before its duplicate, then the higher detect, then the lower limit, then file order. Highest is the highest
//! detect, or the lowest limit where nothing was detected. Median orders by upper end, non-detects before equal detects,
//! and takes the middle or lower middle one.

use crate::ids::{Day, Interval};
use crate::plan::{Choose, Method, SampleKind};
use std::cmp::Ordering;

/// A row that could stand for its well and analyte.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Row number in the ledger: file order.
    pub row: u64,
    /// Day of sampling.
    pub day: Day,
    /// What it says.
    pub interval: Interval,
    /// Kind of sample.
    pub kind: SampleKind,
    /// Method.
    pub method: Method,
    /// Whether the value is an estimate.
    pub estimated: bool,
}

impl Candidate {
    /// The same, with this many rows before it.
    pub(super) fn further(self, rows: u64) -> Candidate {
        Candidate { row: self.row + rows, ..self }
    }
}

/// The one of two that stands, for `latest` and `highest`. Associative and commutative, so rows may come in any order.
pub fn better(choose: Choose, a: Candidate, b: Candidate) -> Candidate {
    let order = match choose {
        Choose::Latest | Choose::Median => latest(&a, &b),
        Choose::Highest => higher(&a, &b).then_with(|| latest(&a, &b)),
    };
    if order == Ordering::Greater { b } else { a }
}

/// Less means that `a` stands.
fn latest(a: &Candidate, b: &Candidate) -> Ordering {
    let duplicate = |c: &Candidate| c.kind == SampleKind::Duplicate;
    (b.day.cmp(&a.day))
        .then_with(|| a.method.cmp(&b.method))
        .then_with(|| duplicate(a).cmp(&duplicate(b)))
        .then_with(|| higher(a, b))
        .then_with(|| a.row.cmp(&b.row))
}

/// Less means that `a` is the higher detect, or the non-detect with the lower limit.
fn higher(a: &Candidate, b: &Candidate) -> Ordering {
    let rank = |c: &Candidate| match c.interval {
        Interval::Above(x) | Interval::Detect(x) => (0, -x),
        Interval::Present => (1, 0.0),
        Interval::Absent => (2, 0.0),
        Interval::Below(x) => (3, x),
    };
    let (kind_a, x) = rank(a);
    let (kind_b, y) = rank(b);
    let above = |c: &Candidate| !matches!(c.interval, Interval::Above(_));
    kind_a.cmp(&kind_b).then(x.total_cmp(&y)).then(above(a).cmp(&above(b)))
}

/// The middle or lower middle candidate by upper end; `None` of none.
pub fn middle(candidates: &mut [Candidate]) -> Option<Candidate> {
    candidates.sort_by(by_upper_end);
    candidates.get(candidates.len().checked_sub(1)? / 2).copied()
}

fn by_upper_end(a: &Candidate, b: &Candidate) -> Ordering {
    // A verdict without a number stands below every number if absent, above every one if present.
    let end = |c: &Candidate| match c.interval {
        Interval::Absent => f64::NEG_INFINITY,
        Interval::Present => f64::INFINITY,
        other => other.high().unwrap_or(f64::INFINITY),
    };
    (end(a).total_cmp(&end(b)))
        .then_with(|| a.interval.detected().cmp(&b.interval.detected()))
        .then_with(|| a.interval.number().unwrap_or(0.0).total_cmp(&b.interval.number().unwrap_or(0.0)))
        .then_with(|| a.row.cmp(&b.row))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(row: u64, day: i32, interval: Interval) -> Candidate {
        Candidate {
            row,
            day: Day(day),
            interval,
            kind: SampleKind::Routine,
            method: Method::Laboratory,
            estimated: false,
        }
    }

    #[test]
    fn latest_follows_its_ladder() {
        let old = on(0, 1, Interval::Detect(9.0));
        let kit = Candidate { method: Method::Kit, ..on(1, 2, Interval::Detect(9.0)) };
        let twin = Candidate { kind: SampleKind::Duplicate, ..on(2, 2, Interval::Detect(9.0)) };
        let low = on(3, 2, Interval::Below(1.0));
        let lower = on(4, 2, Interval::Below(0.5));
        let detect = on(5, 2, Interval::Detect(0.1));
        let ladder = [detect, lower, low, twin, kit, old];
        for (i, a) in ladder.iter().enumerate() {
            for b in &ladder[i + 1..] {
                assert_eq!(better(Choose::Latest, *a, *b), *a);
                assert_eq!(better(Choose::Latest, *b, *a), *a);
            }
        }
    }

    #[test]
    fn highest_takes_detects_first_and_then_the_lowest_limit() {
        let detect = on(0, 1, Interval::Detect(0.2));
        let limit = on(1, 2, Interval::Below(5.0));
        let lower = on(2, 1, Interval::Below(0.5));
        assert_eq!(better(Choose::Highest, limit, detect), detect);
        assert_eq!(better(Choose::Highest, limit, lower), lower);
    }

    #[test]
    fn median_takes_the_lower_middle() {
        let mut four = [
            on(0, 1, Interval::Detect(3.0)),
            on(1, 1, Interval::Below(1.0)),
            on(2, 1, Interval::Detect(1.0)),
            on(3, 1, Interval::Above(9.0)),
        ];
        assert_eq!(middle(&mut four).map(|c| c.row), Some(2));
        assert_eq!(middle(&mut []), None);
    }
}
