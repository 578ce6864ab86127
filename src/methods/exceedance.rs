//! Results against a benchmark: each into exceeding, meeting or undetermined, and the three counts
//! into rates.
//!
//! A reader would question undetermined results: `<10` against a limit of 5 may lie on either side,
//! so it takes no part in the rate, and floor and ceiling say what it could be at most.

use super::proportions::wilson;

/// Two figures this near to each other, relatively, are the same, so that a value at the limit
/// meets it in any unit.
pub const LIMIT_EPS: f64 = 1e-9;

/// What is known of one result.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reading {
    /// Detected at this value.
    Exact(f64),
    /// Not detected: from zero to strictly below this limit.
    Below(f64),
    /// Strictly above this value.
    Above(f64),
    /// Detected, without a value.
    Present,
    /// Not detected, without a limit.
    Absent,
}

/// What a result is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Benchmark {
    /// Values greater than this exceed.
    Maximum(f64),
    /// Values outside the closed range exceed.
    Range {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Any detect exceeds.
    Absent,
}

/// What a result says about a benchmark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Beyond it for certain.
    Exceeding,
    /// Within it for certain.
    Meeting,
    /// The result allows both.
    Undetermined,
}

/// # Computes
/// Whether every value that the result allows exceeds, none does, or some do.
/// # Takes
/// Both in one unit.
/// # Gives
/// One verdict. A result without a value can only be held against `Absent`; against a number it is
/// undetermined.
/// # Conventions
/// `<5` meets a limit of 5 and `>5` exceeds it; figures within a relative 1e-9 of the limit stand
/// at it.
/// # Source
/// Definition; common practice, no source.
/// # Checked against
/// `tests/reference/statistics/05-exceedance.json`.
pub fn judge(reading: Reading, benchmark: Benchmark) -> Verdict {
    use Verdict::{Exceeding, Meeting, Undetermined};
    match (benchmark, reading) {
        (Benchmark::Absent, _) => {
            if detected(reading) {
                Exceeding
            } else {
                Meeting
            }
        }
        (_, Reading::Present | Reading::Absent) => Undetermined,
        (Benchmark::Maximum(limit), Reading::Exact(v)) => {
            if past(v, limit) {
                Exceeding
            } else {
                Meeting
            }
        }
        (Benchmark::Maximum(limit), Reading::Below(v)) => {
            if past(v, limit) {
                Undetermined
            } else {
                Meeting
            }
        }
        (Benchmark::Maximum(limit), Reading::Above(v)) => {
            if past(limit, v) {
                Undetermined
            } else {
                Exceeding
            }
        }
        (Benchmark::Range { low, high }, Reading::Exact(v)) => {
            if past(v, high) || past(low, v) {
                Exceeding
            } else {
                Meeting
            }
        }
        (Benchmark::Range { low, .. }, Reading::Below(v)) => {
            if past(v, low) {
                Undetermined
            } else {
                Exceeding
            }
        }
        (Benchmark::Range { high, .. }, Reading::Above(v)) => {
            if past(high, v) {
                Undetermined
            } else {
                Exceeding
            }
        }
    }
}

/// Whether `a` is greater than `b` by more than rounding.
fn past(a: f64, b: f64) -> bool {
    a - b > LIMIT_EPS * a.abs().max(b.abs())
}

fn detected(reading: Reading) -> bool {
    match reading {
        Reading::Exact(v) => v > 0.0,
        Reading::Above(_) | Reading::Present => true,
        Reading::Below(_) | Reading::Absent => false,
    }
}

/// How many results took each verdict.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Beyond the benchmark.
    pub exceeding: u64,
    /// Within it.
    pub meeting: u64,
    /// Not to be told.
    pub undetermined: u64,
}

impl Counts {
    /// Counts verdicts.
    pub fn of(verdicts: impl IntoIterator<Item = Verdict>) -> Self {
        let mut counts = Counts::default();
        verdicts.into_iter().for_each(|verdict| counts.add(verdict));
        counts
    }

    /// Counts one more.
    pub fn add(&mut self, verdict: Verdict) {
        match verdict {
            Verdict::Exceeding => self.exceeding += 1,
            Verdict::Meeting => self.meeting += 1,
            Verdict::Undetermined => self.undetermined += 1,
        }
    }

