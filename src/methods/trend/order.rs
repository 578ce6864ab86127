//! A series into counts of certain orders: S, tied pairs, and what the permutation variance needs, by sorting and not pair by pair.

use super::Series;

/// For each result, how many others are certainly above it and certainly below it.
pub(super) struct Order {
    time: Vec<(f64, f64)>,
    value: Vec<(f64, f64)>,
}

impl Order {
    pub(super) fn of(series: Series<'_>) -> Self {
        let all_detected = vec![false; series.times.len()];
        Order { time: sides(series.times, &all_detected), value: sides(series.values, series.nondetect) }
    }

    fn n(&self) -> f64 {
        self.time.len() as f64
    }

    pub(super) fn pairs(&self) -> f64 {
        self.n() * (self.n() - 1.0).max(0.0) / 2.0
    }

    pub(super) fn tied_in_time(&self) -> f64 {
        self.pairs() - certain(&self.time) / 2.0
    }

    pub(super) fn tied_in_value(&self) -> f64 {
        self.pairs() - certain(&self.value) / 2.0
    }

    /// Variance of S over all pairings of two tables of signs (Daniels 1944).
    pub(super) fn variance(&self) -> f64 {
        let n = self.n();
        if n < 2.0 {
            return 0.0;
        }
        let (qa, qb) = (certain(&self.time), certain(&self.value));
        let (ra, rb) = (squares(&self.time), squares(&self.value));
        let two = 2.0 * qa * qb / (n * (n - 1.0));
        let three = if n > 2.0 { 4.0 * (ra - qa) * (rb - qb) / (n * (n - 1.0) * (n - 2.0)) } else { 0.0 };
        (two + three) / 4.0
    }
}

/// Ordered pairs with a certain order.
fn certain(sides: &[(f64, f64)]) -> f64 {
    sides.iter().map(|(above, below)| above + below).sum()
}

/// Sum of the squared row sums of the table of signs.
fn squares(sides: &[(f64, f64)]) -> f64 {
    sides.iter().map(|(above, below)| (above - below) * (above - below)).sum()
}

/// Place of each value among the distinct ones, and how many those are.
fn ranks(values: &[f64]) -> (Vec<usize>, usize) {
    // Adding 0 makes one zero of two.
    let mut sorted: Vec<(f64, usize)> = values.iter().map(|v| v + 0.0).zip(0..).collect();
    sorted.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut ranks = vec![0; values.len()];
    let mut rank = 0;
    for alike in sorted.chunk_by(|a, b| a.0 == b.0) {
        alike.iter().for_each(|(_, i)| ranks[*i] = rank);
        rank += 1;
    }
    (ranks, rank)
}

fn sides(values: &[f64], nondetect: &[bool]) -> Vec<(f64, f64)> {
    let (ranks, distinct) = ranks(values);
    let (mut detects, mut limits) = (vec![0_usize; distinct + 1], vec![0_usize; distinct + 1]);
    for (rank, limit) in ranks.iter().zip(nondetect) {
        let counts = if *limit { &mut limits } else { &mut detects };
        counts[rank + 1] += 1;
    }
    for i in 0..distinct {
        detects[i + 1] += detects[i];
        limits[i + 1] += limits[i];
    }
    // `detects[r]` now counts detects below rank r, `detects[r + 1]` those up to it.
    let all = detects[distinct];
    let side = |(r, limit): (&usize, &bool)| match limit {
        true => ((all - detects[*r]) as f64, 0.0),
        false => ((all - detects[r + 1]) as f64, (detects[*r] + limits[r + 1]) as f64),
    };
    ranks.iter().zip(nondetect).map(side).collect()
}

/// Rising less falling pairs.
pub(super) fn s(series: Series<'_>) -> f64 {
    let mut order: Vec<usize> = (0..series.times.len()).collect();
    order.sort_unstable_by(|a, b| (series.times[*a] + 0.0).total_cmp(&(series.times[*b] + 0.0)));
    s_in_order(&order, series.times, series.values, series.nondetect)
}

/// The same where `order` already sorts the times.
pub(super) fn s_in_order(order: &[usize], times: &[f64], values: &[f64], nondetect: &[bool]) -> f64 {
    let (ranks, distinct) = ranks(values);
    let (mut detects, mut limits) = (Tally::of(distinct), Tally::of(distinct));
    let mut s = 0_i64;
    for same_time in order.chunk_by(|a, b| times[*a] == times[*b]) {
        for i in same_time {
            let r = ranks[*i];
            s += if nondetect[*i] {
                -(detects.total - detects.below(r))
            } else {
                detects.below(r) + limits.below(r + 1) - (detects.total - detects.below(r + 1))
            };
        }
        for i in same_time {
            if nondetect[*i] { limits.add(ranks[*i]) } else { detects.add(ranks[*i]) }
        }
    }
    s as f64
}

/// Counts by rank that can be summed up to any rank in a few steps (a Fenwick tree).
struct Tally {
    tree: Vec<i64>,
    total: i64,
}

impl Tally {
    fn of(distinct: usize) -> Self {
        Tally { tree: vec![0; distinct + 1], total: 0 }
    }

    fn add(&mut self, rank: usize) {
        self.total += 1;
        let mut i = rank + 1;
        while let Some(slot) = self.tree.get_mut(i) {
            *slot += 1;
            i += i & i.wrapping_neg();
        }
    }

    /// How many have a rank below this one.
    fn below(&self, rank: usize) -> i64 {
        let (mut i, mut sum) = (rank, 0);
        while i > 0 {
            sum += self.tree[i];
            i &= i - 1;
        }
        sum
    }
}
