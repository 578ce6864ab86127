//! A two by two table into Fisher's exact two-sided p and its mid-p.
//!
//! A reader would question the walk: weights are never taken from log-gamma values, which lose eight digits in tables of a million
//! wells, but from the ratios of neighbouring tables, starting at the likeliest one, whose weight is set to 1. Few thousand
//! multiplications reach the end of double precision, whatever the size of the table.

use super::two_by_two::TwoByTwo;

/// Tables whose weight is above the observed one's by less than this share count as equally likely, so that two tables that are
/// equal in exact arithmetic are equal here.
const SLACK: f64 = 1e-7;

/// What is left of a tail, relative to what was summed, below which the walk stops.
const NEGLIGIBLE: f64 = 1e-18;

/// Fisher's exact test of one table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fisher {
    /// Two-sided p, in (0, 1]. A p below the smallest double is given as that double, not as 0.
    pub p: f64,
    /// The same less half the probability of the observed table, in (0, 1).
    pub mid_p: f64,
}

/// Fisher's exact test of no association in a two by two table.
///
/// # Computes
/// Given the margins, the number k of exceeding wells among the exposed is hypergeometric; p is the sum of the probabilities of all
/// tables that are no likelier than the one seen. It is not twice the smaller tail. `mid_p` takes off half the probability of the
/// observed table, which makes up for the test being conservative with few wells.
/// # Takes
/// Counts of wells; any may be 0. Time and memory do not grow with the counts beyond their square root.
/// # Gives
/// Both p-values. A margin of 0 leaves one possible table: p = 1, mid-p = 1/2.
/// # Errors
/// None.
/// # Conventions
/// A relative slack of 1e-7 in "no likelier".
/// # Source
/// Fisher 1935, J. Royal Statistical Society 98; mid-p after Lancaster 1961 (both from memory).
/// # Checked against
/// `06-two-by-two.json` (`fisher_p`, made in exact fractions); the mid-p by hand on the tea-tasting table.
pub fn test(table: TwoByTwo) -> Fisher {
    let family = Family::of(table);
    let seen = table.exposed_exceeding;
    let mode = family.mode(1.0);
    let observed = family.weight_from(mode, seen);
    let limit = observed * (1.0 + SLACK);
    let mut sums = TailSums { limit, total: 0.0, tail: 0.0 };
    sums.add(1.0);
    family.walk(mode, 1.0, Way::Up, |_, w, rest| sums.take(w, rest));
    family.walk(mode, 1.0, Way::Down, |_, w, rest| sums.take(w, rest));
    let p = (sums.tail / sums.total).clamp(f64::MIN_POSITIVE, 1.0);
    let mid_p = ((sums.tail - observed / 2.0) / sums.total).clamp(f64::MIN_POSITIVE, 1.0);
    Fisher { p, mid_p }
}

struct TailSums {
    limit: f64,
    total: f64,
    tail: f64,
}

impl TailSums {
    fn add(&mut self, w: f64) {
        self.total += w;
        if w <= self.limit {
            self.tail += w;
        }
    }

    /// Adds a weight; whether to go on, given a bound of all that lies beyond.
    fn take(&mut self, w: f64, rest: f64) -> Go {
        self.add(w);
        let enough = w == 0.0 || (w <= self.limit && rest < NEGLIGIBLE * self.tail.min(self.total));
        if enough { Go::Stop } else { Go::On }
    }
}

/// Which way a walk goes through the tables of one set of margins.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Way {
    Up,
    Down,
}

/// Whether a walk goes on.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Go {
    On,
    Stop,
}

/// All tables with the margins of one, told apart by k, the exceeding wells among the exposed: weight C(c, k) C(n - c, r - k).
#[derive(Clone, Copy, Debug)]
pub(super) struct Family {
    /// The smallest and the largest k that the margins allow.
    pub(super) first: u64,
    pub(super) last: u64,
    exposed: f64,
    exceeding: f64,
    /// Wells neither exposed nor exceeding, less k; negative where the margins overlap.
    spare: f64,
}

impl Family {
    pub(super) fn of(t: TwoByTwo) -> Self {
        let a = t.exposed_exceeding;
        let (b, c, d) = (t.exposed_meeting, t.reference_exceeding, t.reference_meeting);
        Family {
            first: a - a.min(d),
            last: a.saturating_add(b.min(c)),
            exposed: a as f64 + b as f64,
            exceeding: a as f64 + c as f64,
            spare: d as f64 - a as f64,
        }
    }

    /// Weight of k + 1 over weight of k; falls as k grows.
    fn ratio(&self, k: u64) -> f64 {
        let k = k as f64;
        (self.exposed - k) * (self.exceeding - k) / ((k + 1.0) * (self.spare + k + 1.0))
    }

