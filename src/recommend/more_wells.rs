//! How many more wells would have to be sampled to say something: to halve the interval of a rate, or to settle whether the area is of
//! concern.
//!
//! What is known of the rate is taken as the Beta distribution with the mean and variance of the smoothed posterior. For the interval: m more
//! wells bring the expected variance down to (a + b) / (a + b + m) of what it is, so m = 3 (a + b) halves the standard
//! deviation. For the question: the results of m more wells follow the beta-binomial predictive distribution; wanted is the
//! smallest m of `STEPS` with which the chance of concern comes to lie at or above the plan's confidence, or at or below one
//! minus it, in 80 of 100 such futures. Both are exact for that Beta distribution, and both take the wells to be sampled at random.

use crate::methods::special::{beta_above, ln_beta};

/// Chance with which the question is to be settled.
const POWER: f64 = 0.8;
/// Numbers of wells that are tried; beyond the last nothing is said.
const STEPS: [u32; 24] =
    [1, 2, 3, 5, 8, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000];

/// A Beta distribution of a rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    a: f64,
    b: f64,
}

/// What is to be settled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Concern {
    /// A true rate above this is of concern.
    pub rate: f64,
    /// How sure one must be.
    pub confidence: f64,
}

impl Known {
    /// The Beta distribution of a mean and variance; `None` where none has them.
    pub fn of(mean: f64, variance: f64) -> Option<Known> {
        let whole = mean * (1.0 - mean) / variance - 1.0;
        (mean > 0.0 && mean < 1.0 && variance > 0.0 && whole > 0.0 && whole.is_finite())
            .then_some(Known { a: mean * whole, b: (1.0 - mean) * whole })
    }

    /// More wells that halve the expected standard deviation, and with it the interval.
    pub fn to_halve(self) -> u32 {
        (3.0 * (self.a + self.b)).ceil().min(f64::from(u32::MAX)) as u32
    }

    /// More wells that settle the question with 80 % power: 0 where it is settled, `None` where 1,000 would not do.
    pub fn to_settle(self, concern: Concern) -> Option<u32> {
        if self.settles(0, 0, concern) != Side::Open {
            return Some(0);
        }
        STEPS.into_iter().find(|more| self.power(*more, concern) >= POWER)
    }

    /// Chance that the results of `more` wells settle the question.
    fn power(self, more: u32, concern: Concern) -> f64 {
        let below = first(more, |x| self.settles(x, more, concern) != Side::Below);
        let above = first(more, |x| self.settles(x, more, concern) == Side::Above);
        self.shares(more).enumerate().filter(|(x, _)| *x < below as usize || *x >= above as usize).map(|(_, p)| p).sum()
    }

    fn settles(self, x: u32, more: u32, concern: Concern) -> Side {
        let (hits, misses) = (f64::from(x), f64::from(more - x.min(more)));
        let chance = beta_above(self.a + hits, self.b + misses, concern.rate);
        match chance {
            c if c >= concern.confidence => Side::Above,
            c if c <= 1.0 - concern.confidence => Side::Below,
            _ => Side::Open,
        }
    }

    /// Beta-binomial chances of 0, 1, ... `more` exceeding wells.
    fn shares(self, more: u32) -> impl Iterator<Item = f64> {
        let Known { a, b } = self;
        let m = f64::from(more);
        let mut ln = ln_beta(a, b + m) - ln_beta(a, b);
        (0..=more).map(f64::from).map(move |x| {
            let share = libm::exp(ln);
            ln += libm::log(
                (m - x).max(f64::MIN_POSITIVE) / (x + 1.0) * (a + x) / (b + m - x - 1.0).max(f64::MIN_POSITIVE),
            );
            share
        })
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Side {
    Below,
    Open,
    Above,
}

/// The first x of 0 to `most` of which `holds` is true, which then stays true; `most + 1` where it never is.
fn first(most: u32, holds: impl Fn(u32) -> bool) -> u32 {
    let (mut low, mut high) = (0, most + 1);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) { high = middle } else { low = middle + 1 }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::methods::random::Stream;

    const CONCERN: Concern = Concern { rate: 0.05, confidence: 0.8 };

    #[test]
    fn predictive_chances_add_up_to_one() {
        for (mean, variance) in [(0.05, 0.001), (0.4, 0.02), (0.001, 0.000_001)] {
            let known = Known::of(mean, variance).unwrap();
            let total: f64 = known.shares(200).sum();
            let expected: f64 = known.shares(200).enumerate().map(|(x, p)| x as f64 * p).sum();
            assert!((total - 1.0).abs() < 1e-9 && (expected / 200.0 - mean).abs() < 1e-9, "{total} {expected}");
        }
        assert_eq!(Known::of(0.0, 0.1), None);
        assert_eq!(Known::of(0.5, 0.3), None);
    }

    /// Futures drawn one by one: the rate, then the wells.
    #[test]
    fn as_many_futures_settle_it_as_stated() {
        let known = Known::of(0.06, 0.0016).unwrap();
        let more = known.to_settle(CONCERN).unwrap();
        let mut stream = Stream::new(11, 0);
        let settled = (0..4000).filter(|_| {
            let rate = stream.beta(known.a, known.b);
            let x = (0..more).filter(|_| stream.unit() < rate).count() as u32;
            known.settles(x, more, CONCERN) != Side::Open
        });
        let (share, stated) = (settled.count() as f64 / 4000.0, known.power(more, CONCERN));
        assert!(stated >= 0.8 && (share - stated).abs() < 0.03, "{more}: {share} {stated}");
    }

    /// The variance that is left, averaged over futures, is a quarter.
    #[test]
    fn halving_is_a_quarter_of_the_variance() {
        let known = Known::of(0.1, 0.004).unwrap();
        let more = known.to_halve();
        let left: f64 = known
            .shares(more)
            .enumerate()
            .map(|(x, p)| {
                let (a, b) = (known.a + x as f64, known.b + f64::from(more) - x as f64);
                p * a * b / ((a + b) * (a + b) * (a + b + 1.0))
            })
            .sum();
        assert!((left / 0.004 - 0.25).abs() < 0.01, "{left}");
    }

    #[test]
    fn a_settled_question_needs_no_well_and_a_rate_at_the_line_very_many() {
        assert_eq!(Known::of(0.4, 0.001).unwrap().to_settle(CONCERN), Some(0));
        assert_eq!(Known::of(0.0500, 0.000_001).unwrap().to_settle(CONCERN), None);
    }
}