    /// All results.
    pub fn wells(&self) -> u64 {
        self.exceeding + self.meeting + self.undetermined
    }

    /// # Computes
    /// rate = exceeding / (exceeding + meeting) with Wilson's interval; floor = exceeding / all;
    /// ceiling = (exceeding + undetermined) / all.
    /// # Takes
    /// The two-sided level of the interval.
    /// # Gives
    /// Shares from 0 to 1. The rate and its interval are `None` when no result is determined, floor
    /// and ceiling when there is none.
    /// # Checked against
    /// `tests/reference/statistics/05-exceedance.json`.
    pub fn rates(&self, level: f64) -> Rates {
        let (judged, all) = (self.exceeding + self.meeting, self.wells());
        let share = |part: u64, whole: u64| (whole > 0).then(|| part as f64 / whole as f64);
        let ends = wilson(self.exceeding, judged, level).ok();
        Rates {
            rate: share(self.exceeding, judged),
            low: ends.map(|[low, _]| low),
            high: ends.map(|[_, high]| high),
            floor: share(self.exceeding, all),
            ceiling: share(self.exceeding + self.undetermined, all),
        }
    }
}

/// Rates of exceedance, as shares.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rates {
    /// Among the results that can be judged.
    pub rate: Option<f64>,
    /// Low end of its interval.
    pub low: Option<f64>,
    /// High end of its interval.
    pub high: Option<f64>,
    /// If no undetermined result exceeded.
    pub floor: Option<f64>,
    /// If all undetermined results exceeded.
    pub ceiling: Option<f64>,
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Oahu arsenic (Helsel 2005, chapter 6; from memory) against 1: four above, eight `<2` that
    /// cannot be told.
    #[test]
    fn oahu_arsenic_against_one() {
        use Reading::{Below, Exact};
        let mut results = vec![Below(2.0); 8];
        results.extend([Below(1.0); 4]);
        results.extend([3.2, 2.8, 1.7, 1.5, 0.9, 0.7, 0.7, 0.6, 0.5, 0.5, 0.5].map(Exact));
        results.push(Below(0.9));
        let counts = Counts::of(results.into_iter().map(|r| judge(r, Benchmark::Maximum(1.0))));
        assert_eq!(counts, Counts { exceeding: 4, meeting: 12, undetermined: 8 });
        let rates = counts.rates(0.95);
        assert_eq!((rates.rate, rates.ceiling), (Some(0.25), Some(0.5)));
    }

    #[test]
    fn at_the_limit_meets_it_in_any_unit() {
        // 0.1 + 0.2 is a little above 0.3 in binary.
        assert_eq!(judge(Reading::Exact(0.1 + 0.2), Benchmark::Maximum(0.3)), Verdict::Meeting);
        assert_eq!(judge(Reading::Below(0.1 + 0.2), Benchmark::Maximum(0.3)), Verdict::Meeting);
        assert_eq!(judge(Reading::Above(0.3), Benchmark::Maximum(0.1 + 0.2)), Verdict::Exceeding);
        assert_eq!(judge(Reading::Exact(1e-30), Benchmark::Maximum(0.0)), Verdict::Exceeding);
    }

    #[test]
    fn presence_against_a_number_cannot_be_told() {
        assert_eq!(judge(Reading::Present, Benchmark::Maximum(1.0)), Verdict::Undetermined);
        assert_eq!(judge(Reading::Present, Benchmark::Absent), Verdict::Exceeding);
        assert_eq!(judge(Reading::Below(5.0), Benchmark::Absent), Verdict::Meeting);
    }

    #[test]
    fn no_results_no_rates() {
        assert_eq!(Counts::default().rates(0.95), Rates::default());
    }

    proptest! {
        #[test]
        fn floor_rate_and_ceiling_are_in_order(e in 0u64..500, m in 0u64..500, u in 0u64..500) {
            let rates = Counts { exceeding: e, meeting: m, undetermined: u }.rates(0.95);
            prop_assert!(rates.floor <= rates.ceiling);
            if let Some(rate) = rates.rate {
                prop_assert!(rates.floor <= Some(rate) && Some(rate) <= rates.ceiling);
                prop_assert!(rates.low <= Some(rate + 1e-12) && Some(rate - 1e-12) <= rates.high);
            }
        }
    }
}