    /// The likeliest k where weights are multiplied by `psi` to the power k.
    pub(super) fn mode(&self, psi: f64) -> u64 {
        let (mut low, mut high) = (self.first, self.last);
        while low < high {
            let middle = low + (high - low) / 2;
            if self.ratio(middle) * psi > 1.0 {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        low
    }

    /// Weight of `to` where that of `from` is 1; 0 where it is below the smallest double.
    fn weight_from(&self, from: u64, to: u64) -> f64 {
        let mut weight = 1.0;
        let way = if to > from { Way::Up } else { Way::Down };
        if to != from {
            self.walk(from, 1.0, way, |k, w, _| {
                weight = w;
                if k == to || w == 0.0 { Go::Stop } else { Go::On }
            });
        }
        weight
    }

    /// Visits the tables beyond `from` (weight 1) one way: k, weight, and a bound of the sum of all weights still to come.
    pub(super) fn walk(&self, from: u64, psi: f64, way: Way, mut visit: impl FnMut(u64, f64, f64) -> Go) {
        let (mut k, mut w) = (from, 1.0);
        let next = |k: u64| match way {
            Way::Up if k < self.last => Some((k + 1, self.ratio(k) * psi)),
            Way::Down if k > self.first => Some((k - 1, 1.0 / (self.ratio(k - 1) * psi))),
            Way::Up | Way::Down => None,
        };
        let mut step = next(k);
        while let Some((to, factor)) = step {
            (k, w) = (to, w * factor);
            step = next(k);
            let rest = match step {
                Some((_, after)) if after < 1.0 => w * after / (1.0 - after),
                Some(_) => f64::INFINITY,
                None => 0.0,
            };
            if visit(k, w, rest) == Go::Stop {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn table(a: u64, b: u64, c: u64, d: u64) -> TwoByTwo {
        TwoByTwo { exposed_exceeding: a, exposed_meeting: b, reference_exceeding: c, reference_meeting: d }
    }

    /// Fisher 1935, the lady tasting tea: 3 of 4 right; p = 34/70, mid-p by hand (34 - 8)/70.
    #[test]
    fn tea_tasting() {
        let got = test(table(3, 1, 1, 3));
        assert!((got.p - 34.0 / 70.0).abs() < 1e-15);
        assert!((got.mid_p - 26.0 / 70.0).abs() < 1e-15);
    }

    /// Convictions of like-sex twins, Fisher's example as R's handbook prints it (0.0005367, from memory).
    #[test]
    fn convictions_of_twins() {
        assert!((test(table(2, 15, 10, 3)).p - 0.0005367).abs() < 1e-7);
    }

    #[test]
    fn empty_margins_give_one() {
        for t in [table(0, 0, 0, 0), table(0, 0, 3, 5), table(4, 0, 9, 0), table(0, 7, 0, 9)] {
            assert_eq!(test(t), Fisher { p: 1.0, mid_p: 0.5 });
        }
    }

    /// A million wells; the chi-square p of this table is 0.3173 and the exact one must be near it.
    #[test]
    fn a_million_wells() {
        let got = test(table(125_250, 374_750, 124_817, 375_183));
        assert!((got.p - 0.3173).abs() < 0.002, "{got:?}");
        assert_eq!(test(table(500_000, 0, 0, 500_000)).p, f64::MIN_POSITIVE);
    }

    /// All tables by Pascal's triangle.
    fn slowly(t: TwoByTwo) -> f64 {
        let choose = |n: u64, k: u64| (0..k).fold(1.0, |w, i| w * (n - i) as f64 / (i + 1) as f64);
        let family = Family::of(t);
        let r = t.exposed_exceeding + t.exposed_meeting;
        let c = t.exposed_exceeding + t.reference_exceeding;
        let n = r + t.reference_exceeding + t.reference_meeting;
        let weight = |k: u64| choose(c, k) * choose(n - c, r - k);
        let seen = weight(t.exposed_exceeding) * (1.0 + SLACK);
        let all: Vec<f64> = (family.first..=family.last).map(weight).collect();
        all.iter().filter(|w| **w <= seen).sum::<f64>() / all.iter().sum::<f64>()
    }

    proptest! {
        #[test]
        fn equals_the_slow_sum(a in 0u64..40, b in 0u64..40, c in 0u64..40, d in 0u64..40) {
            let got = test(table(a, b, c, d));
            prop_assert!((got.p - slowly(table(a, b, c, d))).abs() < 1e-12);
            prop_assert!(got.mid_p > 0.0 && got.mid_p < got.p);
        }

        #[test]
        fn turning_the_table_changes_nothing(a in 0u64..3000, b in 0u64..3000, c in 0u64..3000, d in 0u64..3000) {
            let p = test(table(a, b, c, d)).p;
            for t in [table(b, a, d, c), table(c, d, a, b), table(a, c, b, d)] {
                prop_assert!((test(t).p - p).abs() <= 1e-11 * p.max(1e-290));
            }
        }

        #[test]
        fn any_counts_give_a_p(a in 0u64..u64::MAX, b in 0u64..1000, c in 0u64..1000, d in 0u64..1000) {
            let got = test(table(a >> 12, b, c, d));
            prop_assert!(got.p > 0.0 && got.p <= 1.0 && got.mid_p > 0.0 && got.mid_p <= 1.0);
        }
    }
}
